"""Runs a procedure on a rig, tick by tick, in the rig's own time."""

import time
from collections.abc import Callable, Sequence
from functools import partial

from sim.bench.bind import BoundStep, bind, described
from sim.bench.expecting import EPS_S, EventLook, ExplainLook, Looker, SignalLook, Signals, Watch, wanted
from sim.bench.judge import Judge
from sim.bench.procedure import Expectation, Procedure, Value
from sim.bench.result import Check, Result, StepResult, Verdict
from sim.bench.rig import Audited, Event, Judged, Rig
from sim.bench.sinks import BenchEvent, Sink
from sim.bench.units import unit_of
from sim.errors import BenchError


def _never() -> bool:
    return False


def run_procedure(
    rig: Rig,
    procedure: Procedure,
    sink: Sink,
    *,
    file: str = "procedure",
    stop: Callable[[], bool] = _never,
    stop_at_first: bool = False,
) -> Result:
    """Run all steps; a failed one does not end the run unless `stop_at_first`.

    `stop` is asked on every tick: True ends the run early, the rest counts as not run. Same rig, same procedure, same
    result. Raises BenchError, before the first tick, for names that this rig does not know, and during the run for an
    action that the rig refuses to carry out.
    """
    return _Run(rig, procedure, sink, file, stop).run(bind(procedure, rig, file), stop_at_first)


_ASKED_FOR = ("READY", "PROPEL", "GENERATE", "HARVEST")
"""Modes that somebody asks for, so that something can be missing; the others happen."""


class _Run:
    """One run: keeps the place in the event list and the count of ticks."""

    def __init__(self, rig: Rig, procedure: Procedure, sink: Sink, file: str, stop: Callable[[], bool]) -> None:
        self.rig = rig
        self.procedure = procedure
        self.sink = sink
        self.file = file
        self.stop = stop
        self.told = len(rig.events)
        self.ticks = 0
        self.interrupted = False
        self.judge: Judge | None = None

    def run(self, steps: Sequence[BoundStep], stop_at_first: bool) -> Result:
        began_s, wall_s = self.rig.now_s, time.perf_counter()
        if isinstance(self.rig, Judged):
            self.judge = Judge(self.rig)
        if isinstance(self.rig, Audited):
            self.rig.begin_audit()
        self.sink.started(len(steps))
        done: list[StepResult] = []
        ended = False
        for step in steps:
            if ended or self.interrupted:
                done.append(self._not_run(step))
                continue
            result = self._step(step)
            done.append(result)
            self.sink.step_finished(result)
            ended = stop_at_first and result.verdict == "fail"
        title, boat = self.procedure.title, self.rig.boat
        sim_s, took_s = self.rig.now_s - began_s, time.perf_counter() - wall_s
        judged = self.judge.verdicts() if self.judge is not None else ()
        unjudged = dict(self.judge.unjudged) if self.judge is not None else {}
        energy = self.rig.energy() if isinstance(self.rig, Audited) else None
        whole = Result(title, boat, tuple(done), self.interrupted, sim_s, took_s, self.ticks, judged, unjudged, energy)
        self.sink.finished(whole)
        return whole

    def _step(self, step: BoundStep) -> StepResult:
        rig, sink = self.rig, self.sink
        start_s, first_event = rig.now_s, len(rig.events)
        sink.step_started(step, start_s)
        sink.happened(BenchEvent(start_s, "step", str(step.number), step.name))
        signals = rig.signals()
        watches = [self._watch(e, start_s, signals) for e in step.expect]
        self._apply(step)
        every_tick = [watch for watch in watches if watch.reads_every_tick]
        deadlines = [watch for watch in watches if watch.has_deadline]
        end_s: float | None = None
        t_s = 0.0
        mine: list[Event] = []
        while True:
            rig.step()
            self.ticks += 1
            if self.judge is not None:
                self.judge.tick()
            t_s = rig.now_s - start_s
            signals = rig.signals()
            sink.tick(rig.now_s, signals)
            self._tell_events()
            if len(rig.events) - first_event > len(mine):
                mine.extend(rig.events[first_event + len(mine) :])
            for watch in every_tick:
                watch.tick(t_s, signals, mine)
            if end_s is None and t_s >= step.wait_s - EPS_S and all(w.passed is not None for w in deadlines):
                end_s = t_s + step.hold_s
            if end_s is not None and t_s >= end_s - EPS_S:
                break
            if self.stop():
                self.interrupted = True
                break
        if not self.interrupted:
            for watch in watches:
                watch.finish(t_s, signals, mine)
        return self._judged(step, watches, start_s, t_s)

    def _watch(self, e: Expectation, start_s: float, signals: Signals) -> Watch:
        kind = "signal" if e.signal is not None else e.event or ""
        watch = Watch(e, self._looker(e, start_s, signals), self.rig.slack_s(kind))
        hidden = [name for name in (e.signal, e.against) if name is not None and name in self.rig.unseen]
        if hidden:
            watch.give_up(f"{' and '.join(hidden)} cannot be seen on the bus")
        elif e.explain is not None and not self.rig.explains:
            watch.give_up("a supervisor elsewhere does not say why")
        return watch

    def _looker(self, e: Expectation, start_s: float, signals: Signals) -> Looker:
        if e.signal is not None:
            return SignalLook(e, signals, self.rig.slack_s("slope"))
        if e.explain is not None:
            return ExplainLook(e, self.rig.explain)
        return EventLook(e, start_s, self.rig.explains, self.rig.unseen)

    def _apply(self, step: BoundStep) -> None:
        where = f"{self.file}: step {step.number}"
        for target, number in step.jumps:
            self._try(f"{where}, set, {target}", partial(self.rig.set_plant, target, number))
            text = f"simulated boat set to {number:g} {unit_of(target)}".rstrip()
            self.sink.happened(BenchEvent(self.rig.now_s, "jump", target, text))
        for end in step.clear:
            self._try(f"{where}, clear {end.fault}", partial(self.rig.clear, end.fault, end.target))
        for call in step.inject:
            self._try(f"{where}, inject {call.fault}", partial(self.rig.inject, call.fault, call.target, **call.params))
        for target, value in step.do:
            self._try(f"{where}, do, {target}", partial(self.rig.act, target, value))
        self._tell_events()

    @staticmethod
    def _try(where: str, call: Callable[[], object]) -> None:
        try:
            call()
        except ValueError as error:
            raise BenchError(f"{where}: {error}") from error

    def _tell_events(self) -> None:
        events = self.rig.events
        while self.told < len(events):
            self.sink.happened(events[self.told])
            self.told += 1

    def _judged(self, step: BoundStep, watches: Sequence[Watch], start_s: float, length_s: float) -> StepResult:
        checks = tuple(self._with_reason(watch, _check(watch)) for watch in watches)
        verdicts = {check.verdict for check in checks}
        verdict: Verdict = "not run" if self.interrupted else "not shown" if verdicts == {"not shown"} else "pass"
        return _record(step, start_s, length_s, checks, "fail" if "fail" in verdicts else verdict)

    def _with_reason(self, watch: Watch, check: Check) -> Check:
        """A mode that was not reached: what is missing for it, as the supervisor says at the end of the step."""
        e = watch.e
        wants_mode = e.signal is not None and e.signal.endswith(".mode") and e.op == "==" and not e.never
        wants_mode = wants_mode and e.value in _ASKED_FOR
        if check.verdict != "fail" or not wants_mode or not self.rig.explains:
            return check
        subject = str(e.signal).removesuffix(".mode")
        missing = self.rig.explain(str(e.value) if subject == "boat" else f"{subject} {e.value}")
        return check._replace(seen=f"{check.seen} (missing: {', '.join(missing)})") if missing else check

    def _not_run(self, step: BoundStep) -> StepResult:
        checks = tuple(Check(wanted(e), "", "not run") for e in step.expect)
        return _record(step, self.rig.now_s, 0.0, checks, "not run")


def _check(watch: Watch) -> Check:
    if watch.passed is None:
        return Check(wanted(watch.e), watch.seen, "not run")
    if not watch.shown:
        return Check(wanted(watch.e), watch.seen, "not shown")
    return Check(wanted(watch.e), watch.seen, "pass" if watch.passed else "fail", watch.at_s, watch.closest)


def _record(
    step: BoundStep, start_s: float, length_s: float, checks: tuple[Check, ...], verdict: Verdict
) -> StepResult:
    jumps: dict[str, Value] = dict(step.jumps)
    faults = [f"{call.fault} on {call.target}" for call in step.inject]
    faults += [f"{end.fault} on {end.target} ended" for end in step.clear]
    return StepResult(
        step.number, step.name, start_s, length_s, described(dict(step.do)), described(jumps), ", ".join(faults),
        checks, verdict,
    )  # fmt: skip
