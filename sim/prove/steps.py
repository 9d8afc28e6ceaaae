"""Claims on steps: walked with the tick into one formula, decided over processes, and told as results."""

import time
from collections.abc import Callable, Mapping, Sequence
from typing import NamedTuple

from sim.prove.counterexample import shortened, step_words
from sim.prove.invariants import INVARIANTS, Invariant, as_claims
from sim.prove.result import ERROR, REFUTED, SILENT, WORST, Count, Shown
from sim.prove.solver.claims import RAISES, Plan, Task, decide_all, tasks_of
from sim.prove.solver.formula import Formula, at_power_up
from sim.prove.solver.kept import Kept
from sim.prove.solver.values import WalkError
from sim.prove.solver.verdict import Verdict
from sim.prove.step import Step, StepClaim, breaks
from supervisor.config import BoatConfig
from supervisor.rules import Boat

NOTHING_RAISES = "nothing raises"


class Steps(NamedTuple):
    """What was shown on steps."""

    shown: tuple[Shown, ...]
    work: Count
    notes: tuple[str, ...]


def prove_steps(
    config: BoatConfig, claims: Sequence[StepClaim], plan: Plan, kept: Kept,
    told: Callable[[int, int, str], None] = lambda _done, _all, _name: None, boat: Boat | None = None,
    invariants: Sequence[Invariant] = INVARIANTS,
) -> Steps:  # fmt: skip
    """Every claim on every shaft, and what they rest on: that the invariants are kept, and that nothing raises. `boat`
    replaces the limits that follow from `config`."""
    began = time.perf_counter()
    every = [*as_claims(invariants), *claims]
    try:
        formula = Formula(config, invariants, boat)
    except WalkError as error:
        why = f"the rules could not be read: {error}"
        shown = [Shown(one.requirement, one.name, "step", one.text, 0, answer=ERROR, why=why) for one in every]
        return Steps(tuple(shown), Count("steps", 0, 0, time.perf_counter() - began), ())
    verdicts = decide_all(formula, every, plan, kept, told)
    shown = [_nothing_raises(formula, verdicts[RAISES])]
    shown += [_shown(formula, claim, _of(number, formula, every, verdicts)) for number, claim in enumerate(every)]
    for number, invariant in enumerate(invariants):
        if invariant.name in at_power_up(config, formula.boat, [invariant]):
            shown[number + 1] = shown[number + 1]._replace(
                answer=REFUTED, counterexample="it does not hold at power-up"
            )
    again = sum(verdict.again for verdict in verdicts.values())
    took = time.perf_counter() - began
    work = Count("steps", len(verdicts), len(verdicts), took)
    notes = [
        f"steps: {formula.calls} calls of the rules walked into one formula; {len(verdicts)} questions asked of z3"
        + (
            f", {again} of them answered as in an earlier run, since nothing that they hang on has changed"
            * bool(again)
        ),
        "steps: numbers are reckoned with as real numbers; floats differ from them in the last of sixteen figures, and "
        "claims on numbers leave room for that (1e-9)",
    ]
    return Steps(tuple(shown), work, tuple(notes))


def _of(
    number: int, formula: Formula, claims: Sequence[StepClaim], verdicts: Mapping[Task, Verdict]
) -> list[tuple[int, Verdict]]:
    return [
        (task.shaft, verdicts[task]) for task in tasks_of(formula, claims[number : number + 1])
        for task in [Task(number, task.shaft)]
    ]  # fmt: skip


def _shown(formula: Formula, claim: StepClaim, verdicts: list[tuple[int, Verdict]]) -> Shown:
    """The worst that was said of the claim on any shaft; where it is silent on some, that is left out."""
    speaking = [(shaft, verdict) for shaft, verdict in verdicts if verdict.answer != SILENT] or verdicts
    shaft, worst = min(speaking, key=lambda one: WORST.index(one[1].answer))
    over = max(verdict.over for _, verdict in speaking if verdict.answer == worst.answer)
    silent = [formula.config.shaft[i].name for i, verdict in verdicts if verdict.answer == SILENT]
    left_out = ""
    if silent and speaking is not verdicts:
        left_out = f"{claim.name} speaks of nothing on {' and '.join(silent)}"
    against = ""
    if worst.answer == REFUTED and worst.values is not None:
        against = _against(formula, claim, shaft, worst)
    return Shown(
        claim.requirement, claim.name, "step", claim.text, over, left_out, against, worst.answer, worst.words
    )  # fmt: skip


def _against(formula: Formula, claim: StepClaim, shaft: int, verdict: Verdict) -> str:
    def wrong(step: Step) -> bool:
        kept = all(one.holds(step.config, step.boat, step.was, i) for one in formula.invariants
                   for i in one.indices(step.boat))  # fmt: skip
        return kept and breaks(claim, step, shaft)

    step = shortened(formula.config, formula.boat, verdict.values or {}, wrong)
    where = f"on {formula.config.shaft[shaft].name}, " if claim.per_shaft and len(formula.boat.shafts) > 1 else ""
    return "\n".join([f"{where}one tick of the real rules:", *step_words(step)])


def _nothing_raises(formula: Formula, verdict: Verdict) -> Shown:
    text = "no division by zero, no entry that a table has not, nothing raised, whatever is measured and remembered"
    against = verdict.words if verdict.answer == REFUTED else ""
    why = "" if against else verdict.words
    return Shown("", NOTHING_RAISES, "step", text, verdict.over, "", against, verdict.answer, why)
