"""The schema of the boat file as rows for a page: key, what is allowed, default, meaning."""

import typing
from typing import Any

from annotated_types import Ge, Gt, Le, Lt
from pydantic import BaseModel
from pydantic.fields import FieldInfo

from supervisor.config import schema

_PLAIN = {bool: "true or false", str: "text", int: "whole number", float: "number"}


def describe(model: type[BaseModel]) -> list[tuple[str, str, str, str]]:
    """(key, allowed, default or "required", meaning) of each key of a table of the boat file."""
    return [
        (f"`{name}`", _allowed(field), _default(field), field.description or "")
        for name, field in model.model_fields.items()
    ]


def _default(field: FieldInfo) -> str:
    if field.is_required():
        return "required"
    value = field.default if field.default_factory is None else ""
    if value is None or value == "":
        return "none"
    if isinstance(value, bool):
        return str(value).lower()
    return f"{value:g}" if isinstance(value, float) else str(value)


def _allowed(field: FieldInfo) -> str:
    annotation: Any = field.annotation
    if annotation is schema.Name or any(getattr(bound, "pattern", None) for bound in field.metadata):
        return "small letters, digits, `_`"
    plain = [one for one in typing.get_args(annotation) or (annotation,) if one is not type(None)]
    if typing.get_origin(annotation) is typing.Literal:
        return ", ".join(str(one) for one in plain)
    literal = next((one for one in plain if typing.get_origin(one) is typing.Literal), None)
    if literal is not None:
        return ", ".join(str(one) for one in typing.get_args(literal))
    if dict in (typing.get_origin(annotation), *(typing.get_origin(one) for one in plain)):
        return "table"
    bounds = _bounds(field)
    if len(plain) == 1 and plain[0] in _PLAIN and typing.get_origin(annotation) is not list:
        return bounds or _PLAIN[plain[0]]
    if list in (typing.get_origin(annotation), *(typing.get_origin(one) for one in plain)):
        return "list"
    return bounds or "number"


def _bounds(field: FieldInfo) -> str:
    low, high = bounds(field)
    return f"{low} to {high}" if low and high else low or high


def bounds(field: FieldInfo) -> tuple[str, str]:
    """The lowest and the highest value that a number may have, in words ("above 0", "600"); "" where there is none.

    A key may carry the bounds of its kind and narrower ones of its own: the narrowest count.
    """
    low: tuple[float, bool] | None = None
    high: tuple[float, bool] | None = None
    for bound in field.metadata:
        if isinstance(bound, Ge | Gt):
            found = (_number(bound.ge), False) if isinstance(bound, Ge) else (_number(bound.gt), True)
            low = found if low is None or found > low else low
        elif isinstance(bound, Le | Lt):
            found = (_number(bound.le), False) if isinstance(bound, Le) else (_number(bound.lt), True)
            high = found if high is None or (found[0], not found[1]) < (high[0], not high[1]) else high
    return (
        "" if low is None else f"above {low[0]:g}" if low[1] else f"{low[0]:g}",
        "" if high is None else f"below {high[0]:g}" if high[1] else f"{high[0]:g}",
    )


def _number(bound: Any) -> float:
    return float(bound)
