"""The same step functions, compiled by numba (an optional extra, for campaigns).

Nothing is written twice: :func:`compile_function` walks a plain function, compiles every function of this package it
calls, and compiles it with those in place of the originals. Interpreted and compiled results are bit-identical (tests
hold them to it).
"""

from __future__ import annotations

import types
from collections.abc import Callable
from typing import Any

from sim.plant.boat import Step, make_step


class CompilerMissingError(Exception):
    """numba is not installed; install the extra that brings it, or use the plain step."""


def _njit() -> Callable[..., Any]:
    try:
        import numba
    except ImportError as error:
        raise CompilerMissingError("compiled plant steps need numba: install it with `pip install numba`") from error
    compiler: Callable[..., Any] = numba.njit(error_model="numpy")
    return compiler


def compile_function(function: Callable[..., Any], prefix: str = "sim.plant") -> Callable[..., Any]:
    """`function` compiled by numba, together with all functions of modules starting with `prefix` that it calls.

    Raises CompilerMissingError without numba.
    """
    compiled: Callable[..., Any] = _compile(function, prefix, _njit(), {})
    return compiled


def _compile(function: Any, prefix: str, njit: Callable[..., Any], done: dict[Any, Any]) -> Any:
    if function in done:
        return done[function]

    def swapped(value: Any) -> Any:
        if isinstance(value, types.FunctionType) and value.__module__.startswith(prefix):
            return _compile(value, prefix, njit, done)
        return value

    names = function.__code__.co_names
    scope = {
        **function.__globals__,
        **{n: swapped(function.__globals__[n]) for n in names if n in function.__globals__},
    }
    cells = tuple(types.CellType(swapped(cell.cell_contents)) for cell in function.__closure__ or ())
    copy = types.FunctionType(function.__code__, scope, function.__name__, function.__defaults__, cells)
    done[function] = njit(copy)
    return done[function]


def compiled_step(shafts: int) -> Step:
    """The plant's step for `shafts` shafts (1 to 4), compiled at its first call. Use it with
    :func:`compiled_params`.
    """
    step: Step = compile_function(make_step(shafts))
    return step


def compiled_params(params: Any) -> Any:
    """`params` with its long tables as arrays: numba compiles tuples of hundreds of numbers very slowly.

    The values are the same, and so are the results.
    """
    import numpy as np

    if (
        isinstance(params, tuple)
        and params
        and all(isinstance(x, float) for x in params)
        and not hasattr(params, "_fields")
    ):
        return np.array(params, dtype=np.float64)
    if isinstance(params, tuple) and hasattr(params, "_fields"):
        return type(params)(*(compiled_params(x) for x in params))
    if isinstance(params, tuple):
        return tuple(compiled_params(x) for x in params)
    return params
