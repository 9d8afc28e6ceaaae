"""Procedure files: reading, and errors that name file, step, key and what is allowed."""

import tomllib
from pathlib import Path

from pydantic import ValidationError

from sim.bench.procedure import Expectation, FaultCall, FaultEnd, Procedure, Step
from sim.errors import BenchError

_TABLES = {"step": Step, "expect": Expectation, "inject": FaultCall, "clear": FaultEnd}


def load_procedure(path: Path) -> Procedure:
    """Read and check one procedure file.

    Raises BenchError if it cannot be read, is not TOML or does not fit the model; all complaints are in its text.
    """
    try:
        text = path.read_bytes().decode("utf-8")
    except UnicodeDecodeError as error:
        raise BenchError(f"{path}: not a text file in UTF-8 (byte {error.start})") from error
    except OSError as error:
        raise BenchError(f"{path}: cannot be read: {error.strerror or error}") from error
    return parse_procedure(text, str(path))


def parse_procedure(text: str, file: str) -> Procedure:
    """The same from text; `file` is only named in errors."""
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise BenchError(f"{file}: not valid TOML: {error}") from error
    try:
        return Procedure.model_validate(data)
    except ValidationError as error:
        lines = dict.fromkeys(
            f"{file}: {_complaint(e['loc'], e['type'], e['msg'], e['input'])}" for e in error.errors()
        )
        raise BenchError("\n".join(lines)) from error


def _complaint(loc: tuple[int | str, ...], kind: str, message: str, given: object) -> str:
    """One line for one finding of pydantic: place, key, what was given, what is allowed."""
    place: list[str] = []
    model: type = Procedure
    keys: list[str] = []
    for part in loc:
        if isinstance(part, int):
            place.append(f"{keys.pop() if keys else ''} {part + 1}".strip())
        elif part in _TABLES and not keys:
            model = _TABLES[part]
            keys.append(part)
        elif part not in ("bool", "float", "str", "int"):  # the arms of a union are no keys
            keys.append(part)
    where = ", ".join(place)
    key = ".".join(keys)
    if kind == "extra_forbidden":
        allowed = ", ".join(sorted(model.model_fields))  # type: ignore[attr-defined]  # all of them are models
        return f"{where}: unknown key {key!r}; allowed: {allowed}".removeprefix(": ")
    if kind == "missing":
        return f"{where}: key {key!r} is missing".removeprefix(": ")
    text = message.removeprefix("Value error, ")
    shown = f" (given: {given!r})" if isinstance(given, str | int | float | bool) else ""
    head = ", ".join(part for part in (where, key) if part)
    return f"{head}: {text}{shown}" if head else f"{text}{shown}"
