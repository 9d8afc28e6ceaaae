"""Limits and parameters as records in memory, for compiled functions.

A NamedTuple of some hundred numbers is passed to a compiled function number by number, and each function that takes it
is slow to compile. A record is passed by its address; its fields have the same names and the same values.
"""

from typing import Any

import numpy as np


def packed(values: Any) -> Any:
    """A NamedTuple of numbers, and of such NamedTuples and tuples, as a record. Raises TypeError for anything else."""
    record = np.zeros(1, dtype=_type(values))
    record[0] = _plain(values)
    return record[0]


def _type(value: Any) -> Any:
    if isinstance(value, tuple) and hasattr(value, "_fields"):
        return np.dtype([(name, *_field(one)) for name, one in zip(value._fields, value, strict=True)], align=True)
    raise TypeError(f"{type(value).__name__} is no record of numbers")


def _field(value: Any) -> tuple[Any, ...]:
    if isinstance(value, int):
        return (np.int64,)
    if isinstance(value, float):
        return (np.float64,)
    if isinstance(value, tuple) and not hasattr(value, "_fields"):
        kinds = {str(_field(one)) for one in value}
        if len(kinds) != 1:
            raise TypeError(f"a tuple of {len(kinds)} kinds of values is no array")
        inner = _field(value[0])
        shape = (len(value), *(inner[1] if len(inner) > 1 else ()))
        return inner[0], shape
    return (_type(value),)


def _plain(value: Any) -> Any:
    """Nested tuples, as numpy takes them."""
    if isinstance(value, tuple) and hasattr(value, "_fields"):
        return tuple(_plain(one) for one in value)
    if isinstance(value, tuple):
        return [_plain(one) for one in value]
    return value
