"""Claims on what the bank allows: charge limit, tapers, permits, budgets, hotel load, derate, and their latches.

Each bound is one claim of the requirement that asks for it; that no less is given than what is allowed is SR-49's.
"""

from sim.prove.step import Step, StepClaim
from sim.prove.terms import (
    KEPT,
    READY,
    at_most,
    band,
    believed,
    charging_known,
    counted,
    currents_known,
    drives_a,
    falling,
    full_asked,
    length_s,
    may_charge,
    may_discharge,
    moved,
    near,
    ramp_s,
)
from sim.requirements.facts import BOAT, has, yes

SLOW_S, QUICK_S, DOUBTFUL_S, NEVER_S, SMOOTH_S = 1.0, 0.3, 5.0, 1e9, 0.3
"""A hotel load is believed within these times (s): slowly where it would allow more, quickly where less; while readings
of different instants would have to be compared, only where it allows less."""

RISE_BAND = 0.1
"""What a weak bank has cut is given back only where it would give so much more of the whole."""

SETTLED_A, SETTLED_PART = 5.0, 0.05
"""The drives' current may be compared with the bank's while it is this near to its own mean (A, share)."""

RESTART_FACTOR, COLD_RESTART_C = 1.5, 1.0


def always(step: Step, i: int) -> bool:
    """The claim speaks of every step."""
    return True


# --- the charge limit


def limit_known(step: Step, i: int) -> bool:
    return charging_known(step)


def limit_unknown(step: Step, i: int) -> bool:
    return not charging_known(step)


def limit_zero(step: Step, i: int) -> bool:
    return step.now.view.charge_limit_a == 0.0


def limit_full(step: Step, i: int) -> bool:
    limit_a = step.now.view.charge_limit_a
    return limit_a >= 0.0 and at_most(limit_a, step.config.limits.full_charge_a)


def by_soc(step: Step) -> float:
    c, soc_pct = step.config.limits, step.boat_in.soc_pct
    if not full_asked(step):
        return falling(soc_pct, c.taper_start_pct, c.taper_end_pct)
    if soc_pct <= 100.0:
        return 1.0
    return 0.0


def limit_by_soc(step: Step, i: int) -> bool:
    return at_most(step.now.view.charge_limit_a, step.config.limits.full_charge_a * by_soc(step))


def by_cell(step: Step) -> float:
    c = step.config.limits
    return falling(step.boat_in.cell_max_v, c.cell_taper_start_v, c.cell_taper_end_v)


def limit_by_cell(step: Step, i: int) -> bool:
    return at_most(step.now.view.charge_limit_a, step.config.limits.full_charge_a * by_cell(step))


def by_heat(step: Step) -> float:
    c = step.config.limits
    return falling(step.boat_in.cell_hot_c, c.hot_start_c, c.hot_zero_c)


def limit_by_heat(step: Step, i: int) -> bool:
    return at_most(step.now.view.charge_limit_a, step.config.limits.full_charge_a * by_heat(step))


def by_cold_a(step: Step) -> float:
    c, cold_c = step.config.limits, step.boat_in.cell_cold_c
    if cold_c <= c.cold_zero_c:
        return 0.0
    if cold_c <= c.cold_full_c:
        return min(c.full_charge_a, c.cold_c_rate * step.config.bank.capacity_ah)
    return c.full_charge_a


def limit_by_cold(step: Step, i: int) -> bool:
    return at_most(step.now.view.charge_limit_a, by_cold_a(step))


def cold_or_hot(step: Step, i: int) -> bool:
    bank, c = step.boat_in, step.config.limits
    if not has(bank, BOAT.CELL_COLD) or not has(bank, BOAT.CELL_HOT):
        return True
    return bank.cell_cold_c <= c.cold_zero_c or bank.cell_hot_c >= c.hot_zero_c


def no_charging(step: Step, i: int) -> bool:
    return step.now.view.charge_limit_a == 0.0 and step.now.view.source_budget_a == 0.0


def limit_by_monitor(step: Step, i: int) -> bool:
    return at_most(step.now.view.charge_limit_a, step.boat_in.charge_limit_a)


def soc_unknown(step: Step, i: int) -> bool:
    return not has(step.boat_in, BOAT.SOC)


def soc_derated(step: Step, i: int) -> bool:
    was, c = step.was.boat, step.config.limits
    if was.mode != READY:
        return at_most(step.now.view.derate_pct, c.unknown_soc_pct)
    falls = was.bank.derate_pct - c.derate_rate_pct_per_s * ramp_s(step)
    return at_most(step.now.view.derate_pct, max(c.unknown_soc_pct, falls))


def limit_given(step: Step, i: int) -> bool:
    c = step.config.limits
    part = min(by_soc(step), min(by_cell(step), by_heat(step)))
    most_a = min(c.full_charge_a * part, min(by_cold_a(step), step.boat_in.charge_limit_a))
    return at_most(most_a, step.now.view.charge_limit_a)


# --- permits and budgets


def charge_barred(step: Step, i: int) -> bool:
    return not may_charge(step)


def charge_permitted(step: Step, i: int) -> bool:
    return may_charge(step)


def no_source_budget(step: Step, i: int) -> bool:
    return step.now.view.source_budget_a == 0.0 and step.now.view.charge_permit == 0


def permit_taken(step: Step, i: int) -> bool:
    return step.now.view.charge_permit == 1


def discharge_barred(step: Step, i: int) -> bool:
    return not may_discharge(step)


def no_motor_budget(step: Step, i: int) -> bool:
    view = step.now.view
    return view.motor_budget_a == 0.0 and view.discharge_permit == 0 and view.discharge_limit_a == 0.0


def discharge_permitted(step: Step, i: int) -> bool:
    return may_discharge(step)


def left_for_motors_a(step: Step) -> float:
    return max(0.0, step.now.view.given_a - max(0.0, step.now.view.load_a))


def motor_budget_within(step: Step, i: int) -> bool:
    view = step.now.view
    if not at_most(view.motor_budget_a, left_for_motors_a(step)) or not at_most(
        view.discharge_limit_a, step.boat_in.discharge_limit_a
    ):
        return False
    return view.discharge_permit == 1 or view.motor_budget_a == 0.0


def motor_budget_given(step: Step, i: int) -> bool:
    view, left_a = step.now.view, left_for_motors_a(step)
    if not at_most(left_a, view.motor_budget_a) or view.motor_budget_a < 0.0:
        return False
    return view.discharge_permit == 1 and near(view.discharge_limit_a, step.boat_in.discharge_limit_a)


def budget_a(step: Step) -> float:
    view = step.now.view
    if view.charge_limit_a <= 0.0:
        return 0.0
    return max(0.0, view.charge_limit_a + view.hotel_a)


def source_budget_within(step: Step, i: int) -> bool:
    return at_most(step.now.view.source_budget_a, budget_a(step))


def source_budget_given(step: Step, i: int) -> bool:
    return at_most(budget_a(step), step.now.view.source_budget_a)


# --- the hotel load


def hotel_unknown(step: Step, i: int) -> bool:
    return not currents_known(step)


def no_hotel(step: Step, i: int) -> bool:
    return step.now.view.hotel_a == 0.0


def load_stands(step: Step, i: int) -> bool:
    return near(step.now.view.load_a, step.was.boat.bank.load_a)


def hotel_known(step: Step, i: int) -> bool:
    return currents_known(step)


def seen_a(step: Step) -> float:
    """What leaves the bus bar other than through drives, as this tick's readings say (A)."""
    return drives_a(step) - step.boat_in.current_a


def settled(step: Step) -> bool:
    """The drives' current has not moved much of late."""
    now_a = drives_a(step)
    return abs(now_a - step.now.view.drives_a) <= SETTLED_A + SETTLED_PART * abs(now_a)


def approached(was_a: float, to_a: float, time_s: float, dt_s: float) -> float:
    """First-order approach."""
    return was_a + (to_a - was_a) * (dt_s / (time_s + dt_s))


def hotel_believed_a(step: Step) -> float:
    was_a, to_a = step.was.boat.bank.hotel_a, seen_a(step)
    if settled(step):
        rise_s, fall_s = SLOW_S, QUICK_S
    else:
        rise_s, fall_s = NEVER_S, DOUBTFUL_S
    if to_a > was_a:
        return approached(was_a, to_a, rise_s, length_s(step))
    return approached(was_a, to_a, fall_s, length_s(step))


def load_believed_a(step: Step) -> float:
    was_a, to_a = step.was.boat.bank.load_a, seen_a(step)
    if settled(step):
        rise_s, fall_s = QUICK_S, SLOW_S
    else:
        rise_s, fall_s = DOUBTFUL_S, NEVER_S
    if to_a > was_a:
        return approached(was_a, to_a, rise_s, length_s(step))
    return approached(was_a, to_a, fall_s, length_s(step))


def hotel_within(step: Step, i: int) -> bool:
    return at_most(step.now.view.hotel_a, hotel_believed_a(step))


def hotel_followed(step: Step, i: int) -> bool:
    return at_most(hotel_believed_a(step), step.now.view.hotel_a)


def load_counted(step: Step, i: int) -> bool:
    return at_most(load_believed_a(step), step.now.view.load_a)


def load_not_more(step: Step, i: int) -> bool:
    return at_most(step.now.view.load_a, load_believed_a(step))


def drives_smoothed(step: Step, i: int) -> bool:
    mean_a = approached(step.was.boat.bank.drives_a, drives_a(step), SMOOTH_S, length_s(step))
    return near(step.now.view.drives_a, mean_a)


def view_kept(step: Step, i: int) -> bool:
    view, boat = step.now.view, step.now.memory.boat
    currents = (
        boat.bank.hotel_a == view.hotel_a and boat.bank.load_a == view.load_a and boat.bank.drives_a == view.drives_a
    )
    currents = currents and boat.bank.brake_a == view.brake_budget_a
    currents = currents and boat.bank.low_s == view.low_s
    currents = currents and boat.bank.cell_pct == view.cell_pct and boat.bank.given_a == view.given_a
    return currents and boat.bank.derate_pct == view.led_pct and boat.bank.brake_spent_s == view.brake_spent_s


def volts_believed(step: Step, i: int) -> bool:
    if believed(step):
        return step.now.view.voltage_v == step.boat_in.voltage_v
    return step.now.view.voltage_v == step.config.bank.min_voltage_v


# --- the end of charging


def ended(latches: int) -> bool:
    return latches & KEPT.CHARGE_ENDED != 0


def ends_known(step: Step, i: int) -> bool:
    return charging_known(step)


def restart_allowed(step: Step) -> bool:
    """The bank may take charge again: low, or a full charge asked for, and no cell in a taper."""
    bank, c = step.boat_in, step.config.limits
    low = bank.soc_pct < c.charge_restart_pct or full_asked(step)
    sound = bank.cell_max_v <= c.cell_taper_start_v and bank.cell_hot_c <= c.hot_start_c
    return low and sound and bank.cell_cold_c > c.cold_zero_c + COLD_RESTART_C


def charging_ends(step: Step, i: int) -> bool:
    """Below the end it is latched; once latched it holds until a restart is allowed and the limit is well above."""
    view, c = step.now.view, step.config.limits
    if view.charge_limit_a < c.charge_end_a:
        return ended(view.latches)
    if not ended(step.was.boat.latches):
        return True
    well = at_most(c.charge_end_a * RESTART_FACTOR, view.charge_limit_a)
    return ended(view.latches) or (restart_allowed(step) and well)


def charging_restarts(step: Step, i: int) -> bool:
    view, c = step.now.view, step.config.limits
    if view.charge_limit_a < c.charge_end_a:
        return True
    well = view.charge_limit_a >= c.charge_end_a * RESTART_FACTOR
    if not ended(step.was.boat.latches) or (restart_allowed(step) and well):
        return not ended(view.latches)
    return True


def end_stands(step: Step, i: int) -> bool:
    return ended(step.now.view.latches) == ended(step.was.boat.latches)


def wanted_only(step: Step, i: int) -> bool:
    view = step.now.view
    if view.charge_wanted == 0:
        return True
    return not ended(view.latches) and view.charge_limit_a >= step.config.limits.charge_end_a


def wanted_given(step: Step, i: int) -> bool:
    view = step.now.view
    if ended(view.latches) or view.charge_limit_a < step.config.limits.charge_end_a:
        return True
    return view.charge_wanted == 1


def reached(step: Step) -> bool:
    """A full charge is complete: the cells' own taper is nearly through, while the monitor permits charging."""
    bank, c = step.boat_in, step.config.limits
    if not full_asked(step) or not may_charge(step) or not has(bank, BOAT.CELL_MAX):
        return False
    return bank.cell_max_v >= c.cell_taper_start_v and c.full_charge_a * by_cell(step) < c.charge_end_a


def full_charge_once(step: Step, i: int) -> bool:
    view = step.now.view
    done, was_done = view.latches & KEPT.FULL_DONE != 0, step.was.boat.latches & KEPT.FULL_DONE != 0
    told = view.full_active == (1 if full_asked(step) else 0) and view.full_reached == (1 if reached(step) else 0)
    return told and done == (reached(step) or (was_done and yes(step.boat_in, BOAT.FULL_CHARGE)))


def bank_latches_kept(step: Step, i: int) -> bool:
    mine = KEPT.CHARGE_ENDED | KEPT.DERATE_ENDED | KEPT.FULL_DONE
    return step.now.memory.boat.latches & mine == step.now.view.latches & mine


# --- the derate


def derate_target_pct(step: Step) -> float:
    """Where the derate is heading by SOC and lost inputs, before the lower limit (%)."""
    bank, c = step.boat_in, step.config.limits
    pct = 100.0
    if has(bank, BOAT.SOC):
        pct = min(pct, band(bank.soc_pct, c.derate_end_pct, c.derate_start_pct, c.derate_floor_pct))
    if not has(bank, BOAT.SOC) or not has(bank, step.boat.limits.react.derate):
        pct = min(pct, c.unknown_soc_pct)
    return pct


def low(latches: int) -> bool:
    return latches & KEPT.DERATE_ENDED != 0


def home(step: Step) -> bool:
    """The get-home override is confirmed on."""
    return yes(step.boat_in, BOAT.GET_HOME)


def derate_aim_pct(step: Step) -> float:
    if low(step.now.view.latches) and not home(step):
        return 0.0
    return derate_target_pct(step)


def given_back(was: float, to: float, whole: float, pct_per_s: float, step: Step) -> float:
    """`was` on its way up to `to`: only where that is well above, or the whole, and slowly."""
    if to < whole and to < was + RISE_BAND * whole:
        return was
    return min(to, was + whole * pct_per_s / 100.0 * ramp_s(step))


def by_cell_pct(step: Step) -> float:
    """The derate by the lowest cell: quick to fall, slow to rise, in READY; at once before (%)."""
    was_pct, c, to_pct = step.was.boat.bank.cell_pct, step.config.limits, 100.0
    if has(step.boat_in, BOAT.CELL_MIN):
        to_pct = band(step.boat_in.cell_min_v, c.cell_derate_end_v, c.cell_derate_start_v, c.derate_floor_pct)
    if step.was.boat.mode != READY:
        return to_pct
    if to_pct < 100.0 and not may_discharge(step):
        return c.derate_floor_pct
    if to_pct < was_pct:
        return max(to_pct, was_pct - c.cell_derate_fall_pct_per_s * ramp_s(step))
    return given_back(was_pct, to_pct, 100.0, c.bank_rise_pct_per_s, step)


def cell_derate_kept(step: Step, i: int) -> bool:
    """Where rounding decides whether it is given back, it may be or not."""
    was_pct, now_pct = step.was.boat.bank.cell_pct, step.now.view.cell_pct
    return near(now_pct, by_cell_pct(step)) or (on_the_edge(step) and near(now_pct, was_pct))


def on_the_edge(step: Step) -> bool:
    was_pct, c = step.was.boat.bank.cell_pct, step.config.limits
    to_pct = band(step.boat_in.cell_min_v, c.cell_derate_end_v, c.cell_derate_start_v, c.derate_floor_pct)
    return has(step.boat_in, BOAT.CELL_MIN) and abs(to_pct - was_pct - RISE_BAND * 100.0) <= 1e-6


def given_a(step: Step) -> float:
    """What the bank may give: the monitor's limit and the rating, at once down, slowly up (A)."""
    if not may_discharge(step):
        return 0.0
    most_a, was_a = step.config.bank.max_discharge_a, step.was.boat.bank.given_a
    limit_a = min(step.boat_in.discharge_limit_a, most_a)
    if step.was.boat.mode != READY or limit_a < was_a:
        return limit_a
    return given_back(was_a, limit_a, most_a, step.config.limits.bank_rise_pct_per_s, step)


def given_kept(step: Step, i: int) -> bool:
    return near(step.now.view.given_a, given_a(step))


def led_pct(step: Step) -> float:
    """In READY the derate by SOC and lost inputs moves no faster than its rate; before, a low bank begins low."""
    was, c = step.was.boat, step.config.limits
    if was.mode != READY:
        return derate_aim_pct(step)
    return moved(was.bank.derate_pct, derate_aim_pct(step), c.derate_rate_pct_per_s * ramp_s(step))


def led_kept(step: Step, i: int) -> bool:
    return near(step.now.view.led_pct, led_pct(step))


def derate_in_force_pct(step: Step) -> float:
    return min(step.now.view.led_pct, step.now.view.cell_pct)


def derate_within(step: Step, i: int) -> bool:
    return at_most(step.now.view.derate_pct, derate_in_force_pct(step))


def derate_not_less(step: Step, i: int) -> bool:
    return at_most(derate_in_force_pct(step), step.now.view.derate_pct) and step.now.view.derate_pct >= 0.0


def reads_low(step: Step) -> bool:
    """SOC or lowest cell, of what is known."""
    bank, c = step.boat_in, step.config.limits
    return cell_reads_low(step) or (has(bank, BOAT.SOC) and bank.soc_pct <= c.derate_end_pct)


def cell_reads_low(step: Step) -> bool:
    return has(step.boat_in, BOAT.CELL_MIN) and step.boat_in.cell_min_v <= step.config.limits.cell_derate_end_v


def low_for_s(step: Step) -> float:
    """How long SOC or cell have read low; outside READY at once for long enough; it stands while the SOC is unknown
    and no cell reads low."""
    was_s, dip_s = step.was.boat.bank.low_s, step.config.limits.derate_dip_s
    if not has(step.boat_in, BOAT.SOC) and not cell_reads_low(step):
        return was_s
    if reads_low(step) and step.was.boat.mode != READY:
        return dip_s
    return min(dip_s, counted(was_s, reads_low(step), length_s(step)))


def low_counted(step: Step, i: int) -> bool:
    return near(step.now.view.low_s, low_for_s(step))


def at_lower_limit(step: Step) -> bool:
    some = has(step.boat_in, BOAT.SOC) or cell_reads_low(step)
    return some and step.now.view.low_s >= step.config.limits.derate_dip_s


def above_return(step: Step) -> bool:
    bank, c = step.boat_in, step.config.limits
    by_soc = has(bank, BOAT.SOC) and bank.soc_pct > c.derate_return_pct
    return by_soc and has(bank, BOAT.CELL_MIN) and bank.cell_min_v > c.cell_derate_start_v


def thrust_ends_low(step: Step, i: int) -> bool:
    return low(step.now.view.latches)


def at_the_limit(step: Step, i: int) -> bool:
    return at_lower_limit(step)


def low_stays(step: Step, i: int) -> bool:
    return low(step.was.boat.latches) and not above_return(step)


def low_ends(step: Step, i: int) -> bool:
    return not at_lower_limit(step) and (above_return(step) or not low(step.was.boat.latches))


def not_low(step: Step, i: int) -> bool:
    return not low(step.now.view.latches)


def is_low(step: Step, i: int) -> bool:
    return low(step.now.view.latches) and not home(step)


def low_closes(step: Step, i: int) -> bool:
    """None begins at the lower limit; what runs is led down and ends when the derate is zero."""
    view = step.now.view
    return view.derate_start == 0 and (view.derate_open == 0 or view.derate_pct > 0.0)


def open_otherwise(step: Step, i: int) -> bool:
    view = step.now.view
    if low(view.latches) and not home(step):
        return view.derate_open == 1 or view.derate_pct <= 0.0
    dips = view.low_s >= 0.0 and not home(step)
    return (view.derate_start == 1 or dips) and view.derate_open == 1


def is_dip(step: Step, i: int) -> bool:
    return step.now.view.low_s >= 0.0 and not home(step)


def none_begins(step: Step, i: int) -> bool:
    return step.now.view.derate_start == 0


def _of_boat(requirement: str, name: str, text: str, given, then, *rests: str) -> StepClaim:  # type: ignore[no-untyped-def]
    """A claim on the boat that no evaluator judges tick by tick."""
    return StepClaim(requirement, name, text, given, then, per_shaft=False, rests_on=rests, parity=False)


BANK_CLAIMS: tuple[StepClaim, ...] = (
    _of_boat("SR-15", "limit within full", "the charge limit is never below zero nor above the full limit",
             always, limit_full),
    _of_boat("SR-15", "limit within SOC taper", "the charge limit stays within its taper on SOC, which only a requested "
             "full charge lifts, to 100 %", limit_known, limit_by_soc),
    _of_boat("SR-15", "limit within cell taper", "the charge limit stays within its taper on the highest cell, full "
             "charge or not", limit_known, limit_by_cell),
    _of_boat("SR-16", "limit within heat taper", "the charge limit stays within its taper on the hottest cell",
             limit_known, limit_by_heat),
    _of_boat("SR-15", "limit when cool", "up to the cold band's end the charge limit stays within the cold limit",
             limit_known, limit_by_cold),
    _of_boat("SR-16", "no charging when cold or hot", "with the coldest cell at or below the cold limit, the hottest at "
             "or above the hot limit, or either unknown, there is neither a charge limit nor a budget",
             cold_or_hot, no_charging),
    _of_boat("SR-15", "limit within monitor's", "the charge limit stays within the monitor's", limit_known,
             limit_by_monitor),
    _of_boat("SR-15", "unknown is no limit", "with anything unknown that charging needs, the charge limit is zero",
             limit_unknown, limit_zero),
    _of_boat("SR-40", "no charging without SOC", "with the SOC unknown there is neither a charge limit nor a budget",
             soc_unknown, no_charging),
    _of_boat("SR-40", "derated without SOC", "with the SOC unknown the derate is at most the share of the boat file, or "
             "on its way there at its rate", soc_unknown, soc_derated),
    _of_boat("SR-49", "limit is given", "nor is the charge limit less than tapers, temperatures and monitor allow",
             limit_known, limit_given),
    _of_boat("SR-13", "no permit, no budget", "unless permit, contactor, no opening and a limit above zero are proven, "
             "no source has a budget, whatever the hotel load", charge_barred, no_source_budget),
    _of_boat("SR-49", "charge permit is taken", "proven, the charge permit is one", charge_permitted, permit_taken),
    _of_boat("SR-14", "no permit, no thrust budget", "unless permit, contactor, no opening and a limit above zero are "
             "proven, no motor has a budget", discharge_barred, no_motor_budget),
    _of_boat("SR-14", "thrust budget within", "the motors' budget stays within the monitor's limit and the bank's "
             "rating, less the hotel load", discharge_permitted, motor_budget_within),
    _of_boat("SR-49", "thrust budget is given", "nor is the motors' budget less; and it counts as permitted, even "
             "where the hotel load takes all", discharge_permitted, motor_budget_given),
    _of_boat("SR-15", "budget is limit plus hotel", "the sources' budget stays within charge limit plus hotel load, and "
             "is zero without a limit", always, source_budget_within),
    _of_boat("SR-49", "budget is given", "nor is the sources' budget less while the monitor permits", charge_permitted,
             source_budget_given),
    _of_boat("SR-15", "unknown is no hotel load", "with a current unknown no hotel load counts for charging",
             hotel_unknown, no_hotel),
    _of_boat("SR-15", "hotel load counts at most", "the hotel load that charging counts on rises slowly towards what "
             "is seen, falls quickly, and does not rise while the drives' current moves", hotel_known, hotel_within),
    _of_boat("SR-49", "hotel load is followed", "nor is less of the hotel load believed", hotel_known, hotel_followed),
    _of_boat("SR-14", "load counts at least", "the load that thrust makes room for rises quickly towards what is seen "
             "and falls slowly", hotel_known, load_counted),
    _of_boat("SR-14", "load stands while unknown", "with a current unknown the last load stands", hotel_unknown,
             load_stands),
    _of_boat("SR-49", "load counts no more", "nor is more of the load believed", hotel_known, load_not_more),
    _of_boat("SR-15", "drives' current is smoothed", "the drives' mean current follows in its time", always,
             drives_smoothed),
    _of_boat("SR-15", "bank is remembered", "hotel load, load, mean current, derate and what is left of braking are remembered as they were "
             "decided", always, view_kept),
    _of_boat("SR-15", "voltage is believed or lowest", "the rules reckon with the bank's voltage where it is believed, "
             "with the lowest working voltage otherwise", always, volts_believed),
    _of_boat("SR-17", "charging ends and stays ended", "a known limit below the end of charging is latched; the latch "
             "holds until SOC is below the restart or a full charge is asked for, no cell stands in a taper, and the "
             "limit is well above the end", ends_known, charging_ends),
    _of_boat("SR-49", "charging restarts", "and then it opens; nor is it set without a cause", ends_known,
             charging_restarts),
    _of_boat("SR-17", "unknown neither ends nor restarts", "a limit that is merely unknown neither sets nor clears the "
             "end of charging", limit_unknown, end_stands),
    _of_boat("SR-17", "ended is not wanted", "charging is wanted only with a limit at or above the end and no end "
             "latched", always, wanted_only),
    _of_boat("SR-49", "charging is wanted", "and then it is wanted", always, wanted_given),
    _of_boat("SR-15", "full charge once", "a full charge is active while asked for and not completed, complete when "
             "the cells' own taper is nearly through, and then done until asked for again", always, full_charge_once),
    _of_boat("SR-17", "bank's latches are remembered", "the bank's latches are remembered as they were decided", always,
             bank_latches_kept),
    _of_boat("SR-18", "led down by SOC", "the derate by SOC and lost inputs is where they lead it, zero at the lower limit, no "
             "faster than its rate in READY", always, led_kept),
    _of_boat("SR-18", "led down by the lowest cell", "that by the lowest cell falls quickly in READY, at once without the "
             "discharge permit, and is given back slowly, where the cell would give well more", always, cell_derate_kept),
    _of_boat("SR-14", "what the bank may give", "the monitor's limit is in force at once where it falls, and is given back "
             "slowly, where it gives well more", always, given_kept),
    _of_boat("SR-18", "derate within its band", "the derate in force is at most where SOC, lowest cell and lost inputs "
             "lead it, zero at the lower limit, no faster than its rate in READY", always, derate_within),
    _of_boat("SR-49", "derate is no deeper", "nor is it less, nor below zero", always, derate_not_less),
    _of_boat("SR-18", "lower limit ends thrust", "at the lower limit of SOC, for its time, or of the lowest cell the end is latched",
             at_the_limit, thrust_ends_low),
    _of_boat("SR-19", "low stays low", "the end holds until SOC is above the return and the lowest cell above its band",
             low_stays, thrust_ends_low),
    _of_boat("SR-49", "low ends", "above both it opens; nor is it set without a cause", low_ends, not_low),
    _of_boat("SR-19", "low closes thrust", "at the lower limit no thrust begins, and what runs ends when the derate is "
             "zero, but for the get-home override", is_low, low_closes),
    _of_boat("SR-19", "low is counted", "the time runs for which the SOC reads at or below the lower limit; outside "
             "READY it is over at once", always, low_counted),
    _of_boat("SR-19", "none begins in a dip", "while the SOC reads so low no thrust begins, but for the get-home "
             "override", is_dip, none_begins),
    _of_boat("SR-49", "otherwise thrust is open", "otherwise thrust may begin and go on", always, open_otherwise),
)  # fmt: skip
