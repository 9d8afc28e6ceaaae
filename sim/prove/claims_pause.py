"""Claims on pauses of thrust for a contact that bounces, and on the boat being under way."""

from sim.prove.claims_bank import always
from sim.prove.step import Step, StepClaim
from sim.prove.terms import (
    HARVEST,
    HELD,
    KEPT,
    LONGEST_S,
    PROPEL,
    READY,
    REST,
    UNLOAD,
    clutch_closed,
    counted,
    engine_clear,
    in_service,
    length_s,
    lever_neutral,
    lock_released,
    near,
    ramp_s,
    shaft_still,
)
from sim.requirements.facts import BOAT, no
from supervisor.modes import ShaftCondition
from supervisor.signals import Alarm

SIDE = ShaftCondition
PAUSED, PAUSE_FAILED = SIDE.PAUSED.value, SIDE.PAUSE_FAILED.value
BESIDES = (
    SIDE.BOAT_READY.value | SIDE.IN_SERVICE.value | SIDE.LINK_CHARGED.value | SIDE.REARMED.value | SIDE.NO_SHORE.value
    | SIDE.NO_DIVER.value | SIDE.DISCHARGE_PERMIT.value | SIDE.DERATE_OPEN.value | SIDE.OWN_THRUST_START.value
    | SIDE.OWN_THRUST_STAYS.value | SIDE.OWN_THRUST.value
)  # fmt: skip
BARS = SIDE.OFF_ORDER.value | SIDE.CONTROL_LOST.value | SIDE.HANDSET_LOST.value
"""What thrust needs besides contacts and lever, and what bars it: retyped from docs/safety.md."""

READ = tuple(f"shaft.{bit.name}" for bit in ShaftCondition if (BESIDES | BARS | SIDE.THRUST_ORDER.value) & bit.value)
"""These bits by name: what the forming of a pause rests on."""

MOVED_PCT = 2.0
BOUNCED, SHORE_UNDER_WAY = Alarm.CONTACT_BOUNCED.value, Alarm.SHORE_UNDER_WAY.value


def contact_away(step: Step, i: int) -> bool:
    """Lock not confirmed released, clutch not confirmed closed, or the engine coupled."""
    return not (lock_released(step, i) and clutch_closed(step, i) and engine_clear(step, i))


def lacks_nothing_else(step: Step, i: int) -> bool:
    word = step.now.shaft_words[i]
    return word & BESIDES == BESIDES and word & BARS == 0


def handset_has_it(step: Step) -> bool:
    return step.now.orders.latches & KEPT.HANDSET_IN_CONTROL != 0


def older(was_s: float, step: Step) -> float:
    """A time since something, a tick later."""
    if was_s >= LONGEST_S:
        return was_s
    return was_s + length_s(step)


def lasts_s(step: Step, i: int) -> float:
    """How long the present pause lasts; -1.0 where there is none."""
    was_s = step.was.shafts[i].pause.lasts_s
    if was_s < 0.0:
        return was_s
    return was_s + length_s(step)


def was_paused(step: Step, i: int) -> bool:
    return step.was.shafts[i].latches & HELD.PAUSED != 0


def moved_out(step: Step, i: int) -> bool:
    """The order is further out than when the pause began, on the same side."""
    began_pct, order_pct = step.was.shafts[i].pause.began_pct, step.now.memory.shafts[i].order_pct
    if began_pct > 0.0:
        return order_pct > began_pct + MOVED_PCT
    return began_pct < 0.0 and order_pct < began_pct - MOVED_PCT


def thrusts(step: Step, i: int) -> bool:
    """Thrust ran in the tick before and is asked still, or unloaded, by the lever."""
    was = step.was.shafts[i]
    unloads = was.mode == UNLOAD and was.latches & HELD.UNLOADS_SOURCE == 0
    asked = was.mode == PROPEL and step.now.shaft_words[i] & SIDE.THRUST_ORDER.value != 0
    return (asked or unloads) and not handset_has_it(step)


def third(step: Step, i: int) -> bool:
    """Two pauses have begun within the time already."""
    return older(step.was.shafts[i].pause.before_last_s, step) < step.config.limits.pause_window_s


def fails(step: Step, i: int) -> bool:
    """The pause that lasts is over and did not end well, or one that would begin is the third."""
    if was_paused(step, i):
        late = contact_away(step, i) and lasts_s(step, i) >= step.config.limits.pause_s
        return late or moved_out(step, i) or handset_has_it(step)
    return thrusts(step, i) and contact_away(step, i) and third(step, i)


def pauses(step: Step, i: int) -> bool:
    runs = was_paused(step, i) or thrusts(step, i)
    return runs and contact_away(step, i) and lacks_nothing_else(step, i) and not fails(step, i)


def paused(step: Step, i: int) -> bool:
    return (step.now.shaft_words[i] & PAUSED != 0) == pauses(step, i)


def pause_failed(step: Step, i: int) -> bool:
    return (step.now.shaft_words[i] & PAUSE_FAILED != 0) == fails(step, i)


def begins(step: Step, i: int) -> bool:
    rests = step.now.memory.shafts[i].mode == REST
    return step.now.shaft_words[i] & PAUSED != 0 and rests and not was_paused(step, i)


def goes_on(step: Step, i: int) -> bool:
    rests = step.now.memory.shafts[i].mode == REST
    return step.now.shaft_words[i] & PAUSED != 0 and rests and was_paused(step, i)


def pause_kept(step: Step, i: int) -> bool:
    now = step.now.memory.shafts[i]
    held = now.latches & HELD.PAUSED != 0
    if begins(step, i):
        return held and now.pause.lasts_s == 0.0
    if goes_on(step, i):
        return held and near(now.pause.lasts_s, lasts_s(step, i))
    return not held and now.pause.lasts_s == -1.0


def pauses_counted(step: Step, i: int) -> bool:
    was, now = step.was.shafts[i].pause, step.now.memory.shafts[i].pause
    if begins(step, i):
        return now.last_s == 0.0 and near(now.before_last_s, older(was.last_s, step))
    return near(now.last_s, older(was.last_s, step)) and near(now.before_last_s, older(was.before_last_s, step))


def order_kept(step: Step, i: int) -> bool:
    now = step.now.memory.shafts[i]
    if begins(step, i):
        return now.pause.began_pct == now.order_pct
    return now.pause.began_pct == step.was.shafts[i].pause.began_pct


def bounced(step: Step) -> bool:
    """A shaft's last pause began within the time."""
    some = False
    for state in step.now.memory.shafts:
        some = some or state.pause.last_s < step.config.limits.pause_window_s
    return some


def bounce_told(step: Step, i: int) -> bool:
    return (step.now.boat_command.alarms & BOUNCED != 0) == bounced(step)


# --- under way


def lies(step: Step) -> bool:
    """Each shaft in service stands still with its lever in neutral, and there is one."""
    all_lie, some = True, False
    for i in range(len(step.shaft_in)):
        all_lie = all_lie and (not in_service(step, i) or (shaft_still(step, i) and lever_neutral(step, i)))
        some = some or in_service(step, i)
    return all_lie and some


def lying_counts(step: Step, i: int) -> bool:
    return near(step.now.memory.boat.dwells.lying_s, counted(step.was.boat.dwells.lying_s, lies(step), ramp_s(step)))


def some_moves(step: Step) -> bool:
    some = False
    for state in step.now.memory.shafts:
        some = some or state.mode == PROPEL or state.mode == HARVEST
    return some


def under_way(step: Step, i: int) -> bool:
    now = step.now.memory.boat
    held = now.latches & KEPT.UNDER_WAY != 0
    if now.mode != READY or now.dwells.lying_s >= step.config.limits.shore_still_s:
        return not held
    return held == (some_moves(step) or step.was.boat.latches & KEPT.UNDER_WAY != 0)


def was_under_way(step: Step) -> bool:
    return step.was.boat.latches & KEPT.UNDER_WAY != 0


def shore_told(step: Step, i: int) -> bool:
    now = step.now.memory.boat
    stands = now.mode == READY and now.latches & KEPT.UNDER_WAY != 0 and not no(step.boat_in, BOAT.SHORE_CONNECTED)
    return (step.now.boat_command.alarms & SHORE_UNDER_WAY != 0) == stands


def _shaft(name: str, text: str, then) -> StepClaim:  # type: ignore[no-untyped-def]
    return StepClaim("SR-62", name, text, always, then, parity=False)


def _boat(requirement: str, name: str, text: str, then) -> StepClaim:  # type: ignore[no-untyped-def]
    return StepClaim(requirement, name, text, always, then, per_shaft=False, parity=False)


PAUSE_CLAIMS: tuple[StepClaim, ...] = (
    _shaft("a pause is remembered", "a pause that begins or goes on at REST is remembered, with its time, and no other",
           pause_kept),
    _shaft("pauses are counted", "the times since the last two pauses began run", pauses_counted),
    _shaft("a pause's order is kept", "the order that stood when the last pause began is remembered", order_kept),
    _boat("SR-62", "a bounce is told", "the alarm of a bouncing contact is active exactly while a shaft's last pause began "
          "within the time of three", bounce_told),
    _boat("SR-11", "lying still counts", "the time runs for which each shaft in service is still with its lever in "
          "neutral", lying_counts),
    _boat("SR-11", "under way is remembered", "the boat is under way once a shaft propels or harvests in READY, until it "
          "has lain still for its time", under_way),
    _boat("SR-11", "a shore cable under way is told", "the alarm is active exactly while the boat is under way and the shore "
          "contact is not confirmed off", shore_told),
)  # fmt: skip
