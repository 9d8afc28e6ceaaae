"""How fast the boat's time goes beside the clock on the wall: once, several times, or as fast as it can."""

from supervisor.runtime.collector import SlackCollector
from supervisor.runtime.histogram import Histogram
from supervisor.runtime.loop import Clock

AS_FAST_AS_IT_CAN = 0.0
SPEEDS = (1.0, 2.0, 5.0, 10.0, AS_FAST_AS_IT_CAN)
"""Times real time that may be asked for."""

_ROOM_S = 0.005
"""What the collector of memory may take of a tick that has no time to spare: memory must not grow for hours."""


class Pace:
    """Call `wait` before each tick and `rest` after it. Deadlines are absolute; what a late tick missed is skipped and
    counted, never caught up in a burst."""

    def __init__(self, tick_s: float, clock: Clock) -> None:
        self._tick_s = tick_s
        self._clock = clock
        self._due_s: float | None = None
        self.speed = 1.0
        self.late = Histogram()
        """Lateness of ticks at a speed that is not as fast as it can, s."""
        self.missed = 0

    def set_speed(self, speed: float) -> None:
        """Raises ValueError for one that is not among SPEEDS."""
        if speed not in SPEEDS:
            allowed = ", ".join(f"{one:g}" for one in SPEEDS)
            raise ValueError(f"{speed:g} times real time is not allowed: {allowed} (0: as fast as it can)")
        self.speed, self._due_s = speed, None

    def go_on_from(self, other: "Pace") -> None:
        """The same speed and the same deadlines, with counts of its own."""
        self.speed, self._due_s = other.speed, other._due_s

    def begin_anew(self) -> None:
        """The boat stood still for a while (a folder was written): no tick was missed."""
        self._due_s = None

    def wait(self) -> float:
        """Until the next tick is due. Returns the time of the clock (s)."""
        now_s = self._clock.now_s()
        if self.speed == AS_FAST_AS_IT_CAN:
            return now_s
        period_s = self._tick_s / self.speed
        if self._due_s is None:
            self._due_s = now_s
            return now_s
        self._due_s += period_s
        self._clock.wait_until(self._due_s)
        now_s = self._clock.now_s()
        late_s = max(now_s - self._due_s, 0.0)
        self.late.add(late_s)
        missed = int(late_s / period_s)
        self.missed += missed
        self._due_s += missed * period_s
        return now_s

    def rest(self, collector: SlackCollector) -> None:
        """Give the collector what is left of this tick."""
        left_s = 0.0 if self._due_s is None else self._due_s + self._tick_s / self.speed - self._clock.now_s()
        collector.collect(max(left_s, _ROOM_S))
