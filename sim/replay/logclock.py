"""Log time out of time stamps: seconds since the first frame, never backwards, whatever the recorder's clock did.

A stamp a little before the last one is taken as it stands in the file. A stamp far away is held until the next one
comes: if that agrees with it, the clock was set or nothing was recorded; if that agrees with the frame before, it was
one damaged stamp. A step forward cannot be told from a gap, and is a gap.
"""

import math

from sim.replay.health import Health

STAMP_MAX = 1e11
"""Stamps beyond this (some three thousand years) are damage."""

GAP_MAX_S = 30 * 86400.0
"""A longer step forward is taken for a clock that was set, not for a gap: log time goes on without a break."""

ORDER_S = 1.0
"""Stamps that go back by no more than this are out of order, not a clock set back (recorders merge channels)."""


Item = tuple[float, object, bytes]
"""A frame: log time in s, the handle that was given for its identifier (None: nobody wants it), data. The handle GAP
stands for a gap that begins here and lasts to the next item."""

GAP = object()


class LogClock:
    """Turns stamps into log time. A reader keeps `last` and `offset` in locals and calls `odd` for a stamp that is not
    within 0 to `gap_s` after `last`; then it reads `last` and `offset` again."""

    def __init__(self, health: Health, gap_s: float, origin: float | None = None) -> None:
        self.gap_s = gap_s
        self._origin = origin
        self.health = health
        self.last = math.nan
        """Stamp of the last frame taken, in the recorder's time; NaN before the first and while a frame is held."""
        self.offset = 0.0
        """Log time is stamp + offset."""
        self.begin: float | None = None
        """The first stamp."""
        self._held: tuple[float, object, bytes] | None = None
        self._before = math.nan
        self.end_s = 0.0
        """Log time of the last frame; kept by `odd` and by the reader."""

    def odd(self, stamp: float, handle: object, data: bytes) -> list[Item]:
        """Take a frame whose stamp does not simply follow. Returns the frames that are settled by it, in order; those
        with a handle of None are only there for their time."""
        if not -STAMP_MAX < stamp < STAMP_MAX:
            return [*self.flush(), self._stray(handle, data)]
        if self.begin is None:
            self.begin = stamp
            self.offset = -stamp if self._origin is None else -self._origin
            self.last = stamp
            return [(stamp + self.offset, handle, data)]
        held = self._held
        if held is None:
            return self._suspect(stamp, handle, data)
        self._held = None
        last = self._before
        if -ORDER_S <= stamp - held[0] <= self.gap_s:
            settled = self._jump(held[0], last)
            settled.append((held[0] + self.offset, held[1], held[2]))
            self.last = held[0]
            return settled + self._next(stamp, handle, data)
        self.last = last
        return [self._stray(held[1], held[2]), *self._next(stamp, handle, data)]

    def flush(self) -> list[Item]:
        """At the end of the file: what is still held."""
        if self._held is None:
            return []
        held, self._held = self._held, None
        self.last = self._before
        return [self._stray(held[1], held[2])]

    def _next(self, stamp: float, handle: object, data: bytes) -> list[Item]:
        if 0.0 <= stamp - self.last <= self.gap_s:
            self.last = stamp
            return [(stamp + self.offset, handle, data)]
        return self._suspect(stamp, handle, data)

    def _suspect(self, stamp: float, handle: object, data: bytes) -> list[Item]:
        back_s = self.last - stamp
        if 0.0 < back_s <= ORDER_S:
            self.health.late += 1
            self.health.latest_s = max(self.health.latest_s, back_s)
            return [(self.last + self.offset, handle, data)]
        self._held = (stamp, handle, data)
        self._before = self.last
        self.last = math.nan
        return []

    def _stray(self, handle: object, data: bytes) -> Item:
        self.health.stray += 1
        time_s = self.last + self.offset if self.begin is not None else 0.0
        return (time_s, handle, data)

    def _jump(self, held: float, last: float) -> list[Item]:
        by_s = held - last
        at_s = last + self.offset
        if 0.0 < by_s <= GAP_MAX_S:
            self.health.gap(at_s, by_s)
            return [(at_s, GAP, b"")]
        self.offset = at_s - held
        while held + self.offset < at_s:  # rounding must not turn time back
            self.offset = math.nextafter(self.offset, math.inf)
        self.health.step(at_s, by_s)
        return []
