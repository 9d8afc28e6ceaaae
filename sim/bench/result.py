"""What came of a procedure: one record a step, one check an expectation."""

from collections.abc import Mapping
from typing import TYPE_CHECKING, Literal, NamedTuple

from sim.console import NOT_EXERCISED

if TYPE_CHECKING:
    from sim.requirements import Judgement
    from sim.rig.energy import Energy

Verdict = Literal["pass", "fail", "not run", "not shown"]
"""`not shown`: the supervisor under test is elsewhere, and what was expected cannot be seen on its bus."""


class Check(NamedTuple):
    """One expectation: what was wanted, what was seen, when it was decided (s since the start of the step; None when it
    was watched throughout) and, for numbers, the closest approach to its bound (negative: beyond it)."""

    expected: str
    seen: str
    verdict: Verdict
    at_s: float | None = None
    closest: float | None = None


class StepResult(NamedTuple):
    """One step: start and length in simulated seconds; `jumps` are values the simulated boat was set to."""

    number: int
    name: str
    start_s: float
    length_s: float
    actions: str
    jumps: str
    faults: str
    checks: tuple[Check, ...]
    verdict: Verdict


class Result(NamedTuple):
    """A whole run. `interrupted` is True when it was stopped by hand; the rest is then "not run". `judged` holds the
    verdict on each safety requirement that can be judged on signals, empty for a rig that cannot be judged; `unjudged`
    those that this rig gives no means to judge, and why; `energy` the balance of the simulated boat."""

    title: str
    boat: str
    steps: tuple[StepResult, ...]
    interrupted: bool
    sim_s: float
    wall_s: float
    ticks: int
    judged: "tuple[Judgement, ...]" = ()
    unjudged: Mapping[str, str] = {}
    energy: "Energy | None" = None

    @property
    def passed(self) -> bool:
        """True when every step ran, every expectation that could be seen held, and no safety requirement was
        violated."""
        met = all(step.verdict in ("pass", "not shown") for step in self.steps)
        return met and not self.interrupted and not self.violated

    @property
    def violated(self) -> "tuple[Judgement, ...]":
        """The safety requirements that were violated."""
        return tuple(one for one in self.judged if one.held is False)

    @property
    def failures(self) -> int:
        """Number of expectations that failed."""
        return self._count("fail")

    @property
    def not_shown(self) -> int:
        """Number of expectations that could not be seen on the bus."""
        return self._count("not shown")

    def _count(self, verdict: Verdict) -> int:
        return sum(check.verdict == verdict for step in self.steps for check in step.checks)

    @property
    def exit_status(self) -> int:
        """0 passed, 1 failed, 130 stopped by hand."""
        if self.interrupted:
            return 130
        return 0 if self.passed else 1

    def summary(self) -> str:
        """One line for the end of a run."""
        checks = sum(len(step.checks) for step in self.steps)
        if self.interrupted:
            done = sum(step.verdict != "not run" for step in self.steps)
            head = f"STOPPED BY HAND after {done} of {len(self.steps)} steps, {self.failures} expectations failed"
        elif self.passed:
            head = f"PASS: {len(self.steps)} steps, {checks - self.not_shown} expectations met"
        else:
            head = f"FAIL: {self.failures} of {checks} expectations not met"
        if self.not_shown:
            head += f", {self.not_shown} cannot be seen on the bus"
        if self.judged or self.unjudged:
            held = sum(one.held is True for one in self.judged)
            total = len(self.judged) + len(self.unjudged)
            head += f", {held} of {total} safety requirements held, {len(self.violated)} violated"
            silent = len(self.judged) - held - len(self.violated)
            head += f", {silent} not exercised" if silent else ""
            head += f", {len(self.unjudged)} not judged here" if self.unjudged else ""
            head += f" ({NOT_EXERCISED})" if silent else ""
        rate = self.sim_s / self.wall_s if self.wall_s > 0 else 0.0
        return f"{head}; {self.sim_s:.1f} s simulated in {self.wall_s:.1f} s ({rate:.0f} x real time)"
