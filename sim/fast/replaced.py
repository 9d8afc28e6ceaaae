"""Functions that numba cannot compile as they stand, written from the same tables for it: in each, REPLACED is the
name that it gets, and capitals stand for functions that it calls.

They take or give what the live ones do, bit for bit; tests compare them.
"""

from collections.abc import Callable, Mapping
from typing import Any, NamedTuple

from supervisor.modes.boat_table import BOAT_COMPILED
from supervisor.modes.shaft_table import SHAFT_COMPILED
from supervisor.modes.table import NO_ROW, CompiledRow
from supervisor.rules.finite import finite_boat, finite_own, finite_shaft
from supervisor.rules.own import with_time
from supervisor.rules.tick import compiled_decide
from supervisor.signals import BOAT_INPUTS, OWN_CHANNELS, SHAFT_INPUTS, BoatInputs, InputSpec, ShaftInputs

HEAD = """
from math import isfinite

from numba.cpython.unsafe.tuple import tuple_setitem

from supervisor.signals import BoatInputs as Boat, OwnInputs as Own, ShaftInputs as Shaft
"""
"""What the texts below need."""

WITH_TIME = """
def REPLACED(times_s, k, time_s):
    return tuple_setitem(times_s, k, time_s)
"""


class Replacement(NamedTuple):
    """A function's text, and the live functions that it calls, by the names that stand for them in it."""

    text: str
    calls: Mapping[str, Callable[..., Any]] = {}


def replaced() -> dict[Callable[..., Any], Replacement]:
    """Live function -> what stands in for it."""
    boat = _finite("Boat", BoatInputs._fields, BOAT_INPUTS, "FINITE_OWN(given.own)")
    return {
        with_time: Replacement(WITH_TIME),
        compiled_decide: Replacement(_decide()),
        finite_own: Replacement(_finite_own()),
        finite_boat: Replacement(boat, {"FINITE_OWN": finite_own}),
        finite_shaft: Replacement(_finite("Shaft", ShaftInputs._fields, SHAFT_INPUTS, "")),
    }


def _decide() -> str:
    """The mode tables as tests of masks, in their order."""
    lines = ["def REPLACED(which, mode, word):"]
    for machine, tables in (("which < 0", BOAT_COMPILED), ("which >= 0", SHAFT_COMPILED)):
        lines.append(f"    if {machine}:")
        for mode, rows in enumerate(tables):
            lines.append(f"        if mode == {mode}:")
            lines += [f"            {line}" for line in _rows(rows)]
    return "\n".join([*lines, f"    return {NO_ROW}"])


def _rows(rows: tuple[CompiledRow, ...]) -> list[str]:
    tests = [f"if word & {row.mask} == {row.value}: return {row.number}" for row in rows if row.number != NO_ROW]
    return [*tests, f"return {NO_ROW}"]


def _finite_own() -> str:
    lines = ["def REPLACED(own):", "    if own.known == 0: return own", "    total = 0.0"]
    lines += [f"    total = total + own.values[{k}]" for k in range(OWN_CHANNELS)]
    lines += ["    if isfinite(total): return own", "    known = own.known"]
    for k in range(OWN_CHANNELS):
        lines += [f"    v{k} = own.values[{k}]", f"    if not isfinite(v{k}):", f"        known = known & ~{1 << k}",
                  f"        v{k} = 0.0"]  # fmt: skip
    values = ", ".join(f"v{k}" for k in range(OWN_CHANNELS))
    return "\n".join([*lines, f"    return Own(known, own.on & known, ({values},))"])


def _finite(kind: str, fields: tuple[str, ...], specs: tuple[InputSpec, ...], own: str) -> str:
    """Every number that is not finite made absent; where all are finite the inputs as they came."""
    bits = {spec.field: int(spec.bit) for spec in specs if spec.field}
    numbers = [name for name in fields if name in bits]
    lines = ["def REPLACED(given):", f"    own = {own}"] if own else ["def REPLACED(given):"]
    lines.append("    known = given.known")
    for name in numbers:
        absent = f"        known = known & ~{bits[name]}"
        lines += [f"    {name} = given.{name}", f"    if not isfinite({name}):", absent, f"        {name} = 0.0"]
    given = ", ".join(name if name in bits or name in ("known", "own") else f"given.{name}" for name in fields)
    return "\n".join([*lines, f"    return {kind}({given})"])
