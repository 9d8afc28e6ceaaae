"""The state machine that sails a boat at random and holds it to every safety requirement.

Few rules: the crew acts, the boat's state jumps, a fault begins, a fault ends, time passes. Each requirement that can
be judged on signals is an invariant of its own name, `sr_05_no_path_into_motion`, so that a failure says which.
"""

import re
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any, ClassVar

from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)

from sim.faults.base import Value
from sim.requirements import JUDGES, called, own_identifier
from sim.rig.direct import DirectRig
from sim.rig.simulated import SimRig
from sim.testing.bench import FAILURES, Bench, Mark
from sim.testing.situations import fitted
from sim.testing.strategies import (
    Conditions,
    FaultDraw,
    bus_faults,
    button_actions,
    configurations,
    durations,
    helm_actions,
    lever_actions,
    own_actions,
    plant_conditions,
    plant_jumps,
    shaft_actions,
)
from supervisor.config import BoatConfig, load_config

Settings = settings


class Sailing(RuleBasedStateMachine):
    """One boat, supervisor and plant together. Derive with `machine_for`, which fills in what this boat has."""

    boat: ClassVar[str | Path]
    config: ClassVar[BoatConfig]
    buses: ClassVar[bool] = False
    without: ClassVar[tuple[str, ...]] = ()
    situations: ClassVar[tuple[str, ...]]
    vary_limits: ClassVar[bool] = False
    soc_pct: ClassVar[float | None] = None
    failures: ClassVar[Path | None] = FAILURES
    marks: ClassVar[dict[str, tuple[Bench, Mark]]]
    """Benches kept at the moment a situation was reached: only without buses, where time can be put back."""

    def __init__(self) -> None:
        super().__init__()
        self.bench: Bench | None = None
        self.faults: list[tuple[str, str]] = []

    def begin(self, situation: str, conditions: Conditions, config: BoatConfig | None) -> None:
        """Bring the boat into its situation."""
        if self.buses or config is not None:
            self.bench = self._new_bench(config)
            if self.bench.violation is None:
                self.bench.situation(situation)
        else:
            self.bench = self._kept(situation)
        for target, value in conditions:
            if self.bench.violation is None and situation == "cold":
                self.bench.set(target, value)
                self.bench.ticks(1)

    def _new_bench(self, config: BoatConfig | None) -> Bench:
        used = self.config if config is None else config
        rig = SimRig(used, file=self.boat) if self.buses else DirectRig(used, file=self.boat)
        bench = Bench(rig, without=self.without, failures=self.failures, boat_file=self.boat)
        bench.raises, bench.varied = False, config is not None
        if self.soc_pct is not None:
            bench.set("bank.soc_pct", self.soc_pct)
        return bench

    def _kept(self, situation: str) -> Bench:
        if situation not in self.marks:
            bench = self._new_bench(None).situation(situation)
            if bench.violation is not None:
                return bench
            self.marks[situation] = bench, bench.mark()
        bench, mark = self.marks[situation]
        return bench.back(mark)

    @property
    def afloat(self) -> bool:
        """Under way, and nothing violated yet."""
        return self.bench is not None and self.bench.violation is None

    def act(self, action: tuple[str, Value], seconds: float) -> None:
        """The crew does something, and time passes."""
        if self.afloat and self.bench is not None:
            self.bench.do(*action).run(seconds)

    def jump(self, change: tuple[str, float], seconds: float) -> None:
        """The state of the boat jumps, and time passes."""
        if self.afloat and self.bench is not None:
            self.bench.set(*change).run(seconds)

    def break_something(self, fault: FaultDraw, seconds: float) -> None:
        """A fault begins, and time passes. What cannot be (twice the same, two on one signal) is left out."""
        if not self.afloat or self.bench is None or (fault.fault, fault.target) in self.faults:
            return
        steps = [*self.bench.steps]
        try:
            self.bench.inject(fault.fault, fault.target, **fault.params)
        except ValueError:
            # refused: nothing was started, nothing is told
            self.bench.steps = steps
            for step in self.bench.steps[-1:]:
                step.inject = [one for one in step.inject if one[:2] != (fault.fault, fault.target)]
            return
        self.faults.append((fault.fault, fault.target))
        self.bench.run(seconds)

    def mend(self, number: int, seconds: float) -> None:
        """A fault ends, and time passes."""
        if self.afloat and self.bench is not None and self.faults:
            fault, target = self.faults.pop(number % len(self.faults))
            self.bench.clear(fault, target).run(seconds)

    def wait(self, seconds: float) -> None:
        """Time passes."""
        if self.afloat and self.bench is not None:
            self.bench.run(seconds)

    def hold(self, requirement: str) -> None:
        """The invariant of one requirement."""
        if self.bench is None or self.bench.violation is None:
            return
        if self.bench.violation.judgement.id == requirement:
            self.bench.raise_violation(self.bench.violation)

    def teardown(self) -> None:
        """Put the boat away."""
        if self.bench is not None and (self.buses or self.vary_limits):
            self.bench.close()


def machine_for(
    boat: str | Path = "marsh_tern",
    *,
    buses: bool = False,
    situations: tuple[str, ...] | None = None,
    faults: Sequence[str] | None = None,
    vary_limits: bool = False,
    soc_pct: float | None = None,
    without: tuple[str, ...] = (),
    failures: Path | None = FAILURES,
) -> type[Sailing]:
    """A state machine for one boat. `buses` True sails the real rig with frames, slowly; `situations` restricts where
    it begins and `soc_pct` says with how much in the bank; `faults` restricts what may break (none of the catalogue if
    empty); `vary_limits` draws a configuration for each voyage; `without` leaves requirements out of the watch.
    """
    config = load_config(boat)
    names: dict[str, Any] = {
        "boat": boat,
        "config": config,
        "buses": buses,
        "without": without,
        "situations": situations or fitted(config),
        "vary_limits": vary_limits,
        "soc_pct": soc_pct,
        "failures": failures,
        "marks": {},
    }
    varied = configurations(boat) if vary_limits else st.none()
    names["start"] = initialize(
        situation=st.sampled_from(names["situations"]), conditions=st.just(()) | plant_conditions(config), config=varied
    )(_start)
    for name, actions in (
        ("button", button_actions), ("lever", lever_actions), ("helm", helm_actions), ("shaft", shaft_actions)
    ):  # fmt: skip
        names[name] = rule(action=actions(config), seconds=durations())(_crew_rule(name))
    if config.interlock:
        names["own"] = rule(action=own_actions(config), seconds=durations())(_crew_rule("own"))
    names["nature"] = rule(change=plant_jumps(config), seconds=durations(1.0))(_nature)
    names["time"] = rule(seconds=durations())(_time)
    if faults is None or faults:
        names["fault"] = rule(fault=bus_faults(config, boat, buses=buses, only=faults), seconds=durations(1.0))(_fault)
        names["repair"] = precondition(_broken)(rule(number=st.integers(0, 3), seconds=durations(1.0))(_repair))
    own = [own_identifier(entry.name) for entry in config.interlock]
    for identifier in (*(judge.identifier for judge in JUDGES), *own):
        attribute = re.sub(r"[^a-z0-9]+", "_", called(identifier).lower())
        names[attribute] = invariant()(_named(attribute, identifier))
    return type(f"Sailing_{config.boat.name}", (Sailing,), names)


def _start(self: Sailing, situation: str, conditions: Conditions, config: BoatConfig | None) -> None:
    self.begin(situation, conditions, config)


def _crew_rule(name: str) -> Callable[[Sailing, tuple[str, Value], float], None]:
    def act(self: Sailing, action: tuple[str, Value], seconds: float) -> None:
        self.act(action, seconds)

    act.__name__ = name
    return act


def _nature(self: Sailing, change: tuple[str, float], seconds: float) -> None:
    self.jump(change, seconds)


def _time(self: Sailing, seconds: float) -> None:
    self.wait(seconds)


def _fault(self: Sailing, fault: FaultDraw, seconds: float) -> None:
    self.break_something(fault, seconds)


def _repair(self: Sailing, number: int, seconds: float) -> None:
    self.mend(number, seconds)


def _broken(self: Sailing) -> bool:
    return bool(self.faults)


def _named(name: str, requirement: str) -> Callable[[Sailing], None]:
    def check(self: Sailing) -> None:
        self.hold(requirement)

    check.__name__ = name
    check.__doc__ = f"{requirement} holds."
    return check


def sail(
    machine: type[Sailing], *, voyages: int = 50, steps: int = 30, shrink: bool = True, seed: int | None = None
) -> None:
    """Run a machine: `voyages` of up to `steps` rules each. Raises RequirementViolatedError for the
    smallest failure found. `seed` makes the search the same each time.
    """
    phases = (Phase.generate, Phase.shrink) if shrink else (Phase.generate,)
    chosen = Settings(
        max_examples=voyages, stateful_step_count=steps, deadline=None, phases=phases, database=None,
        report_multiple_bugs=False, print_blob=False, derandomize=seed is None,
        suppress_health_check=list(HealthCheck),
    )  # fmt: skip
    run = run_state_machine_as_test
    if seed is None:
        run(machine, settings=chosen)
        return
    from hypothesis import seed as seeded

    seeded(seed)(machine)
    run(machine, settings=chosen)
