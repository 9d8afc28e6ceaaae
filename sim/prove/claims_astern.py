"""Claims on braking: its budget, the short allowance for doubtful cells, and what the crew is told of electric astern."""

from sim.prove.claims_bank import always, by_cell, hotel_known, hotel_within
from sim.prove.claims_given import ceiling_a
from sim.prove.claims_torque import aim_counts, charges, is_source
from sim.prove.step import Step, StepClaim
from sim.prove.terms import (
    HELD,
    ISOLATED,
    KEPT,
    PROPEL,
    RAD_S_PER_RPM,
    READY,
    UNLOAD,
    at_most,
    clutch_closed,
    engine_clear,
    in_service,
    length_s,
    lock_released,
    may_charge,
    near,
    ramp_s,
    rpm,
    speed_known,
)
from sim.requirements.facts import BOAT, has
from supervisor.signals import Alarm

RISE_A_PER_S, REGAINED, FULL_PCT = 5.0, 0.1, 99.0
"""While a shaft brakes its budget comes back no faster than this; the short allowance is regained at this part of the
pace at which it was spent; from this SOC on the bank counts as full for braking (%)."""

HALF, SLOWED, WELL = 0.5, 0.7, 1.25
"""Electric astern is short below half of rated torque, at this part of the present speed; no longer with this much more
than that needs."""


# --- the budget


def braked(step: Step) -> bool:
    """Some shaft was ordered to brake a tick ago, as thrust."""
    some = False
    for was in step.was.shafts:
        unloaded = was.mode == UNLOAD and was.latches & HELD.UNLOADS_SOURCE != 0
        some = some or (was.effort.charge_a > 0.0 and (was.mode == PROPEL or was.mode == UNLOAD) and not unloaded)
    return some


def doubtful(step: Step) -> bool:
    """Cells too cold or too hot to be charged, or one of the three readings unknown."""
    bank, c = step.boat_in, step.config.limits
    if not has(bank, BOAT.CELL_MAX | BOAT.CELL_COLD | BOAT.CELL_HOT):
        return True
    return bank.cell_cold_c <= c.cold_zero_c or bank.cell_hot_c >= c.hot_zero_c


def allowed_a(step: Step) -> float:
    """What monitor, ratings and cells allow for braking, what is spent of the short allowance counted (A)."""
    bank, c, own = step.boat_in, step.config.limits, step.config.bank
    most_a = min(own.max_charge_a, bank.charge_limit_a)
    if has(bank, BOAT.CELL_MAX):
        most_a = min(most_a, own.max_charge_a * by_cell(step))
    if doubtful(step):
        if step.was.boat.bank.brake_spent_s >= c.brake_cold_s:
            return 0.0
        return min(most_a, c.brake_cold_c_rate * own.capacity_ah)
    if bank.cell_cold_c <= c.cold_full_c:
        return min(most_a, c.cold_c_rate * own.capacity_ah)
    return most_a


def brake_budget_a(step: Step) -> float:
    """The budget of braking: nothing without permit, less what other sources feed, coming back slowly (A)."""
    if not may_charge(step):
        return 0.0
    left_a = allowed_a(step) + min(0.0, step.now.view.hotel_a)
    if braked(step):
        left_a = min(left_a, step.was.boat.bank.brake_a + RISE_A_PER_S * ramp_s(step))
    return max(0.0, left_a)


def budget_within(step: Step, i: int) -> bool:
    return at_most(step.now.view.brake_budget_a, brake_budget_a(step))


def budget_given(step: Step, i: int) -> bool:
    return at_most(brake_budget_a(step), step.now.view.brake_budget_a)


def spent_s(step: Step) -> float:
    """What is spent of the short allowance: whole, it counts double, and is regained whole."""
    was_s, whole_s, dt_s = step.was.boat.bank.brake_spent_s, step.config.limits.brake_cold_s, length_s(step)
    if was_s >= whole_s:
        if was_s - REGAINED * dt_s < whole_s:
            return 0.0
        return was_s - REGAINED * dt_s
    now_s = was_s - REGAINED * dt_s
    if braked(step) and doubtful(step) and has(step.boat_in, BOAT.CHARGE_LIMIT) and step.boat_in.charge_limit_a > 0.0:
        now_s = was_s + dt_s
    if now_s >= whole_s:
        return 2.0 * whole_s
    return max(0.0, now_s)


def spent_counts(step: Step, i: int) -> bool:
    return near(step.now.view.brake_spent_s, spent_s(step))


def brakes_now(step: Step, i: int) -> bool:
    """This shaft's thrust opposes its rotation."""
    return charges(step, i) and not is_source(step, i)


def some_brake(step: Step, i: int) -> bool:
    some = False
    for k in range(len(step.shaft_in)):
        some = some or brakes_now(step, k)
    return some


def all_within(step: Step, i: int) -> bool:
    """Everything that is aimed into the bank stays within the budget of braking."""
    total_a = 0.0
    for state in step.now.memory.shafts:
        total_a = total_a + state.effort.charge_a
    return at_most(total_a, step.now.view.brake_budget_a)


# --- what is told


def needed_of(step: Step, i: int) -> float:
    """What half of rated torque against this shaft's rotation would feed, slowed (A)."""
    to_be_had = in_service(step, i) and step.now.memory.shafts[i].mode != ISOLATED
    to_be_had = to_be_had and clutch_closed(step, i) and lock_released(step, i)
    to_be_had = to_be_had and engine_clear(step, i)
    if not to_be_had or not speed_known(step, i):
        return 0.0
    slowed_rpm = SLOWED * rpm(step, i)
    if slowed_rpm <= step.config.shaft[i].rules.still_rpm:
        return 0.0
    drive = step.config.shaft[i].drive
    fed_w = HALF * drive.rated_torque_nm * slowed_rpm * RAD_S_PER_RPM * drive.efficiency
    return min(fed_w / step.now.view.voltage_v, ceiling_a(step, i))


def needed_a(step: Step) -> float:
    total_a = 0.0
    for k in range(len(step.shaft_in)):
        total_a = total_a + needed_of(step, k)
    return total_a


def short(step: Step) -> bool:
    return step.now.memory.boat.latches & KEPT.ASTERN_SHORT != 0


def nothing_needed(step: Step, i: int) -> bool:
    return needed_a(step) <= 0.0


def not_short(step: Step, i: int) -> bool:
    return not short(step)


def some_needed(step: Step, i: int) -> bool:
    return needed_a(step) > 0.0


def short_known(step: Step, i: int) -> bool:
    """Full, or the budget below what is needed, is short."""
    bank = step.boat_in
    full = has(bank, BOAT.SOC) and bank.soc_pct >= FULL_PCT
    budget_a = step.now.view.brake_budget_a
    return short(step) or not (full or not at_most(needed_a(step), budget_a))


def short_only_then(step: Step, i: int) -> bool:
    """Nor is it called short where the budget is well above, or was never short."""
    bank = step.boat_in
    full = has(bank, BOAT.SOC) and bank.soc_pct >= FULL_PCT
    was = step.was.boat.latches & KEPT.ASTERN_SHORT != 0
    budget_a, needs_a = step.now.view.brake_budget_a, needed_a(step)
    if was:
        return not short(step) or full or at_most(budget_a, WELL * needs_a)
    return not short(step) or full or at_most(budget_a, needs_a)


def astern_alarm(step: Step, i: int) -> bool:
    told = step.now.boat_command.alarms & Alarm.ASTERN_SHORT.value != 0
    return told == (short(step) and step.now.memory.boat.mode == READY)


def _boat(requirement: str, name: str, text: str, then, given=always) -> StepClaim:  # type: ignore[no-untyped-def]
    return StepClaim(requirement, name, text, given, then, per_shaft=False, parity=False)


ASTERN_CLAIMS: tuple[StepClaim, ...] = (
    _boat("SR-51", "other sources are followed", "what other sources feed is believed quickly, and no less of it than is "
          "seen", hotel_within, hotel_known),
    _boat("SR-51", "braking budget within", "the budget of braking stays within permit, monitor, rating, highest cell and "
          "temperatures, less what other sources feed, and comes back slowly while a shaft brakes", budget_within),
    _boat("SR-52", "braking budget is given", "nor is it less: no SOC, no unknown SOC and no end of charging takes of it",
          budget_given),
    _boat("SR-51", "short allowance is counted", "the time braked into doubtful cells is counted, ends the allowance when "
          "it is spent, and is regained whole", spent_counts),
    _boat("SR-51", "all within while braking", "while a shaft brakes, all that is aimed into the bank stays within the "
          "budget of braking", all_within, some_brake),
    StepClaim("SR-51", "braking keeps to its aim", "what thrust against rotation feeds at best efficiency stays within "
              "the current aimed at", brakes_now, aim_counts, parity=False),
    _boat("SR-52", "short is known", "a budget below what half of rated torque needs, or a full bank, is known as astern "
          "short", short_known, some_needed),
    _boat("SR-49", "short only then", "and nothing else is", short_only_then, some_needed),
    _boat("SR-49", "not short at rest", "a shaft that does not turn, or that no electric thrust is to be had from, "
          "needs nothing", not_short, nothing_needed),
    _boat("SR-52", "astern alarm", "in READY astern short is told, exactly then", astern_alarm),
)  # fmt: skip
