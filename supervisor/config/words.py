"""What pydantic found, in the words of the person who wrote the file: key, value, what is allowed."""

import difflib
import re
import typing
from collections.abc import Mapping, Sequence
from types import UnionType
from typing import Any, NamedTuple

from pydantic import BaseModel, ValidationError
from pydantic.fields import FieldInfo

from supervisor.config.describe import bounds
from supervisor.config.schema import NAME_PATTERN, BoatConfig

_SHOWN_CHARACTERS = 60

_WORDS = {
    "finite_number": "Give a finite number",
    "float_type": "Give a number, without quotes",
    "int_type": "Give a whole number, without quotes",
    "bool_type": "Give true or false",
    "string_type": "Give a text in quotes",
    "list_type": "Give a list in square brackets",
    "tuple_type": "Give a list in square brackets",
    "dict_type": "Give a table",
    "model_type": "Give a table",
    "greater_than": "More than {gt:g}",
    "greater_than_equal": "At least {ge:g}",
    "less_than": "Less than {lt:g}",
    "less_than_equal": "At most {le:g}",
    "too_long": "At most {max_length}",
    "too_short": "At least {min_length}",
    "literal_error": "{hint}Allowed: {expected}",
}

NAME = "Small letters, digits and _ only, beginning with a letter, at most 31 characters"
"""The only pattern in a boat file, in words."""


def is_name(text: str) -> bool:
    """Whether a text can be the name of a boat, bus, shaft or interlock."""
    return re.fullmatch(NAME_PATTERN, text) is not None


def plain(kind: str, context: Mapping[str, Any], message: str) -> str:
    """What is allowed, for a kind of pydantic's errors with its context; its own `message` where we have no words."""
    return _WORDS[kind].format(**{"hint": "", **context}) if kind in _WORDS else message


class Complaint(NamedTuple):
    """One finding: dotted key, what is wrong, what to do."""

    key: str
    problem: str
    remedy: str


def complaints(exc: ValidationError, data: object = None) -> list[Complaint]:
    """Everything that pydantic found; misspelt keys first, for they explain keys that are missing. With the `data` of
    the file an interlock is called by its name, not by its number."""
    found = sorted(exc.errors(), key=lambda error: error["type"] != "extra_forbidden")
    return [_complaint(error["type"], error["loc"], error, data) for error in found]


def _named(parts: Sequence[int | str], data: object) -> list[str]:
    """`interlock.0.effect` -> `interlock.swim_ladder.effect`, where its name can be read."""
    shown = [str(part) for part in parts]
    if len(parts) > 1 and parts[0] == "interlock" and isinstance(parts[1], int) and isinstance(data, Mapping):
        tables = data.get("interlock")
        table = tables[parts[1]] if isinstance(tables, list) else None
        if isinstance(table, Mapping) and isinstance(table.get("name"), str) and parts[-1] != "name":
            shown[1] = str(table["name"])
    return shown


def _complaint(kind: str, loc: Sequence[int | str], error: Mapping[str, Any], data: object) -> Complaint:
    parts = [part for part in loc if part != "[key]"]
    key = ".".join(_named(parts, data))
    if kind == "extra_forbidden":
        table = _table(parts[:-1])
        near = difflib.get_close_matches(str(parts[-1]), list(table.model_fields), n=1) if table else []
        return Complaint(
            key, "unknown key", f"Did you mean {near[0]}?" if near else "Remove it, or correct its spelling"
        )
    if kind == "missing":
        return Complaint(key, "is missing", _add(parts))
    context = error.get("ctx", {})
    if kind == "literal_error":
        context = {**context, "hint": _nearest(error.get("input"), str(context.get("expected", "")))}
    remedy = _range(parts) if kind in ("greater_than", "greater_than_equal", "less_than", "less_than_equal") else ""
    if not remedy:
        remedy = NAME if kind == "string_pattern_mismatch" else plain(kind, context, str(error["msg"]))
    if kind in ("too_long", "too_short"):
        return Complaint(key, f"has {context.get('actual_length')} entries", remedy)
    return Complaint(key, f"{_shown(error.get('input'))} is not allowed", remedy)


def _add(parts: Sequence[int | str]) -> str:
    """Where a missing key belongs."""
    tables = [str(part) for part in parts[:-1] if not isinstance(part, int)]
    if {"inputs", "outputs"} & set(tables):
        return f"Add {parts[-1]} to this mapping"
    if len(parts) > 1 and isinstance(parts[-2], int):
        return f"Add {parts[-1]} under [[{'.'.join(tables)}]]"
    return f"Add {parts[-1]} under [{'.'.join(tables)}]" if tables else f"Add {parts[-1]}"


def _nearest(given: object, expected: str) -> str:
    """ "Did you mean ...? " for a misspelt word, "" where none of the words expected comes near."""
    near = difflib.get_close_matches(str(given), re.findall(r"'([^']*)'", expected), n=1)
    return f"Did you mean {near[0]}? " if near else ""


def _shown(value: object) -> str:
    """A value as it stands in the file; long ones are cut, tables and lists named."""
    if isinstance(value, dict | list):
        return f"a {type(value).__name__}"
    if isinstance(value, bool):
        return str(value).lower()
    text = repr(value)
    return text if len(text) <= _SHOWN_CHARACTERS else f"{text[:_SHOWN_CHARACTERS]}..."


def _table(parts: Sequence[int | str]) -> type[BaseModel] | None:
    """The table of a boat file at a place, None where the place is not in one (a shared rule reads other files too)."""
    here: type[BaseModel] | None = BoatConfig
    for part in parts:
        if here is None:
            return None
        if part in here.model_fields:
            here = _model_in(here.model_fields[str(part)].annotation)
        # else: an entry of a list or of a table with free names, whose model is known already
    return here


def _model_in(annotation: Any) -> type[BaseModel] | None:
    """The model in `Model`, `list[Model]`, `dict[str, Model]` or `Model | None`."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    if typing.get_origin(annotation) is None and not isinstance(annotation, UnionType):
        return None
    return next((model for one in typing.get_args(annotation) if (model := _model_in(one)) is not None), None)


def _range(parts: Sequence[int | str]) -> str:
    """Both ends of what is allowed for a number; "" where the schema does not say."""
    table = _table(parts[:-1])
    field: FieldInfo | None = table.model_fields.get(str(parts[-1])) if table is not None else None
    if field is None:
        return ""
    low, high = bounds(field)
    return f"Allowed: {low} to {high}" if low and high else ""
