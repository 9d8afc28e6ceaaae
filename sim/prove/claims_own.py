"""What each of the owner's own interlocks does while it is bad, by its name, in every mode: one claim an effect.

Written from docs/interlocks.md and the keys of the boat file; that an interlock is held bad exactly
when it should be is shown in `forming_own`.
"""

from collections.abc import Callable
from functools import partial
from typing import Any

from sim.prove.forming_boat import acknowledge_pressed
from sim.prove.forming_own import HELD_BAD, acts_on, held_bad
from sim.prove.forming_permits import GIVES, given
from sim.prove.step import Step, StepClaim
from sim.prove.terms import (
    GENERATE,
    HARVEST,
    HELD,
    ISOLATED,
    KEPT,
    NEUTRAL_WAIT,
    PROPEL,
    READY,
    STANDBY,
    TRIPPED,
    UNLOAD,
    at_most,
    came_to_stop,
    near,
    ramp_s,
)
from supervisor.config import BoatConfig
from supervisor.config.schema import Interlock
from supervisor.signals import Alarm

OWN_ALARM = Alarm.OWN_INTERLOCK.value
FIRST_FRAMES_S = 1.0
"""Nothing is called lost before this time after power-up (s)."""

Looks = Callable[[Step, int], bool]


# --- when a claim speaks: the interlock is bad after this tick


def acts(k: int, step: Step, i: int) -> bool:
    """The k-th interlock is bad, and acts on this shaft."""
    return acts_on(step, k, i) and held_bad(step, k)


def bad(k: int, step: Step, i: int) -> bool:
    """The k-th interlock is bad."""
    return held_bad(step, k)


def always(step: Step, i: int) -> bool:
    return True


# --- what must be so then


def unloads(step: Step, i: int, source: bool) -> bool:
    """Unloading after this tick: from a source, or from thrust."""
    now = step.now.memory.shafts[i]
    return now.mode == UNLOAD and (now.latches & HELD.UNLOADS_SOURCE != 0) == source


def works_as_source(step: Step, i: int) -> bool:
    return step.now.memory.shafts[i].mode in (GENERATE, HARVEST)


def no_thrust(step: Step, i: int) -> bool:
    """At once: neither PROPEL nor unloading from it, and no torque but a source's."""
    now = step.now.memory.shafts[i]
    if now.mode == PROPEL or unloads(step, i, False):
        return False
    return works_as_source(step, i) or unloads(step, i, True) or now.effort.torque_nm == 0.0


def no_charging(step: Step, i: int) -> bool:
    """At once: no source works, nor unloads."""
    return not works_as_source(step, i) and not unloads(step, i, True)


def neither(step: Step, i: int) -> bool:
    return no_thrust(step, i) and no_charging(step, i)


def no_propel(step: Step, i: int) -> bool:
    """Thrust ends, through UNLOAD, by the ramp of a lost lever."""
    was, now = step.was.shafts[i], step.now.memory.shafts[i]
    if now.mode == PROPEL:
        return False
    if was.mode == PROPEL and now.mode == UNLOAD:
        slope = abs(was.effort.torque_nm) / step.config.limits.lever_ramp_s
        return now.latches & HELD.SLOW_RAMP != 0 and near(now.effort.ramp_nm_per_s, slope)
    return True


def no_source(step: Step, i: int) -> bool:
    """Charging ends, through UNLOAD."""
    return not works_as_source(step, i)


def disarmed(step: Step, i: int) -> bool:
    """What ended thrust asks for fresh neutral."""
    return step.was.shafts[i].mode != PROPEL or step.now.memory.shafts[i].latches & HELD.REARMED == 0


def thrust_begins_not(step: Step, i: int) -> bool:
    """PROPEL is not begun by a shaft that has not propelled since READY."""
    was, now = step.was.shafts[i], step.now.memory.shafts[i]
    return now.mode != PROPEL or was.mode == PROPEL or was.latches & HELD.BEGUN != 0


def charging_begins_not(step: Step, i: int) -> bool:
    return not works_as_source(step, i) or step.was.shafts[i].mode in (GENERATE, HARVEST)


def limited(k: int, step: Step, i: int) -> bool:
    """What is left of thrust is within the limit at once: ahead, and astern where the boat file says so."""
    entry, now = step.config.interlock[k], step.now.memory.shafts[i]
    most_pct = entry.limit_pct or 0.0
    return now.own_ahead_pct <= most_pct and (now.own_astern_pct <= most_pct or not entry.astern)


def within_limits(step: Step, i: int) -> bool:
    """Thrust within what own interlocks leave of rated torque, or on its way down to it by the slew."""
    was_nm, now = step.was.shafts[i].effort.torque_nm, step.now.memory.shafts[i]
    drive, left_pct = step.config.shaft[i].drive, now.own_ahead_pct
    if now.effort.torque_nm < 0.0:
        left_pct = now.own_astern_pct
    down_nm = max(0.0, abs(was_nm) - drive.torque_slew_nm_per_s * ramp_s(step))
    return at_most(abs(now.effort.torque_nm), max(drive.rated_torque_nm * left_pct / 100.0, down_nm))


def propels(step: Step, i: int) -> bool:
    return step.now.memory.shafts[i].mode == PROPEL


def no_start(step: Step, i: int) -> bool:
    return not given(step, i, GIVES.ENGINE_START)


def isolated(step: Step, i: int) -> bool:
    """While the boat is live the shaft is ISOLATED, with no torque; nor is ISOLATED left."""
    now = step.now.memory.shafts[i]
    if step.now.memory.boat.mode in (READY, NEUTRAL_WAIT):
        return now.mode == ISOLATED and now.effort.torque_nm == 0.0
    return step.was.shafts[i].mode != ISOLATED or now.mode == ISOLATED


def boat_tripped(step: Step, i: int) -> bool:
    """A live boat trips; none is enabled; TRIPPED is not left."""
    was, now = step.was.boat.mode, step.now.memory.boat.mode
    if was == STANDBY:
        return now in (STANDBY, TRIPPED)
    return now == TRIPPED


def to_acknowledge(latches: int) -> bool:
    """One went bad while the boat was enabled, and the crew has not acknowledged it."""
    return latches & KEPT.OWN_TO_ACKNOWLEDGE != 0


def alarm_told(step: Step, i: int) -> bool:
    """The alarm of own interlocks stands exactly while one is bad or to be acknowledged, from the first second on."""
    boat = step.now.memory.boat
    stands = step.now.boat_command.alarms & OWN_ALARM != 0
    told = boat.own.bad != 0 or to_acknowledge(boat.latches)
    return stands == (told and boat.dwells.age_s >= FIRST_FRAMES_S)


def alarm_kept(step: Step, i: int) -> bool:
    """What went bad while the boat was enabled is to be acknowledged, until the crew does; what does so anew, anew."""
    was, now = step.was.boat, step.now.memory.boat
    anew = came_to_stop(step) != 0 and was.mode in (READY, NEUTRAL_WAIT)
    return to_acknowledge(now.latches) == (anew or (to_acknowledge(was.latches) and not acknowledge_pressed(step)))


_EFFECTS: dict[str, tuple[tuple[str, Looks, str], ...]] = {
    "inhibit_thrust": (("thrust does not begin", thrust_begins_not, "OWN_THRUST_START"),),
    "stop_thrust": (("thrust stops at once", no_thrust, "OWN_THRUST"), ("disarms", disarmed, "OWN_THRUST")),
    "ramp_thrust": (
        ("thrust is ramped down", no_propel, "OWN_THRUST_STAYS"), ("disarms", disarmed, "OWN_THRUST_STAYS"),
    ),
    "inhibit_charge": (("charging does not begin", charging_begins_not, "OWN_CHARGE_START"),),
    "unload_charge": (("charging is unloaded", no_source, "OWN_CHARGE_STAYS"),),
    "stop_charge": (("charging stops at once", no_charging, "OWN_CHARGE"),),
    "stop_both": (("thrust and charging stop at once", neither, "OWN_THRUST"), ("disarms", disarmed, "OWN_THRUST")),
    "inhibit_engine_start": (("the engine is not started", no_start, ""),),
    "trip_shaft": (("the shaft is isolated", isolated, "OWN_SHAFT"), ("disarms", disarmed, "OWN_SHAFT")),
}  # fmt: skip
"""What follows from each effect on a shaft, and the bit of the shaft's word that it goes by."""


WITHIN = StepClaim(
    "SR-50", "thrust within own limits", "in PROPEL torque stays within what own interlocks leave of rated torque, or "
    "comes down to it by the slew", propels, within_limits, rests_on=("own limits on thrust",), parity=False,
)  # fmt: skip


TOLD = StepClaim(
    "SR-50", "own interlocks are told", "the alarm of own interlocks is active exactly while one is bad, or went bad "
    "while the boat was enabled and is not acknowledged", always, alarm_told, per_shaft=False,
    rests_on=(HELD_BAD, "own interlocks to acknowledge"), parity=False,
)  # fmt: skip
KEPT_TOLD = StepClaim(
    "SR-50", "own interlocks to acknowledge", "what went bad and does more than warn, while the boat was enabled, stays to be acknowledged until "
    "the crew does", always, alarm_kept, per_shaft=False, rests_on=(HELD_BAD, "seen off"), parity=False,
)  # fmt: skip


def effect_claims(config: BoatConfig) -> tuple[StepClaim, ...]:
    """What each own interlock of this boat does, by its name."""
    if not config.interlock:
        return (WITHIN,)
    return (WITHIN, TOLD, KEPT_TOLD, *(claim for k, entry in enumerate(config.interlock) for claim in _of(k, entry)))


def _of(k: int, entry: Interlock) -> list[StepClaim]:
    while_bad = f"while {entry.bad}"
    found = []
    if entry.effect == "trip_boat":
        found.append(_claim(entry, "the boat trips", f"{while_bad} a boat in NEUTRAL_WAIT or READY trips and ENABLE is refused",
                            partial(bad, k), boat_tripped, "boat.OWN_BOAT", per_shaft=False))  # fmt: skip
    if entry.effect == "limit_thrust":
        words = f"{while_bad} no more than {entry.limit_pct:g} % of rated torque is left"
        found.append(_claim(entry, "thrust is limited", words, partial(acts, k), partial(limited, k),
                            "own limits on thrust", "thrust within own limits"))  # fmt: skip
    for name, then, bit in _EFFECTS.get(entry.effect, ()):
        found.append(_claim(entry, name, f"{while_bad} {_sentence(name)}", partial(acts, k), then,
                            f"shaft.{bit}" if bit else "permit.OWN_ENGINE_START"))  # fmt: skip
    return found


def _sentence(name: str) -> str:
    return "what ended thrust asks for fresh neutral" if name == "disarms" else name


def _claim(
    entry: Interlock, name: str, text: str, given_: Any, then: Any, *rests: str, per_shaft: bool = True
) -> StepClaim:
    return StepClaim(
        "SR-50", f"interlock {entry.name}: {name}", text, given_, then, per_shaft=per_shaft,
        rests_on=(HELD_BAD, *rests), parity=False,
    )  # fmt: skip
