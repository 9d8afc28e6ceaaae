"""What one subject did over the recording: its modes, its events, its trips with first-out."""

from collections.abc import Callable, Sequence
from typing import NamedTuple

from sim.replay.replayed import Change, Heard
from supervisor.controller import Event
from supervisor.controller.events import EventKind

EVENTS_KEPT = 20_000
"""Events kept in memory; later ones are only counted. A sound day has some hundreds."""


class ModeSpan(NamedTuple):
    """A stretch of one mode."""

    subject: str
    mode: str
    begin_s: float
    end_s: float
    cause: str


class Trip(NamedTuple):
    """A trip: when, of what, which condition came first, in words; `doubt` is why it may never have happened."""

    time_s: float
    subject: str
    first_out: str
    text: str
    doubt: str = ""


class History:
    """Observes subject number `which` of an engine."""

    def __init__(self, which: int, shaft_names: Sequence[str], doubt_at: Callable[[float], str] = lambda _: "") -> None:
        """`doubt_at` says of a log time why what was decided then may not have happened."""
        self.which = which
        self._doubt_at = doubt_at
        self.names = ("boat", *shaft_names)
        self.events: list[Event] = []
        self.events_lost = 0
        self.trips: list[Trip] = []
        self.spans: list[ModeSpan] = []
        self.mode_changes = 0
        self.mode_s: dict[tuple[str, str], float] = {}
        self.changes = 0
        self._open: list[tuple[str, float, str]] = []
        self._modes: tuple[object, ...] = ()

    def span(self, first: int, stop: int, changes: Sequence[Sequence[Change]], commands: Sequence[Heard]) -> None:
        """Take note of what changed."""
        for change in changes[self.which]:
            self.changes += 1
            events = change.outcome.events
            if events:
                self._take(events)
            same = change.outcome[1:3]
            if same == self._modes:
                continue
            self._modes = same
            modes = (change.outcome.boat_mode, *change.outcome.shaft_modes)
            if not self._open:
                self._open = [(mode.name, change.time_s, "power-up") for mode in modes]
                continue
            for index, mode in enumerate(modes):
                if mode.name != self._open[index][0]:
                    self._close(index, change.time_s)
                    self._open[index] = (mode.name, change.time_s, self._cause(index, events))
                    self.mode_changes += 1

    def _take(self, events: Sequence[Event]) -> None:
        for event in events:
            if len(self.events) < EVENTS_KEPT:
                self.events.append(event)
            else:
                self.events_lost += 1
            if event.kind is EventKind.TRIP and len(self.trips) < EVENTS_KEPT:
                doubt = self._doubt_at(event.time_s)
                self.trips.append(Trip(event.time_s, event.subject, event.first_out, event.told, doubt))

    def _cause(self, index: int, events: Sequence[Event]) -> str:
        for event in events:
            if event.kind in (EventKind.MODE, EventKind.TRIP) and event.subject == self.names[index]:
                return event.told
        return ""

    def _close(self, index: int, until_s: float) -> None:
        mode, since_s, cause = self._open[index]
        name = self.names[index]
        key = (name, mode)
        self.mode_s[key] = self.mode_s.get(key, 0.0) + until_s - since_s
        if len(self.spans) < EVENTS_KEPT:
            self.spans.append(ModeSpan(name, mode, since_s, until_s, cause))

    def finish(self, end_s: float) -> None:
        """Close the last stretches at the time of the last tick."""
        for index in range(len(self._open)):
            self._close(index, end_s)
        self._open = []
