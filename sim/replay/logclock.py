"""Log time out of time stamps: seconds since the first frame, never backwards, whatever the recorder's clock did.

A stamp a little before the last one is taken as it stands in the file. A stamp far away is held until the next one
comes: if that agrees with it, the clock was set or nothing was recorded; if that agrees with the frame before, it was
one damaged stamp. A step forward cannot be told from a gap here: a long one is a gap, of a shorter one SILENCE tells
whoever knows the frames (sim.replay.moved).

A clock that stands still is told by what a bus can carry: more frames under stamps than fit into them.
"""

import math
from collections import deque

from sim.replay.health import Health

STAMP_MAX = 1e11
"""Stamps beyond this (some three thousand years) are damage."""

GAP_MAX_S = 30 * 86400.0
"""A longer step forward is taken for a clock that was set, not for a gap: log time goes on without a break."""

MERGED_S = 0.05
"""Channels that are merged into one file are out of order by no more than this."""
BACK = "stamps run back here: a clock that was set, or frames of another time"
SET = "the recorder's clock was set here"
ORDER_S = 1.0
"""Stamps that go back by no more than this are out of order, not a clock set back (recorders merge channels)."""


Item = tuple[float, object, bytes]
"""A frame: log time in s, the handle that was given for its identifier (None: nobody wants it), data. The handle GAP
stands for a gap that begins here and lasts to the next item."""

GAP = object()
SILENCE = object()
"""The handle of an item that says: between the item before and the next one no channel said anything for longer than
is usual."""
NEAR_S = 0.2
"""A stamp further ahead than this is looked at twice."""
ENOUGH = 20
"""Frames that show what is usual."""
LATELY = 10
"""What was usual so many seconds ago counts: a bus may fall asleep."""
UNUSUAL = 10.0
"""So many times the usual time between two frames is a silence."""
BITRATE = 2_000_000.0
"""Of all channels together where nobody says how fast they are: two at the most that CAN allows."""
BURST_S = 0.06
"""Frames may be stamped in bursts, by the tick that read them: so much of a full bus is none too much."""
FRAME_BITS = 47
"""The shortest frame with an 11-bit identifier: 44 bits, and 3 between frames (Bosch CAN 2.0, part A)."""


class LogClock:
    """Turns stamps into log time. A reader keeps `last` and `offset` in locals and calls `odd` for a stamp that is not
    within 0 to `near_s` after `last`; then it reads `last` and `offset` again. `carried` is told now and then."""

    def __init__(self, health: Health, gap_s: float, origin: float | None = None) -> None:
        self.gap_s = gap_s
        self.near_s = min(gap_s, NEAR_S)
        """What a reader takes without asking."""
        self.frames = 0
        """Frames so far; kept by the reader, before it calls `odd`."""
        self.bitrate = BITRATE
        """Of all channels together, bit/s."""
        self._marks: deque[tuple[float, int]] = deque(maxlen=LATELY)
        """Stamps, about a second apart, and how many frames had come by then."""
        self._load_bits = 0.0
        self._load_s = math.nan
        self._still_s = math.nan
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
        back_to_before = 0.0 <= stamp - last <= self.near_s
        agrees = -ORDER_S <= stamp - held[0] <= self.gap_s
        if not back_to_before and (agrees or 0.0 < held[0] - last <= self.gap_s):
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
        if 0.0 < held[0] - self._before <= self.gap_s:
            settled = self._silence(self._before + self.offset, held[0] - self._before, self._before)
            self.last = held[0]
            self.end_s = held[0] + self.offset
            return [*settled, (self.end_s, held[1], held[2])]
        self.last = self._before
        return [self._stray(held[1], held[2])]

    def _next(self, stamp: float, handle: object, data: bytes) -> list[Item]:
        if 0.0 <= stamp - self.last <= self.near_s:
            self.last = stamp
            return [(stamp + self.offset, handle, data)]
        return self._suspect(stamp, handle, data)

    def carried(self, stamp: float, frames: int, size: int) -> None:
        """`frames` with `size` bytes of data have come since this was last told, the last of them at `stamp`."""
        if not -STAMP_MAX < stamp < STAMP_MAX or self.begin is None:
            return
        if self._load_s == self._load_s:
            self._load_bits = max(0.0, self._load_bits - max(0.0, stamp - self._load_s) * self.bitrate)
        if not self._marks or stamp - self._marks[-1][0] >= 1.0:
            self._marks.append((stamp, self.frames))
        self._load_s = stamp
        self._load_bits += FRAME_BITS * frames + 8 * size
        at_s = stamp + self.offset
        if self._load_bits > BURST_S * self.bitrate:
            if self._still_s != self._still_s:
                self._still_s = at_s
            least_s = self._load_bits / self.bitrate
            self.health.stood_still(self._still_s, at_s, least_s)
        else:
            self._still_s = math.nan

    def _suspect(self, stamp: float, handle: object, data: bytes) -> list[Item]:
        back_s = self.last - stamp
        if 0.0 < back_s <= ORDER_S:
            self.health.late += 1
            self.health.latest_s = max(self.health.latest_s, back_s)
            if back_s > MERGED_S:
                at_s = self.last + self.offset
                self.health.doubt(at_s, at_s + back_s, BACK)
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
        if 0.0 < by_s <= self.gap_s:
            return self._silence(at_s, by_s, last)
        if 0.0 < by_s <= GAP_MAX_S:
            self.health.gap(at_s, by_s)
            self.health.doubt(at_s, at_s + by_s, "nothing was recorded here, or the recorder's clock was set forward")
            return [(at_s, GAP, b"")]
        self.offset = at_s - held
        while held + self.offset < at_s:  # rounding must not turn time back
            self.offset = math.nextafter(self.offset, math.inf)
        self.health.step(at_s, by_s)
        self.health.doubt(at_s, at_s, SET)
        return []

    def _silence(self, at_s: float, by_s: float, last: float) -> list[Item]:
        """Between the frame before, stamped `last`, and the next one."""
        if self.begin is None or self.frames < ENOUGH:
            return []
        usual_s = max(0.0, last - self.begin) / self.frames
        if len(self._marks) == LATELY:
            stamp, frames = self._marks[0]
            usual_s = max(usual_s, (last - stamp) / max(self.frames - frames, 1))
        return [(at_s, SILENCE, b"")] if by_s > max(self.near_s, UNUSUAL * usual_s) else []
