"""Modes, condition words and the two tables that alone change a mode. Pure data."""

from supervisor.modes.boat_table import BOAT_COMPILED, BOAT_TABLE
from supervisor.modes.conditions import BoatCondition, BoatMode, PermitCondition, ShaftCondition, ShaftMode
from supervisor.modes.permit_table import PERMIT_TABLE, PermitRow, given_permits
from supervisor.modes.register import (
    BOAT_CONDITIONS,
    BOAT_TRIPS,
    BOAT_WORDS,
    PERMIT_CONDITIONS,
    PERMIT_WORDS,
    SHAFT_CONDITIONS,
    SHAFT_TRIPS,
    SHAFT_WORDS,
    Condition,
)
from supervisor.modes.shaft_table import SHAFT_COMPILED, SHAFT_TABLE
from supervisor.modes.table import NEVER, NO_ROW, CompiledRow, Row, TableError, compile_rows, first_row, validate

__all__ = [
    "BOAT_COMPILED",
    "BOAT_CONDITIONS",
    "BOAT_TABLE",
    "BOAT_TRIPS",
    "BOAT_WORDS",
    "NEVER",
    "NO_ROW",
    "PERMIT_CONDITIONS",
    "PERMIT_TABLE",
    "PERMIT_WORDS",
    "SHAFT_COMPILED",
    "SHAFT_CONDITIONS",
    "SHAFT_TABLE",
    "SHAFT_TRIPS",
    "SHAFT_WORDS",
    "BoatCondition",
    "BoatMode",
    "CompiledRow",
    "Condition",
    "PermitCondition",
    "PermitRow",
    "Row",
    "ShaftCondition",
    "ShaftMode",
    "TableError",
    "compile_rows",
    "first_row",
    "given_permits",
    "validate",
]
