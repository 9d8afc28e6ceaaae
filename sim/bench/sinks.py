"""Where a run goes while it happens: the screen, the run folder, a browser."""

from collections.abc import Mapping, Sequence
from typing import NamedTuple, Protocol

from sim.bench.bind import BoundStep
from sim.bench.result import Result, StepResult
from sim.bench.rig import Event


class BenchEvent(NamedTuple):
    """An event of the bench itself: a step began, the simulated boat was set to a value."""

    time_s: float
    kind: str
    subject: str
    text: str


class Sink(Protocol):
    """Told of everything, in order."""

    def started(self, total_steps: int) -> None:
        """The run begins."""

    def step_started(self, step: BoundStep, time_s: float) -> None:
        """A step begins."""

    def tick(self, time_s: float, signals: Mapping[str, float | str]) -> None:
        """One tick has passed."""

    def happened(self, event: Event) -> None:
        """An event of the rig or of the bench."""

    def step_finished(self, result: StepResult) -> None:
        """A step is decided."""

    def finished(self, result: Result) -> None:
        """The run is over, in whatever way."""


class NullSink:
    """Keeps nothing; a base for sinks that want only some of it."""

    def started(self, total_steps: int) -> None:
        """The run begins."""

    def step_started(self, step: BoundStep, time_s: float) -> None:
        """A step begins."""

    def tick(self, time_s: float, signals: Mapping[str, float | str]) -> None:
        """One tick has passed."""

    def happened(self, event: Event) -> None:
        """An event of the rig or of the bench."""

    def step_finished(self, result: StepResult) -> None:
        """A step is decided."""

    def finished(self, result: Result) -> None:
        """The run is over."""


class Tee:
    """Several sinks as one."""

    def __init__(self, sinks: Sequence[Sink]) -> None:
        self.sinks = tuple(sinks)

    def started(self, total_steps: int) -> None:
        """To all."""
        for sink in self.sinks:
            sink.started(total_steps)

    def step_started(self, step: BoundStep, time_s: float) -> None:
        """To all."""
        for sink in self.sinks:
            sink.step_started(step, time_s)

    def tick(self, time_s: float, signals: Mapping[str, float | str]) -> None:
        """To all."""
        for sink in self.sinks:
            sink.tick(time_s, signals)

    def happened(self, event: Event) -> None:
        """To all."""
        for sink in self.sinks:
            sink.happened(event)

    def step_finished(self, result: StepResult) -> None:
        """To all."""
        for sink in self.sinks:
            sink.step_finished(result)

    def finished(self, result: Result) -> None:
        """To all."""
        for sink in self.sinks:
            sink.finished(result)
