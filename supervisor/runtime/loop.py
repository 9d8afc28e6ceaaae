"""The fixed-rate loop. Time is injected: the same loop runs in virtual time, as fast as it can, and in real time.

Deadlines are absolute: relative sleeps drift. After an overrun the missed ticks are skipped and counted, never caught
up in a burst: a burst would feed the ramps and dwells with time that has already passed.
"""

import time
from collections.abc import Callable
from typing import Protocol

_ROUNDING = 1e-6
"""A lateness of a whole number of ticks must not come out just below it: two ticks would fall into one slot."""


class Clock(Protocol):
    """A monotonic clock that can wait."""

    def now_s(self) -> float:
        """Monotonic time in s."""

    def wait_until(self, deadline_s: float) -> None:
        """Return at `deadline_s` or as soon after as possible; at once if it is past."""


class RealClock:
    """The computer's monotonic clock; steps of the wall clock do not touch it."""

    def now_s(self) -> float:
        """Monotonic time in s."""
        return time.monotonic()

    def wait_until(self, deadline_s: float) -> None:
        """Sleep until `deadline_s`."""
        left_s = deadline_s - time.monotonic()
        if left_s > 0:
            time.sleep(left_s)


class VirtualClock:
    """Logical time: waiting is free, and nothing is ever late."""

    def __init__(self, start_s: float = 0.0) -> None:
        self._now_s = start_s

    def now_s(self) -> float:
        """Logical time in s."""
        return self._now_s

    def wait_until(self, deadline_s: float) -> None:
        """Move time on to `deadline_s`; time never moves back."""
        if deadline_s > self._now_s:
            self._now_s = deadline_s


class Timing:
    """How well the loop keeps its deadlines. Times in s; `late_s` counts ticks by lateness."""

    BOUNDS_S = (0.0001, 0.0002, 0.0005, 0.001, 0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 1.0)

    def __init__(self) -> None:
        self.ticks = 0
        self.missed = 0
        self.worst_late_s = 0.0
        self.histogram = [0] * (len(self.BOUNDS_S) + 1)

    def note(self, late_s: float) -> None:
        """Count one tick that began `late_s` after its deadline, whole missed ticks included."""
        self.ticks += 1
        if late_s > self.worst_late_s:
            self.worst_late_s = late_s
        for index, bound_s in enumerate(self.BOUNDS_S):
            if late_s <= bound_s:
                self.histogram[index] += 1
                return
        self.histogram[-1] += 1


class Loop:
    """Calls `tick(now_s)` every `tick_s` seconds of `clock`.

    `budget` is how many missed ticks are borne within `window_s`; beyond it `deadline_ok` becomes False: the caller
    passes it on to the supervisor, which trips. It becomes True again when a window holds no more than the budget: the
    trip is latched in the mode table, and only a reset by hand leaves it.
    """

    def __init__(
        self, tick: Callable[[float], object], tick_s: float, clock: Clock, budget: int = 3, window_s: float = 10.0
    ) -> None:
        self._tick = tick
        self._tick_s = tick_s
        self._clock = clock
        self._budget = budget
        self._window_s = window_s
        self._recent: list[float] = []
        self.timing = Timing()
        self.deadline_ok = True
        self._deadline_s: float | None = None

    def once(self) -> float:
        """Wait for the next deadline and run one tick there. Returns the time of the tick, in s."""
        clock, tick_s = self._clock, self._tick_s
        if self._deadline_s is None:
            self._deadline_s = clock.now_s()
        else:
            self._deadline_s += tick_s
        clock.wait_until(self._deadline_s)
        now_s = clock.now_s()
        late_s = now_s - self._deadline_s
        missed = int(late_s / tick_s + _ROUNDING)
        if missed > 0:
            self._deadline_s += missed * tick_s
            self._note_missed(now_s, missed)
        elif not self.deadline_ok:
            self._forget(now_s)
        self.timing.note(late_s)
        self._tick(now_s)
        return now_s

    def _note_missed(self, now_s: float, missed: int) -> None:
        self.timing.missed += missed
        self._recent += [now_s] * min(missed, self._budget + 1)
        self._forget(now_s)

    def _forget(self, now_s: float) -> None:
        self._recent = [when_s for when_s in self._recent if now_s - when_s <= self._window_s]
        self.deadline_ok = len(self._recent) <= self._budget

    def run(self, until_s: float | None = None, stop: Callable[[], bool] = lambda: False) -> None:
        """Run until the clock has reached `until_s`, or `stop()` says so."""
        while not stop():
            now_s = self.once()
            if until_s is not None and now_s + self._tick_s > until_s:
                return
