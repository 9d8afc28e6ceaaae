"""The rules compiled by numba, function by function, from the very same source.

Numba resolves what a function calls when it compiles it; so each function is copied with a namespace in which the
other rules are the compiled ones.
"""

import types
from collections.abc import Callable, Iterable
from typing import Any

from supervisor.rules.own import with_time as with_time_plain


def compile_modules(modules: Iterable[types.ModuleType]) -> dict[str, Callable[..., Any]]:
    """Every function defined in `modules`, compiled: {"module.function": dispatcher}. Needs numba.

    One is written anew: numba replaces an item of a tuple by an operation of its own, and knows no slices of tuples.
    """
    from numba import njit
    from numba.cpython.unsafe.tuple import tuple_setitem

    def with_time(times_s: Any, k: Any, time_s: Any) -> Any:
        return tuple_setitem(times_s, k, time_s)

    modules = list(modules)
    names = {module.__name__ for module in modules}
    own: dict[types.FunctionType, Any] = {}
    spaces: dict[str, dict[str, Any]] = {module.__name__: dict(vars(module)) for module in modules}
    for module in modules:
        for value in vars(module).values():
            if isinstance(value, types.FunctionType) and value.__module__ in names and value not in own:
                copy = types.FunctionType(
                    value.__code__, spaces[value.__module__], value.__name__, value.__defaults__, value.__closure__
                )
                own[value] = njit(with_time if value is with_time_plain else copy)
    for space in spaces.values():
        for name, value in list(space.items()):
            if isinstance(value, types.FunctionType) and value in own:
                space[name] = own[value]
    return {f"{f.__module__.rsplit('.', 1)[-1]}.{f.__name__}": compiled for f, compiled in own.items()}


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
