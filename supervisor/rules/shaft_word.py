"""Forming the condition word of a shaft: after this, no timing and no floating point decides a mode."""

from supervisor.config.limits import BoatLimits, ShaftLimits
from supervisor.rules.bank import GET_HOME, BankView, proven, proven_not
from supervisor.rules.bits import (
    BOAT_LATCH_HANDSET_IN_CONTROL,
    BOAT_LATCH_UNDER_WAY,
    IS_AT_REST_ORDER,
    IS_BOAT_LIVE,
    IS_BOAT_READY,
    IS_CHARGE_PERMIT,
    IS_CHARGE_WANTED,
    IS_CLUTCH_CLOSED,
    IS_CLUTCH_OPEN,
    IS_CONTROL_LOST,
    IS_COUPLING_LOST,
    IS_DERATE_OPEN,
    IS_DISCHARGE_PERMIT,
    IS_DISOBEYED,
    IS_DRIVE_FAULT,
    IS_ENGINE_CLEAR,
    IS_ENGINE_RUNNING,
    IS_ENGINE_STOPPED,
    IS_GEAR_AHEAD,
    IS_GEAR_NEUTRAL,
    IS_HANDSET_LOST,
    IS_HARVEST_ORDER,
    IS_IN_SERVICE,
    IS_INPUT_LOST,
    IS_JAMMED,
    IS_LEVER_NEUTRAL,
    IS_LINK_CHARGED,
    IS_LINK_LOST,
    IS_LOCK_RELEASED,
    IS_LOCK_SETTLED,
    IS_NO_DIVER,
    IS_NO_SHORE,
    IS_OBEDIENT,
    IS_OFF_ORDER,
    IS_PRECHARGE_FAILED,
    IS_PROPELLER_STILL,
    IS_REARMED,
    IS_RESET_EDGE,
    IS_SHAFT_STILL,
    IS_THRUST_ORDER,
    IS_TORQUE_ZERO,
    IS_TRAILING_OK,
    IS_TRUSTED,
    IS_UNDER_WAY_ORDER,
    IS_UNLOAD_OVERDUE,
    IS_UNLOAD_TO_PROPEL,
    IS_UNLOADS_SOURCE,
    LATCH_CHARGE_ARMED,
    LATCH_HARVEST_ARMED,
    LATCH_LINK_WAS_CHARGED,
    LATCH_PRECHARGE_FAILED,
    LATCH_PRECHARGE_RETRIED,
    LATCH_REARMED,
    LATCH_RELAPSED,
    LATCH_UNLOAD_TO_PROPEL,
    LATCH_UNLOADS_SOURCE,
    MODE_NEUTRAL_WAIT,
    MODE_READY,
    SHAFT_PROPEL,
    SHAFT_REST,
)
from supervisor.rules.own import OwnOnShaft
from supervisor.rules.readings import (
    CHARGE_AT_REST,
    CHARGE_UNDER_WAY,
    CLUTCH_CLOSED,
    CLUTCH_OPEN,
    DIVER_LOCKOUT,
    DRIVE_FAULT,
    HANDSET_THRUST,
    HARVEST,
    LOCK_ENGAGED,
    LOCK_RELEASED,
    SHORE_CONNECTED,
    TORQUE,
    Lever,
    engine_clear,
    engine_running,
    engine_stopped,
    gear_ahead,
    gear_neutral,
    in_service,
    out_of_service,
    propeller_still,
    shaft_still,
    temperature_factor,
)
from supervisor.rules.state import OBEY_S, RELAPSE_S, ShaftState
from supervisor.signals.inputs import BoatInputs, ShaftInputs

LINK_OFF_S = 0.2
"""A DC link that is away from the bank voltage for longer than this is lost (s)."""

UNLOAD_LIMIT_S = 10.0
"""Unloading that takes longer than this, and than the ramp of a lost lever, ends at once (s)."""


def shaft_word(
    boat_lim: BoatLimits, lim: ShaftLimits, view: BankView, state: ShaftState, boat: BoatInputs, shaft: ShaftInputs,
    lever: Lever, own: OwnOnShaft, boat_latches: int, handset_lost: bool, reset_edge: bool,
) -> int:  # fmt: skip
    """The condition word of one shaft, less the four bits that the boat's new mode decides (see `with_boat`).

    `state` is the state after `shaft_timers`. Permitting bits are set only on proof; stopping bits on the cause.
    """
    known, on = shaft.known, shaft.on
    latches = state.latches
    word = own.word
    # trips
    if proven(known, on, DRIVE_FAULT):
        word |= IS_DRIVE_FAULT
    if state.dwells.disobey_s >= lim.disobey_s:
        word |= IS_DISOBEYED
    # a failed precharge is retried once, by hand; the second failure stays until power-up
    retry = reset_edge and latches & LATCH_PRECHARGE_RETRIED == 0
    if latches & LATCH_PRECHARGE_FAILED and not retry:
        word |= IS_PRECHARGE_FAILED
    if not out_of_service(shaft, latches):
        if known & lim.react.trip_shaft != lim.react.trip_shaft:
            word |= IS_INPUT_LOST
        if boat.known & boat_lim.react.trip_shaft != boat_lim.react.trip_shaft:
            word |= IS_INPUT_LOST
    if state.dwells.link_off_s > LINK_OFF_S:
        word |= IS_LINK_LOST
    # a speed sensor that lies must not cost the boat its thrust for good: the get-home override takes the watch off
    if state.coupling.off_s >= boat_lim.coupling_s and not proven(boat.known, boat.on, GET_HOME):
        word |= IS_COUPLING_LOST
    if state.coupling.jam_s >= 2.0 * boat_lim.jam_s:
        word |= IS_JAMMED
    # the way out of ISOLATED
    if lever.neutral == 1:
        word |= IS_LEVER_NEUTRAL
    if not state.dwells.pardon_s < RELAPSE_S or state.dwells.obeyed_s >= OBEY_S:
        word |= IS_OBEDIENT
    if latches & LATCH_RELAPSED == 0 or shaft_still(lim, shaft):
        word |= IS_TRUSTED
    # orders
    in_control = boat_latches & BOAT_LATCH_HANDSET_IN_CONTROL != 0
    if in_control:
        if known & HANDSET_THRUST and abs(shaft.handset_thrust_pct) > lim.neutral_band_pct:
            word |= IS_THRUST_ORDER
    elif lever.asks == 1 or (lever.lost == 1 and abs(state.order_pct) > lim.neutral_band_pct):
        word |= IS_THRUST_ORDER
    if not state.hold.held_s < 0.0:
        word |= IS_THRUST_ORDER
    ramp_lost = known & lim.react.ramp_down != lim.react.ramp_down
    ramp_lost = ramp_lost or boat.known & boat_lim.react.ramp_down != boat_lim.react.ramp_down
    if ramp_lost or lever.lost == 1:
        if state.mode != SHAFT_PROPEL or not state.dwells.lever_lost_s < lim.lever_hold_s or lever.lost == 0:
            word |= IS_CONTROL_LOST
    if handset_lost:
        word |= IS_HANDSET_LOST
    if latches & LATCH_CHARGE_ARMED:
        if proven(known, on, CHARGE_UNDER_WAY):
            word |= IS_UNDER_WAY_ORDER
        if proven(known, on, CHARGE_AT_REST):
            word |= IS_AT_REST_ORDER
    if latches & LATCH_HARVEST_ARMED and proven(known, on, HARVEST):
        word |= IS_HARVEST_ORDER
    # latches
    if latches & LATCH_REARMED:
        word |= IS_REARMED
    if latches & LATCH_UNLOAD_TO_PROPEL:
        word |= IS_UNLOAD_TO_PROPEL
    if latches & LATCH_UNLOADS_SOURCE:
        word |= IS_UNLOADS_SOURCE
    # machinery
    if in_service(shaft, latches):
        word |= IS_IN_SERVICE
    # the bank's voltage is told by frames that are older than the link's: a load that comes on makes them differ
    sound = state.dwells.link_off_s < 0.0 or (state.mode != SHAFT_REST and not state.dwells.link_off_s > LINK_OFF_S)
    if latches & LATCH_LINK_WAS_CHARGED and sound:
        word |= IS_LINK_CHARGED
    if proven_not(boat.known, boat.on, DIVER_LOCKOUT):
        word |= IS_NO_DIVER
    if proven_not(boat.known, boat.on, SHORE_CONNECTED) or boat_latches & BOAT_LATCH_UNDER_WAY:
        word |= IS_NO_SHORE
    released = proven(known, on, LOCK_RELEASED) and proven_not(known, on, LOCK_ENGAGED)
    engaged = proven(known, on, LOCK_ENGAGED) and proven_not(known, on, LOCK_RELEASED)
    if released:
        word |= IS_LOCK_RELEASED
    if released or engaged:
        word |= IS_LOCK_SETTLED
    if proven(known, on, CLUTCH_CLOSED) and proven_not(known, on, CLUTCH_OPEN):
        word |= IS_CLUTCH_CLOSED
    if proven(known, on, CLUTCH_OPEN) and proven_not(known, on, CLUTCH_CLOSED):
        word |= IS_CLUTCH_OPEN
    neutral = gear_neutral(lim, shaft)
    stopped = engine_stopped(shaft)
    if neutral:
        word |= IS_GEAR_NEUTRAL
    if stopped:
        word |= IS_ENGINE_STOPPED
    if engine_clear(lim, shaft):
        word |= IS_ENGINE_CLEAR
    if engine_running(lim, shaft):
        word |= IS_ENGINE_RUNNING
    if gear_ahead(lim, shaft):
        word |= IS_GEAR_AHEAD
    if propeller_still(lim, shaft):
        word |= IS_PROPELLER_STILL
        if shaft_still(lim, shaft):
            word |= IS_SHAFT_STILL
    if lim.trailing_allowed == 1 and (lim.trailing_limit_s <= 0.0 or state.dwells.trail_s < lim.trailing_limit_s):
        word |= IS_TRAILING_OK
    # bank
    if view.discharge_permit == 1:
        word |= IS_DISCHARGE_PERMIT
    if view.charge_permit == 1:
        word |= IS_CHARGE_PERMIT
    # a derate that has reached zero ends thrust, whichever derate it is: only fresh neutral brings it back
    derate_open = view.derate_open if state.mode == SHAFT_PROPEL else view.derate_start
    if derate_open == 1 and temperature_factor(lim, shaft, boat_lim.unknown_soc_pct / 100.0) > 0.0:
        word |= IS_DERATE_OPEN
    if view.charge_wanted == 1 and known & lim.react.inhibit_charge == lim.react.inhibit_charge:
        word |= IS_CHARGE_WANTED
    # torque
    if state.effort.torque_nm == 0.0 and known & TORQUE and abs(shaft.torque_nm) <= lim.disobey_torque_nm:
        word |= IS_TORQUE_ZERO
    if state.dwells.unload_s > UNLOAD_LIMIT_S + lim.lever_ramp_s:
        word |= IS_UNLOAD_OVERDUE
    return word


def with_boat(word: int, boat_mode: int, reset_edge: bool, off_order: bool) -> int:
    """The word completed by the boat's new mode and this tick's reset and off orders."""
    if boat_mode == MODE_READY:
        word |= IS_BOAT_READY | IS_BOAT_LIVE
    elif boat_mode == MODE_NEUTRAL_WAIT:
        word |= IS_BOAT_LIVE
    if reset_edge:
        word |= IS_RESET_EDGE
    if off_order:
        word |= IS_OFF_ORDER
    return word
