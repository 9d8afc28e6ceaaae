"""Alarms: what the crew is told, and what sounds."""

from supervisor.config.limits import BoatLimits, ShaftLimits
from supervisor.rules.bank import BankView, proven, proven_not
from supervisor.rules.bits import (
    ALARM_ASTERN_SHORT,
    ALARM_BOAT_TRIPPED,
    ALARM_CELL_DERATE,
    ALARM_CHARGE_WITHDRAWN,
    ALARM_CONTROL_CONFLICT,
    ALARM_COUPLING_SLIPS,
    ALARM_DERATE_BAND,
    ALARM_DERATE_ENDED,
    ALARM_DISCHARGE_WITHDRAWN,
    ALARM_ENGINE_CONTRADICTED,
    ALARM_ENGINE_SAG,
    ALARM_FULL_CHARGE_ACTIVE,
    ALARM_FULL_CHARGE_DUE,
    ALARM_GEAR_CONTRADICTED,
    ALARM_GET_HOME_ACTIVE,
    ALARM_HANDSET_LOST,
    ALARM_HANDSET_LOW,
    ALARM_HOLD_FAILED,
    ALARM_IDLE_REMINDER,
    ALARM_INPUT_LOST,
    ALARM_JAMMED,
    ALARM_LEVER_LOST,
    ALARM_OVERSPEED,
    ALARM_OWN_INTERLOCK,
    ALARM_SHAFT_ISOLATED,
    ALARM_SHORE_UNDER_WAY,
    ALARM_SOC_UNKNOWN,
    ALARM_SOURCES_OVER,
    ALARM_TEMPERATURE_DERATE,
    ALARM_THRUST_SHORT,
    ALARM_TIME_TO_LIMIT,
    BOAT_LATCH_ASTERN_SHORT,
    BOAT_LATCH_HANDSET_IN_CONTROL,
    BOAT_LATCH_HANDSET_WAS_LOST,
    BOAT_LATCH_OWN_TO_ACKNOWLEDGE,
    BOAT_LATCH_THRUST_SHORT,
    BOAT_LATCH_UNDER_WAY,
    LATCH_HOLD_FAILED,
    LATCH_SAGGING,
    MODE_READY,
    MODE_TRIPPED,
    SHAFT_ISOLATED,
)
from supervisor.rules.orders import HANDSET, HANDSET_MINUTES, Orders
from supervisor.rules.readings import (
    ENGINE_RUN,
    ENGINE_SPEED,
    GEAR_REPORT,
    HANDSET_THRUST,
    MACHINE_SPEED,
    Lever,
    out_of_service,
    temperature_factor,
)
from supervisor.rules.state import BoatState, ShaftState
from supervisor.signals.inputs import BoatInput, BoatInputs, ShaftInputs

CONTRADICTION_S = 2.0
"""Frames and contacts may differ for this long, as they do in each start and gear change, before it is called an alarm.
What a contradiction blocks, it blocks at once."""

FIRST_FRAMES_S = 1.0
"""After power-up no input is called lost before this time: its first frame may yet come."""

FIRST_FRAME_ALARMS = ALARM_LEVER_LOST | ALARM_SOC_UNKNOWN | ALARM_INPUT_LOST | ALARM_OWN_INTERLOCK


def shaft_alarms(boat_lim: BoatLimits, lim: ShaftLimits, state: ShaftState, shaft: ShaftInputs, lever: Lever) -> int:
    """Alarm bits that one shaft raises."""
    alarms = 0
    if state.coupling.slip_s >= boat_lim.slip_s:
        alarms |= ALARM_COUPLING_SLIPS
    if state.coupling.jam_s >= boat_lim.jam_s:
        alarms |= ALARM_JAMMED
    if state.latches & LATCH_HOLD_FAILED:
        alarms |= ALARM_HOLD_FAILED
    if lever.lost == 1:
        alarms |= ALARM_LEVER_LOST
    if state.mode == SHAFT_ISOLATED:
        alarms |= ALARM_SHAFT_ISOLATED
    if temperature_factor(lim, shaft, 1.0) < 1.0:
        alarms |= ALARM_TEMPERATURE_DERATE
    if state.latches & LATCH_SAGGING:
        alarms |= ALARM_ENGINE_SAG
    # the gearbox's frames only ever contradict, and fall silent in each gear change; a handset may be put away
    needed = lim.react.mapped & ~(GEAR_REPORT | HANDSET_THRUST)
    if proven_not(shaft.known, shaft.on, ENGINE_RUN):
        needed = needed & ~ENGINE_SPEED  # gateways fall silent with the ignition off
    if shaft.known & needed != needed and not out_of_service(shaft, state.latches):
        alarms |= ALARM_INPUT_LOST
    if shaft.known & MACHINE_SPEED and abs(shaft.machine_speed_rpm) > lim.max_speed_rpm:
        alarms |= ALARM_OVERSPEED
    if state.dwells.gear_contradicts_s > CONTRADICTION_S:
        alarms |= ALARM_GEAR_CONTRADICTED
    if state.dwells.engine_contradicts_s > CONTRADICTION_S:
        alarms |= ALARM_ENGINE_CONTRADICTED
    return alarms


def time_to_limit_s(lim: BoatLimits, boat: BoatInputs) -> float:
    """Time (s) until the bank reaches `derate_end_pct` at the present current; 1e9 while charging or unknown."""
    needed = BoatInput.SOC.value | BoatInput.CURRENT.value
    if boat.known & needed != needed or not boat.current_a < 0.0:
        return 1e9
    left_ah = (boat.soc_pct - lim.derate_end_pct) / 100.0 * lim.capacity_ah
    if not left_ah > 0.0:
        return 0.0
    return left_ah / -boat.current_a * 3600.0


def boat_alarms(
    lim: BoatLimits, state: BoatState, boat: BoatInputs, view: BankView, orders: Orders, boat_mode: int
) -> int:
    """Alarm bits of the boat itself."""
    alarms = 0
    known, on = boat.known, boat.on
    live = boat_mode == MODE_READY
    if known & BoatInput.SOC.value == 0:
        alarms |= ALARM_SOC_UNKNOWN
    elif boat.soc_pct < lim.derate_start_pct:
        alarms |= ALARM_DERATE_BAND
    if live and state.bank.cell_pct < 100.0:
        alarms |= ALARM_CELL_DERATE
    if time_to_limit_s(lim, boat) < lim.time_to_limit_s:
        alarms |= ALARM_TIME_TO_LIMIT
    if view.derate_open == 0:
        alarms |= ALARM_DERATE_ENDED
    if proven(known, on, BoatInput.GET_HOME.value):
        alarms |= ALARM_GET_HOME_ACTIVE
    if live and view.charge_permit == 0:
        alarms |= ALARM_CHARGE_WITHDRAWN
    if live and view.discharge_permit == 0:
        alarms |= ALARM_DISCHARGE_WITHDRAWN
    if state.dwells.since_full_s > lim.reminder_s:
        alarms |= ALARM_FULL_CHARGE_DUE
    if view.full_active == 1:
        alarms |= ALARM_FULL_CHARGE_ACTIVE
    if state.dwells.idle_s >= lim.idle_reminder_s:
        alarms |= ALARM_IDLE_REMINDER
    needed = lim.react.mapped
    if orders.latches & BOAT_LATCH_HANDSET_IN_CONTROL == 0:
        needed = needed & ~(HANDSET | HANDSET_MINUTES)  # a handset put away says nothing, and need not
    if known & needed != needed:
        alarms |= ALARM_INPUT_LOST
    if orders.latches & BOAT_LATCH_HANDSET_WAS_LOST:
        alarms |= ALARM_HANDSET_LOST
    if orders.handset_conflict == 1:
        alarms |= ALARM_CONTROL_CONFLICT
    if known & HANDSET == HANDSET and on & BoatInput.HANDSET_OURS.value and known & HANDSET_MINUTES:
        if boat.handset_minutes < lim.handset_low_minutes:
            alarms |= ALARM_HANDSET_LOW
    if boat_mode == MODE_TRIPPED:
        alarms |= ALARM_BOAT_TRIPPED
    if live and state.latches & BOAT_LATCH_UNDER_WAY and not proven_not(known, on, BoatInput.SHORE_CONNECTED.value):
        alarms |= ALARM_SHORE_UNDER_WAY
    if state.sources.stopped_s >= 0.0:
        alarms |= ALARM_SOURCES_OVER
    if live and state.latches & BOAT_LATCH_THRUST_SHORT:
        alarms |= ALARM_THRUST_SHORT
    if live and state.latches & BOAT_LATCH_ASTERN_SHORT:
        alarms |= ALARM_ASTERN_SHORT
    if state.own.bad != 0 or state.latches & BOAT_LATCH_OWN_TO_ACKNOWLEDGE:
        alarms |= ALARM_OWN_INTERLOCK
    return alarms


def acknowledge(state: BoatState, orders: Orders, alarms: int, anew: int) -> BoatState:
    """The crew's acknowledgement: what is shown now is silenced, until it has gone and come again. `anew` are alarms
    that stand already and have come for another cause in this tick: they sound again."""
    acknowledged = state.acknowledged & alarms & ~anew
    if orders.acknowledge == 1:
        acknowledged = alarms
    if acknowledged == state.acknowledged:
        return state
    return BoatState(
        mode=state.mode,
        latches=state.latches,
        acknowledged=acknowledged,
        dwells=state.dwells,
        bank=state.bank,
        own=state.own,
        sources=state.sources,
    )
