"""From mode to torque: what a shaft asks, what it gets, and the order it is given.

Order of precedence, always: trip, permit, sign of torque, limits, slew. The slew shapes how an order grows or shrinks;
the limits then cut whatever the slew left too large, so that no ramp ever keeps torque on against a limit.
"""

from typing import NamedTuple

from supervisor.config.limits import BoatLimits, ShaftLimits
from supervisor.rules.bank import BankView, falling, rising, slewed
from supervisor.rules.bits import (
    IS_CLUTCH_CLOSED,
    IS_ENGINE_CLEAR,
    IS_IN_SERVICE,
    IS_LOCK_RELEASED,
    LATCH_SAGGING,
    LATCH_SLOW_RAMP,
    LATCH_UNLOADS_SOURCE,
    SHAFT_GENERATE,
    SHAFT_HARVEST,
    SHAFT_PROPEL,
    SHAFT_UNLOAD,
)
from supervisor.rules.coupling import jam_limit_nm
from supervisor.rules.hold import hold_nm, turns_with
from supervisor.rules.readings import ENGINE_SPEED, MACHINE_SPEED, PROPELLER_SPEED, temperature_factor
from supervisor.rules.state import Effort, ShaftState, ramp_length
from supervisor.signals.inputs import ShaftInputs

RAD_S_PER_RPM = 0.10471975511965977
"""2 pi / 60."""

OVERSPEED_FROM = 0.95
"""Driving torque falls from here, as a share of the highest speed, to zero at it."""

ASTERN_TORQUE = 0.5
ASTERN_SPEED = 0.7
ASTERN_WELL = 1.25
"""Electric astern is called short when braking with this part of rated torque would feed more than its budget, at this
part of the speed that the shaft turns with now (a shaft whose thrust ahead ends slows at once), and no longer short
with this much more."""

THRUST_WELL = 1.1
"""Thrust that was cut is no longer so with this much more than it asks."""

ASTERN_NEEDS = IS_IN_SERVICE | IS_ENGINE_CLEAR | IS_CLUTCH_CLOSED | IS_LOCK_RELEASED
"""Where these are not all so, electric thrust is not to be had, astern no less than ahead."""

STEADY_S = 3.0
"""Nor is it within this time of its last move (s): the engine is still answering."""


class Ask(NamedTuple):
    """What one shaft would do if the bank had no limit.

    `target_nm` wanted torque in PROPEL; `charge_cap_a` what it can give as a source; `charge_a`, `brake_a` and
    `motor_a` the currents it asks of the shared budgets as a source, braking and driving (A, at least 0);
    `temp_factor` 0 to 1 by its own temperatures.
    """

    target_nm: float
    charge_cap_a: float
    charge_a: float
    brake_a: float
    motor_a: float
    temp_factor: float


class Shares(NamedTuple):
    """The part (0 to 1) of its asking that each shaft gets as a source, braking and driving."""

    charge: float
    brake: float
    motor: float


def curve_nm(lim: ShaftLimits, engine_rpm: float) -> float:
    """Engine torque at full throttle (N m at the crankshaft), linear between the curve's points.

    Below the first point it falls linearly to 0 at half that speed, so that an engine that droops from idle sheds its
    load instead of dropping it; above the last point it is 0.
    """
    first_rpm = lim.curve_rpm[0]
    if not engine_rpm >= first_rpm:
        return lim.curve_nm[0] * rising(engine_rpm, 0.5 * first_rpm, first_rpm)
    for i in range(len(lim.curve_rpm) - 1):
        high = lim.curve_rpm[i + 1]
        if engine_rpm <= high:
            low = lim.curve_rpm[i]
            if not high > low:
                return lim.curve_nm[i]
            part = (engine_rpm - low) / (high - low)
            return lim.curve_nm[i] + (lim.curve_nm[i + 1] - lim.curve_nm[i]) * part
    return 0.0


def spare_engine_nm(lim: ShaftLimits, shaft: ShaftInputs) -> float:
    """Torque at the shaft that charging may take from the engine (N m, at least 0): headroom x (engine torque curve at
    this speed, through the gearbox, less propeller torque at this speed). 0 while a speed is unknown."""
    if shaft.known & ENGINE_SPEED == 0 or shaft.known & PROPELLER_SPEED == 0:
        return 0.0
    propeller_nm = lim.propeller_k * shaft.propeller_speed_rpm * shaft.propeller_speed_rpm
    spare_nm = lim.headroom * (curve_nm(lim, shaft.engine_speed_rpm) * lim.ratio - propeller_nm)
    if spare_nm > 0.0:
        return spare_nm
    return 0.0


def opposes(lim: ShaftLimits, shaft: ShaftInputs, torque_nm: float) -> bool:
    """Torque against measured rotation is charging, in every mode."""
    if shaft.known & MACHINE_SPEED == 0:
        return False
    rpm = shaft.machine_speed_rpm
    if not abs(rpm) > lim.still_rpm:
        return False
    return (torque_nm > 0.0 and rpm < 0.0) or (torque_nm < 0.0 and rpm > 0.0)


def charge_torque_nm(lim: ShaftLimits, voltage_v: float, current_a: float, omega: float) -> float:
    """Torque (N m, at least 0) that charges with at most `current_a` at `omega` rad/s: I V / (efficiency omega), with
    the best efficiency, so that a real machine gives less, never more."""
    if not omega > 0.0:
        return 0.0
    return current_a * voltage_v / (lim.efficiency * omega)


def charge_current_a(lim: ShaftLimits, voltage_v: float, torque_nm: float, omega: float) -> float:
    """The current (A) that `torque_nm` (at least 0) charges with at `omega` rad/s, at best efficiency."""
    return torque_nm * omega * lim.efficiency / voltage_v


def soft_start_a(lim: ShaftLimits, dt_s: float) -> float:
    """The most that the aimed current may rise in one tick (A). What is really fed rises with the *marginal*
    efficiency, which can come near 1 where the aim reckons with the mean: so the aim rises by that much less."""
    return lim.charge_rise_a_per_s * lim.efficiency * ramp_length(dt_s)


def charge_ceiling_a(lim: ShaftLimits, voltage_v: float, temp_factor: float) -> float:
    """The most this drive may charge with (A): its generating power at this voltage, its current rating."""
    power_a = lim.generate_power_w * temp_factor / voltage_v
    if power_a < lim.max_current_a:
        return power_a
    return lim.max_current_a


def wanted_nm(boat_lim: BoatLimits, lim: ShaftLimits, state: ShaftState, shaft: ShaftInputs, view: BankView,
              temp_factor: float, omega: float, handset: bool) -> float:  # fmt: skip
    """Torque that lever or handset asks (N m), within the drive's rated torque and the power left by the derates.

    Torque against rotation takes no power from the bank: no derate of power holds it back, its own budget does.
    """
    size = abs(state.order_pct)
    if not size > lim.neutral_band_pct:
        return 0.0
    if size > 100.0:
        size = 100.0
    part = (size - lim.neutral_band_pct) / (100.0 - lim.neutral_band_pct)
    power_w = lim.rated_power_w * (view.derate_pct / 100.0) * temp_factor
    if handset:
        part = part * (boat_lim.handset_thrust_pct / 100.0)
        power_w = power_w * (boat_lim.handset_thrust_pct / 100.0)
    if opposes(lim, shaft, state.order_pct):
        power_w = lim.rated_power_w
    torque_nm = part * lim.rated_torque_nm
    if torque_nm > lim.rated_torque_nm * temp_factor:
        torque_nm = lim.rated_torque_nm * temp_factor  # copper loss follows torque, not power
    jam_nm = jam_limit_nm(boat_lim, lim, state.coupling)
    if torque_nm > jam_nm:
        torque_nm = jam_nm
    own_pct = state.own_astern_pct if state.order_pct < 0.0 else state.own_ahead_pct
    own_part = own_pct / 100.0
    if torque_nm > lim.rated_torque_nm * own_part:
        torque_nm = lim.rated_torque_nm * own_part
    if power_w > lim.rated_power_w * own_part:
        power_w = lim.rated_power_w * own_part
    if torque_nm * omega > power_w:
        torque_nm = power_w / omega
    if view.derate_pct <= 0.0 or temp_factor <= 0.0:
        return 0.0
    if state.order_pct < 0.0:
        return -torque_nm
    return torque_nm


def ask(
    boat_lim: BoatLimits, lim: ShaftLimits, state: ShaftState, shaft: ShaftInputs, view: BankView, handset: bool,
    dt_s: float,
) -> Ask:  # fmt: skip
    """What this shaft would do, and what it asks of the shared budgets. `state.mode` is the new mode.

    A source asks for what it has and one step of its soft start, not for all it could give: a shaft that joins takes
    its share as it rises, and the other falls no faster.
    """
    mode = state.mode
    unknown_factor = boat_lim.unknown_soc_pct / 100.0
    temp_factor = temperature_factor(lim, shaft, unknown_factor)
    if shaft.known & MACHINE_SPEED == 0:
        return Ask(0.0, 0.0, 0.0, 0.0, 0.0, temp_factor)
    rpm = abs(shaft.machine_speed_rpm)
    omega = rpm * RAD_S_PER_RPM
    target_nm = 0.0
    cap_a = 0.0
    if mode == SHAFT_PROPEL:
        if state.hold.held_s < 0.0:
            target_nm = wanted_nm(boat_lim, lim, state, shaft, view, temp_factor, omega, handset)
        else:
            target_nm = hold_nm(boat_lim, lim, state, shaft, view.derate_pct, temp_factor, omega)
    elif mode in (SHAFT_GENERATE, SHAFT_HARVEST):
        if rpm >= lim.generate_min_rpm:
            cap_nm = lim.generate_torque_nm * temp_factor
            if mode == SHAFT_GENERATE:
                spare_nm = spare_engine_nm(lim, shaft)
                if spare_nm < cap_nm:
                    cap_nm = spare_nm
            else:
                pull_nm = lim.harvest_k * rpm * rpm
                if pull_nm < cap_nm:
                    cap_nm = pull_nm
            cap_a = charge_current_a(lim, view.voltage_v, cap_nm, omega)
            ceiling_a = charge_ceiling_a(lim, view.voltage_v, temp_factor)
            if ceiling_a < cap_a:
                cap_a = ceiling_a
    ceiling_a = charge_ceiling_a(lim, view.voltage_v, temp_factor)
    # the larger of what is wanted and what still stands, each on the budget that its sign draws on
    step_a = state.effort.charge_a + soft_start_a(lim, dt_s)
    charge_a = cap_a if cap_a < step_a else step_a
    if mode not in (SHAFT_GENERATE, SHAFT_HARVEST):
        charge_a = 0.0
    brake_a = 0.0
    motor_a = 0.0
    for torque_nm in (target_nm, state.effort.torque_nm):
        size = abs(torque_nm)
        if opposes(lim, shaft, torque_nm):
            current_a = charge_current_a(lim, view.voltage_v, size, omega)
            if current_a > ceiling_a:
                current_a = ceiling_a
            if mode == SHAFT_UNLOAD and state.latches & LATCH_UNLOADS_SOURCE:
                if current_a > step_a:
                    current_a = step_a
                if current_a > charge_a:
                    charge_a = current_a
            elif mode in (SHAFT_PROPEL, SHAFT_UNLOAD) and current_a > brake_a:
                brake_a = current_a  # no soft start: there is no engine to spare, and the slew spares the belt
        else:
            current_a = size * omega / (lim.motor_efficiency * view.voltage_v)
            if current_a > lim.max_current_a:
                current_a = lim.max_current_a
            if current_a > motor_a:
                motor_a = current_a
    return Ask(target_nm, cap_a, charge_a, brake_a, motor_a, temp_factor)


def brakes(state: ShaftState) -> bool:
    """The shaft was last ordered to oppose its rotation as thrust, not as a source."""
    if state.mode == SHAFT_UNLOAD and state.latches & LATCH_UNLOADS_SOURCE:
        return False
    return state.effort.charge_a > 0.0 and (state.mode == SHAFT_PROPEL or state.mode == SHAFT_UNLOAD)


def astern_needed_a(lim: ShaftLimits, shaft: ShaftInputs, view: BankView, word: int, temp_factor: float) -> float:
    """The current (A) that ASTERN_TORQUE of rated torque against this shaft's rotation feeds into the bank, once thrust
    ahead has gone; 0 where electric thrust is not to be had anyway, or the drive's own rating is what holds it."""
    if word & ASTERN_NEEDS != ASTERN_NEEDS or shaft.known & MACHINE_SPEED == 0:
        return 0.0
    rpm = ASTERN_SPEED * abs(shaft.machine_speed_rpm)
    if not rpm > lim.still_rpm:
        return 0.0
    torque_nm = ASTERN_TORQUE * lim.rated_torque_nm
    needed_a = charge_current_a(lim, view.voltage_v, torque_nm, rpm * RAD_S_PER_RPM)
    ceiling_a = charge_ceiling_a(lim, view.voltage_v, temp_factor)
    if ceiling_a < needed_a:
        return ceiling_a
    return needed_a


def astern_short(was_short: bool, full: bool, budget_a: float, needed_a: float) -> bool:
    """The budget of braking falls short of what is needed, or will on a bank that is full: its cells rise into their
    taper as soon as it is charged. Once short, it is until the budget exceeds what is needed well."""
    if not needed_a > 0.0:
        return False
    if full:
        return True
    if was_short:
        return not budget_a >= needed_a * ASTERN_WELL
    return not budget_a >= needed_a


def cut_short(was_short: bool, budget_a: float, asked_a: float, asked: bool) -> bool:
    """Thrust is `asked` and cut, because the bank cannot give it (`asked_a`) beside the hotel load. Once short, it is
    until the budget exceeds what is asked well: a load that comes and goes is told once."""
    if not asked:
        return False
    if not budget_a > 0.0:
        return True
    if was_short:
        return not budget_a >= asked_a * THRUST_WELL
    return not budget_a >= asked_a


def shares_of(view: BankView, charge_a: float, brake_a: float, motor_a: float) -> Shares:
    """The shares of all shafts, of what they ask together (A). Braking comes first: sources get what it leaves."""
    brake = share(view.brake_budget_a, brake_a)
    source_a = view.source_budget_a
    if brake_a > 0.0:
        left_a = view.brake_budget_a - brake_a * brake
        if left_a < source_a:
            source_a = left_a
    return Shares(share(source_a, charge_a), brake, share(view.motor_budget_a, motor_a))


def share(budget_a: float, asked_a: float) -> float:
    """The part (0 to 1) of its asking that each shaft gets of a shared budget: by what each can give."""
    if not budget_a > 0.0:
        return 0.0
    if not asked_a > budget_a:
        return 1.0
    return budget_a / asked_a


def sag(lim: ShaftLimits, state: ShaftState, shaft: ShaftInputs) -> int:
    """0 engine holds its speed of ramp start, 1 it sags: pause, 2 it sags further: back off.

    While the lever has just moved its speed of ramp start says nothing, but its idle speed does."""
    known = shaft.known & ENGINE_SPEED
    low_rpm = lim.engine_idle_rpm - shaft.engine_speed_rpm
    # whatever the lever does, an engine is not let down below its idle speed, nor loaded while it is there
    if known and low_rpm > lim.sag_rpm:
        return 2
    if state.effort.charge_a <= 0.0:
        return 0
    if not known:
        return 2
    if state.dwells.steady_s < STEADY_S or state.effort.sag_ref_rpm <= 0.0:
        return 1 if low_rpm > 0.5 * lim.sag_rpm else 0
    lost_rpm = state.effort.sag_ref_rpm - shaft.engine_speed_rpm
    if lost_rpm > 2.0 * lim.sag_rpm:
        return 2
    if lost_rpm > lim.sag_rpm:
        return 1
    return 0


def _source(
    lim: ShaftLimits,
    state: ShaftState,
    shaft: ShaftInputs,
    view: BankView,
    asked: Ask,
    shares: Shares,
    dt_s: float,
) -> ShaftState:
    """GENERATE and HARVEST: soft start of the current, then the torque that gives it, against measured rotation."""
    rpm = shaft.machine_speed_rpm
    omega = abs(rpm) * RAD_S_PER_RPM
    ramp_s = ramp_length(dt_s)
    sag_ref_rpm = state.effort.sag_ref_rpm
    if state.effort.charge_a <= 0.0 or state.dwells.steady_s < STEADY_S:
        # the reference follows until the engine has answered the lever
        sag_ref_rpm = shaft.engine_speed_rpm if shaft.known & ENGINE_SPEED else 0.0
    sagging = sag(lim, state, shaft) if state.mode == SHAFT_GENERATE else 0
    limit_a = asked.charge_a * shares.charge
    charge_a = state.effort.charge_a
    was_nm = state.effort.torque_nm
    if was_nm != 0.0 and not opposes(lim, shaft, was_nm):
        # the shaft turns the other way than a tick ago: through zero, and from the start of the ramp
        return _ordered(state, 0.0, 0.0, state.latches & ~LATCH_SAGGING, 0.0)
    if sagging == 2:
        charge_a = charge_a - lim.charge_fall_a_per_s * ramp_s
        if charge_a < 0.0:
            charge_a = 0.0
    elif sagging == 0 and limit_a > charge_a:
        charge_a = slewed(charge_a, limit_a, soft_start_a(lim, dt_s))
    if not charge_a <= limit_a:
        charge_a = limit_a
    torque_nm = charge_torque_nm(lim, view.voltage_v, charge_a, omega)
    if not torque_nm <= lim.generate_torque_nm:
        torque_nm = lim.generate_torque_nm
    grown_nm = abs(was_nm) + lim.torque_slew_nm_per_s * ramp_s
    if not torque_nm <= grown_nm:
        torque_nm = grown_nm  # a falling speed or voltage asks for more torque at once: the belt gets it by the slew
        charge_a = charge_current_a(lim, view.voltage_v, torque_nm, omega)
    if rpm > 0.0:
        torque_nm = -torque_nm
    latches = state.latches | LATCH_SAGGING if sagging else state.latches & ~LATCH_SAGGING
    return _ordered(state, torque_nm, charge_a, latches, sag_ref_rpm)


def _ordered(state: ShaftState, torque_nm: float, charge_a: float, latches: int, sag_ref_rpm: float) -> ShaftState:
    sign = state.effort.last_sign
    if torque_nm > 0.0:
        sign = 1
    elif torque_nm < 0.0:
        sign = -1
    else:
        torque_nm = 0.0  # never -0.0
    effort = Effort(
        torque_nm=torque_nm,
        last_sign=sign,
        charge_a=charge_a,
        sag_ref_rpm=sag_ref_rpm,
        ramp_nm_per_s=state.effort.ramp_nm_per_s,
    )
    return ShaftState(
        mode=state.mode,
        latches=latches,
        order_pct=state.order_pct,
        lever_ref_pct=state.lever_ref_pct,
        own_ahead_pct=state.own_ahead_pct,
        own_astern_pct=state.own_astern_pct,
        dwells=state.dwells,
        effort=effort,
        pause=state.pause,
        turned=state.turned,
        coupling=state.coupling,
        hold=state.hold,
    )


def order(
    lim: ShaftLimits, state: ShaftState, shaft: ShaftInputs, view: BankView, asked: Ask, shares: Shares, dt_s: float
) -> ShaftState:
    """The torque order of this tick, in `torque_nm` of the state returned.

    REST and ISOLATED are zero at once. In GENERATE and HARVEST torque only opposes measured rotation and is zero below
    `generate_min_rpm`. In PROPEL and UNLOAD the order moves by the slew, passes through zero with a dwell when it
    reverses, and is then cut: torque against rotation to this shaft's share of the budget of braking (of the charge
    budget, with the soft start, while a source unloads), torque with rotation to its share of the discharge budget.
    """
    mode = state.mode
    latches = state.latches & ~LATCH_SAGGING
    if mode in (SHAFT_GENERATE, SHAFT_HARVEST):
        if shaft.known & MACHINE_SPEED == 0 or abs(shaft.machine_speed_rpm) < lim.generate_min_rpm:
            return _ordered(state, 0.0, 0.0, latches, 0.0)
        return _source(lim, state, shaft, view, asked, shares, dt_s)
    if mode not in (SHAFT_PROPEL, SHAFT_UNLOAD) or shaft.known & MACHINE_SPEED == 0:
        return _ordered(state, 0.0, 0.0, latches, 0.0)

    was_nm = state.effort.torque_nm
    if mode == SHAFT_UNLOAD and latches & LATCH_UNLOADS_SOURCE:
        # what charged may only go on opposing a shaft that turns: an engine that stalls is not turned backwards
        if abs(shaft.machine_speed_rpm) < lim.generate_min_rpm or not opposes(lim, shaft, was_nm):
            return _ordered(state, 0.0, 0.0, latches, 0.0)
    omega = abs(shaft.machine_speed_rpm) * RAD_S_PER_RPM
    ramp_s = ramp_length(dt_s)
    target_nm = asked.target_nm
    reverses = (target_nm > 0.0 and state.effort.last_sign < 0) or (target_nm < 0.0 and state.effort.last_sign > 0)
    if reverses and (was_nm != 0.0 or state.dwells.zero_s < lim.reversal_dwell_s):
        target_nm = 0.0
    step_nm = lim.torque_slew_nm_per_s * ramp_s
    braking = opposes(lim, shaft, was_nm)
    if mode == SHAFT_UNLOAD and latches & LATCH_SLOW_RAMP:
        step_nm = state.effort.ramp_nm_per_s * ramp_s
    elif mode == SHAFT_UNLOAD and braking:
        # a source that unloads falls by its current, which is what the bank and the engine feel
        step_nm = charge_torque_nm(lim, view.voltage_v, lim.charge_fall_a_per_s * ramp_s, omega)
    torque_nm = slewed(was_nm, target_nm, step_nm)
    if not state.hold.held_s < 0.0 and turns_with(lim, shaft, torque_nm):
        torque_nm = 0.0  # a shaft that is to be held is not turned

    size = abs(torque_nm)
    charge_a = 0.0
    if opposes(lim, shaft, torque_nm):
        limit_a = asked.brake_a * shares.brake
        if mode == SHAFT_UNLOAD and latches & LATCH_UNLOADS_SOURCE:
            limit_a = asked.charge_a * shares.charge
            soft_a = state.effort.charge_a + soft_start_a(lim, dt_s)
            if soft_a < limit_a:
                limit_a = soft_a
        limit_nm = charge_torque_nm(lim, view.voltage_v, limit_a, omega)
        if not size <= limit_nm:
            size = limit_nm
        charge_a = charge_current_a(lim, view.voltage_v, size, omega)
    else:
        limit_nm = lim.rated_torque_nm
        by_current_a = asked.motor_a * shares.motor
        if omega > 0.0:
            by_current_nm = by_current_a * view.voltage_v * lim.motor_efficiency / omega
            if by_current_nm < limit_nm:
                limit_nm = by_current_nm
        # never driven into the speeds at which its back-EMF would rectify by itself
        by_speed_nm = lim.rated_torque_nm * falling(
            abs(shaft.machine_speed_rpm), OVERSPEED_FROM * lim.max_speed_rpm, lim.max_speed_rpm
        )
        if by_speed_nm < limit_nm:
            limit_nm = by_speed_nm
        if view.discharge_permit == 0 or not shares.motor > 0.0:
            limit_nm = 0.0
        if not size <= limit_nm:
            size = limit_nm
    if not size <= lim.rated_torque_nm:
        size = lim.rated_torque_nm
    return _ordered(state, -size if torque_nm < 0.0 else size, charge_a, latches, 0.0)
