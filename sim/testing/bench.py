"""The bench as a test sees it: a boat, hands, eyes, and every safety requirement watched on every tick."""

import math
import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from functools import cache
from pathlib import Path
from typing import NamedTuple, TypeVar

from sim.faults.base import Value
from sim.rig.direct import DirectRig, Moment
from sim.rig.simulated import SimRig
from sim.testing.handover import Missed, failure_text
from sim.testing.script import ScriptStep, boat_text, procedure_text, shown, tidy
from sim.testing.situations import situation_steps
from sim.testing.violations import Violation, Watch, report
from supervisor.bus.lookup import hint
from supervisor.config.load import resolve_boat

FAILURES = Path("failures")
"""Where shrunk failures are written unless told otherwise; a later, smaller one of the same rule replaces them."""

_COMPARE: Mapping[str, Callable[[float, float], bool]] = {
    "<": lambda a, b: a < b,
    "<=": lambda a, b: a <= b,
    ">": lambda a, b: a > b,
    ">=": lambda a, b: a >= b,
}


class RequirementViolatedError(AssertionError):
    """A safety requirement was violated while a boat was on the bench. The text is the fault report.

    `violation` has everything; `procedure` is the file that does it again, None if none was asked for.
    """

    def __init__(self, text: str, violation: Violation, procedure: Path | None) -> None:
        super().__init__(text)
        self.violation = violation
        self.procedure = procedure


class UnknownNameError(KeyError):
    """There is no such signal or requirement; the text says which come near."""

    def __str__(self) -> str:
        return str(self.args[0])


Found = TypeVar("Found")


def _named(known: Mapping[str, Found], name: str, what: str) -> Found:
    if name not in known:
        raise UnknownNameError(f"there is no {what} named {name!r}. {hint(name, known)}")
    return known[name]


class BenchFailedError(AssertionError):
    """An expectation of a test was not met. The text is a fault report; `missed` has the way there, which the plugin
    hands over when the test fails by it (None where there is nothing to hand over)."""

    def __init__(self, text: str, missed: Missed | None = None) -> None:
        super().__init__(text)
        self.missed = missed


class Mark(NamedTuple):
    """A moment to come back to; see `Bench.mark`."""

    moment: Moment
    watch: Watch
    steps: list[ScriptStep]


class Bench:
    """A boat under test. Targets, signals, faults and explanations are those of the procedures; shaft words `each.`,
    `first.` and `others.` work as they do there.

    Every safety requirement is judged on every tick; the first violation raises RequirementViolatedError, after its way
    there was written as a procedure into `failures`.
    """

    def __init__(
        self,
        rig: SimRig | DirectRig,
        *,
        without: Iterable[str] = (),
        only: Iterable[str] | None = None,
        failures: Path | None = FAILURES,
        boat_file: str | Path | None = None,
    ) -> None:
        """`boat_file` is what `thwart bench` is given to do it again (the boat's name if not told), or a varied
        configuration's own file, written when it is needed; `without` leaves requirements out of the watch, `only`
        watches some alone; `failures` None writes nothing.
        """
        self.rig = rig
        self.failures = failures
        self.boat_file = str(rig.boat if boat_file is None else boat_file)
        self.varied = False
        """True: the configuration is not that of `boat_file`, and is written beside the procedure."""
        self.raises = True
        """False: a violation is kept in `violation`, time stands still, and nothing is raised."""
        self.violation: Violation | None = None
        self.controller = rig.controller if isinstance(rig, DirectRig) else rig.supervisor.controller
        self.watch = Watch(self.controller, only, without, from_power_up=rig.outcome is None)
        self.steps: list[ScriptStep] = []

    # ---- hands

    def do(self, target: str, value: Value) -> "Bench":
        """An operator action, e.g. `do("helm.enable", "press")`, `do("each.lever_pct", 60)`."""
        for name in self._each(target):
            self._turn("do", name).do[name] = value
            self.rig.act(name, value)
        return self

    def set(self, target: str, value: float) -> "Bench":
        """Make the simulated boat jump, e.g. `set("bank.soc_pct", 92)`."""
        for name in self._each(target):
            self._turn("set", name).set[name] = float(value)
            self.rig.set_plant(name, value)
        return self

    def inject(self, fault: str, target: str, **params: Value) -> "Bench":
        """Start a fault of the catalogue."""
        for name in self._each(target):
            call = (fault, name, tuple(params.items()))
            self._turn("inject", call).inject.append(call)
            self.rig.inject(fault, name, **params)
        return self

    def clear(self, fault: str, target: str) -> "Bench":
        """End a fault."""
        for name in self._each(target):
            self._turn("clear", (fault, name)).clear.append((fault, name))
            self.rig.clear(fault, name)
        return self

    def situation(self, name: str) -> "Bench":
        """Bring the boat from power-up into a situation of `sim.testing.situations`. Raises ValueError for another."""
        for step in situation_steps(name, self.rig.config):
            self.play(step)
        return self

    def play(self, step: ScriptStep) -> "Bench":
        """Do one recorded step."""
        for target, number in step.set.items():
            self.set(target, number)
        for fault, target in step.clear:
            self.clear(fault, target)
        for fault, target, params in step.inject:
            self.inject(fault, target, **dict(params))
        for target, value in step.do.items():
            self.do(target, value)
        self.ticks(step.ticks)
        return self

    # ---- time

    def ticks(self, count: int) -> "Bench":
        """Let so many ticks pass."""
        rig, watch = self.rig, self.watch
        if not self.steps:
            self.steps.append(ScriptStep())
        for _ in range(count):
            if self.violation is not None:
                return self
            rig.step()
            self.steps[-1].ticks += 1
            if rig.outcome is None:
                raise BenchFailedError("the supervisor decided nothing")
            if isinstance(rig, DirectRig):
                boat_in, shaft_in = rig.inputs
            else:
                boat_in, shaft_in = rig.supervisor.table.snapshot(rig.now_s)
            watch.tick(boat_in, shaft_in, rig.outcome)
            if watch.broken:
                self._violated()
        return self

    def run(self, seconds: float) -> "Bench":
        """Let so many seconds pass (at least one tick)."""
        return self.ticks(max(1, round(seconds / self.rig.tick_s)))

    def until(self, signal: str, op: str, value: float | str, within_s: float) -> float:
        """Let time pass until a signal is as told; returns how long it took (s). Fails after `within_s`."""
        start_s = self.rig.now_s
        while not self._holds(signal, op, value):
            if self.rig.now_s - start_s >= within_s or self.violation is not None:
                raise self._missed(signal, op, value, f" within {within_s:g} s")
            self.ticks(1)
        return self.rig.now_s - start_s

    # ---- eyes

    def __getitem__(self, signal: str) -> float | str:
        """A signal now. Raises UnknownNameError, a KeyError, for an unknown one."""
        return _named(self.rig.signals(), self._each(signal)[0], "signal")

    def number(self, signal: str) -> float:
        """A signal that is a number. Raises TypeError if it is a text."""
        value = self[signal]
        if isinstance(value, str):
            raise TypeError(f"{signal} is the text {value!r}, not a number")
        return value

    def expect(self, signal: str, op: str, value: float | str) -> "Bench":
        """Fail with a fault report unless a signal is as told: "==", "!=", "<", "<=", ">", ">=", "has", "lacks".

        `each.` asks it of every shaft. What is not known (NaN) meets nothing.
        """
        for name in self._each(signal):
            if not self._holds(name, op, value):
                raise self._missed(name, op, value)
        return self

    def explain(self, what: str) -> str:
        """What is missing for "enable", a boat mode or "port GENERATE"; "nothing is missing" if nothing is."""
        first, _, rest = what.partition(" ")
        names = self._each(f"{first}.") if rest else [what]
        asked = f"{names[0].rstrip('.')} {rest}" if rest else what
        return "; ".join(self.rig.explain(asked)) or "nothing is missing"

    def held(self, requirement: str) -> bool | None:
        """Whether a requirement has held so far; None if there was no occasion to judge it. Raises
        UnknownNameError for one that is not watched here."""
        return _named(self.watch.judgements(), requirement, "requirement watched here").held

    def closest(self, requirement: str) -> float | None:
        """Its closest approach so far, in its own unit; None if it was not judged. Raises UnknownNameError for one
        that is not watched here."""
        return _named(self.watch.judgements(), requirement, "requirement watched here").closest

    # ---- moments

    def mark(self) -> Mark:
        """The present moment, to come back to. Only without buses; raises TypeError with them."""
        if not isinstance(self.rig, DirectRig):
            raise TypeError("frames on a bus cannot be taken back: only a boat without buses has moments")
        return Mark(self.rig.save(), self.watch.save(), tidy(self.steps))

    def back(self, mark: Mark) -> "Bench":
        """Back to a moment."""
        if not isinstance(self.rig, DirectRig):
            raise TypeError("frames on a bus cannot be taken back: only a boat without buses has moments")
        self.rig.restore(mark.moment)
        self.watch = mark.watch.save()
        self.steps = [*tidy(mark.steps), ScriptStep()]
        self.violation = None
        return self

    # ---- handing over

    def procedure(self, title: str, expect: Sequence[Mapping[str, object]] = (), requirement: str = "") -> str:
        """Everything done so far as a procedure file, which expects `expect` on its last tick."""
        named = [requirement] if requirement else []
        return procedure_text(title, self.rig.boat, "", named, self.steps, self.rig.tick_s, expect)

    def raise_violation(self, violation: Violation) -> None:
        """Write the procedure and raise RequirementViolatedError."""
        path: Path | None = None
        command = "(nothing was written: the bench was told so)"
        if self.failures is not None:
            text = failure_text(violation)
            path = self.failures / f"{re.sub(r'[^a-z0-9]+', '_', violation.judgement.id.lower())}_{violation.boat}.toml"
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(text, encoding="utf-8")
            varied = self._varied_text()
            if varied is not None:
                boat = path.with_name(f"{path.stem}.boat.toml")
                boat.write_text(varied, encoding="utf-8")
                violation = violation._replace(boat_file=str(boat))
            command = f"thwart bench {violation.boat_file} {path}"
        raise RequirementViolatedError(report(violation, command), violation, path)

    def close(self) -> None:
        """Release the buses."""
        self.rig.close()

    def _violated(self) -> None:
        violation = self.watch.violation(self.rig.boat, self.boat_file, self.rig.tick_s, self.steps)
        if violation is None:
            return
        if self.raises:
            self.raise_violation(violation)
        self.violation = violation

    def _turn(self, kind: str, key: object) -> ScriptStep:
        """The step that takes one more action; if the present one cannot, a tick passes first, as on the bench."""
        if self.steps and self.steps[-1].takes(kind, key):
            return self.steps[-1]
        if self.steps and not self.steps[-1].ticks:
            self.ticks(1)
        self.steps.append(ScriptStep())
        return self.steps[-1]

    def _each(self, name: str) -> list[str]:
        from sim.bench.bind import expand

        return expand(name, tuple(self.rig.shafts))

    def _holds(self, signal: str, op: str, value: float | str) -> bool:
        now = self[signal]
        if op in ("==", "!="):
            return (now == value) == (op == "==") and not (isinstance(now, float) and math.isnan(now))
        if op in ("has", "lacks"):
            return (str(value).lower() in str(now).lower()) == (op == "has")
        if op not in _COMPARE:
            raise ValueError(f"{op!r} is no comparison; allowed: ==, !=, has, lacks, {', '.join(_COMPARE)}")
        if isinstance(now, str) or isinstance(value, str):
            raise TypeError(f"{signal} {op} {value!r}: a text has no size")
        return _COMPARE[op](now, value)

    def _missed(self, signal: str, op: str, value: float | str, when: str = "") -> BenchFailedError:
        name = self._each(signal)[0]
        number = value if isinstance(value, str) else float(value)
        missed = Missed(
            self.rig.boat, self.boat_file, self._varied_text(), self.rig.tick_s, tuple(tidy(self.steps)),
            {"signal": name, "op": op, "value": number}, self.failures,
        )  # fmt: skip
        return BenchFailedError(self._text(f"{signal} {op} {value}{when}", shown(self[signal])), missed)

    def _varied_text(self) -> str | None:
        """The boat file's text if the configuration is not that of `boat_file`."""
        return boat_text(self.rig.config, resolve_boat(self.boat_file).parent) if self.varied else None

    def _text(self, expected: str, got: str) -> str:
        lines = ["", f"EXPECTED  {expected}", f"GOT       {got}   (at {self.rig.now_s:.2f} s)"]
        lines.append(
            "MODES     "
            + ("; ".join(f"{t:.2f} s {who} {was}->{now}" for t, who, was, now in self.watch.modes) or "none")
        )
        modes = {f"{name} {mode}" for name in self.rig.shafts for mode in ("PROPEL", "GENERATE")}
        lines += [f"MISSING   {one}: {self.explain(one)}" for one in sorted(modes)]
        lines.append("DONE")
        at_s = 0.0
        for step in tidy(self.steps):
            lines.append(f"{at_s:8.2f} s  {step.words()}")
            at_s += step.ticks * self.rig.tick_s
        return "\n".join(lines)


def open_bench(
    boat: str | Path, *, buses: bool = True, soc_pct: float | None = None, failures: Path | None = FAILURES
) -> Bench:
    """A boat at power-up: with real frames on virtual buses, or, several times faster, without."""
    rig = SimRig(boat) if buses else DirectRig(boat)
    bench = Bench(rig, failures=failures, boat_file=boat)
    if soc_pct is not None:
        bench.set("bank.soc_pct", soc_pct)  # as a step, so that a procedure made of it begins the same way
    return bench


@cache
def _first_time(boat: str | Path, situation: str) -> tuple[Bench, Mark]:
    bench = open_bench(boat, buses=False).situation(situation)
    return bench, bench.mark()


def kept_bench(boat: str | Path, situation: str = "ready", *, failures: Path | None = FAILURES) -> Bench:
    """A boat without buses in a situation, brought there once and put back to that moment at every call: for a
    property that is tried on many examples. All calls for one boat and situation give the same bench."""
    bench, mark = _first_time(boat, situation)
    bench.failures = failures
    return bench.back(mark)
