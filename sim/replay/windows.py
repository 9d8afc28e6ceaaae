"""The ten seconds before and after each trip, row by row."""

from collections import deque
from collections.abc import Sequence
from typing import NamedTuple

from sim.replay.history import Trip
from sim.replay.replayed import Change, Heard
from sim.replay.signals import Signals, Value
from supervisor.controller import Event
from supervisor.controller.events import EventKind

AROUND_S = 10.0
WINDOWS_MAX = 12
"""Trips that get a window; later ones are in the list of events."""


class Window(NamedTuple):
    """Rows of signals around one trip, and the events among them."""

    trip: Trip
    times_s: list[float]
    rows: list[tuple[Value, ...]]
    events: list[Event]


class Windows:
    """Observes one subject."""

    def __init__(self, which: int, signals: Signals) -> None:
        self.windows: list[Window] = []
        self._which = which
        self._signals = signals
        self._before: deque[Change] = deque()
        self._open: list[Window] = []

    def span(self, first: int, stop: int, changes: Sequence[Sequence[Change]], commands: Sequence[Heard]) -> None:
        """Keep the last ten seconds, and fill the windows that are open."""
        before = self._before
        for change in changes[self._which]:
            now_s = change.time_s
            before.append(change)
            while len(before) > 1 and before[1].time_s < now_s - AROUND_S:
                before.popleft()
            if self._open:
                self._open = [window for window in self._open if now_s <= window.trip.time_s + AROUND_S]
                row = self._signals.row(change)
                for window in self._open:
                    window.times_s.append(now_s)
                    window.rows.append(row)
                    window.events.extend(change.outcome.events)
            for event in change.outcome.events:
                if event.kind is EventKind.TRIP and len(self.windows) < WINDOWS_MAX:
                    self._begin(event)

    def _begin(self, event: Event) -> None:
        trip = Trip(event.time_s, event.subject, event.first_out, event.told)
        held = list(self._before)
        window = Window(
            trip, [change.time_s for change in held], [self._signals.row(change) for change in held],
            [one for change in held for one in change.outcome.events],
        )  # fmt: skip
        self.windows.append(window)
        self._open.append(window)
