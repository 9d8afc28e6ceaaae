"""Comparing results in every bit."""

from typing import Any


def same_bits(one: Any, other: Any) -> bool:
    """Equal in type and in every bit: 0.0 is not -0.0, 1 is not 1.0, and NaN is NaN."""
    if isinstance(one, tuple):
        return type(one) is type(other) and len(one) == len(other) and all(map(same_bits, one, other))
    if isinstance(one, float):
        return type(other) is float and one.hex() == other.hex()
    return type(one) is type(other) and one == other


def differences(one: Any, other: Any) -> list[str]:
    """Which fields of two NamedTuples differ, and how."""
    if not hasattr(one, "_fields") or type(one) is not type(other):
        return [] if same_bits(one, other) else [f"{one!r} against {other!r}"]
    pairs = zip(one._fields, one, other, strict=True)
    return [f"{name}: {a!r} against {b!r}" for name, a, b in pairs if not same_bits(a, b)]
