"""Claims on other sources (shore charger, alternators, sun), and on thrust that the hotel load leaves too little for."""

from sim.prove.claims_bank import always, settled
from sim.prove.claims_given import motor_asked_a, wanted_nm
from sim.prove.claims_torque import propels
from sim.prove.step import Step, StepClaim
from sim.prove.terms import (
    KEPT,
    READY,
    TRIPPED,
    at_most,
    counted,
    currents_known,
    drives_a,
    may_charge,
    may_discharge,
    near,
    ramp_s,
    speed_known,
)
from supervisor.modes import BoatCondition, ShaftCondition
from supervisor.signals import Alarm

OVER, SHORT = Alarm.SOURCES_OVER.value, Alarm.THRUST_SHORT.value
FAULT, RUNTIME = BoatCondition.MONITOR_FAULT.value, BoatCondition.RUNTIME_FAULT.value
OWN_SOUND = BoatCondition.OWN_BOAT.value

THRUST_WELL = 1.1


def others_a(step: Step) -> float:
    """What the other sources feed, less the hotel load (A)."""
    return step.boat_in.current_a - drives_a(step)


def allowed_a(step: Step) -> float:
    if may_charge(step):
        return step.now.view.charge_limit_a
    return 0.0


def others_seen(step: Step, i: int) -> bool:
    view, c = step.now.view, step.config.limits
    if not currents_known(step):
        return view.others == -1 and view.others_a == 0.0
    if not settled(step):
        return view.others == -1 and near(view.others_a, others_a(step))
    if view.others == 1:
        return at_most(allowed_a(step) + c.source_over_a, others_a(step))
    return view.others == 0 and at_most(others_a(step), allowed_a(step) + c.source_over_a)


def over_counted(step: Step, i: int) -> bool:
    """How long they have fed too much: reset lets them try again; what cannot be said neither counts nor clears."""
    was_s, now_s = step.was.boat.sources.over_s, step.now.memory.boat.sources.over_s
    if step.now.orders.reset_edge == 1:
        return now_s == -1.0
    if step.now.view.others == -1:
        return now_s == was_s
    over_s = counted(was_s, step.now.view.others == 1, ramp_s(step))
    return near(now_s, min(step.config.limits.source_over_s, over_s))


def is_over(step: Step, i: int) -> bool:
    return step.now.memory.boat.sources.over_s >= step.config.limits.source_over_s


def is_stopped_for_it(step: Step, i: int) -> bool:
    now = step.now.memory.boat.sources
    return now.stopped_s == 0.0 and now.stop == 1


def gave_most(step: Step, i: int) -> bool:
    """What they gave is remembered: at the stop, and what they gave more while they did not obey."""
    was, now, view = step.was.boat.sources, step.now.memory.boat.sources, step.now.view
    fresh = was.stopped_s < 0.0 or step.now.orders.reset_edge == 1
    if view.others == 1 and is_over(step, i) and (fresh or view.others_a > was.gave_a):
        return now.gave_a == view.others_a
    return now.gave_a == was.gave_a


def stays(step: Step, i: int) -> bool:
    """Stopped for it in the tick before, obeyed, and no reset."""
    return step.was.boat.sources.stopped_s >= 0.0 and step.now.orders.reset_edge == 0 and not is_over(step, i)


def stopped_for_s(step: Step) -> float:
    return min(step.config.limits.source_stop_s, step.was.boat.sources.stopped_s + ramp_s(step))


def stays_stopped(step: Step, i: int) -> bool:
    now, c = step.now.memory.boat.sources, step.config.limits
    ends = stopped_for_s(step) >= c.source_stop_s and step.now.view.charge_limit_a > now.gave_a
    if ends:
        return now.stopped_s == -1.0
    return near(now.stopped_s, stopped_for_s(step)) and now.stop == 1


def never_over(step: Step, i: int) -> bool:
    return not is_over(step, i) and (step.was.boat.sources.stopped_s < 0.0 or step.now.orders.reset_edge == 1)


def not_stopped_for_it(step: Step, i: int) -> bool:
    return step.now.memory.boat.sources.stopped_s == -1.0


def faulted(step: Step, i: int) -> bool:
    """The boat is tripped by the monitor, the receive path or an own interlock, now or since the trip."""
    now = step.now.memory.boat.sources.faulted == 1
    if step.now.memory.boat.mode != TRIPPED:
        return not now
    cause = step.now.boat_word & (FAULT | RUNTIME) != 0 or step.now.boat_word & OWN_SOUND == 0
    return now == (cause or step.was.boat.sources.faulted == 1)


def takes(step: Step) -> bool:
    """The bank accepts charging current from other sources."""
    view, now = step.now.view, step.now.memory.boat.sources
    return view.charge_permit == 1 and view.charge_wanted == 1 and now.faulted == 0 and now.stopped_s < 0.0


def takes_none(step: Step, i: int) -> bool:
    return not takes(step)


def takes_some(step: Step, i: int) -> bool:
    return takes(step)


def stop_is_asked(step: Step, i: int) -> bool:
    """At once, and the time that it stays so begins where it was not set."""
    now = step.now.memory.boat.sources
    if step.was.boat.sources.stop == 0:
        return now.stop == 1 and now.held_s == 0.0
    return now.stop == 1 and near(now.held_s, set_for_s(step))


def set_for_s(step: Step) -> float:
    return min(step.config.limits.source_return_s, step.was.boat.sources.held_s + ramp_s(step))


def lets_go(step: Step, i: int) -> bool:
    """The output lets go once it has been set for its time."""
    was, now = step.was.boat.sources, step.now.memory.boat.sources
    if was.stop == 0 or set_for_s(step) >= step.config.limits.source_return_s:
        return now.stop == 0 and near(now.held_s, set_for_s(step))
    return now.stop == 1 and near(now.held_s, set_for_s(step))


def output_sent(step: Step, i: int) -> bool:
    return step.now.boat_command.stop_sources == step.now.memory.boat.sources.stop


def over_told(step: Step, i: int) -> bool:
    stands = step.now.memory.boat.sources.stopped_s >= 0.0
    return (step.now.boat_command.alarms & OVER != 0) == stands


# --- thrust beside the hotel load


def thrust_wanted(step: Step) -> bool:
    some = False
    for k in range(len(step.shaft_in)):
        some = some or (propels(step, k) and speed_known(step, k) and wanted_nm(step, k) != 0.0)
    return some


def asked_together_a(step: Step) -> float:
    total_a = 0.0
    for k in range(len(step.shaft_in)):
        total_a = total_a + motor_asked_a(step, k)
    return total_a


def well_a(step: Step) -> float:
    """What the budget must reach: what is asked, or well above it where thrust was cut a tick ago."""
    if step.was.boat.latches & KEPT.THRUST_SHORT != 0:
        return asked_together_a(step) * THRUST_WELL
    return asked_together_a(step)


def held(step: Step) -> bool:
    return step.now.memory.boat.latches & KEPT.THRUST_SHORT != 0


def cut(step: Step, i: int) -> bool:
    """Thrust is wanted and the permitted budget falls short of it."""
    budget_a = step.now.view.motor_budget_a
    return thrust_wanted(step) and may_discharge(step) and (budget_a <= 0.0 or budget_a < well_a(step) * (1.0 - 1e-9))


def uncut(step: Step, i: int) -> bool:
    enough = step.now.view.motor_budget_a > 0.0 and step.now.view.motor_budget_a > well_a(step) * (1.0 + 1e-9)
    return enough or not thrust_wanted(step) or not may_discharge(step)


def is_held(step: Step, i: int) -> bool:
    return held(step)


def is_not_held(step: Step, i: int) -> bool:
    return not held(step)


def short_told(step: Step, i: int) -> bool:
    stands = step.now.memory.boat.mode == READY and held(step)
    return (step.now.boat_command.alarms & SHORT != 0) == stands


def nothing_ends(step: Step, i: int) -> bool:
    return step.now.view.discharge_permit == 1


def load_takes_all(step: Step, i: int) -> bool:
    return may_discharge(step) and step.now.view.motor_budget_a <= 0.0


# --- charging at rest that has ended


DONE = Alarm.CHARGE_DONE.value
ASKS = ShaftCondition.BOAT_READY.value | ShaftCondition.AT_REST_ORDER.value | ShaftCondition.ENGINE_RUNNING.value
WANTS = ShaftCondition.CHARGE_WANTED.value


def done_told(step: Step, i: int) -> bool:
    some = False
    for word in step.now.shaft_words:
        some = some or (word & ASKS == ASKS and word & WANTS == 0)
    return (step.now.boat_command.alarms & DONE != 0) == some


HARVEST_DONE = Alarm.HARVEST_DONE.value
SAILS = (
    ShaftCondition.BOAT_READY.value | ShaftCondition.HARVEST_ORDER.value | ShaftCondition.LOCK_RELEASED.value
    | ShaftCondition.ENGINE_STOPPED.value
)  # fmt: skip
NOT_SO = WANTS | ShaftCondition.THRUST_ORDER.value | ShaftCondition.SHAFT_STILL.value


def harvest_done_told(step: Step, i: int) -> bool:
    some = False
    for word in step.now.shaft_words:
        some = some or (word & SAILS == SAILS and word & NOT_SO == 0)
    full = step.now.memory.boat.latches & KEPT.CHARGE_ENDED != 0
    return (step.now.boat_command.alarms & HARVEST_DONE != 0) == (some and full)


def _boat(requirement: str, name: str, text: str, given, then) -> StepClaim:  # type: ignore[no-untyped-def]
    return StepClaim(requirement, name, text, given, then, per_shaft=False, parity=False)


SOURCE_CLAIMS: tuple[StepClaim, ...] = (
    _boat("SR-56", "other sources are seen", "what other sources feed is the bank's current less the drives'; it is too "
          "much beyond the limit in force by the boat file's margin, and not known while the drives' current moves or a current is "
          "not known", always, others_seen),
    _boat("SR-56", "too much is counted", "the time runs for which they feed too much; RESET starts it again", always,
          over_counted),
    _boat("SR-56", "too much is stopped", "for its time too much, the stop output is set", is_over, is_stopped_for_it),
    _boat("SR-56", "what they gave is remembered", "and what they gave is remembered", always, gave_most),
    _boat("SR-56", "they stay stopped", "until the shortest stop is over and the limit exceeds what they gave", stays,
          stays_stopped),
    _boat("SR-49", "stopped only for that", "and no stop of this kind stands otherwise", never_over, not_stopped_for_it),
    _boat("SR-56", "too much is told", "the alarm is active exactly while they are stopped for it", always, over_told),
    _boat("SR-13", "trips that stop sources", "a trip by monitor, receive path or own interlock is remembered until the "
          "boat is no longer tripped, and no other trip is", always, faulted),
    _boat("SR-13", "sources are stopped", "other sources are asked to stop unless the bank is permitted and wants charge, no such trip stands "
          "and they did not feed too much", takes_none, stop_is_asked),
    _boat("SR-49", "sources return", "otherwise the output lets go, once it has been set for its time", takes_some, lets_go),
    _boat("SR-13", "stop output is sent", "the output that is sent is the one decided", always, output_sent),
    _boat("SR-57", "cut thrust is remembered", "thrust that asks for more than the bank may give beside the hotel load is "
          "remembered as cut, until the budget exceeds it well", cut, is_held),
    _boat("SR-49", "cut only then", "and none otherwise", uncut, is_not_held),
    _boat("SR-57", "cut thrust is told", "in READY the alarm is active exactly while thrust is cut", always, short_told),
    _boat("SR-57", "a load ends no thrust", "a hotel load that takes all leaves the discharge permit as it is",
          load_takes_all, nothing_ends),
    StepClaim(
        "SR-17", "done is told", "in READY the notice is active exactly while charging at rest is asked for, its engine runs "
        "and the bank wants no more", always, done_told, per_shaft=False, parity=False,
        rests_on=("shaft.BOAT_READY", "shaft.AT_REST_ORDER", "shaft.ENGINE_RUNNING", "shaft.CHARGE_WANTED"),
    ),
    StepClaim(
        "SR-17", "a harvest that is over is told", "the notice is active exactly while harvest is selected, the bank is full, "
        "no thrust is asked, the engine stopped, the lock released, and the shaft turns", always, harvest_done_told,
        per_shaft=False, parity=False,
        rests_on=("shaft.BOAT_READY", "shaft.HARVEST_ORDER", "shaft.LOCK_RELEASED", "shaft.ENGINE_STOPPED",
                  "shaft.CHARGE_WANTED", "shaft.THRUST_ORDER", "shaft.SHAFT_STILL"),
    ),
)  # fmt: skip
