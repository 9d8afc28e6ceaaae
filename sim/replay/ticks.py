"""When the supervisor ticks, in log time and by its own clock, and what its runtime knew of itself at each tick."""

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
    """Ticks at every multiple of `tick_s` (s) of log time, from 0 to the end of the recording."""

    def __init__(self, tick_s: float, moments: Sequence[Moment] = ()) -> None:
        self.tick_s = tick_s
        self.moments = tuple(moments) or (Moment(0),)

    def at(self, number: int) -> float:
        """Log time of tick `number` (s)."""
        return number * self.tick_s

    own = at
    """The same by the supervisor's own clock."""
    zero_s = 0.0

    def before(self, time_s: float) -> int:
        """How many ticks lie before `time_s`."""
        tick_s = self.tick_s
        number = int(time_s / tick_s) if time_s > 0.0 else 0
        while number * tick_s < time_s:
            number += 1
        while number > 0 and (number - 1) * tick_s >= time_s:
            number -= 1
        return number

    def end(self) -> int | None:
        """Number of ticks, None: as many as the recording is long."""
        return None


class Recorded:
    """The very ticks of a recorded run.

    `own_s` are their times by the clock of that run, rising: often the machine's uptime, and to the last bit what the
    rules reckoned with. Log time, which a person reads, begins one tick before the first of them (a run on the bench
    counts so too); `zero_s` is what that clock was ahead of it (s).
    """

    def __init__(
        self, own_s: Sequence[float], tick_s: float, moments: Sequence[Moment], decided: Sequence[int] = ()
    ) -> None:
        """`decided` are the codes of what the ticks decided, -1 where none is known."""
        self.tick_s = tick_s
        self.decided = decided
        self.moments = tuple(moments) or (Moment(0),)
        self.zero_s = own_s[0] - tick_s
        self._own_s = own_s

    def own(self, number: int) -> float:
        """Time of tick `number` by the run's own clock (s); beyond the last one the grid goes on at the boat's tick."""
        beyond = number - len(self._own_s) + 1
        if beyond <= 0:
            return self._own_s[number]
        return self._own_s[-1] + beyond * self.tick_s

    def at(self, number: int) -> float:
        """Log time of tick `number` (s)."""
        return self.own(number) - self.zero_s

    def before(self, time_s: float) -> int:
        """How many ticks lie before log time `time_s`."""
        return bisect.bisect_left(self._own_s, time_s + self.zero_s)

    def end(self) -> int | None:
        """Number of ticks of the run."""
        return len(self._own_s)


Ticks = Grid | Recorded
