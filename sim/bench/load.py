"""Procedure files: reading, and errors that name file, step, key and what is allowed."""

import difflib
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from sim.bench.numbers import reckoned
from sim.bench.procedure import Expectation, FaultCall, FaultEnd, Procedure, Step
from sim.errors import BenchError
from sim.requirements import BY_ID, OWN_PREFIX
from supervisor.config import BoatConfig
from supervisor.config.words import plain

_TABLES = {"step": Step, "expect": Expectation, "inject": FaultCall, "clear": FaultEnd}


def load_procedure(path: Path, config: BoatConfig | None = None) -> Procedure:
    """Read and check one procedure file, for the boat of `config`: numbers by name are that boat's.

    Raises BenchError if it cannot be read, is not TOML or does not fit the model; all complaints are in its text.
    """
    try:
        text = path.read_bytes().decode("utf-8-sig")  # some editors put a byte order mark first
    except UnicodeDecodeError as error:
        raise BenchError(f"{path}: not a text file in UTF-8 (byte {error.start})") from error
    except OSError as error:
        raise BenchError(f"{path}: cannot be read: {error.strerror or error}") from error
    return parse_procedure(text, str(path), config)


def parse_procedure(text: str, file: str, config: BoatConfig | None = None) -> Procedure:
    """The same from text; `file` is only named in errors."""
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise BenchError(f"{file}: not valid TOML: {error}") from error
    data = reckoned(data, config, file)
    try:
        procedure = Procedure.model_validate(data)
    except ValidationError as error:
        lines = dict.fromkeys(f"{file}: {_complaint(e['loc'], e['type'], e)}" for e in error.errors())
        raise BenchError("\n".join(lines)) from error
    unknown = [one for one in procedure.requirements if one not in BY_ID and not one.startswith(OWN_PREFIX)]
    if unknown:
        raise BenchError(
            f"{file}: requirements: {', '.join(unknown)} is not in the register; docs/safety.md lists them, "
            f"{min(BY_ID)} to {max(BY_ID)}"
        )
    return procedure


_ARMS = ("bool", "float", "str", "int")
"""How pydantic names the arms of a value that may be a number, a contact or a word."""


def _complaint(loc: tuple[int | str, ...], kind: str, error: Mapping[str, Any]) -> str:
    """One line for one finding of pydantic: place, key, what was given, what is allowed."""
    given: object = error["input"]
    place: list[str] = []
    model: type = Procedure
    keys: list[str] = []
    for part in loc:
        if isinstance(part, int):
            place.append(f"{keys.pop() if keys else ''} {part + 1}".strip())
        elif part in _TABLES and not keys:
            model = _TABLES[part]
            keys.append(part)
        elif part not in _ARMS:  # the arms of a union are no keys
            keys.append(part)
    where = ", ".join(place)
    key = ".".join(keys)
    if kind == "extra_forbidden":
        fields = sorted(model.model_fields)  # type: ignore[attr-defined]  # all of them are models
        near = difflib.get_close_matches(key, fields, n=1)
        hint = f"did you mean {near[0]}? " if near else ""
        return f"{where}: unknown key {key!r}; {hint}allowed: {', '.join(fields)}".removeprefix(": ")
    if kind == "missing":
        return f"{where}: key {key!r} is missing".removeprefix(": ")
    head = ", ".join(part for part in (where, key) if part)
    text = _allowed(loc, kind, error)
    shown = f" (given: {given!r})" if isinstance(given, str | int | float | bool) else ""
    return f"{head}: {text}{shown}" if head else f"{text}{shown}"


def _allowed(loc: tuple[int | str, ...], kind: str, error: Mapping[str, Any]) -> str:
    if loc[-1:] and loc[-1] in _ARMS:  # one line for all arms: they differ only in what they would have been
        return "Give a finite number, a word in quotes, true or false"
    if kind == "string_pattern_mismatch":
        return "Written as SR-01, or as interlock NAME for an own interlock of the boat file"
    return plain(kind, error.get("ctx", {}), str(error["msg"])).removeprefix("Value error, ")
