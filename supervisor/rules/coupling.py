"""Belt or coupling between drive and shaft, and a propeller that does not turn.

The drive's speed and the shaft's must agree through the belt's ratio (all speeds are quoted at the shaft). The
shaft's speed is the propeller side's while the clutch is proven closed, else the engine's through the gearbox while
that is proven ahead. Off by `coupling_pct` and `coupling_rpm` for `coupling_s` while the shaft works, the coupling is
lost: this shaft is isolated. Half as far off, added up, is a slip: told, and nothing stops. What is not known is no
proof: a silent speed sensor ends nothing here. A lying one would: the guarded get-home override takes the watch off,
shown and logged.

Torque from `jam_from_pct` on that turns nothing for `jam_s` is a jam: torque is cut to `jam_pct`; for as long again,
the shaft is isolated.
"""

from supervisor.config.limits import BoatLimits, ShaftLimits
from supervisor.rules.bank import proven, proven_not
from supervisor.rules.bits import SHAFT_GENERATE, SHAFT_HARVEST, SHAFT_PROPEL, SHAFT_UNLOAD
from supervisor.rules.readings import (
    CLUTCH_CLOSED,
    CLUTCH_OPEN,
    ENGINE_SPEED,
    MACHINE_SPEED,
    PROPELLER_SPEED,
    gear_ahead,
)
from supervisor.rules.state import Coupling, Effort, count
from supervisor.signals.inputs import ShaftInputs

SLIP_PART = 0.5
"""A slip is told from this part of what loses the coupling."""

SLIP_FORGOTTEN = 0.1
"""Time of slipping is forgotten at this part of the pace at which it was gathered."""

JAM_HELD = 0.5
"""A jam goes on down to this part of the torque that it was cut to."""


def speeds_compared(lim: ShaftLimits, shaft: ShaftInputs) -> tuple[bool, float]:
    """Whether drive and shaft can be compared, and the speed (rpm, at the shaft) that the drive should have."""
    if shaft.known & MACHINE_SPEED == 0:
        return False, 0.0
    known, on = shaft.known, shaft.on
    closed = proven(known, on, CLUTCH_CLOSED) and proven_not(known, on, CLUTCH_OPEN)
    if closed and known & PROPELLER_SPEED:
        return True, shaft.propeller_speed_rpm
    opened = proven(known, on, CLUTCH_OPEN) and proven_not(known, on, CLUTCH_CLOSED)
    if opened and known & ENGINE_SPEED and gear_ahead(lim, shaft):
        return True, shaft.engine_speed_rpm / lim.ratio
    return False, 0.0


def works(mode: int) -> bool:
    """The shaft works: its drive and the shaft must turn together, be it at this moment under torque or not. A machine
    that has come loose runs up to where no torque is ordered any more."""
    return mode in (SHAFT_PROPEL, SHAFT_GENERATE, SHAFT_HARVEST, SHAFT_UNLOAD)


def coupling_timers(
    boat_lim: BoatLimits, lim: ShaftLimits, was: Coupling, effort: Effort, mode: int, shaft: ShaftInputs, dt_s: float
) -> Coupling:
    """The times of being apart, of slipping and of not turning, one tick later."""
    compared, should_rpm = speeds_compared(lim, shaft)
    apart = False
    slips = False
    if compared and works(mode):
        rpm = shaft.machine_speed_rpm
        most_rpm = abs(rpm)
        if abs(should_rpm) > most_rpm:
            most_rpm = abs(should_rpm)
        allowed_rpm = boat_lim.coupling_rpm + most_rpm * boat_lim.coupling_pct / 100.0
        apart = abs(rpm - should_rpm) > allowed_rpm
        slips = abs(rpm - should_rpm) > SLIP_PART * allowed_rpm
    slip_s = was.slip_s
    if slips:
        slip_s = slip_s + dt_s
        if slip_s > 2.0 * boat_lim.slip_s:
            slip_s = 2.0 * boat_lim.slip_s
    else:
        slip_s = slip_s - SLIP_FORGOTTEN * dt_s
        if slip_s < 0.0:
            slip_s = 0.0
    from_pct = boat_lim.jam_from_pct
    if was.jam_s >= boat_lim.jam_s:
        from_pct = JAM_HELD * boat_lim.jam_pct
    still = shaft.known & MACHINE_SPEED != 0 and abs(shaft.machine_speed_rpm) < lim.still_rpm
    jammed = still and abs(effort.torque_nm) >= lim.rated_torque_nm * from_pct / 100.0
    off_s = count(was.off_s, apart, dt_s)
    jam_s = count(was.jam_s, jammed, dt_s)
    if off_s == was.off_s and slip_s == was.slip_s and jam_s == was.jam_s:
        return was  # as in most ticks
    return Coupling(off_s=off_s, slip_s=slip_s, jam_s=jam_s)


def jam_limit_nm(boat_lim: BoatLimits, lim: ShaftLimits, was: Coupling) -> float:
    """The most torque (N m, at least 0) that a shaft may be asked for which does not turn."""
    if was.jam_s >= boat_lim.jam_s:
        return lim.rated_torque_nm * boat_lim.jam_pct / 100.0
    return lim.rated_torque_nm
