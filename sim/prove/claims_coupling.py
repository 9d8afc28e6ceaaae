"""Claims on belt and coupling, and on a propeller that does not turn."""

from sim.prove.claims_bank import always
from sim.prove.step import Step, StepClaim
from sim.prove.terms import (
    GENERATE,
    HARVEST,
    ISOLATED,
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

SLIP_PART, FORGOTTEN, JAM_HELD, MOVED = 0.5, 0.02, 0.5, 0.5
ROUNDING_RPM = 1e-6


def worked(step: Step, i: int) -> bool:
    mode = step.was.shafts[i].mode
    return mode == PROPEL or mode == GENERATE or mode == HARVEST or mode == UNLOAD


def by_propeller(step: Step, i: int) -> bool:
    return clutch_closed(step, i) and has(step.shaft_in[i], SHAFT.PROPELLER_SPEED)


def by_engine(step: Step, i: int) -> bool:
    return clutch_open(step, i) and gear_ahead(step, i) and has(step.shaft_in[i], SHAFT.ENGINE_SPEED)


def beside(step: Step, i: int) -> bool:
    """There is a speed beside the drive's to compare it with."""
    return by_propeller(step, i) or by_engine(step, i)


def beside_rpm(step: Step, i: int) -> float:
    if by_propeller(step, i):
        return step.shaft_in[i].propeller_speed_rpm
    return step.shaft_in[i].engine_speed_rpm / step.config.shaft[i].gearbox.ratio


def half_stale_s(step: Step, i: int, name: str) -> float:
    """Half of the time after which an input of the boat file is stale; 0.0 where it is not mapped."""
    entry = step.config.shaft[i].inputs.get(name)
    return 0.0 if entry is None else 0.5 * entry.stale_s


def stretch_s(step: Step, i: int) -> float:
    """Half of the time after which the speed beside the drive's is stale."""
    if by_engine(step, i) and not by_propeller(step, i):
        return half_stale_s(step, i, "engine.engine_speed_rpm")
    return half_stale_s(step, i, "shaft.propeller_speed_rpm")


def begins(step: Step, i: int) -> bool:
    return step.was.shafts[i].turned.runs_s < 0.0


def stretch_over(step: Step, i: int) -> bool:
    return step.was.shafts[i].turned.runs_s + length_s(step) >= stretch_s(step, i)


def stretch_runs(step: Step, i: int) -> bool:
    was, now = step.was.shafts[i].turned, step.now.memory.shafts[i].turned
    if not speed_known(step, i):
        return now.runs_s == -1.0
    if begins(step, i) or stretch_over(step, i):
        return now.runs_s == 0.0
    return near(now.runs_s, was.runs_s + length_s(step))


def highest_kept(step: Step, i: int) -> bool:
    was, now = step.was.shafts[i].turned, step.now.memory.shafts[i].turned
    speed = step.shaft_in[i].machine_speed_rpm
    if not speed_known(step, i):
        return now.high_rpm == 0.0 and now.before_high_rpm == 0.0
    if begins(step, i):
        return now.high_rpm == speed and now.before_high_rpm == speed
    if stretch_over(step, i):
        return now.high_rpm == speed and now.before_high_rpm == was.high_rpm
    return now.high_rpm == max(speed, was.high_rpm) and now.before_high_rpm == was.before_high_rpm


def lowest_kept(step: Step, i: int) -> bool:
    was, now = step.was.shafts[i].turned, step.now.memory.shafts[i].turned
    speed = step.shaft_in[i].machine_speed_rpm
    if not speed_known(step, i):
        return now.low_rpm == 0.0 and now.before_low_rpm == 0.0
    if begins(step, i):
        return now.low_rpm == speed and now.before_low_rpm == speed
    if stretch_over(step, i):
        return now.low_rpm == speed and now.before_low_rpm == was.low_rpm
    return now.low_rpm == min(speed, was.low_rpm) and now.before_low_rpm == was.before_low_rpm


def high_rpm(step: Step, i: int) -> float:
    turned = step.now.memory.shafts[i].turned
    return max(turned.high_rpm, turned.before_high_rpm)


def low_rpm(step: Step, i: int) -> float:
    turned = step.now.memory.shafts[i].turned
    return min(turned.low_rpm, turned.before_low_rpm)


def most_rpm(step: Step, i: int, part: float) -> float:
    """`part` of what is allowed, and half of what the drive's speed changed by."""
    c = step.config.limits
    allowed = c.coupling_rpm + max(rpm(step, i), abs(beside_rpm(step, i))) * c.coupling_pct / 100.0
    return part * allowed + MOVED * (high_rpm(step, i) - low_rpm(step, i))


def outside(step: Step, i: int, part: float, rounding_rpm: float) -> bool:
    if not speed_known(step, i) or not beside(step, i):
        return False
    speed, most = beside_rpm(step, i), most_rpm(step, i, part) + rounding_rpm
    return speed - high_rpm(step, i) > most or low_rpm(step, i) - speed > most


def was_watched(step: Step, i: int) -> bool:
    return worked(step, i) or step.was.shafts[i].mode == ISOLATED


def is_apart(step: Step, i: int) -> bool:
    return was_watched(step, i) and outside(step, i, 1.0, ROUNDING_RPM)


def is_together(step: Step, i: int) -> bool:
    return not was_watched(step, i) or not outside(step, i, 1.0, -ROUNDING_RPM)


def is_slipping(step: Step, i: int) -> bool:
    return worked(step, i) and outside(step, i, SLIP_PART, ROUNDING_RPM)


def is_holding(step: Step, i: int) -> bool:
    return not worked(step, i) or not outside(step, i, SLIP_PART, -ROUNDING_RPM)


def apart_counts(step: Step, i: int) -> bool:
    was, now = step.was.shafts[i].coupling, step.now.memory.shafts[i].coupling
    return near(now.off_s, counted(was.off_s, True, length_s(step)))


def apart_ends(step: Step, i: int) -> bool:
    return step.now.memory.shafts[i].coupling.off_s == -1.0


def slip_grows(step: Step, i: int) -> bool:
    was, now, most_s = step.was.shafts[i].coupling, step.now.memory.shafts[i].coupling, 2.0 * step.config.limits.slip_s
    return near(now.slip_s, min(most_s, was.slip_s + length_s(step)))


def slip_fades(step: Step, i: int) -> bool:
    was, now = step.was.shafts[i].coupling, step.now.memory.shafts[i].coupling
    return near(now.slip_s, max(0.0, was.slip_s - FORGOTTEN * length_s(step)))


def turns_nothing(step: Step, i: int) -> bool:
    """Torque was ordered that should turn the shaft, and its drive is known to stand."""
    c, own = step.config.limits, step.config.shaft[i]
    from_pct = c.jam_from_pct
    if step.was.shafts[i].coupling.jam_s >= c.jam_s:
        from_pct = JAM_HELD * c.jam_pct
    stands = speed_known(step, i) and rpm(step, i) < own.rules.still_rpm and step.was.shafts[i].hold.held_s < 0.0
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
    _shaft("SR-54", "stretches of speed run", "the time of a stretch runs while the drive's speed is known, up to half of "
           "the time after which the speed beside it is stale", stretch_runs),
    _shaft("SR-54", "highest speed is remembered", "the drive's highest speed in this stretch and the last is kept",
           highest_kept),
    _shaft("SR-54", "lowest speed is remembered", "so is its lowest", lowest_kept),
    _shaft("SR-54", "being apart counts", "the time runs for which a shaft at work, or isolated, turns outside what its "
           "drive turned with, by the propeller's side with the clutch closed, by the engine with it open and the gear "
           "ahead", apart_counts, is_apart),
    _shaft("SR-54", "being together ends it", "it ends while the two are not known to turn apart", apart_ends,
           is_together),
    _shaft("SR-54", "slipping adds up", "half as far apart at work adds up", slip_grows, is_slipping),
    _shaft("SR-54", "slipping is forgotten", "and is forgotten fifty times as slowly", slip_fades, is_holding),
    _boat("SR-54", "slip is told", "the alarm is active exactly while a shaft has slipped for its time", slip_told),
    _shaft("SR-55", "turning nothing counts", "the time runs for which torque turns nothing, on a drive known to stand, not held for its lock",
           jam_counts),
    _shaft("SR-55", "a jam is cut", "for the time of the boat file so, torque is cut, or comes down to the cut",
           cut_or_falling, propels_jammed),
    _boat("SR-55", "jam is told", "the alarm is active exactly while a shaft's torque is cut for it", jam_told),
)  # fmt: skip
