"""Many claims on one formula, over several processes, with what an earlier run has shown."""

import os
import time
from collections.abc import Callable, Mapping, Sequence
from typing import Any, NamedTuple

from sim.prove.result import CHECKED, ERROR, LEFT, PROVEN
from sim.prove.solver.formula import Formula
from sim.prove.solver.kept import Kept
from sim.prove.solver.pool import DONE, OVERDUE, Outcome, over_processes
from sim.prove.solver.verdict import Judging, Verdict
from sim.prove.step import StepClaim


class Task(NamedTuple):
    """One claim on one shaft, by their places."""

    claim: int
    shaft: int


RAISES = Task(-1, 0)
"""That nothing in the tick raises."""


class Plan(NamedTuple):
    """How much time there is: for one claim on one shaft (s), and for all (s; None for as long as it takes)."""

    each_s: float
    all_s: float | None
    workers: int


def tasks_of(formula: Formula, claims: Sequence[StepClaim]) -> list[Task]:
    """Every claim on every shaft, boat claims once."""
    shafts = len(formula.boat.shafts)
    return [Task(c, i) for c, claim in enumerate(claims) for i in range(shafts if claim.per_shaft else 1)]


def label(formula: Formula, claims: Sequence[StepClaim], task: Task) -> str:
    """The claim's name, with the shaft's."""
    if task == RAISES:
        return "nothing raises"
    claim = claims[task.claim]
    return f"{claim.name} of {formula.config.shaft[task.shaft].name}" if claim.per_shaft else claim.name


def decide_all(
    formula: Formula, claims: Sequence[StepClaim], plan: Plan, kept: Kept,
    told: Callable[[int, int, str], None] = lambda _done, _all, _name: None,
) -> dict[Task, Verdict]:  # fmt: skip
    """A verdict on each claim and shaft. `told` hears how many are done, of how many, and which was the last."""
    began = time.monotonic()
    tasks = [RAISES, *tasks_of(formula, claims)]
    names = {task: label(formula, claims, task) for task in tasks}
    # the long ones first, so that no worker is left alone with one at the end; unknown ones count as long
    last = {task: kept.seconds(names[task]) for task in tasks}
    tasks.sort(key=lambda task: -_expected(last[task], plan.each_s))
    if plan.all_s is not None:
        tasks.reverse()

    def in_time() -> bool:
        return plan.all_s is None or time.monotonic() - began < plan.all_s

    verdicts: dict[Task, Verdict] = {}

    def make() -> Callable[[Task], Verdict]:
        judging = Judging(formula, kept.get)

        def work(task: Task) -> Verdict:
            if task == RAISES:
                return judging.raises(plan.each_s)
            return judging.verdict(claims[task.claim], task.shaft, plan.each_s)

        return work

    for outcome in over_processes(tasks, make, plan.workers, _longest_s(plan), in_time):
        verdicts[outcome.task] = _verdict(outcome, plan)
        told(len(verdicts), len(tasks), names[outcome.task])
    proven = {v.key: _told(v, plan) for v in verdicts.values() if v.answer in (PROVEN, CHECKED) and v.key}
    kept.write(proven, {names[task]: round(v.seconds, 2) for task, v in verdicts.items() if not v.again})
    for task in tasks:
        verdicts.setdefault(task, Verdict(LEFT, 0, 0.0, words="not looked at: the time was over"))
    return verdicts


def workers() -> int:
    """As many processes as there are cores for this one."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def _longest_s(plan: Plan) -> float:
    """By the clock, after which a worker is ended: its effort is counted, so that only a stuck one comes so far."""
    return 10.0 * plan.each_s + 120.0


def _expected(last_s: float | None, each_s: float) -> float:
    return each_s / 2.0 if last_s is None else last_s


def _verdict(outcome: Outcome[Task, Verdict], plan: Plan) -> Verdict:
    if outcome.how == DONE and outcome.result is not None:
        return outcome.result
    if outcome.how == OVERDUE:
        return Verdict(CHECKED, 0, _longest_s(plan), words="z3 did not stop when its time was over")
    return Verdict(ERROR, 0, 0.0, words=outcome.words)


def _told(verdict: Verdict, plan: Plan) -> Mapping[str, Any]:
    return {
        "answer": verdict.answer,
        "effort_s": plan.each_s,
        "over": verdict.over,
        "means": verdict.means,
        "words": verdict.words,
        "values": verdict.values,
    }
