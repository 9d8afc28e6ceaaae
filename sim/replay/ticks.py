"""When the supervisor ticks, in log time, and what its runtime knew of itself at each tick."""

import bisect
from collections.abc import Sequence
from typing import NamedTuple


class Moment(NamedTuple):
    """What the runtime said at a tick, until the next Moment: the two contacts it measures itself, and the buses that
    had come back just then."""

    first_tick: int
    receive_ok: bool = True
    deadline_ok: bool = True
    reopened: tuple[str, ...] = ()


class Grid:
    """Ticks at every multiple of `tick_s` (s) of log time from the `first` one on; `count` of them, None: to the end of
    the recording."""

    def __init__(self, tick_s: float, moments: Sequence[Moment] = (), first: int = 0, count: int | None = None) -> None:
        self.tick_s = tick_s
        self._first = first
        self._count = count
        self.moments = tuple(moments) or (Moment(0),)

    def at(self, number: int) -> float:
        """Time of tick `number` (s)."""
        return (number + self._first) * self.tick_s

    def before(self, time_s: float) -> int:
        """How many ticks lie before `time_s`."""
        tick_s = self.tick_s
        number = int(time_s / tick_s) if time_s > 0.0 else 0
        while number * tick_s < time_s:
            number += 1
        while number > 0 and (number - 1) * tick_s >= time_s:
            number -= 1
        return number - self._first if number > self._first else 0

    def end(self) -> int | None:
        """Number of ticks, None: as many as the recording is long."""
        return self._count


class Recorded:
    """The very ticks of a recorded run: `times_s` in log time, rising."""

    def __init__(self, times_s: Sequence[float], tick_s: float, moments: Sequence[Moment]) -> None:
        self.tick_s = tick_s
        self.moments = tuple(moments) or (Moment(0),)
        self._times_s = times_s

    def at(self, number: int) -> float:
        """Time of tick `number` (s); beyond the last one the grid goes on at the boat's tick."""
        beyond = number - len(self._times_s) + 1
        if beyond <= 0:
            return self._times_s[number]
        return self._times_s[-1] + beyond * self.tick_s

    def before(self, time_s: float) -> int:
        """How many ticks lie before `time_s`."""
        return bisect.bisect_left(self._times_s, time_s)

    def end(self) -> int | None:
        """Number of ticks of the run."""
        return len(self._times_s)


Ticks = Grid | Recorded
