"""Modes, condition words and the two tables that alone change a mode. Pure data."""

from supervisor.modes.boat_table import BOAT_COMPILED, BOAT_TABLE
from supervisor.modes.conditions import (
    BOAT_TRIPS,
    BOAT_WORDS,
    SHAFT_TRIPS,
    SHAFT_WORDS,
    BoatCondition,
    BoatMode,
    ShaftCondition,
    ShaftMode,
)
from supervisor.modes.shaft_table import SHAFT_COMPILED, SHAFT_TABLE
from supervisor.modes.table import NO_ROW, CompiledRow, Row, TableError, compile_rows, first_row, validate

__all__ = [
    "BOAT_COMPILED",
    "BOAT_TABLE",
    "BOAT_TRIPS",
    "BOAT_WORDS",
    "NO_ROW",
    "SHAFT_COMPILED",
    "SHAFT_TABLE",
    "SHAFT_TRIPS",
    "SHAFT_WORDS",
    "BoatCondition",
    "BoatMode",
    "CompiledRow",
    "Row",
    "ShaftCondition",
    "ShaftMode",
    "TableError",
    "compile_rows",
    "first_row",
    "validate",
]
