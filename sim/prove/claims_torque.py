"""Claims on torque: its sign, its bounds, its slew, and what all shafts together draw on the shared budgets.

Stated mode by mode, with the budgets of this tick as bounds (that these are right is shown in `claims_bank`), so that
each product has one unknown factor where it can. Bounds are the requirements'; that no less is given is SR-49's.
"""

from sim.prove.claims_bank import always
from sim.prove.claims_times import STEADY_S, stood_wrong, turns_enough, works_as_source
from sim.prove.step import Step, StepClaim
from sim.prove.terms import (
    GENERATE,
    HARVEST,
    HELD,
    ISOLATED,
    PROPEL,
    REST,
    UNLOAD,
    against,
    at_most,
    counted,
    falling,
    handset_now,
    is_held,
    omega,
    ramp_s,
    rpm,
    speed_known,
    temperature,
)
from sim.requirements.facts import SHAFT, has

OVERSPEED_FROM = 0.95
"""Driving torque falls from this share of the highest speed to zero at it."""


# --- what is ordered


def ordered_nm(step: Step, i: int) -> float:
    """Torque ordered in this tick (N m)."""
    return step.now.memory.shafts[i].effort.torque_nm


def size_nm(step: Step, i: int) -> float:
    return abs(step.now.memory.shafts[i].effort.torque_nm)


def was_nm(step: Step, i: int) -> float:
    """Size of the order a tick ago (N m)."""
    return abs(step.was.shafts[i].effort.torque_nm)


def charges(step: Step, i: int) -> bool:
    """The order opposes measured rotation."""
    return against(step, i, step.now.memory.shafts[i].effort.torque_nm)


def drives(step: Step, i: int) -> bool:
    """The order is not zero and does not oppose."""
    return step.now.memory.shafts[i].effort.torque_nm != 0.0 and not charges(step, i)


def fed_w(step: Step, i: int) -> float:
    """What the order feeds into the bank at best efficiency (W)."""
    return size_nm(step, i) * omega(step, i) * step.config.shaft[i].drive.efficiency


def mode_of(step: Step, i: int) -> int:
    return step.now.memory.shafts[i].mode


def rests(step: Step, i: int) -> bool:
    return mode_of(step, i) == REST or mode_of(step, i) == ISOLATED


def propels(step: Step, i: int) -> bool:
    return mode_of(step, i) == PROPEL


def generates(step: Step, i: int) -> bool:
    return mode_of(step, i) == GENERATE


def harvests(step: Step, i: int) -> bool:
    return mode_of(step, i) == HARVEST


def unloads(step: Step, i: int) -> bool:
    return mode_of(step, i) == UNLOAD


def moves(step: Step, i: int) -> bool:
    """PROPEL or UNLOAD: the order moves by the slew."""
    return propels(step, i) or unloads(step, i)


def charging(step: Step, i: int) -> bool:
    return charges(step, i)


def driving(step: Step, i: int) -> bool:
    return drives(step, i)


# --- zero and sign


def nothing(step: Step, i: int) -> bool:
    return ordered_nm(step, i) == 0.0 and step.now.memory.shafts[i].effort.charge_a == 0.0


def slow_or_unknown(step: Step, i: int) -> bool:
    return works_as_source(step, i) and not turns_enough(step, i)


def speed_lost(step: Step, i: int) -> bool:
    return not speed_known(step, i)


def source_opposes(step: Step, i: int) -> bool:
    return ordered_nm(step, i) == 0.0 or charges(step, i)


def source_unloads(step: Step, i: int) -> bool:
    return unloads(step, i) and step.now.memory.shafts[i].latches & HELD.UNLOADS_SOURCE != 0


def source_opposes_fast(step: Step, i: int) -> bool:
    return ordered_nm(step, i) == 0.0 or (charges(step, i) and turns_enough(step, i))


def turned_round(step: Step, i: int) -> bool:
    return works_as_source(step, i) and stood_wrong(step, i)


def one_sign(step: Step, i: int) -> bool:
    """The order never changes sign without a tick at zero between."""
    now, was = ordered_nm(step, i), step.was.shafts[i].effort.torque_nm
    return not (now > 0.0 and was < 0.0) and not (now < 0.0 and was > 0.0)


def dwelt(step: Step, i: int) -> bool:
    """Thrust of the other sign than the last only after its dwell at zero."""
    was, now = step.was.shafts[i], ordered_nm(step, i)
    if not (now > 0.0 and was.effort.last_sign < 0) and not (now < 0.0 and was.effort.last_sign > 0):
        return True
    zero_s = counted(was.dwells.zero_s, was.effort.torque_nm == 0.0, ramp_s(step))
    return was.effort.torque_nm == 0.0 and zero_s >= step.config.shaft[i].drive.reversal_dwell_s


def by_order(step: Step, i: int) -> bool:
    """PROPEL by lever or handset: a shaft that is held for its lock has an order of its own."""
    return propels(step, i) and not is_held(step, i)


def follows_order(step: Step, i: int) -> bool:
    """Thrust grows only the way that is asked."""
    order_pct, now = step.now.memory.shafts[i].order_pct, ordered_nm(step, i)
    if abs(order_pct) > step.config.shaft[i].rules.neutral_band_pct:
        asked = (now >= 0.0 and order_pct > 0.0) or (now <= 0.0 and order_pct < 0.0)
    else:
        asked = now == 0.0
    return asked or at_most(size_nm(step, i), was_nm(step, i) - slew_nm(step, i))


# --- slew and ratings


def slew_nm(step: Step, i: int) -> float:
    """What torque may grow by in this tick (N m)."""
    return step.config.shaft[i].drive.torque_slew_nm_per_s * ramp_s(step)


def within_slew(step: Step, i: int) -> bool:
    return at_most(size_nm(step, i), was_nm(step, i) + slew_nm(step, i))


def within_rating(step: Step, i: int) -> bool:
    return at_most(size_nm(step, i), step.config.shaft[i].drive.rated_torque_nm)


def within_generating(step: Step, i: int) -> bool:
    return at_most(size_nm(step, i), step.config.shaft[i].drive.generate_torque_nm)


def part_given(step: Step, i: int) -> float:
    """By handset only a part of torque and power is given (0 to 1)."""
    if handset_now(step):
        return step.config.limits.handset_thrust_pct / 100.0
    return 1.0


def own_derate(step: Step, i: int) -> float:
    """Derate by the shaft's own temperatures."""
    return temperature(step, i, step.config.limits.unknown_soc_pct / 100.0)


def falls_nm(step: Step, i: int) -> float:
    """What the order may still stand at while it comes down by the slew (N m)."""
    return max(0.0, was_nm(step, i) - slew_nm(step, i))


def within_order(step: Step, i: int) -> bool:
    rules, asked_pct = step.config.shaft[i].rules, min(100.0, abs(step.now.memory.shafts[i].order_pct))
    part = max(0.0, (asked_pct - rules.neutral_band_pct) / (100.0 - rules.neutral_band_pct))
    return at_most(size_nm(step, i), max(part * step.config.shaft[i].drive.rated_torque_nm, falls_nm(step, i)))


def by_handset(step: Step, i: int) -> bool:
    return propels(step, i) and handset_now(step)


def within_handset(step: Step, i: int) -> bool:
    most_nm = step.config.limits.handset_thrust_pct / 100.0 * step.config.shaft[i].drive.rated_torque_nm
    return at_most(size_nm(step, i), max(most_nm, falls_nm(step, i)))


def within_heat(step: Step, i: int) -> bool:
    most_nm = step.config.shaft[i].drive.rated_torque_nm * own_derate(step, i)
    return at_most(size_nm(step, i), max(most_nm, falls_nm(step, i)))


def power_w(step: Step, i: int) -> float:
    """Propulsion power that the derates leave (W); torque against rotation takes none from the bank."""
    if against(step, i, step.now.memory.shafts[i].order_pct):
        return step.config.shaft[i].drive.rated_power_kw * 1000.0
    left = step.now.view.derate_pct / 100.0 * own_derate(step, i)
    return step.config.shaft[i].drive.rated_power_kw * 1000.0 * left * part_given(step, i)


def within_power(step: Step, i: int) -> bool:
    turning = omega(step, i)
    most_w = max(power_w(step, i), falls_nm(step, i) * turning)
    return at_most(size_nm(step, i) * turning, most_w)


def own_part(step: Step, i: int) -> float:
    """What own interlocks leave of thrust the way it is asked (0 to 1)."""
    state = step.now.memory.shafts[i]
    if state.order_pct < 0.0:
        return state.own_astern_pct / 100.0
    return state.own_ahead_pct / 100.0


def within_own(step: Step, i: int) -> bool:
    """Torque within what own interlocks leave, or coming down by the slew."""
    most_nm = step.config.shaft[i].drive.rated_torque_nm * own_part(step, i)
    return at_most(size_nm(step, i), max(most_nm, falls_nm(step, i)))


def within_own_power(step: Step, i: int) -> bool:
    """Power likewise."""
    turning = omega(step, i)
    most_w = step.config.shaft[i].drive.rated_power_kw * 1000.0 * own_part(step, i)
    return at_most(size_nm(step, i) * turning, max(most_w, falls_nm(step, i) * turning))


def derated_away(step: Step, i: int) -> bool:
    return propels(step, i) and (step.now.view.derate_pct <= 0.0 or own_derate(step, i) <= 0.0)


def comes_down(step: Step, i: int) -> bool:
    return at_most(size_nm(step, i), falls_nm(step, i))


def too_fast(step: Step, i: int) -> bool:
    return moves(step, i) and speed_known(step, i) and rpm(step, i) >= step.config.shaft[i].drive.max_speed_rpm


def drives_not(step: Step, i: int) -> bool:
    return not drives(step, i)


def driven(step: Step, i: int) -> bool:
    return moves(step, i) and drives(step, i)


def within_overspeed(step: Step, i: int) -> bool:
    top_rpm = step.config.shaft[i].drive.max_speed_rpm
    part = falling(rpm(step, i), OVERSPEED_FROM * top_rpm, top_rpm)
    return at_most(size_nm(step, i), step.config.shaft[i].drive.rated_torque_nm * part)


# --- unloading


def ramps_down(step: Step, i: int) -> bool:
    return unloads(step, i) and step.now.memory.shafts[i].latches & HELD.SLOW_RAMP != 0


def falls_by_ramp(step: Step, i: int) -> bool:
    less_nm = step.now.memory.shafts[i].effort.ramp_nm_per_s * ramp_s(step)
    return at_most(size_nm(step, i), max(0.0, was_nm(step, i) - less_nm))


def brakes_off(step: Step, i: int) -> bool:
    """What charged, as a source or braking, unloads without a ramp."""
    stood = against(step, i, step.was.shafts[i].effort.torque_nm)
    return unloads(step, i) and not ramps_down(step, i) and stood


def falls_by_current(step: Step, i: int) -> bool:
    """By the torque of its current's fall."""
    less_a = step.config.limits.charge_fall_a_per_s * ramp_s(step)
    less_nm = less_a * step.now.view.voltage_v / (step.config.shaft[i].drive.efficiency * omega(step, i))
    return at_most(size_nm(step, i), max(0.0, was_nm(step, i) - less_nm))


def unloads_thrust(step: Step, i: int) -> bool:
    stood = against(step, i, step.was.shafts[i].effort.torque_nm)
    return unloads(step, i) and not ramps_down(step, i) and not stood


# --- charging


def soft_a(step: Step, i: int) -> float:
    """The most that the current aimed at may be in this tick by the soft start (A). What is really fed rises by the
    marginal efficiency, which can come near 1: the aim rises by that much less."""
    rise_a = step.config.limits.charge_rise_a_per_s * step.config.shaft[i].drive.efficiency * ramp_s(step)
    return step.was.shafts[i].effort.charge_a + rise_a


def soft_start(step: Step, i: int) -> bool:
    return at_most(step.now.memory.shafts[i].effort.charge_a, soft_a(step, i))


def aim_counts(step: Step, i: int) -> bool:
    """What the order feeds stays within the current aimed at."""
    most_w = step.now.memory.shafts[i].effort.charge_a * step.now.view.voltage_v
    return at_most(fed_w(step, i), most_w)


def aim_is_fed(step: Step, i: int) -> bool:
    """Nor is more aimed at than is fed, but where the drive's torque is at its limit."""
    aimed_w, drive = step.now.memory.shafts[i].effort.charge_a * step.now.view.voltage_v, step.config.shaft[i].drive
    at_limit = at_most(min(drive.generate_torque_nm, drive.rated_torque_nm), size_nm(step, i))
    return at_limit or at_most(aimed_w, fed_w(step, i))


def no_aim(step: Step, i: int) -> bool:
    return step.now.memory.shafts[i].effort.charge_a == 0.0


def charges_not(step: Step, i: int) -> bool:
    return not charges(step, i)


def aim_sound(step: Step, i: int) -> bool:
    return step.now.memory.shafts[i].effort.charge_a >= 0.0


def is_source(step: Step, i: int) -> bool:
    """GENERATE, HARVEST, or unloading from them."""
    return works_as_source(step, i) or source_unloads(step, i)


def together_within(step: Step, i: int) -> bool:
    """All sources together aim at no more than their budget."""
    total_a = 0.0
    for k in range(len(step.shaft_in)):
        if is_source(step, k):
            total_a = total_a + step.now.memory.shafts[k].effort.charge_a
    return at_most(total_a, step.now.view.source_budget_a)


def no_charge_permit(step: Step, i: int) -> bool:
    return step.now.view.charge_permit == 0


def nothing_charges(step: Step, i: int) -> bool:
    return not charges(step, i) and step.now.memory.shafts[i].effort.charge_a == 0.0


def no_discharge_permit(step: Step, i: int) -> bool:
    return step.now.view.discharge_permit == 0


def drawn_a(step: Step, i: int) -> float:
    """What the order may draw at most in normal driving (A)."""
    if drives(step, i):
        drawn_w = size_nm(step, i) * omega(step, i) / step.config.shaft[i].drive.motor_efficiency
        return drawn_w / step.now.view.voltage_v
    return 0.0


def turns_and_drives(step: Step, i: int) -> bool:
    return drives(step, i) and speed_known(step, i) and rpm(step, i) > 0.0


def within_current(step: Step, i: int) -> bool:
    drive = step.config.shaft[i].drive
    most_nm = drive.max_current_a * step.now.view.voltage_v * drive.motor_efficiency / omega(step, i)
    return at_most(size_nm(step, i), most_nm)


def draws_together(step: Step, i: int) -> bool:
    """All shafts together draw no more than the motors' budget."""
    total_a = 0.0
    for k in range(len(step.shaft_in)):
        total_a = total_a + drawn_a(step, k)
    return at_most(total_a, step.now.view.motor_budget_a)


def generating_power(step: Step, i: int) -> bool:
    """The drive's rating for generating, hot or not, and its current."""
    drive = step.config.shaft[i].drive
    by_power = at_most(fed_w(step, i), drive.generate_power_kw * 1000.0 * own_derate(step, i))
    return by_power and at_most(step.now.memory.shafts[i].effort.charge_a, drive.max_current_a)


def curve_nm(step: Step, i: int) -> float:
    """Engine torque at full throttle at this speed (N m): linear between the file's points, falling to zero at half
    the first point's speed, zero beyond the last."""
    points, turns = step.config.shaft[i].engine.torque_curve, step.shaft_in[i].engine_speed_rpm
    if turns < points[0][0]:
        return points[0][1] * max(0.0, 2.0 * turns / points[0][0] - 1.0)
    for k in range(len(points) - 1):
        low, high = points[k], points[k + 1]
        if turns <= high[0]:
            return low[1] + (high[1] - low[1]) * (turns - low[0]) / (high[0] - low[0])
    return 0.0


def spare_nm(step: Step, i: int) -> float:
    """What charging may take of the engine, at the shaft (N m)."""
    shaft, own = step.shaft_in[i], step.config.shaft[i]
    if not has(shaft, SHAFT.ENGINE_SPEED) or not has(shaft, SHAFT.PROPELLER_SPEED):
        return 0.0
    turns = shaft.propeller_speed_rpm
    propeller_nm = own.rules.propeller_nm_per_krpm2 / 1e6 * turns * turns
    return max(0.0, own.engine.headroom * (curve_nm(step, i) * own.gearbox.ratio - propeller_nm))


def within_headroom(step: Step, i: int) -> bool:
    return at_most(size_nm(step, i), spare_nm(step, i))


def pull_nm(step: Step, i: int) -> float:
    """What the propeller under sail gives at this speed (N m)."""
    return step.config.shaft[i].rules.harvest_nm_per_krpm2 / 1e6 * rpm(step, i) * rpm(step, i)


def within_pull(step: Step, i: int) -> bool:
    return at_most(size_nm(step, i), pull_nm(step, i))


def within_torque_heat(step: Step, i: int) -> bool:
    return at_most(size_nm(step, i), step.config.shaft[i].drive.generate_torque_nm * own_derate(step, i))


# --- a sagging engine


def sag_of(step: Step, i: int) -> int:
    """0 the engine holds its speed of ramp start, 1 it sags, 2 it sags further, below its idle speed, or is not heard."""
    was, shaft, engine = step.was.shafts[i], step.shaft_in[i], step.config.shaft[i].engine
    heard = has(shaft, SHAFT.ENGINE_SPEED)
    below_rpm = engine.idle_rpm - shaft.engine_speed_rpm
    if heard and below_rpm > engine.sag_rpm:
        return 2
    if was.effort.charge_a <= 0.0:
        return 0
    if not heard:
        return 2
    if step.now.memory.shafts[i].dwells.steady_s < STEADY_S or was.effort.sag_ref_rpm <= 0.0:
        if below_rpm > engine.sag_rpm / 2.0:
            return 1
        return 0
    lost_rpm = was.effort.sag_ref_rpm - shaft.engine_speed_rpm
    if lost_rpm > 2.0 * engine.sag_rpm:
        return 2
    if lost_rpm > engine.sag_rpm:
        return 1
    return 0


def sags(step: Step, i: int) -> bool:
    return generates(step, i) and sag_of(step, i) >= 1


def rise_pauses(step: Step, i: int) -> bool:
    return at_most(step.now.memory.shafts[i].effort.charge_a, step.was.shafts[i].effort.charge_a)


def sags_far(step: Step, i: int) -> bool:
    return generates(step, i) and sag_of(step, i) == 2


def fallen_a(step: Step, i: int) -> float:
    return max(0.0, step.was.shafts[i].effort.charge_a - step.config.limits.charge_fall_a_per_s * ramp_s(step))


def backs_off(step: Step, i: int) -> bool:
    return at_most(step.now.memory.shafts[i].effort.charge_a, fallen_a(step, i))


def sag_told(step: Step, i: int) -> bool:
    told = step.now.memory.shafts[i].latches & HELD.SAGGING != 0
    if not generates(step, i) or not turns_enough(step, i) or stood_wrong(step, i):
        return not told
    return told == (sag_of(step, i) >= 1)


def rested(step: Step, i: int) -> bool:
    """A shaft without an order gives none."""
    return rests(step, i) or speed_lost(step, i)


def _shaft(requirement: str, name: str, text: str, given, then, *rests: str) -> StepClaim:  # type: ignore[no-untyped-def]
    return StepClaim(requirement, name, text, given, then, rests_on=rests, parity=False)


def _boat(requirement: str, name: str, text: str, then, *rests: str) -> StepClaim:  # type: ignore[no-untyped-def]
    return StepClaim(requirement, name, text, always, then, per_shaft=False, rests_on=rests, parity=False)


TORQUE_CLAIMS: tuple[StepClaim, ...] = (
    _shaft("SR-02", "REST and ISOLATED are zero", "in REST and ISOLATED, or with the shaft's speed unknown, the order is "
           "zero whatever stood before", rested, nothing),
    _shaft("SR-23", "no source below its speed", "in GENERATE and HARVEST the order is zero below the lowest speed, or "
           "with the speed unknown", slow_or_unknown, nothing),
    _shaft("SR-23", "a source only opposes", "in GENERATE and HARVEST the order opposes measured rotation or is zero",
           works_as_source, source_opposes),
    _shaft("SR-23", "an unloading source only opposes", "what unloads from a source opposes at or above the lowest "
           "speed, or is zero", source_unloads, source_opposes_fast),
    _shaft("SR-23", "turned round is zero", "a source whose shaft turns the other way than a tick ago goes through zero",
           turned_round, nothing),
    _shaft("SR-24", "one sign", "the order never changes sign from one tick to the next", always, one_sign),
    _shaft("SR-24", "within slew", "the order grows no faster than the slew, a late tick credited with a tenth of a "
           "second", always, within_slew),
    _shaft("SR-24", "within rated torque", "thrust and braking stay within the drive's rated torque", moves,
           within_rating),
    _shaft("SR-24", "within generating torque", "a source stays within the drive's generating torque", works_as_source,
           within_generating),
    _shaft("SR-25", "reversal dwells", "in PROPEL the sign changes only after the order has been zero for the dwell",
           propels, dwelt),
    _shaft("SR-05", "thrust follows its order", "in PROPEL torque grows only the way that is asked, and comes down by "
           "the slew otherwise", by_order, follows_order),
    _shaft("SR-05", "thrust within its order", "in PROPEL torque stays within what lever or handset asks, or comes down "
           "by the slew", by_order, within_order),
    _shaft("SR-28", "handset limited", "by handset torque stays within its part of rated torque, or comes down by the "
           "slew", by_handset, within_handset),
    _shaft("SR-18", "torque within heat", "in PROPEL torque stays within rated torque times the derate by temperature, "
           "or comes down by the slew", by_order, within_heat),
    _shaft("SR-18", "power within derate", "in PROPEL power stays within rated power times the derates (and the "
           "handset's part), or comes down by the slew", by_order, within_power),
    _shaft("SR-50", "torque within own limits", "in PROPEL torque stays within what own interlocks leave of it, or "
           "comes down by the slew", by_order, within_own),
    _shaft("SR-50", "power within own limits", "and power likewise", by_order, within_own_power),
    _shaft("SR-18", "derated to zero", "with a derate at zero thrust comes down by the slew", derated_away, comes_down),
    _shaft("SR-42", "not driven into overspeed", "at or above the highest speed no order drives", too_fast, drives_not),
    _shaft("SR-42", "fades before overspeed", "in the last part before it driving torque fades", driven,
           within_overspeed),
    _shaft("SR-26", "a lost lever's thrust falls", "in UNLOAD the thrust of a lost lever falls by its ramp", ramps_down,
           falls_by_ramp),
    _shaft("SR-24", "unloading thrust falls", "in UNLOAD other thrust falls by the slew", unloads_thrust, comes_down),
    _shaft("SR-24", "an unloading source falls", "in UNLOAD what charges falls by the fall of its current", brakes_off,
           falls_by_current),
    _shaft("SR-20", "soft start", "the current that a source aims at rises no faster than the soft start at best "
           "efficiency, a late tick credited with a tenth of a second", is_source, soft_start),
    _shaft("SR-15", "the order keeps to its aim", "what an opposing order feeds at best efficiency stays within the "
           "current aimed at", charging, aim_counts),
    _shaft("SR-20", "the aim is what is fed", "nor is more aimed at than the order feeds, but at the drive's torque",
           charging, aim_is_fed),
    _shaft("SR-15", "no aim without opposing", "without an opposing order no current is aimed at", charges_not, no_aim),
    _shaft("SR-15", "the aim is no less than zero", "the current aimed at is never below zero", always, aim_sound),
    _boat("SR-15", "all sources within budget", "the currents that all sources aim at together stay within the sources' "
          "budget of this tick", together_within),
    _shaft("SR-13", "no braking without permit", "without the charge permit no order opposes rotation, in any mode",
           no_charge_permit, nothing_charges),
    _shaft("SR-14", "no driving without permit", "without the discharge permit no order drives, in any mode",
           no_discharge_permit, drives_not),
    _boat("SR-14", "all motors within budget", "what driving orders draw on all shafts together stays within the "
          "motors' budget of this tick", draws_together),
    _shaft("SR-14", "within the drive's current", "a driving order draws at most the drive's current",
           turns_and_drives, within_current),
    _shaft("SR-15", "generating power", "a source stays within the drive's generating power, hot or not, and its "
           "current", works_as_source, generating_power),
    _shaft("SR-15", "generating torque in heat", "a source stays within generating torque times the derate by "
           "temperature", works_as_source, within_torque_heat),
    _shaft("SR-21", "engine headroom", "in GENERATE the order stays within the headroom of what the engine has to spare "
           "at its speed", generates, within_headroom),
    _shaft("SR-41", "within the propeller's pull", "in HARVEST the order stays within what the propeller gives at its "
           "speed", harvests, within_pull),
    _shaft("SR-22", "rise pauses in a sag", "current does not rise while the engine has lost its sag with the throttle "
           "steady, or half of it from its idle speed whatever the throttle does", sags, rise_pauses),
    _shaft("SR-22", "backs off in a deep sag", "and falls while it has lost twice that, or is not heard", sags_far,
           backs_off),
    _shaft("SR-22", "sag is told", "a sagging engine is told", always, sag_told),
)  # fmt: skip
