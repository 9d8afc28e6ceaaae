"""Belt or coupling between drive and shaft, and a propeller that does not turn.

The drive's speed and the shaft's must agree through the belt's ratio (all speeds are quoted at the shaft). The
shaft's speed is the propeller side's while the clutch is proven closed, else the engine's through the gearbox while
that is proven ahead. Frames come in their periods and late, and say what turned then: so the shaft's speed is held
against what the drive turned with in the last `age_s` (at least; at most twice that), half of what that changed by,
`coupling_pct` and `coupling_rpm`. `age_s` is half of the time after which the shaft's speed is stale. Outside of it for
`coupling_s` while the shaft works, the coupling is lost: this shaft is isolated, and stays so while the two are known
to turn apart. Half as far off, added up, is a slip: told, and nothing stops. What is not known is no proof: a silent
speed sensor ends nothing here. A lying one would: the guarded get-home override takes the watch off, shown and logged.

Torque from `jam_from_pct` on, of a shaft that is not to be held still, that turns nothing for `jam_s` is a jam: torque
is cut to `jam_pct`; for as long again, the shaft is isolated.
"""

from typing import NamedTuple

from supervisor.config.limits import BoatLimits, ShaftLimits
from supervisor.rules.bank import proven, proven_not
from supervisor.rules.bits import SHAFT_GENERATE, SHAFT_HARVEST, SHAFT_ISOLATED, SHAFT_PROPEL, SHAFT_UNLOAD
from supervisor.rules.readings import (
    CLUTCH_CLOSED,
    CLUTCH_OPEN,
    ENGINE_SPEED,
    MACHINE_SPEED,
    PROPELLER_SPEED,
    gear_ahead,
)
from supervisor.rules.state import NOT_RUNNING_S, Coupling, ShaftState, Turned, count
from supervisor.signals.inputs import ShaftInputs

SLIP_PART = 0.5
"""A slip is told from this part of what loses the coupling."""

MOVED_PART = 0.5
"""By so much of what the drive's speed changed by of late may the shaft's be ahead of it, or behind: the drive's own
frame may be the older one."""

SLIP_FORGOTTEN = 0.02
"""Time of slipping is forgotten at this part of the pace at which it was gathered."""

JAM_HELD = 0.5
"""A jam goes on down to this part of the torque that it was cut to."""


class Beside(NamedTuple):
    """The speed beside the drive's (rpm, at the shaft), and how far back the drive's counts (s); `known` 0 where there
    is none to compare with."""

    known: int
    rpm: float
    age_s: float


def speed_beside(lim: ShaftLimits, shaft: ShaftInputs) -> Beside:
    """With the clutch closed the propeller's side; with it open and the gear ahead, the engine through its gearbox."""
    known, on = shaft.known, shaft.on
    closed = proven(known, on, CLUTCH_CLOSED) and proven_not(known, on, CLUTCH_OPEN)
    if closed and known & PROPELLER_SPEED:
        return Beside(known=1, rpm=shaft.propeller_speed_rpm, age_s=lim.propeller_age_s)
    opened = proven(known, on, CLUTCH_OPEN) and proven_not(known, on, CLUTCH_CLOSED)
    if opened and known & ENGINE_SPEED and gear_ahead(lim, shaft):
        return Beside(known=1, rpm=shaft.engine_speed_rpm / lim.ratio, age_s=lim.engine_age_s)
    return Beside(known=0, rpm=0.0, age_s=lim.propeller_age_s)


def works(mode: int) -> bool:
    """The shaft works: its drive and the shaft must turn together, be it at this moment under torque or not. A machine
    that has come loose runs up to where no torque is ordered any more."""
    return mode in (SHAFT_PROPEL, SHAFT_GENERATE, SHAFT_HARVEST, SHAFT_UNLOAD)


def turned_of_late(lim: ShaftLimits, was: Turned, shaft: ShaftInputs, dt_s: float) -> Turned:
    """Lowest and highest speed of the drive, one tick later: of the stretch of `age_s` that runs, and of the one before
    it."""
    if shaft.known & MACHINE_SPEED == 0:
        return Turned(low_rpm=0.0, high_rpm=0.0, before_low_rpm=0.0, before_high_rpm=0.0, runs_s=NOT_RUNNING_S)
    rpm = shaft.machine_speed_rpm
    if was.runs_s < 0.0:
        return Turned(low_rpm=rpm, high_rpm=rpm, before_low_rpm=rpm, before_high_rpm=rpm, runs_s=0.0)
    runs_s = was.runs_s + dt_s
    if not runs_s < speed_beside(lim, shaft).age_s:
        return Turned(low_rpm=rpm, high_rpm=rpm, before_low_rpm=was.low_rpm, before_high_rpm=was.high_rpm, runs_s=0.0)
    return Turned(
        low_rpm=rpm if rpm < was.low_rpm else was.low_rpm,
        high_rpm=rpm if rpm > was.high_rpm else was.high_rpm,
        before_low_rpm=was.before_low_rpm,
        before_high_rpm=was.before_high_rpm,
        runs_s=runs_s,
    )


def outside_rpm(turned: Turned, rpm: float) -> float:
    """How far a shaft at `rpm` lies outside what its drive turned with, and what that changed by (rpm, 0 or more)."""
    low_rpm = turned.low_rpm if turned.low_rpm < turned.before_low_rpm else turned.before_low_rpm
    high_rpm = turned.high_rpm if turned.high_rpm > turned.before_high_rpm else turned.before_high_rpm
    moved_rpm = MOVED_PART * (high_rpm - low_rpm)
    if rpm > high_rpm + moved_rpm:
        return rpm - high_rpm - moved_rpm
    if rpm < low_rpm - moved_rpm:
        return low_rpm - moved_rpm - rpm
    return 0.0


def allowed_rpm(boat_lim: BoatLimits, machine_rpm: float, rpm: float) -> float:
    """How far it may (rpm)."""
    most_rpm = abs(machine_rpm) if abs(machine_rpm) > abs(rpm) else abs(rpm)
    return boat_lim.coupling_rpm + most_rpm * boat_lim.coupling_pct / 100.0


def coupling_timers(
    boat_lim: BoatLimits, lim: ShaftLimits, was: ShaftState, turned: Turned, shaft: ShaftInputs, dt_s: float
) -> Coupling:
    """The times of being apart, of slipping and of not turning, one tick later; `turned` is after it."""
    beside = speed_beside(lim, shaft)
    known = shaft.known & MACHINE_SPEED != 0
    mode = was.mode
    working = works(mode)
    apart = slips = False
    if known and beside.known == 1:
        gap_rpm = outside_rpm(turned, beside.rpm)
        most_rpm = allowed_rpm(boat_lim, shaft.machine_speed_rpm, beside.rpm)
        apart = gap_rpm > most_rpm and (working or mode == SHAFT_ISOLATED)
        slips = gap_rpm > SLIP_PART * most_rpm and working
    slip_s = was.coupling.slip_s
    if slips:
        slip_s = slip_s + dt_s
        if slip_s > 2.0 * boat_lim.slip_s:
            slip_s = 2.0 * boat_lim.slip_s
    else:
        slip_s = slip_s - SLIP_FORGOTTEN * dt_s
        if slip_s < 0.0:
            slip_s = 0.0
    from_pct = boat_lim.jam_from_pct
    if was.coupling.jam_s >= boat_lim.jam_s:
        from_pct = JAM_HELD * boat_lim.jam_pct
    still = known and abs(shaft.machine_speed_rpm) < lim.still_rpm
    jammed = still and was.hold.held_s < 0.0 and abs(was.effort.torque_nm) >= lim.rated_torque_nm * from_pct / 100.0
    return Coupling(
        off_s=count(was.coupling.off_s, apart, dt_s), slip_s=slip_s, jam_s=count(was.coupling.jam_s, jammed, dt_s)
    )


def jam_limit_nm(boat_lim: BoatLimits, lim: ShaftLimits, was: Coupling) -> float:
    """The most torque (N m, at least 0) that a shaft may be asked for which does not turn."""
    if was.jam_s >= boat_lim.jam_s:
        return lim.rated_torque_nm * boat_lim.jam_pct / 100.0
    return lim.rated_torque_nm
