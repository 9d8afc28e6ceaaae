"""Runs a recording past one or more subjects, tick by tick in log time."""

from collections.abc import Callable, Sequence
from typing import Protocol

from sim.replay.health import TICK_S, Health
from sim.replay.logclock import GAP
from sim.replay.moved import Moved
from sim.replay.replayed import Change, Heard, ReplayedSupervisor
from sim.replay.source import Source
from sim.replay.ticks import Ticks
from sim.replay.wires import Role, Wire

TOGETHER_S = 0.5
"""Frames and ticks of one run end no further apart than this."""
EDGE_S = 2e-6
"""Recorders write microseconds: a frame stamped this much after a tick still belongs to it."""


class Observer(Protocol):
    """Sees the replay as it goes. Every method is called in order of log time."""

    def span(self, first: int, stop: int, changes: Sequence[Sequence[Change]], commands: Sequence[Heard]) -> None:
        """Ticks `first` to `stop` - 1 are done: what changed in each subject, and the command frames that were in the
        recording since the tick before `first`. Spans without either are left out."""


class Engine:
    """One pass over one recording. `pause_s`: how long the supervisor is let run on in a gap before the rest of the gap
    is passed over in one step."""

    def __init__(
        self, subjects: Sequence[ReplayedSupervisor], ticks: Ticks, pause_s: float, observers: Sequence[Observer] = ()
    ) -> None:
        self.subjects = subjects
        self.ticks = ticks
        self.pause_s = pause_s
        self.observers = tuple(observers)
        self.tick = 0
        """Number of the next tick."""
        self.end_s = 0.0
        self.gap_ticks = 0
        self.stopped = False
        self._heard: list[Heard] = []
        self._commands: list[Heard] = []

    def run(self, source: Source, stop: Callable[[], bool] = lambda: False) -> None:
        """Read the whole source, or until `stop()`, asked after each batch. What was done until then stands."""
        heard, commands = self._heard, self._commands
        edge_s = self.ticks.at(self.tick) + EDGE_S
        in_gap = False
        for batch in Moved(source.health).settled(source.batches()):
            for time_s, handle, data in batch.items:
                if in_gap:
                    self._pass_gap(time_s)
                    in_gap = False
                if time_s > edge_s:
                    edge_s = self._advance(time_s)
                if isinstance(handle, Wire):
                    role = handle.role
                    if role is not Role.COMMAND:
                        heard.append((handle, data))
                    if role is not Role.HEARD:
                        commands.append((handle, data))
                elif handle is GAP:
                    edge_s = self._advance(time_s + self.pause_s)
                    in_gap = True
            if batch.end_s > edge_s:
                edge_s = self._advance(batch.end_s)
            self.end_s = max(self.end_s, batch.end_s)
            if stop():
                self.stopped = True
                break
        last = self.ticks.end()
        if last is not None and not self.stopped and self._torn(source.health, last):
            last = None
        self._do(self.tick + 1 if last is None or self.stopped else max(last, self.tick))

    def _torn(self, health: Health, last: int) -> bool:
        """Whether the log ends before the list of ticks does: a supervisor sends in each tick, so that its log ends
        with its last tick, unless its adapters were lost, which the list of ticks knows. Of what came after the end of
        a log that was cut nothing is known."""
        ticks_s = self.ticks.at(last - 1)
        if ticks_s - self.end_s > TOGETHER_S:
            after = self.ticks.before(self.end_s + TICK_S)
            moment = [one for one in self.ticks.moments if one.first_tick <= after][-1]
            if not moment.receive_ok:
                return False
            health.notes.append(
                f"the frames end at {self.end_s:.2f} s, the list of ticks at {ticks_s:.2f} s: the log was cut, or its "
                "clock ran behind; nothing is decided beyond its last frame"
            )
            return True
        if self.end_s - ticks_s > TOGETHER_S:
            health.notes.append(
                f"the list of ticks ends at {ticks_s:.2f} s, the frames at {self.end_s:.2f} s: the list was cut, or "
                "the log's clock ran ahead"
            )
        return False

    def _advance(self, time_s: float) -> float:
        """Do all ticks before `time_s`. Returns the edge of the next one."""
        self._do(self.ticks.before(time_s - EDGE_S))
        return self.ticks.at(self.tick) + EDGE_S

    def _pass_gap(self, until_s: float) -> None:
        """Leave out the ticks up to the last one before `until_s`."""
        target = self.ticks.before(until_s - EDGE_S) - 1
        if self.ticks.end() is None and target > self.tick:
            self._do(self.tick + 1)
            self.gap_ticks += target - self.tick
            self.tick = max(target, self.tick)

    def _do(self, stop: int) -> None:
        if stop <= self.tick:
            return
        first, heard, commands = self.tick, self._heard, self._commands
        changes = [subject.advance(first, stop, heard) for subject in self.subjects]
        if commands or any(changes):
            for observer in self.observers:
                observer.span(first, stop, changes, commands)
        self.tick = stop
        self._heard.clear()
        self._commands.clear()
