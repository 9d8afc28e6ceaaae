"""Claims on belt and coupling, and on a propeller that does not turn."""

from sim.prove.claims_bank import always
from sim.prove.step import Step, StepClaim
from sim.prove.terms import (
    GENERATE,
    HARVEST,
    PROPEL,
    UNLOAD,
    clutch_closed,
    clutch_open,
    counted,
    gear_ahead,
    length_s,
    near,
    rpm,
    speed_known,
)
from sim.requirements.facts import BOAT, SHAFT, has, yes
from supervisor.modes import ShaftCondition
from supervisor.signals import Alarm

LOST, JAMMED = ShaftCondition.COUPLING_LOST.value, ShaftCondition.JAMMED.value
SLIPS_TOLD, JAM_TOLD = Alarm.COUPLING_SLIPS.value, Alarm.JAMMED.value

SLIP_PART, FORGOTTEN, JAM_HELD = 0.5, 0.1, 0.5


def worked(step: Step, i: int) -> bool:
    mode = step.was.shafts[i].mode
    return mode == PROPEL or mode == GENERATE or mode == HARVEST or mode == UNLOAD


def by_propeller(step: Step, i: int) -> bool:
    return clutch_closed(step, i) and has(step.shaft_in[i], SHAFT.PROPELLER_SPEED)


def by_engine(step: Step, i: int) -> bool:
    return clutch_open(step, i) and gear_ahead(step, i) and has(step.shaft_in[i], SHAFT.ENGINE_SPEED)


def compared(step: Step, i: int) -> bool:
    return worked(step, i) and speed_known(step, i) and (by_propeller(step, i) or by_engine(step, i))


def should_rpm(step: Step, i: int) -> float:
    if by_propeller(step, i):
        return step.shaft_in[i].propeller_speed_rpm
    return step.shaft_in[i].engine_speed_rpm / step.config.shaft[i].gearbox.ratio


def apart_rpm(step: Step, i: int) -> float:
    return abs(step.shaft_in[i].machine_speed_rpm - should_rpm(step, i))


def allowed_rpm(step: Step, i: int) -> float:
    c = step.config.limits
    return c.coupling_rpm + max(rpm(step, i), abs(should_rpm(step, i))) * c.coupling_pct / 100.0


def is_apart(step: Step, i: int) -> bool:
    return compared(step, i) and apart_rpm(step, i) > allowed_rpm(step, i)


def is_slipping(step: Step, i: int) -> bool:
    return compared(step, i) and apart_rpm(step, i) > SLIP_PART * allowed_rpm(step, i)


def apart_counts(step: Step, i: int) -> bool:
    was, now = step.was.shafts[i].coupling, step.now.memory.shafts[i].coupling
    return near(now.off_s, counted(was.off_s, is_apart(step, i), length_s(step)))


def slip_counts(step: Step, i: int) -> bool:
    was, now, most_s = step.was.shafts[i].coupling, step.now.memory.shafts[i].coupling, 2.0 * step.config.limits.slip_s
    if is_slipping(step, i):
        return near(now.slip_s, min(most_s, was.slip_s + length_s(step)))
    return near(now.slip_s, max(0.0, was.slip_s - FORGOTTEN * length_s(step)))


def turns_nothing(step: Step, i: int) -> bool:
    """Torque was ordered that should turn the shaft, and its drive is known to stand."""
    c, own = step.config.limits, step.config.shaft[i]
    from_pct = c.jam_from_pct
    if step.was.shafts[i].coupling.jam_s >= c.jam_s:
        from_pct = JAM_HELD * c.jam_pct
    stands = speed_known(step, i) and rpm(step, i) < own.rules.still_rpm
    return stands and abs(step.was.shafts[i].effort.torque_nm) >= own.drive.rated_torque_nm * from_pct / 100.0


def jam_counts(step: Step, i: int) -> bool:
    was, now = step.was.shafts[i].coupling, step.now.memory.shafts[i].coupling
    return near(now.jam_s, counted(was.jam_s, turns_nothing(step, i), length_s(step)))


def came_loose(step: Step, i: int) -> bool:
    apart = step.now.memory.shafts[i].coupling.off_s >= step.config.limits.coupling_s
    return apart and not yes(step.boat_in, BOAT.GET_HOME)


def held_fast(step: Step, i: int) -> bool:
    return step.now.memory.shafts[i].coupling.jam_s >= 2.0 * step.config.limits.jam_s


def coupling_lost(step: Step, i: int) -> bool:
    return (step.now.shaft_words[i] & LOST != 0) == came_loose(step, i)


def jammed(step: Step, i: int) -> bool:
    return (step.now.shaft_words[i] & JAMMED != 0) == held_fast(step, i)


def propels_jammed(step: Step, i: int) -> bool:
    now = step.now.memory.shafts[i]
    return now.mode == PROPEL and now.coupling.jam_s >= step.config.limits.jam_s


def cut_or_falling(step: Step, i: int) -> bool:
    """What stands above the cut comes down."""
    was, now = step.was.shafts[i].effort.torque_nm, step.now.memory.shafts[i].effort.torque_nm
    most_nm = step.config.shaft[i].drive.rated_torque_nm * step.config.limits.jam_pct / 100.0
    return abs(now) <= most_nm * (1.0 + 1e-9) or abs(now) < abs(was) or length_s(step) <= 0.0


def slip_told(step: Step, i: int) -> bool:
    some = False
    for state in step.now.memory.shafts:
        some = some or state.coupling.slip_s >= step.config.limits.slip_s
    return (step.now.boat_command.alarms & SLIPS_TOLD != 0) == some


def jam_told(step: Step, i: int) -> bool:
    some = False
    for state in step.now.memory.shafts:
        some = some or state.coupling.jam_s >= step.config.limits.jam_s
    return (step.now.boat_command.alarms & JAM_TOLD != 0) == some


def _shaft(requirement: str, name: str, text: str, then, given=always) -> StepClaim:  # type: ignore[no-untyped-def]
    return StepClaim(requirement, name, text, given, then, parity=False)


def _boat(requirement: str, name: str, text: str, then) -> StepClaim:  # type: ignore[no-untyped-def]
    return StepClaim(requirement, name, text, always, then, per_shaft=False, parity=False)


COUPLING_CLAIMS: tuple[StepClaim, ...] = (
    _shaft("SR-54", "being apart counts", "the time runs for which a shaft at work turns at another speed than its drive, by "
           "the propeller's side with the clutch closed, by the engine with it open and the gear ahead", apart_counts),
    _shaft("SR-54", "slipping adds up", "half as far apart adds up, and is forgotten ten times as slowly", slip_counts),
    _boat("SR-54", "slip is told", "the alarm stands exactly while a shaft has slipped for its time", slip_told),
    _shaft("SR-55", "turning nothing counts", "the time runs for which torque turns nothing, on a drive known to stand",
           jam_counts),
    _shaft("SR-55", "a jam is cut", "for the time of the boat file so, torque is cut, or comes down to the cut",
           cut_or_falling, propels_jammed),
    _boat("SR-55", "jam is told", "the alarm stands exactly while a shaft's torque is cut for it", jam_told),
)  # fmt: skip
