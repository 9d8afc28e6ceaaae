"""Claims on stops that nobody asked for: each is remembered and told until the crew acknowledges it."""

from sim.prove.claims_bank import always
from sim.prove.step import Step, StepClaim
from sim.prove.terms import GENERATE, HARVEST, HELD, PROPEL, READY, UNLOAD
from supervisor.modes import ShaftCondition
from supervisor.signals import Alarm

SIDE = ShaftCondition
THRUST_ORDER, HANDSET_LOST = SIDE.THRUST_ORDER.value, SIDE.HANDSET_LOST.value
UNDER_WAY_ORDER, AT_REST_ORDER = SIDE.UNDER_WAY_ORDER.value, SIDE.AT_REST_ORDER.value
HARVEST_ORDER, OFF_ORDER, PAUSED = SIDE.HARVEST_ORDER.value, SIDE.OFF_ORDER.value, SIDE.PAUSED.value
CHARGE_PERMIT, CHARGE_WANTED = SIDE.CHARGE_PERMIT.value, SIDE.CHARGE_WANTED.value
FIRST, SECOND = Alarm.STOPPED_1.value, Alarm.STOPPED_2.value
THIRD, FOURTH = Alarm.STOPPED_3.value, Alarm.STOPPED_4.value


def to_thrust(step: Step, i: int) -> bool:
    """A tick ago thrust paused, or waited for torque to be zero."""
    was = step.was.shafts[i]
    waits = was.mode == UNLOAD and was.latches & HELD.UNLOAD_TO_PROPEL != 0
    return was.latches & HELD.PAUSED != 0 or waits


def asked(step: Step, i: int) -> bool:
    """What the shaft did a tick ago is still asked of it, and it has not done what it was to do."""
    was, word = step.was.shafts[i].mode, step.now.shaft_words[i]
    charged = word & CHARGE_PERMIT != 0 and word & CHARGE_WANTED == 0
    if was == PROPEL or to_thrust(step, i):
        return word & THRUST_ORDER != 0 or word & HANDSET_LOST != 0
    if was == GENERATE:
        return (word & UNDER_WAY_ORDER != 0 or word & AT_REST_ORDER != 0) and not charged
    return was == HARVEST and word & HARVEST_ORDER != 0 and word & THRUST_ORDER == 0 and not charged


def stops(step: Step, i: int) -> bool:
    """It ends in this tick, in READY and without off, although it is asked for, and does not merely pause."""
    word, mode = step.now.shaft_words[i], step.now.memory.shafts[i].mode
    ends = mode != step.was.shafts[i].mode
    if to_thrust(step, i):
        ends = mode != PROPEL and mode != UNLOAD
    ends = ends and word & PAUSED == 0
    by_itself = step.now.memory.boat.mode == READY and word & OFF_ORDER == 0
    return ends and by_itself and asked(step, i)


def stop_remembered(step: Step, i: int) -> bool:
    now = step.now.memory.shafts[i].latches & HELD.STOPPED != 0
    was = step.was.shafts[i].latches & HELD.STOPPED != 0
    return now == (stops(step, i) or (was and step.now.orders.acknowledge == 0))


def told(step: Step, bit: int, number: int) -> bool:
    """The alarm of the shaft of this number, exactly while its stop is remembered; none where there is no such shaft."""
    says = step.now.boat_command.alarms & bit != 0
    if number >= len(step.shaft_in):
        return not says
    return says == (step.now.memory.shafts[number].latches & HELD.STOPPED != 0)


def stop_told(step: Step, i: int) -> bool:
    return told(step, FIRST, 0) and told(step, SECOND, 1) and told(step, THIRD, 2) and told(step, FOURTH, 3)


STOP_CLAIMS: tuple[StepClaim, ...] = (
    StepClaim("SR-53", "a stop is remembered", "an end of thrust, charging or harvest in READY that is still asked for is "
              "remembered until acknowledged, and nothing else is", always, stop_remembered, parity=False),
    StepClaim("SR-53", "a stop is told", "each shaft has an alarm of its own, which is active exactly while its stop is "
              "remembered", always, stop_told, per_shaft=False, parity=False),
)  # fmt: skip
