"""The modes of a shaft and each way from one to another, first in prose:

* A trip of this shaft leads to ISOLATED from every mode. ISOLATED ends by reset, cause gone, lever in neutral, torque
  zero: not by a still shaft, which a boat under way never has. A drive that disobeyed must have been seen to obey, with
  its enable dropped; one that did so twice, to stand still. The way back into thrust then needs fresh neutral.
* The boat leaving READY, a withdrawn permit, a clutch or lock that is not proven where it must be, a diver, a lost
  handset, a stalled engine: torque ends *at once*, the shaft is at REST.
* An own interlock of the boat's owner that stops thrust or charging does so at once, from UNLOAD too; one that trips
  the shaft isolates it; one that ramps or unloads goes through UNLOAD; one that inhibits bars beginnings only.
* A contact of lock, clutch, gearbox or engine that goes away *pauses* thrust: torque ends at once, the shaft is at
  REST, and nothing is disarmed; back soon enough, thrust begins again. Otherwise it was an end like any other.
* Every other end goes through UNLOAD, which brings torque to zero before any change.
* Whatever ends thrust other than the lever itself *disarms*: REARMED is cleared, and only fresh neutral sets it.
* PROPEL, GENERATE and HARVEST begin at REST only, or for PROPEL from UNLOAD once torque is zero, if the crew asked for
  thrust meanwhile (the crash stop: ahead, through neutral, astern).
"""

from functools import reduce
from operator import or_

from supervisor.modes.conditions import ShaftCondition, ShaftMode
from supervisor.modes.register import SHAFT_TRIPS, SHAFT_WORDS
from supervisor.modes.table import Row, compile_all, compile_rows, validate

_C = ShaftCondition
_M = ShaftMode
_NONE = ShaftCondition(0)
ShaftRow = Row[ShaftMode, ShaftCondition]

_WORKING = _C.BOAT_READY | _C.IN_SERVICE | _C.LINK_CHARGED
PROPEL_MUST = (
    _WORKING | _C.THRUST_ORDER | _C.REARMED | _C.NO_SHORE | _C.NO_DIVER | _C.LOCK_RELEASED | _C.LOCK_SETTLED
    | _C.CLUTCH_CLOSED | _C.ENGINE_CLEAR | _C.DISCHARGE_PERMIT | _C.DERATE_OPEN
    | _C.OWN_THRUST_START | _C.OWN_THRUST_STAYS | _C.OWN_THRUST
)  # fmt: skip
PROPEL_MUST_NOT = _C.OFF_ORDER | _C.CONTROL_LOST | _C.HANDSET_LOST | _C.PAUSE_FAILED
_CHARGING = (
    _WORKING | _C.CHARGE_PERMIT | _C.CHARGE_WANTED | _C.NO_DIVER | _C.LOCK_SETTLED
    | _C.OWN_CHARGE_START | _C.OWN_CHARGE_STAYS | _C.OWN_CHARGE
)  # fmt: skip
GENERATE_MUST = _CHARGING | _C.UNDER_WAY_ORDER | _C.ENGINE_RUNNING | _C.GEAR_AHEAD | _C.CLUTCH_CLOSED | _C.LOCK_RELEASED
AT_REST_MUST = _CHARGING | _C.AT_REST_ORDER | _C.ENGINE_RUNNING | _C.GEAR_AHEAD | _C.CLUTCH_OPEN | _C.PROPELLER_STILL
HARVEST_MUST = (
    _CHARGING | _C.HARVEST_ORDER | _C.ENGINE_STOPPED | _C.GEAR_NEUTRAL | _C.CLUTCH_CLOSED | _C.LOCK_RELEASED
    | _C.TRAILING_OK | _C.NO_SHORE
)  # fmt: skip
_TRIPPED = reduce(or_, SHAFT_TRIPS)
ISOLATED_ENDS = _C.RESET_EDGE | _C.LEVER_NEUTRAL | _C.TORQUE_ZERO | _C.OBEDIENT | _C.TRUSTED | _C.OWN_SHAFT


def _trips(source: ShaftMode) -> list[ShaftRow]:
    """A lost input or an own interlock trips only while the boat is live: parts are switched on one after the other."""
    rows = []
    for cause in SHAFT_TRIPS:
        must = cause | _C.BOAT_LIVE if cause == _C.INPUT_LOST else cause
        rows.append(Row(source, must, _NONE, _M.ISOLATED, SHAFT_WORDS[cause][0], disarms=True))
    own = Row(source, _C.BOAT_LIVE, _C.OWN_SHAFT, _M.ISOLATED, SHAFT_WORDS[_C.OWN_SHAFT][1], disarms=True)
    return [*rows, own]


def _at_once(source: ShaftMode, *missing: ShaftCondition) -> list[ShaftRow]:
    return [Row(source, _NONE, bit, _M.REST, SHAFT_WORDS[bit][1], disarms=True) for bit in missing]


def _unload(source: ShaftMode, *missing: ShaftCondition) -> list[ShaftRow]:
    return [Row(source, _NONE, bit, _M.UNLOAD, SHAFT_WORDS[bit][1], disarms=True) for bit in missing]


def _off(source: ShaftMode) -> ShaftRow:
    return Row(source, _C.OFF_ORDER, _NONE, _M.UNLOAD, "OFF was pressed", disarms=True)


def _rest(source: ShaftMode, must: ShaftCondition, must_not: ShaftCondition, words: str) -> ShaftRow:
    return Row(source, must, must_not, _M.REST, words, disarms=True)


def _pause(source: ShaftMode) -> ShaftRow:
    return Row(source, _C.PAUSED, PROPEL_MUST_NOT, _M.REST, SHAFT_WORDS[_C.PAUSED][0])


_TRANSIT = "shaft clutch is in transit or unknown"

SHAFT_TABLE: tuple[ShaftRow, ...] = (
    # --- REST: no torque
    *_trips(_M.REST),
    Row(_M.REST, PROPEL_MUST, PROPEL_MUST_NOT, _M.PROPEL, "thrust is asked"),
    Row(_M.REST, GENERATE_MUST, _C.OFF_ORDER | _C.AT_REST_ORDER, _M.GENERATE, "charging under way is selected"),
    Row(_M.REST, AT_REST_MUST, _C.OFF_ORDER | _C.UNDER_WAY_ORDER | _C.CLUTCH_CLOSED, _M.GENERATE,
        "charging at rest is selected"),
    Row(_M.REST, HARVEST_MUST, _C.OFF_ORDER | _C.THRUST_ORDER, _M.HARVEST, "harvest is selected"),
    # --- PROPEL: electric thrust from lever or handset
    *_trips(_M.PROPEL),
    _pause(_M.PROPEL),
    _rest(_M.PROPEL, _C.PAUSE_FAILED, _NONE, SHAFT_WORDS[_C.PAUSE_FAILED][0]),
    *_at_once(_M.PROPEL, _C.BOAT_READY, _C.IN_SERVICE, _C.NO_DIVER, _C.NO_SHORE, _C.LOCK_RELEASED,
              _C.LOCK_SETTLED, _C.CLUTCH_CLOSED, _C.DISCHARGE_PERMIT, _C.OWN_THRUST),
    _rest(_M.PROPEL, _C.HANDSET_LOST, _NONE, SHAFT_WORDS[_C.HANDSET_LOST][0]),
    Row(_M.PROPEL, _C.CONTROL_LOST, _NONE, _M.UNLOAD, "lever signal is lost", disarms=True),
    _off(_M.PROPEL),
    *_unload(_M.PROPEL, _C.ENGINE_CLEAR, _C.DERATE_OPEN, _C.LINK_CHARGED, _C.OWN_THRUST_STAYS),
    Row(_M.PROPEL, _NONE, _C.THRUST_ORDER, _M.UNLOAD, "lever back in neutral"),
    # --- GENERATE: engine turns the drive, charging
    *_trips(_M.GENERATE),
    *_at_once(_M.GENERATE, _C.BOAT_READY, _C.IN_SERVICE, _C.NO_DIVER, _C.LOCK_SETTLED, _C.CHARGE_PERMIT,
              _C.ENGINE_RUNNING, _C.OWN_CHARGE),
    _rest(_M.GENERATE, _NONE, _C.CLUTCH_CLOSED | _C.CLUTCH_OPEN, _TRANSIT),
    _rest(_M.GENERATE, _C.CLUTCH_CLOSED, _C.LOCK_RELEASED, "shaft lock is not confirmed released"),
    _rest(_M.GENERATE, _C.UNDER_WAY_ORDER, _C.CLUTCH_CLOSED, "shaft clutch is not confirmed closed"),
    _rest(_M.GENERATE, _C.AT_REST_ORDER, _C.CLUTCH_OPEN, "shaft clutch is not confirmed open"),
    _rest(_M.GENERATE, _C.AT_REST_ORDER, _C.PROPELLER_STILL, "propeller side is not confirmed still"),
    _off(_M.GENERATE),
    *_unload(_M.GENERATE, _C.GEAR_AHEAD, _C.CHARGE_WANTED, _C.LINK_CHARGED, _C.OWN_CHARGE_STAYS),
    Row(_M.GENERATE, _NONE, _C.UNDER_WAY_ORDER | _C.AT_REST_ORDER, _M.UNLOAD, "charging is no longer selected",
        disarms=True),
    # --- HARVEST: propeller under sail turns the drive
    *_trips(_M.HARVEST),
    *_at_once(_M.HARVEST, _C.BOAT_READY, _C.IN_SERVICE, _C.NO_DIVER, _C.NO_SHORE, _C.LOCK_RELEASED,
              _C.LOCK_SETTLED, _C.CLUTCH_CLOSED, _C.CHARGE_PERMIT, _C.OWN_CHARGE),
    _off(_M.HARVEST),
    Row(_M.HARVEST, PROPEL_MUST, PROPEL_MUST_NOT, _M.UNLOAD, "thrust is asked", unload_to_propel=True),
    *_unload(_M.HARVEST, _C.ENGINE_STOPPED, _C.GEAR_NEUTRAL, _C.TRAILING_OK, _C.CHARGE_WANTED, _C.LINK_CHARGED,
             _C.OWN_CHARGE_STAYS),
    Row(_M.HARVEST, _C.THRUST_ORDER, _NONE, _M.UNLOAD, "thrust is asked", disarms=True),
    Row(_M.HARVEST, _NONE, _C.HARVEST_ORDER, _M.UNLOAD, "harvest is no longer selected"),
    # --- UNLOAD: torque to zero before any change
    *_trips(_M.UNLOAD),
    _pause(_M.UNLOAD),
    *_at_once(_M.UNLOAD, _C.BOAT_READY, _C.IN_SERVICE, _C.NO_DIVER, _C.LOCK_SETTLED),
    _rest(_M.UNLOAD, _NONE, _C.CLUTCH_CLOSED | _C.CLUTCH_OPEN, _TRANSIT),
    _rest(_M.UNLOAD, _C.CLUTCH_CLOSED, _C.LOCK_RELEASED, "shaft lock is not confirmed released"),
    _rest(_M.UNLOAD, _C.CLUTCH_CLOSED, _C.NO_SHORE, SHAFT_WORDS[_C.NO_SHORE][1]),
    _rest(_M.UNLOAD, _C.HANDSET_LOST, _NONE, SHAFT_WORDS[_C.HANDSET_LOST][0]),
    _rest(_M.UNLOAD, _NONE, _C.OWN_THRUST | _C.UNLOADS_SOURCE, SHAFT_WORDS[_C.OWN_THRUST][1]),
    _rest(_M.UNLOAD, _C.UNLOADS_SOURCE, _C.OWN_CHARGE, SHAFT_WORDS[_C.OWN_CHARGE][1]),
    Row(_M.UNLOAD, PROPEL_MUST | _C.UNLOAD_TO_PROPEL | _C.TORQUE_ZERO, PROPEL_MUST_NOT, _M.PROPEL,
        "torque is zero, thrust is asked"),
    Row(_M.UNLOAD, PROPEL_MUST, PROPEL_MUST_NOT | _C.UNLOAD_TO_PROPEL, _M.UNLOAD, "thrust is asked meanwhile",
        unload_to_propel=True),
    Row(_M.UNLOAD, _C.TORQUE_ZERO, _NONE, _M.REST, "torque is zero"),
    Row(_M.UNLOAD, _C.UNLOAD_OVERDUE, _NONE, _M.REST, "unloading took too long", disarms=True),
    # --- ISOLATED: this shaft alone is tripped
    Row(_M.ISOLATED, ISOLATED_ENDS,
        _TRIPPED, _M.REST,
        "RESET was pressed, cause gone, lever in neutral, torque zero", disarms=True),
)  # fmt: skip

validate(SHAFT_TABLE, ShaftMode, ShaftMode.REST)
SHAFT_COMPILED = compile_rows(SHAFT_TABLE, ShaftMode)
SHAFT_ROWS = compile_all(SHAFT_TABLE)
