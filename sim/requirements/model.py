"""What a hazard and a requirement consist of."""

import re
from collections.abc import Callable
from enum import IntEnum
from importlib import import_module
from typing import NamedTuple, Self

from supervisor.modes import BOAT_TABLE, SHAFT_TABLE
from supervisor.rules import Boat


class _Step(IntEnum):
    """A step of a scale, with the words that say what it is."""

    words: str

    def __new__(cls, value: int, words: str) -> Self:
        """The step `value`, which `words` explain."""
        step = int.__new__(cls, value)
        step._value_ = value
        step.words = words
        return step


class Severity(_Step):
    """How bad: the worst that can reasonably be expected if nothing meets the hazard, not the likeliest."""

    DAMAGE = 1, "something costly breaks, or the boat does not move where that endangers nobody"
    INJURY = 2, "somebody is hurt and recovers"
    GRAVE = 3, "fire, flooding, collision or stranding: the boat or a life may be lost, but there is time to act"
    DEATH = 4, "somebody is killed or maimed within seconds, with no time to act"


class Exposure(_Step):
    """How often there is a situation in which the hazard can strike, not how often it does."""

    SELDOM = 1, "less than once a year, or only after something else has failed"
    SEASON = 2, "several times a season"
    TRIP = 3, "on most days on which the boat is used"
    STANDING = 4, "nearly all the time, under way or not"


class Check(NamedTuple):
    """Something in the program that meets a hazard and is no requirement: `words` for it, the dotted `name` of it."""

    words: str
    name: str


class Hazard(NamedTuple):
    """One thing that can go wrong. `situation` says how it comes about, and what the program does not see of it;
    `duty` what is left to do and for whom, needed wherever no requirement and no check meets it."""

    id: str
    title: str
    severity: Severity
    exposure: Exposure
    situation: str
    duty: str = ""
    checks: tuple[Check, ...] = ()


class Requirement(NamedTuple):
    """One safety requirement.

    `text` is one sentence, with the numbers of a boat's limits in braces (`b` its BoatLimits, `s` its first shaft's
    ShaftLimits). `rows` are patterns of table rows and `rules` names of functions, both checked to exist. `margin` and
    `unit` say what "closest approach" means. `instead` says how it is shown where `thwart prove` cannot show it.
    """

    id: str
    title: str
    hazards: tuple[str, ...]
    text: str
    margin: str
    unit: str
    installer: str
    rows: tuple[str, ...] = ()
    rules: tuple[str, ...] = ()
    instead: str = ""
    sources: str = ""

    def sentence(self, boat: Boat) -> str:
        """The requirement with this boat's numbers."""
        return self.text.format(b=boat.limits, s=boat.shafts[0])


def row_numbers(pattern: str) -> tuple[list[int], list[int]]:
    """Indices of the rows that a pattern names: (in the boat's table, in the shaft's table).

    A pattern reads "boat READY>TRIPPED" or "shaft *>ISOLATED" or "shaft PROPEL>REST +LOCK_RELEASED": table, source,
    destination, and optionally a bit that the row asks for, set (+) or clear (-). Raises ValueError for another form.
    """
    match = re.fullmatch(r"(boat|shaft) (\*|[A-Z_]+)>(\*|[A-Z_]+)(?: ([+-])([A-Z_]+))?", pattern)
    if match is None:
        raise ValueError(f"{pattern!r} is no pattern of a row")
    table, source, dest, sign, bit = match.groups()
    if table == "boat":
        return _matching(BOAT_TABLE, source, dest, sign, bit), []
    return [], _matching(SHAFT_TABLE, source, dest, sign, bit)


def _matching(rows: tuple[NamedTuple, ...], source: str, dest: str, sign: str | None, bit: str | None) -> list[int]:
    found = []
    for number, row in enumerate(rows):
        flags = _value(row, "must") if sign == "+" else _value(row, "must_not")
        wanted = 0 if bit is None else int(type(flags)[bit])
        if (
            source in ("*", _value(row, "source").name)
            and dest in ("*", _value(row, "dest").name)
            and (bit is None or int(flags) & wanted)
        ):
            found.append(number)
    return found


class _Named(IntEnum):
    """Only for the type checker: a row's fields."""


def _value(row: NamedTuple, name: str) -> _Named:
    value: _Named = getattr(row, name)
    return value


def rule(name: str) -> Callable[..., object]:
    """The function that a requirement names, e.g. "rules.torque.order". Raises AttributeError or
    ModuleNotFoundError if there is none."""
    module, _, function = f"supervisor.{name}".rpartition(".")
    found: Callable[..., object] = getattr(import_module(module), function)
    return found
