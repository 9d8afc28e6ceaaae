"""Two senders of one guarded message: seen by their counters, which run side by side.

One sender counts on by ones. Frames may be lost, or come late in a burst, or the sender may begin anew: then the count
jumps, and what was left behind is never taken up again. Of two senders each takes up its own count where the other
broke in: that is the mark. Sixteen steps lie between a count and its return (AUTOSAR E2E profile 1 counts from 0 to
14), so that one sender leaves a mark only if it lost some fifteen frames and came back within `memory_s`. Frames that
change places on the way leave marks too, but with as many jumps between them.

Two that say the same in step with each other, byte for byte, are not told from a gateway with a loop: nothing
contradicts, nothing is lost. The first frame in which they differ counts at once.
"""

from typing import NamedTuple

from supervisor.bus.e2e import next_counter

MARKS = 4
"""So many marks say that there are two..."""
WITHIN_FRAMES = 16
"""...within so many frames..."""
JUMPS = 1
"""...with no more jumps between them than this."""
CLEAR_S = 2.0
"""So long without a mark, and there is one sender again."""
_PASSED = 6
"""A count that was left behind is forgotten when so many frames have passed it."""


class _Left(NamedTuple):
    """A count that was broken off."""

    counter: int
    time_s: float
    frame: int


class _Mark(NamedTuple):
    """A count was taken up again: the number of the frame, and how many jumps there were until then."""

    frame: int
    jumps: int


class Senders:
    """The counters of one message, in the order of their arrival, frames with a wrong checksum left out.

    `frames` is counted up by the caller for each frame; `odd` is called for those that do not count on by one.
    """

    __slots__ = ("_jumps", "_left", "_marks", "_memory_s", "doubled_until_s", "frames", "two_until_s")

    def __init__(self, memory_s: float) -> None:
        """`memory_s`: how long a count that was broken off may be taken up again (s)."""
        self._memory_s = memory_s
        self._left: list[_Left] = []
        self._marks: list[_Mark] = []
        self._jumps = 0
        self.frames = 0
        self.two_until_s = 0.0
        """Until then the message has two senders; each mark puts it off. Times are never negative."""
        self.doubled_until_s = 0.0
        """Until then its frames come twice, byte for byte."""

    def odd(self, last: int, last_s: float, counter: int, time_s: float, same: bool) -> bool:
        """A frame with `counter` at `time_s` after one with `last` at `last_s`; `same`: both are equal byte for byte.
        True if this shows two senders."""
        left = [
            entry
            for entry in self._left
            if time_s - entry.time_s <= self._memory_s and self.frames - entry.frame <= _PASSED
        ]
        taken_up = next((entry for entry in left if next_counter(entry.counter) == counter), None)
        if taken_up is None:
            self._jumps += 1
        else:
            left.remove(taken_up)
            self._marks = [*self._marks[1 - MARKS :], _Mark(self.frames, self._jumps)]
        left.append(_Left(last, last_s, self.frames - 1))
        self._left = left
        if taken_up is None or len(self._marks) < MARKS:
            return False
        first = self._marks[0]
        if self.frames - first.frame > WITHIN_FRAMES or self._jumps - first.jumps > JUMPS:
            return False
        if same:
            self.doubled_until_s = time_s + CLEAR_S
            return False
        self.two_until_s = time_s + CLEAR_S
        return True

    def restart(self) -> None:
        """The bus was away, or the message silent: what was left behind is nobody's."""
        self._left = []
        self._marks = []
