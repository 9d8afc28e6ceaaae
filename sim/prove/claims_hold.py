"""Claims on stop and lock: a shaft that is braked to still and held for its lock."""

from sim.prove.claims_bank import always
from sim.prove.step import Step, StepClaim
from sim.prove.terms import (
    HELD,
    ISOLATED,
    PROPEL,
    READY,
    at_most,
    counted,
    handset_now,
    is_held,
    length_s,
    lever_neutral,
    lock_released,
    near,
    omega,
    ramp_s,
    rpm,
    speed_known,
    temperature,
)
from sim.requirements.facts import SHAFT, has, no, yes
from supervisor.signals import Alarm

LEARN_S = 0.6
FAILED_TOLD = Alarm.HOLD_FAILED.value


# --- selector, lock and lever


def time_over(step: Step, i: int) -> bool:
    return step.was.shafts[i].hold.held_s >= step.config.limits.hold_s


def armed(step: Step, i: int) -> bool:
    """By being seen off while READY and not isolated, until its time is over."""
    was, shaft = step.was.shafts[i], step.shaft_in[i]
    now = step.now.memory.shafts[i].latches & HELD.HOLD_ARMED != 0
    if step.was.boat.mode != READY or was.mode == ISOLATED or not has(shaft, SHAFT.STOP_AND_LOCK):
        return not now
    kept = was.latches & HELD.HOLD_ARMED != 0 and not time_over(step, i)
    return now == (no(shaft, SHAFT.STOP_AND_LOCK) or kept)


def fails(step: Step, i: int) -> bool:
    """Its time is over, or was once, and neither selector nor lock has ended that."""
    was, shaft = step.was.shafts[i], step.shaft_in[i]
    if yes(shaft, SHAFT.LOCK_ENGAGED):
        return False
    usable = step.was.boat.mode == READY and was.mode != ISOLATED and has(shaft, SHAFT.STOP_AND_LOCK)
    if usable and no(shaft, SHAFT.STOP_AND_LOCK):
        return False
    return time_over(step, i) or was.latches & HELD.HOLD_FAILED != 0


def failure_kept(step: Step, i: int) -> bool:
    return (step.now.memory.shafts[i].latches & HELD.HOLD_FAILED != 0) == fails(step, i)


def wanted(step: Step, i: int) -> bool:
    shaft = step.shaft_in[i]
    asked = yes(shaft, SHAFT.STOP_AND_LOCK) and step.now.memory.shafts[i].latches & HELD.HOLD_ARMED != 0
    return asked and lever_neutral(step, i) and not handset_now(step) and lock_released(step, i)


def hold_counts(step: Step, i: int) -> bool:
    was, now = step.was.shafts[i].hold, step.now.memory.shafts[i].hold
    return near(now.held_s, counted(was.held_s, wanted(step, i), length_s(step)))


def in_its_time(step: Step, i: int) -> bool:
    return step.now.memory.shafts[i].hold.held_s <= step.config.limits.hold_s + length_s(step)


def failure_told(step: Step, i: int) -> bool:
    some = False
    for state in step.now.memory.shafts:
        some = some or state.latches & HELD.HOLD_FAILED != 0
    return (step.now.boat_command.alarms & FAILED_TOLD != 0) == some


# --- torque


def limited(torque_nm: float, most_nm: float) -> float:
    return max(-most_nm, min(most_nm, torque_nm))


def learnt(step: Step, i: int) -> bool:
    """What the flow asks for follows the speed near to still, and is none while the shaft does not propel."""
    was, now, own = step.was.shafts[i], step.now.memory.shafts[i], step.config.shaft[i]
    if not is_held(step, i) or was.mode != PROPEL or not speed_known(step, i):
        return now.hold.load_nm == 0.0
    if rpm(step, i) >= own.rules.hold_band_rpm:
        return now.hold.load_nm == was.hold.load_nm
    rated_nm = own.drive.rated_torque_nm
    part = step.shaft_in[i].machine_speed_rpm / own.rules.hold_band_rpm
    return near(now.hold.load_nm, limited(was.hold.load_nm - rated_nm * part * (ramp_s(step) / LEARN_S), rated_nm))


def turns_with(step: Step, i: int, torque_nm: float) -> bool:
    """Torque in the direction of a rotation that is not still."""
    speed = step.shaft_in[i].machine_speed_rpm
    if rpm(step, i) <= step.config.shaft[i].rules.still_rpm:
        return False
    return (torque_nm > 0.0 and speed > 0.0) or (torque_nm < 0.0 and speed < 0.0)


def not_jammed_nm(step: Step, i: int) -> float:
    """What torque is cut to on a shaft that has not turned for its time (N m)."""
    rated_nm, c = step.config.shaft[i].drive.rated_torque_nm, step.config.limits
    if step.now.memory.shafts[i].coupling.jam_s >= c.jam_s:
        return rated_nm * c.jam_pct / 100.0
    return rated_nm


def held_nm(step: Step, i: int) -> float:
    """Torque that stops and holds the shaft, within rating, power, heat and own limits, with its sign (N m)."""
    now, own = step.now.memory.shafts[i], step.config.shaft[i]
    heat = temperature(step, i, step.config.limits.unknown_soc_pct / 100.0)
    if step.now.view.derate_pct <= 0.0 or heat <= 0.0:
        return 0.0
    part = min(now.own_ahead_pct, now.own_astern_pct) / 100.0
    most_nm = min(own.drive.rated_torque_nm * min(heat, part), not_jammed_nm(step, i))
    most_w = own.drive.rated_power_kw * 1000.0 * part
    if most_nm * omega(step, i) > most_w:
        most_nm = most_w / omega(step, i)
    away = step.shaft_in[i].machine_speed_rpm / own.rules.hold_band_rpm
    asked_nm = limited(now.hold.load_nm - own.drive.rated_torque_nm * away, most_nm)
    return 0.0 if turns_with(step, i, asked_nm) else asked_nm


def holds(step: Step, i: int) -> bool:
    return step.now.memory.shafts[i].mode == PROPEL and is_held(step, i)


def not_turned(step: Step, i: int) -> bool:
    return not turns_with(step, i, step.now.memory.shafts[i].effort.torque_nm)


def neutral_thrust(step: Step, i: int) -> bool:
    """Thrust with the lever in neutral and in control."""
    return step.now.memory.shafts[i].mode == PROPEL and lever_neutral(step, i) and not handset_now(step)


def asked_to_hold(step: Step, i: int) -> bool:
    return is_held(step, i) and yes(step.shaft_in[i], SHAFT.STOP_AND_LOCK) and lock_released(step, i)


def within_what_holds(step: Step, i: int) -> bool:
    """No more than what stops and holds it, its way, or coming down by the slew."""
    was_nm, now_nm = step.was.shafts[i].effort.torque_nm, step.now.memory.shafts[i].effort.torque_nm
    to_nm = held_nm(step, i)
    fallen_nm = max(0.0, abs(was_nm) - step.config.shaft[i].drive.torque_slew_nm_per_s * ramp_s(step))
    if at_most(abs(now_nm), fallen_nm):
        return True
    same_way = (now_nm >= 0.0 and to_nm >= 0.0) or (now_nm <= 0.0 and to_nm <= 0.0)
    return same_way and at_most(abs(now_nm), abs(to_nm))


def _shaft(requirement: str, name: str, text: str, then, given=always) -> StepClaim:  # type: ignore[no-untyped-def]
    return StepClaim(requirement, name, text, given, then, parity=False)


HOLD_CLAIMS: tuple[StepClaim, ...] = (
    _shaft("SR-60", "stop and lock is armed", "the selector counts once it was seen off, in READY and not isolated, and "
           "no longer once its time was over", armed),
    _shaft("SR-60", "a hold counts", "the time runs for which the selector asks, the lever is in neutral and in control, "
           "and the lock confirmed released", hold_counts),
    _shaft("SR-60", "what the flow asks is learnt", "near to still the torque that is held follows the speed, within "
           "rated torque", learnt),
    _shaft("SR-60", "a held shaft is not turned", "no order turns a held shaft the way it turns already, unless it is "
           "still", not_turned, holds),
    _shaft("SR-60", "no other thrust in neutral", "thrust with the lever in neutral and in control is a hold: asked for, with "
           "the lock confirmed released", asked_to_hold, neutral_thrust),
    _shaft("SR-60", "no more than holds it", "the order stays within what stops and holds the shaft, or comes down by "
           "the slew", within_what_holds, holds),
    _shaft("SR-61", "a hold ends in its time", "no hold outlasts its time by more than a tick", in_its_time),
    _shaft("SR-61", "a failed hold is remembered", "its time over is remembered until the selector is off or the lock "
           "engaged", failure_kept),
    StepClaim("SR-61", "a failed hold is told", "the alarm is active exactly while one is remembered", always, failure_told,
              per_shaft=False, parity=False),
)  # fmt: skip
