"""Claims on the way out of ISOLATED: how long a drive that disobeyed has been seen to obey, and whether it did so twice."""

from sim.prove.claims_bank import always
from sim.prove.step import Step, StepClaim
from sim.prove.terms import HELD, ISOLATED, LONGEST_S, READY, counted, disobeys, length_s, near, shaft_still
from sim.requirements.facts import SHAFT, has

OBEY_S, RELAPSE_S, SILENT_S = 2.0, 600.0, 1.0
"""A drive that disobeyed must be seen to obey for the first; twice within the second, and only a still shaft counts. One
that is silent with its enable dropped for the third gives no torque."""


def disobeyed_long(step: Step, i: int) -> bool:
    """It has disobeyed for the time of the boat file."""
    dwell_s = counted(step.was.shafts[i].dwells.disobey_s, disobeys(step, i), length_s(step))
    return dwell_s >= step.config.limits.disobey_s


def distrusted(step: Step, i: int) -> bool:
    """It isolates its shaft by disobeying in this tick."""
    isolates = step.was.shafts[i].mode != ISOLATED and step.now.memory.shafts[i].mode == ISOLATED
    return isolates and disobeyed_long(step, i)


def obeys(step: Step, i: int) -> bool:
    """Its torque is known, zero was ordered, and nothing beyond the tolerance came."""
    zero = step.was.shafts[i].effort.torque_nm == 0.0
    return has(step.shaft_in[i], SHAFT.TORQUE) and zero and not disobeys(step, i)


def obeyed_s(step: Step, i: int) -> float:
    return counted(step.was.shafts[i].dwells.obeyed_s, obeys(step, i), length_s(step))


def obeying_counts(step: Step, i: int) -> bool:
    now = step.now.memory.shafts[i].dwells
    if distrusted(step, i):
        return now.obeyed_s == -1.0
    return near(now.obeyed_s, obeyed_s(step, i))


def pardon_s(step: Step, i: int) -> float:
    """Time since it last isolated its shaft by disobeying."""
    was_s = step.was.shafts[i].dwells.pardon_s
    if was_s >= LONGEST_S:
        return was_s
    return was_s + length_s(step)


def pardon_counts(step: Step, i: int) -> bool:
    now = step.now.memory.shafts[i].dwells
    if distrusted(step, i):
        return now.pardon_s == 0.0
    return near(now.pardon_s, pardon_s(step, i))


def relapsed(step: Step, i: int) -> bool:
    """Twice within the time, before this tick's own isolation."""
    return step.was.shafts[i].latches & HELD.RELAPSED != 0 and pardon_s(step, i) < RELAPSE_S


def relapse_kept(step: Step, i: int) -> bool:
    now = step.now.memory.shafts[i].latches & HELD.RELAPSED != 0
    twice = distrusted(step, i) and pardon_s(step, i) < RELAPSE_S
    return now == (relapsed(step, i) or twice)


def obedient(step: Step, i: int) -> bool:
    """It may be given its enable again, as far as obedience goes."""
    return pardon_s(step, i) >= RELAPSE_S or obeyed_s(step, i) >= OBEY_S


def trusted(step: Step, i: int) -> bool:
    return not relapsed(step, i) or shaft_still(step, i)


def silent_s(step: Step, i: int) -> float:
    """The time for which its torque has not been heard while its enable was dropped: not READY, or ISOLATED."""
    was = step.was.shafts[i]
    dropped = step.was.boat.mode != READY or was.mode == ISOLATED
    return counted(was.dwells.silent_s, not has(step.shaft_in[i], SHAFT.TORQUE) and dropped, length_s(step))


def silence_counts(step: Step, i: int) -> bool:
    return near(step.now.memory.shafts[i].dwells.silent_s, silent_s(step, i))


def _shaft(requirement: str, name: str, text: str, then) -> StepClaim:  # type: ignore[no-untyped-def]
    return StepClaim(requirement, name, text, always, then, parity=False)


TRUST_CLAIMS: tuple[StepClaim, ...] = (
    _shaft("SR-06", "obeying counts", "the time for which a drive is known to obey a zero order runs, and starts again when "
           "it has isolated its shaft by disobeying", obeying_counts),
    _shaft("SR-06", "disobeying is remembered", "the time since a drive last isolated its shaft by disobeying runs",
           pardon_counts),
    _shaft("SR-06", "a relapse is remembered", "a drive that did so twice within ten minutes is remembered until that has "
           "passed", relapse_kept),
    _shaft("SR-37", "silence counts", "the time for which a drive is not heard while its enable is dropped runs",
           silence_counts),
)  # fmt: skip
