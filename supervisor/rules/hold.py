"""Stop and lock: a shaft that the flow turns never stands still by itself, and its lock engages only on one that does.

On request, with the lever in neutral, the drive brakes the shaft to a stop and holds it: its torque follows the speed,
full rated torque `hold_band_rpm` away from still, and what the flow asks for is learnt by and by (`load_nm`). It never
turns the shaft: torque in the direction of a rotation that is not still is cut to zero. It is thrust like any other
otherwise: the permissives of PROPEL, the budget of braking, the slew.

The hold is over as soon as the lock is no longer proven released (it moves, or is engaged), the lever leaves neutral,
the handset takes control, the selector is off, or `hold_s` has passed: then the flow was stronger, or the lock did not
engage, and the crew is told. The selector must be seen off before the next. A lock that is let go with the selector on
is held again: that is unlocking under way.
"""

from supervisor.config.limits import BoatLimits, ShaftLimits
from supervisor.rules.bank import proven, proven_not
from supervisor.rules.bits import LATCH_HOLD_ARMED, LATCH_HOLD_FAILED, SHAFT_PROPEL
from supervisor.rules.coupling import jam_limit_nm
from supervisor.rules.readings import LOCK_ENGAGED, LOCK_RELEASED, MACHINE_SPEED, STOP_AND_LOCK, Lever
from supervisor.rules.state import NOT_RUNNING_S, Hold, ShaftState, count, ramp_length
from supervisor.signals.inputs import ShaftInputs

LEARN_S = 0.6
"""Torque that holds this long as it is, is learnt to be what the flow asks for (s)."""


def hold_wanted(shaft: ShaftInputs, latches: int, lever: Lever, in_control: bool) -> bool:
    """Stop and lock is asked for, and may be: the lever is the control position and in neutral, the lock proven
    released."""
    if latches & LATCH_HOLD_ARMED == 0 or not proven(shaft.known, shaft.on, STOP_AND_LOCK):
        return False
    if lever.neutral == 0 or in_control:
        return False
    return proven(shaft.known, shaft.on, LOCK_RELEASED) and proven_not(shaft.known, shaft.on, LOCK_ENGAGED)


def hold_latches(shaft: ShaftInputs, latches: int, usable: bool, was: Hold, hold_s: float) -> int:
    """The latches with those of stop and lock. `usable` says that the boat is READY and the shaft not ISOLATED; `was`
    is the hold before this tick."""
    if not was.held_s < hold_s:
        latches = (latches | LATCH_HOLD_FAILED) & ~LATCH_HOLD_ARMED
    if not usable or shaft.known & STOP_AND_LOCK == 0:
        latches = latches & ~LATCH_HOLD_ARMED
    elif shaft.on & STOP_AND_LOCK == 0:
        latches = (latches | LATCH_HOLD_ARMED) & ~LATCH_HOLD_FAILED
    if proven(shaft.known, shaft.on, LOCK_ENGAGED):
        latches = latches & ~LATCH_HOLD_FAILED
    return latches


def hold_timers(lim: ShaftLimits, state: ShaftState, shaft: ShaftInputs, wanted: bool, dt_s: float) -> Hold:
    """How long the hold lasts, and what the flow asks of it, one tick later. `state` is that before the tick."""
    was = state.hold
    held_s = count(was.held_s, wanted, dt_s)
    if held_s < 0.0:
        return Hold(held_s=NOT_RUNNING_S, load_nm=0.0)
    load_nm = was.load_nm
    if state.mode == SHAFT_PROPEL and shaft.known & MACHINE_SPEED:
        rpm = shaft.machine_speed_rpm
        if abs(rpm) < lim.hold_band_rpm:
            step_nm = lim.rated_torque_nm * (rpm / lim.hold_band_rpm) * (ramp_length(dt_s) / LEARN_S)
            load_nm = within(load_nm - step_nm, lim.rated_torque_nm)
    else:
        load_nm = 0.0
    return Hold(held_s=held_s, load_nm=load_nm)


def within(torque_nm: float, most_nm: float) -> float:
    """`torque_nm`, no larger than `most_nm` to either side."""
    if torque_nm > most_nm:
        return most_nm
    if torque_nm < -most_nm:
        return -most_nm
    return torque_nm


def turns_with(lim: ShaftLimits, shaft: ShaftInputs, torque_nm: float) -> bool:
    """Torque in the direction of a rotation that is not still."""
    rpm = shaft.machine_speed_rpm
    if not abs(rpm) > lim.still_rpm:
        return False
    return (torque_nm > 0.0 and rpm > 0.0) or (torque_nm < 0.0 and rpm < 0.0)


def hold_nm(
    boat_lim: BoatLimits, lim: ShaftLimits, state: ShaftState, shaft: ShaftInputs, derate_pct: float,
    temp_factor: float, omega: float,
) -> float:  # fmt: skip
    """Torque (N m) that stops the shaft and holds it, within what the drive may give; the speed is known.

    Torque against rotation takes no power from the bank: only a derate that has reached zero ends it."""
    if not derate_pct > 0.0 or not temp_factor > 0.0:
        return 0.0
    own_pct = state.own_ahead_pct if state.own_ahead_pct < state.own_astern_pct else state.own_astern_pct
    own_part = own_pct / 100.0
    most_nm = lim.rated_torque_nm * temp_factor
    if most_nm > lim.rated_torque_nm * own_part:
        most_nm = lim.rated_torque_nm * own_part
    jam_nm = jam_limit_nm(boat_lim, lim, state.coupling)
    if most_nm > jam_nm:
        most_nm = jam_nm  # a jam before it was to be held
    if most_nm * omega > lim.rated_power_w * own_part:
        most_nm = lim.rated_power_w * own_part / omega
    asked_nm = state.hold.load_nm - lim.rated_torque_nm * (shaft.machine_speed_rpm / lim.hold_band_rpm)
    asked_nm = within(asked_nm, most_nm)
    if turns_with(lim, shaft, asked_nm):
        return 0.0
    return asked_nm
