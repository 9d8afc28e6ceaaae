"""The modes of the boat and each way from one to another, first in prose:

* STANDBY listens. A press of *enable* seen in STANDBY, with every required input there, leads to NEUTRAL_WAIT;
  nothing leads from STANDBY to READY directly, so that no order waits behind a closed door.
* NEUTRAL_WAIT precharges and waits for its permissives, the levers' neutral above all. It gives up in the end.
* READY lets shafts work. It ends by *off*, once the shafts are at rest or after a while, or by idleness.
* TRIPPED is latched. Reset, with every cause gone, leads to STANDBY: never to READY.

A trip wins over everything. In STANDBY a lost input, a dead receive path or an own interlock that trips the boat is a
missing permissive, not a trip: a boat is switched on piece by piece.
"""

from supervisor.modes.conditions import BoatCondition, BoatMode
from supervisor.modes.register import BOAT_TRIPS, BOAT_WORDS
from supervisor.modes.table import Row, compile_all, compile_rows, validate

_C = BoatCondition
_NONE = BoatCondition(0)
BoatRow = Row[BoatMode, BoatCondition]


def _trips(source: BoatMode, causes: tuple[BoatCondition, ...]) -> list[BoatRow]:
    return [Row(source, cause, _NONE, BoatMode.TRIPPED, BOAT_WORDS[cause][0]) for cause in causes]


def _own(source: BoatMode) -> BoatRow:
    return Row(source, _NONE, _C.OWN_BOAT, BoatMode.TRIPPED, BOAT_WORDS[_C.OWN_BOAT][1])


_FAULTS = (_C.EMERGENCY_STOP, _C.MONITOR_FAULT)
_ANY_TRIP = _C.EMERGENCY_STOP | _C.MONITOR_FAULT | _C.RUNTIME_FAULT | _C.INPUT_LOST

BOAT_TABLE: tuple[BoatRow, ...] = (
    *_trips(BoatMode.STANDBY, _FAULTS),
    Row(BoatMode.STANDBY, _C.ENABLE_EDGE | _C.SHAFT_AVAILABLE | _C.OWN_BOAT,
        _C.RUNTIME_FAULT | _C.INPUT_LOST | _C.OFF_ORDER, BoatMode.NEUTRAL_WAIT, "ENABLE was pressed"),
    *_trips(BoatMode.NEUTRAL_WAIT, BOAT_TRIPS),
    _own(BoatMode.NEUTRAL_WAIT),
    Row(BoatMode.NEUTRAL_WAIT, _C.OFF_ORDER, _NONE, BoatMode.STANDBY, "OFF was pressed"),
    Row(BoatMode.NEUTRAL_WAIT, _C.LEVERS_NEUTRAL | _C.CONTACTOR_CLOSED | _C.LINKS_CHARGED | _C.SHAFT_AVAILABLE,
        _NONE, BoatMode.READY, "levers in neutral, contactor closed, links precharged"),
    Row(BoatMode.NEUTRAL_WAIT, _C.WAIT_EXPIRED, _NONE, BoatMode.STANDBY,
        "not READY in time (limits.neutral_wait_s), press ENABLE again"),
    *_trips(BoatMode.READY, BOAT_TRIPS),
    _own(BoatMode.READY),
    Row(BoatMode.READY, _NONE, _C.CONTACTOR_CLOSED, BoatMode.TRIPPED, "bank contactor opened"),
    Row(BoatMode.READY, _C.OFF_ORDER | _C.SHAFTS_AT_REST, _NONE, BoatMode.STANDBY, "OFF was pressed"),
    Row(BoatMode.READY, _C.OFF_ORDER | _C.OFF_OVERDUE, _NONE, BoatMode.STANDBY,
        "OFF was pressed and a shaft did not come to rest in time"),
    Row(BoatMode.READY, _C.IDLE_EXPIRED | _C.SHAFTS_AT_REST, _NONE, BoatMode.STANDBY, "idle for too long"),
    Row(BoatMode.TRIPPED, _C.RESET_EDGE | _C.OWN_BOAT, _ANY_TRIP, BoatMode.STANDBY,
        "RESET was pressed, every cause gone"),
)  # fmt: skip

validate(BOAT_TABLE, BoatMode, BoatMode.STANDBY)
BOAT_COMPILED = compile_rows(BOAT_TABLE, BoatMode)
BOAT_ROWS = compile_all(BOAT_TABLE)
