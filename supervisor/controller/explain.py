"""Why not? Which bits are missing for what was asked, in the words of the trade."""

from collections.abc import Callable, Sequence
from enum import IntEnum, IntFlag
from typing import NamedTuple, TypeVar

from supervisor.modes import (
    BOAT_TABLE,
    BOAT_WORDS,
    PERMIT_TABLE,
    PERMIT_WORDS,
    SHAFT_TABLE,
    SHAFT_WORDS,
    BoatCondition,
    BoatMode,
    PermitCondition,
    Row,
    ShaftCondition,
    ShaftMode,
)
from supervisor.signals import ShaftPermit

ModeT = TypeVar("ModeT", bound=IntEnum)
BitT = TypeVar("BitT", bound=IntFlag)

Told = Callable[[BitT, bool], str]
"""The words of a bit that is set (True) or clear, by the cause that holds."""


def _by_register(texts: dict[BitT, tuple[str, str]]) -> Told[BitT]:
    return lambda bit, is_set: texts[bit][0 if is_set else 1]


_BOAT_TOLD = _by_register(BOAT_WORDS)
_SHAFT_TOLD = _by_register(SHAFT_WORDS)
_PERMIT_TOLD = _by_register(PERMIT_WORDS)


class Refusal(NamedTuple):
    """What is missing for one way to a mode or permit. `bits` are the names of the condition bits, `words` say the
    same; a way that does not begin in the present mode has the bit "MODE" as well."""

    goal: str
    way: str
    bits: tuple[str, ...]
    words: tuple[str, ...]


def _missing(must: BitT, must_not: BitT, word: int, kind: Sequence[BitT], told: Told[BitT]) -> list[tuple[str, str]]:
    """(name of the bit, words) of each bit that is not as it must be."""
    found: list[tuple[str, str]] = []
    for bit in kind:
        if int(must) & int(bit) and not word & int(bit):
            found.append((str(bit.name), told(bit, False)))
        if int(must_not) & int(bit) and word & int(bit):
            found.append((f"not {bit.name}", told(bit, True)))
    return found


def _ways(
    rows: Sequence[Row[ModeT, BitT]], source: ModeT, goal: ModeT, word: int, kind: Sequence[BitT], told: Told[BitT],
    first: str = "",
) -> list[Refusal]:  # fmt: skip
    """The rows from `source` to `goal`, the nearest first. `first` says what must come before, where the boat or shaft
    is not in `source` yet."""
    found = []
    for row in rows:
        if row.source == source and row.dest == goal:
            missing = [("MODE", first)] if first else []
            missing += _missing(row.must, row.must_not, word, kind, told)
            bits, words = tuple(bit for bit, _ in missing), tuple(text for _, text in missing)
            found.append(Refusal(goal.name, row.words, bits, words))
    return sorted(found, key=lambda refusal: len(refusal.bits))


def _nowhere(mode: IntEnum, goal: IntEnum) -> list[Refusal]:
    return [Refusal(goal.name, "", ("MODE",), (f"there is no direct change from {mode.name} to {goal.name}",))]


def explain_boat(mode: BoatMode, word: int, goal: BoatMode, told: Told[BoatCondition] = _BOAT_TOLD) -> list[Refusal]:
    """Ways from the boat's `mode` to `goal`, the nearest first, each with what is missing. READY asked from STANDBY is
    answered for the whole way, from TRIPPED the reset. An empty list: it is in that mode already."""
    if mode == goal:
        return []
    kind = tuple(BoatCondition)
    ways = _ways(BOAT_TABLE, mode, goal, word, kind, told)
    if not ways and mode == BoatMode.STANDBY and goal == BoatMode.READY:
        ways = _ways(BOAT_TABLE, BoatMode.STANDBY, BoatMode.NEUTRAL_WAIT, word, kind, told)
        ways += _ways(BOAT_TABLE, BoatMode.NEUTRAL_WAIT, BoatMode.READY, word, kind, told)
    if not ways and mode == BoatMode.TRIPPED:
        ways = _ways(BOAT_TABLE, BoatMode.TRIPPED, BoatMode.STANDBY, word, kind, told)
    return ways or _nowhere(mode, goal)


def explain_shaft(
    mode: ShaftMode, word: int, goal: ShaftMode, told: Told[ShaftCondition] = _SHAFT_TOLD
) -> list[Refusal]:
    """Ways from a shaft's `mode` to `goal`, the nearest first, each with what is missing. From a mode that has no
    direct row the way from REST is explained, and that REST comes first; from ISOLATED the way out of it. An empty
    list: it is in that mode already."""
    if mode == goal:
        return []
    kind = tuple(ShaftCondition)
    ways = _ways(SHAFT_TABLE, mode, goal, word, kind, told)
    if not ways and mode == ShaftMode.ISOLATED:
        return _ways(SHAFT_TABLE, ShaftMode.ISOLATED, ShaftMode.REST, word, kind, told)
    if not ways:
        first = f"shaft is in {mode.name}; {goal.name} can start only from REST"
        ways = _ways(SHAFT_TABLE, ShaftMode.REST, goal, word, kind, told, first)
    return ways or _nowhere(mode, goal)


def explain_permit(permit: ShaftPermit, word: int, told: Told[PermitCondition] = _PERMIT_TOLD) -> list[Refusal]:
    """Ways to a permit of a shaft, the nearest first, each with what is missing on this permit word; none of them
    missing anything: the permit is given."""
    found = []
    for row in PERMIT_TABLE:
        if row.permit == permit:
            missing = _missing(row.must, row.must_not, word, tuple(PermitCondition), told)
            bits, words = tuple(bit for bit, _ in missing), tuple(text for _, text in missing)
            found.append(Refusal(str(permit.name), "", bits, words))
    return sorted(found, key=lambda refusal: len(refusal.bits))


def name_bits(word: int, kind: type[BoatCondition] | type[ShaftCondition] | type[PermitCondition]) -> list[str]:
    """Names of the bits set in a word."""
    return [str(bit.name) for bit in kind if word & int(bit)]
