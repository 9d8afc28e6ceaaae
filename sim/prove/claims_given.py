"""Claims on what is given: the law of the torque, restated, as a lower bound."""

from sim.prove.claims_hold import held_nm, not_jammed_nm, turns_with
from sim.prove.claims_times import stood_wrong, turns_enough, works_as_source
from sim.prove.claims_torque import (
    OVERSPEED_FROM,
    derated_away,
    fallen_a,
    generates,
    moves,
    ordered_nm,
    own_derate,
    own_part,
    part_given,
    power_w,
    propels,
    pull_nm,
    sag_of,
    size_nm,
    slew_nm,
    soft_a,
    source_unloads,
    spare_nm,
    unloads,
    was_nm,
)
from sim.prove.step import Step, StepClaim
from sim.prove.terms import (
    HELD,
    ROUNDING,
    against,
    at_most,
    counted,
    falling,
    is_held,
    moved,
    near,
    omega,
    ramp_s,
    rpm,
    speed_known,
)


def share(budget_a: float, asked_a: float) -> float:
    """The part of its asking that each shaft gets."""
    if budget_a <= 0.0:
        return 0.0
    if asked_a <= budget_a:
        return 1.0
    return budget_a / asked_a


def wanted_nm(step: Step, i: int) -> float:
    """Torque that the order asks, within rating, heat and power, with its sign (N m)."""
    own, order_pct, turning = step.config.shaft[i], step.now.memory.shafts[i].order_pct, omega(step, i)
    band_pct = own.rules.neutral_band_pct
    if propels(step, i) and is_held(step, i):
        return held_nm(step, i)
    if not propels(step, i) or abs(order_pct) <= band_pct or derated_away(step, i):
        return 0.0
    part = (min(100.0, abs(order_pct)) - band_pct) / (100.0 - band_pct) * part_given(step, i)
    most_nm = own.drive.rated_torque_nm * min(part, min(own_derate(step, i), own_part(step, i)))
    most_nm = min(most_nm, not_jammed_nm(step, i))
    most_w = min(power_w(step, i), own.drive.rated_power_kw * 1000.0 * own_part(step, i))
    if most_nm * turning > most_w:
        most_nm = most_w / turning
    if order_pct < 0.0:
        return -most_nm
    return most_nm


def ceiling_a(step: Step, i: int) -> float:
    """What the drive may charge with by its ratings (A)."""
    drive = step.config.shaft[i].drive
    return min(drive.generate_power_kw * 1000.0 * own_derate(step, i) / step.now.view.voltage_v, drive.max_current_a)


def source_a(step: Step, i: int) -> float:
    """What a source could give (A)."""
    drive = step.config.shaft[i].drive
    if not turns_enough(step, i):
        return 0.0
    most_nm = drive.generate_torque_nm * own_derate(step, i)
    if generates(step, i):
        most_nm = min(most_nm, spare_nm(step, i))
    else:
        most_nm = min(most_nm, pull_nm(step, i))
    return min(most_nm * omega(step, i) * drive.efficiency / step.now.view.voltage_v, ceiling_a(step, i))


def braking_a(step: Step, i: int, torque_nm: float) -> float:
    """What `torque_nm` would charge with, if it opposes, within ratings (A)."""
    if not against(step, i, torque_nm):
        return 0.0
    fed_a = abs(torque_nm) * omega(step, i) * step.config.shaft[i].drive.efficiency / step.now.view.voltage_v
    return min(fed_a, ceiling_a(step, i))


def driving_a(step: Step, i: int, torque_nm: float) -> float:
    """What `torque_nm` would draw, unless it opposes (A)."""
    if against(step, i, torque_nm):
        return 0.0
    drive = step.config.shaft[i].drive
    drawn_a = abs(torque_nm) * omega(step, i) / (drive.motor_efficiency * step.now.view.voltage_v)
    return min(drawn_a, drive.max_current_a)


def charge_asked_a(step: Step, i: int) -> float:
    """What this shaft asks of the sources' budget: what it has and one step of the soft start."""
    if not speed_known(step, i):
        return 0.0
    if works_as_source(step, i):
        return min(source_a(step, i), soft_a(step, i))
    if source_unloads(step, i):
        return min(braking_a(step, i, step.was.shafts[i].effort.torque_nm), soft_a(step, i))
    return 0.0


def brake_asked_a(step: Step, i: int) -> float:
    """What thrust that opposes its rotation asks of the budget of braking, what is wanted or what still stands."""
    if not speed_known(step, i) or not moves(step, i) or source_unloads(step, i):
        return 0.0
    return max(braking_a(step, i, wanted_nm(step, i)), braking_a(step, i, step.was.shafts[i].effort.torque_nm))


def motor_asked_a(step: Step, i: int) -> float:
    """What it asks of the motors' budget."""
    if not speed_known(step, i):
        return 0.0
    return max(driving_a(step, i, wanted_nm(step, i)), driving_a(step, i, step.was.shafts[i].effort.torque_nm))


def brake_asked_together_a(step: Step) -> float:
    asked_a = 0.0
    for k in range(len(step.shaft_in)):
        asked_a = asked_a + brake_asked_a(step, k)
    return asked_a


def brake_share(step: Step) -> float:
    return share(step.now.view.brake_budget_a, brake_asked_together_a(step))


def charge_share(step: Step) -> float:
    """Braking comes first; sources share what it leaves."""
    asked_a, budget_a = 0.0, step.now.view.source_budget_a
    for k in range(len(step.shaft_in)):
        asked_a = asked_a + charge_asked_a(step, k)
    braking_a = brake_asked_together_a(step)
    if braking_a > 0.0:
        budget_a = min(budget_a, max(0.0, step.now.view.brake_budget_a - braking_a))
    return share(budget_a, asked_a)


def motor_share(step: Step) -> float:
    asked_a = 0.0
    for k in range(len(step.shaft_in)):
        asked_a = asked_a + motor_asked_a(step, k)
    return share(step.now.view.motor_budget_a, asked_a)


def source_works(step: Step, i: int) -> bool:
    return works_as_source(step, i) and turns_enough(step, i) and not stood_wrong(step, i)


def source_given_nm(step: Step, i: int) -> float:
    """What a source is to oppose with (N m)."""
    drive, had_a = step.config.shaft[i].drive, step.was.shafts[i].effort.charge_a
    limit_a = charge_asked_a(step, i) * charge_share(step)
    sag = 0
    if generates(step, i):
        sag = sag_of(step, i)
    aim_a = had_a
    if sag == 2:
        aim_a = fallen_a(step, i)
    elif sag == 0:
        aim_a = max(had_a, min(limit_a, soft_a(step, i)))
    aim_a = min(aim_a, limit_a)
    fed_nm = aim_a * step.now.view.voltage_v / (drive.efficiency * omega(step, i))
    return min(fed_nm, min(drive.generate_torque_nm, was_nm(step, i) + slew_nm(step, i)))


def source_given(step: Step, i: int) -> bool:
    return at_most(source_given_nm(step, i) * (1.0 - ROUNDING), size_nm(step, i))


def works_on_thrust(step: Step, i: int) -> bool:
    """PROPEL, or UNLOAD of thrust or braking that may go on."""
    return moves(step, i) and speed_known(step, i) and not (source_unloads(step, i) and unload_dropped(step, i))


def unload_dropped(step: Step, i: int) -> bool:
    """A source that unloads and no longer opposes, or too slowly: dropped."""
    return not turns_enough(step, i) or not against(step, i, step.was.shafts[i].effort.torque_nm)


def moved_nm(step: Step, i: int) -> float:
    """Where the slew leads the order, before the budgets cut it, with its sign (N m)."""
    was, now = step.was.shafts[i], step.now.memory.shafts[i]
    target_nm, step_nm = wanted_nm(step, i), slew_nm(step, i)
    reverses = (target_nm > 0.0 and was.effort.last_sign < 0) or (target_nm < 0.0 and was.effort.last_sign > 0)
    zero_s = counted(was.dwells.zero_s, was.effort.torque_nm == 0.0, ramp_s(step))
    if reverses and (was.effort.torque_nm != 0.0 or zero_s < step.config.shaft[i].drive.reversal_dwell_s):
        target_nm = 0.0
    if unloads(step, i):
        if now.latches & HELD.SLOW_RAMP != 0:
            step_nm = now.effort.ramp_nm_per_s * ramp_s(step)
        elif against(step, i, was.effort.torque_nm):
            fall_a = step.config.limits.charge_fall_a_per_s * ramp_s(step)
            step_nm = fall_a * step.now.view.voltage_v / (step.config.shaft[i].drive.efficiency * omega(step, i))
    to_nm = moved(was.effort.torque_nm, target_nm, step_nm)
    return 0.0 if is_held(step, i) and turns_with(step, i, to_nm) else to_nm


def cut_nm(step: Step, i: int, torque_nm: float) -> float:
    """What the budgets leave of `torque_nm` (N m, without its sign)."""
    drive, volts, turning = step.config.shaft[i].drive, step.now.view.voltage_v, omega(step, i)
    size = min(abs(torque_nm), drive.rated_torque_nm)
    if against(step, i, torque_nm):
        if source_unloads(step, i):
            most_a = min(charge_asked_a(step, i) * charge_share(step), soft_a(step, i))
        else:
            most_a = brake_asked_a(step, i) * brake_share(step)
        return min(size, most_a * volts / (drive.efficiency * turning))
    if step.now.view.discharge_permit == 0 or motor_share(step) <= 0.0:
        return 0.0
    part = falling(rpm(step, i), OVERSPEED_FROM * drive.max_speed_rpm, drive.max_speed_rpm)
    size = min(size, drive.rated_torque_nm * part)
    if turning > 0.0:
        size = min(size, motor_asked_a(step, i) * motor_share(step) * volts * drive.motor_efficiency / turning)
    return size


def thrust_given(step: Step, i: int) -> bool:
    to_nm, now = moved_nm(step, i), ordered_nm(step, i)
    least_nm = cut_nm(step, i, to_nm) * (1.0 - ROUNDING)
    if to_nm >= 0.0:
        return at_most(least_nm, now)
    return at_most(least_nm, -now)


def stands_and_asks(step: Step, i: int) -> bool:
    """PROPEL on a shaft that does not turn, with the discharge permit."""
    shaft = step.shaft_in[i]
    still = speed_known(step, i) and shaft.machine_speed_rpm == 0.0
    return propels(step, i) and still and step.now.view.discharge_permit == 1 and step.now.view.motor_budget_a > 0.0


def given_at_standstill(step: Step, i: int) -> bool:
    """Power and currents limit nothing there: torque moves to its order by slew and dwell."""
    return near(ordered_nm(step, i), moved_nm(step, i))


def brakes_by_order(step: Step, i: int) -> bool:
    """PROPEL, with the order's own torque against rotation."""
    return propels(step, i) and speed_known(step, i) and against(step, i, moved_nm(step, i))


def _shaft(requirement: str, name: str, text: str, given, then, *rests: str) -> StepClaim:  # type: ignore[no-untyped-def]
    return StepClaim(requirement, name, text, given, then, rests_on=rests, parity=False)


GIVEN_CLAIMS: tuple[StepClaim, ...] = (
    _shaft("SR-49", "charging is given", "a source gives what budget, soft start, engine, slew and ratings allow",
           source_works, source_given),
    _shaft("SR-49", "thrust is given at standstill", "in PROPEL on a shaft that does not turn torque moves to its order "
           "by slew and dwell, within heat and own limits, while the bank may give anything", stands_and_asks, given_at_standstill),
    _shaft("SR-49", "thrust is given", "in PROPEL and UNLOAD torque is what order, slew, dwell, derates and budgets "
           "allow, no less", works_on_thrust, thrust_given),
    _shaft("SR-52", "astern is given", "in PROPEL torque against rotation is what order, slew, dwell and the budget of "
           "braking allow, no less", brakes_by_order, thrust_given),
)  # fmt: skip
