"""Numbers by name in a procedure: `limits.taper_start_pct + 2`, `0.5 * drive.rated_torque_nm`.

A text that names a number of the boat file is reckoned when the procedure is read for that boat, so that one procedure
fits many. Names, + - * / and brackets, `min` and `max`: nothing else, and nothing is executed.
"""

import ast
import difflib
import math
import operator
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any

from pydantic import BaseModel

from sim.errors import BenchError
from supervisor.config import BoatConfig

_BOAT_TABLES = ("boat", "bank", "limits")
_SHAFT_TABLES = ("drive", "engine", "gearbox", "clutch", "lock", "rules")
LONGEST = 200
"""Characters of a formula."""
_LOOKS = re.compile(rf"[\w.+\-*/(), ]*\b({'|'.join((*_BOAT_TABLES, *_SHAFT_TABLES))})\.[a-z_]\w*[\w.+\-*/(), ]*")
_OPERATORS: Mapping[type, Callable[[float, float], float]] = {
    ast.Add: operator.add, ast.Sub: operator.sub, ast.Mult: operator.mul, ast.Div: operator.truediv,
}  # fmt: skip
_WORDS = frozenset({"name", "says", "explain", "signal", "against", "subject", "event", "op", "of", "fault", "target"})
"""Keys whose texts are names and words, whatever they look like."""
_CALLS: Mapping[str, Callable[..., float]] = {"min": min, "max": max}


def is_formula(text: str) -> bool:
    """Whether a text of a procedure is a number by name; else it is a word."""
    return _LOOKS.fullmatch(text) is not None


def reckoned(data: Mapping[str, Any], config: BoatConfig | None, file: str) -> dict[str, Any]:
    """A procedure file's content with its formulas as numbers of this boat.

    Raises BenchError with all complaints: a formula without a boat to reckon it for, a name that the boat file does
    not have, a formula that cannot be read or comes to no number, one that differs between the shafts it stands for.
    """
    complaints: list[str] = []
    steps = data.get("step")
    if not isinstance(steps, list):
        return dict(data)
    found = []
    for number, step in enumerate(steps, 1):
        where = f"{file}: step {number}"
        found.append(_Reckoner(config, complaints).table(step, where, "") if isinstance(step, dict) else step)
    if complaints:
        raise BenchError("\n".join(dict.fromkeys(complaints)))
    return {**data, "step": found}


class _Reckoner:
    """Goes through a table and replaces; `about` is what its numbers are about, so that `each` has its shafts."""

    def __init__(self, config: BoatConfig | None, complaints: list[str]) -> None:
        self._config = config
        self._complaints = complaints

    def table(self, table: Mapping[str, Any], where: str, about: str) -> dict[str, Any]:
        """A table, and those in it."""
        told = next((table[key] for key in ("signal", "target") if isinstance(table.get(key), str)), about)
        return {key: self._one(value, f"{where}, {key}", key, told) for key, value in table.items()}

    def _one(self, value: object, where: str, key: str, about: str) -> object:
        if isinstance(value, dict):
            inner = key if key not in ("do", "set") and not about else about
            return self.table(value, where, inner)
        if isinstance(value, list):
            return [
                self.table(one, f"{where} {number}", about) if isinstance(one, dict)
                else self._one(one, where, key, about)
                for number, one in enumerate(value, 1)
            ]  # fmt: skip
        if isinstance(value, str) and key not in _WORDS and is_formula(value):
            return self._number(value, where, about or key)
        return value

    def _number(self, text: str, where: str, about: str) -> object:
        config = self._config
        if config is None:
            self._complaints.append(f"{where}: {text!r} is a number of a boat: read this procedure with its boat file")
            return text
        try:
            shafts = _meant(config, about)
            values = [_value(text, config, shaft) for shaft in shafts]
        except ValueError as error:
            self._complaints.append(f"{where}: {text!r}: {error}")
            return text
        if any(value != values[0] for value in values):
            told = ", ".join(f"{config.shaft[s].name} {v:g}" for s, v in zip(shafts, values, strict=True))
            self._complaints.append(f"{where}: {text!r} differs between the shafts ({told}): name one of them")
        return values[0]


def _meant(config: BoatConfig, about: str) -> Sequence[int]:
    """The shafts that a signal or target is about; all where it names none. Never empty: on a boat without shafts there
    is still a formula to be complained of."""
    first = about.partition(".")[0]
    names = [shaft.name for shaft in config.shaft]
    if first in names:
        return [names.index(first)]
    every = range(max(1, len(names)))
    return {"first": every[:1], "others": every[1:] or every}.get(first, every)


def _value(text: str, config: BoatConfig, shaft: int) -> float:
    """Raises ValueError with a sentence."""
    if len(text) > LONGEST:
        raise ValueError(f"is longer than {LONGEST} characters")
    try:
        tree = ast.parse(text.strip(), mode="eval")
        value = _reckon(tree.body, config, shaft)
    except (SyntaxError, RecursionError):
        raise ValueError("cannot be read; write names, numbers, + - * / and brackets") from None
    except ZeroDivisionError:
        raise ValueError("divides by zero") from None
    if not math.isfinite(value):
        raise ValueError("comes to no number")
    return value


def _reckon(node: ast.expr, config: BoatConfig, shaft: int) -> float:
    if isinstance(node, ast.Constant) and type(node.value) in (int, float):
        return float(node.value)  # type: ignore[arg-type]  # said by the line above
    if isinstance(node, ast.BinOp) and type(node.op) in _OPERATORS:
        return _OPERATORS[type(node.op)](_reckon(node.left, config, shaft), _reckon(node.right, config, shaft))
    if isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.USub):
        return -_reckon(node.operand, config, shaft)
    if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in _CALLS and not node.keywords:
        values = [_reckon(one, config, shaft) for one in node.args]
        if not values:
            raise ValueError(f"{node.func.id}() of nothing")
        return _CALLS[node.func.id](*values, values[0])  # of one number too
    if isinstance(node, ast.Attribute):
        return _named(ast.unparse(node), config, shaft)
    raise ValueError("cannot be read; write names, numbers, + - * / and brackets")


def _named(name: str, config: BoatConfig, shaft: int) -> float:
    """A number of the boat file. Raises ValueError."""
    there = dict(names_of(config, shaft))
    if name not in there:
        close = difflib.get_close_matches(name, there, n=1, cutoff=0.6)
        hint = f"did you mean {close[0]}?" if close else "docs/boat-file.md lists the keys"
        raise ValueError(f"this boat file has no number {name}; {hint}")
    return there[name]


def names_of(config: BoatConfig, shaft: int = 0) -> Iterator[tuple[str, float]]:
    """Every number that may be named, with its value: of boat, bank and limits, of this shaft, and of each by name."""
    for table in _BOAT_TABLES:
        yield from _numbers(table, getattr(config, table))
    for number, one in enumerate(config.shaft):
        for table in _SHAFT_TABLES:
            for name, value in _numbers(table, getattr(one, table)):
                yield f"{one.name}.{name}", value
                if number == shaft:
                    yield name, value


def _numbers(prefix: str, table: BaseModel) -> Iterator[tuple[str, float]]:
    for name in type(table).model_fields:
        value = getattr(table, name)
        if isinstance(value, int | float) and not isinstance(value, bool):
            yield f"{prefix}.{name}", float(value)
