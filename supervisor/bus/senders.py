"""Two senders of one guarded message: seen by their counters, which run side by side.

One sender counts on by ones. Frames may be lost, or come late in a burst, or the sender may begin anew: then the count
jumps, and what was left behind is never taken up again. Of two senders each takes up its own count where the other
broke in: that is the mark. Sixteen steps lie between a count and its return (AUTOSAR E2E profile 1 counts from 0 to
14), so that one sender leaves a mark only if it lost some fifteen frames and came back within `memory_s`. Frames that
change places on the way leave marks too, but with as many jumps between them.

Two that say the same in step with each other, byte for byte, are not told from a gateway with a loop: nothing
contradicts, nothing is lost. The first frame in which they differ counts at once.
"""

import math
from typing import NamedTuple

from supervisor.bus.e2e import GuardChecker, Verdict, next_counter

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


class GuardedStream:
    """The frames of one guarded message as they arrive: checksum, counter, and whether they have one sender."""

    __slots__ = ("_checker", "_heard", "_restarts", "_senders", "heard_s", "second_found", "silence_s")

    def __init__(self, data_id: int, max_delta: int, silence_s: float = 0.0, restarts: bool = True) -> None:
        """After `silence_s` (s) a count that was broken off is forgotten, and with `restarts` the counter starts
        anew."""
        self._checker = GuardChecker(data_id, max_delta)
        self._senders = Senders(silence_s)
        self._restarts = restarts
        self._heard: bytes | bytearray = b""
        self.silence_s = silence_s
        self.heard_s = -math.inf
        self.second_found = False
        """This very frame showed that there are two senders, where there was one before."""

    def check(self, data: bytes | bytearray, time_s: float) -> Verdict:
        """The verdict on one frame. While there are two senders, no frame may be used whatever it says."""
        checker, senders = self._checker, self._senders
        self.second_found = False
        if self._restarts and time_s - self.heard_s > self.silence_s:
            self.restart()
        last = checker.last
        verdict = checker.check(data)
        if verdict is Verdict.WRONG_CRC:
            return verdict
        senders.frames += 1
        counter = checker.last
        if verdict is not Verdict.OK and last >= 0 and data[1] & 0x0F == counter:
            alone = time_s >= senders.two_until_s
            self.second_found = senders.odd(last, self.heard_s, counter, time_s, data == self._heard) and alone
        self._heard = data
        self.heard_s = time_s
        return verdict

    def two(self, now_s: float) -> bool:
        """Whether two senders were heard of late."""
        return now_s < self._senders.two_until_s

    def doubled(self, now_s: float) -> bool:
        """Whether each frame came twice of late."""
        return now_s < self._senders.doubled_until_s

    def set_silence(self, silence_s: float) -> None:
        """Change what counts as a silence, s."""
        self.silence_s = silence_s
        self._senders = Senders(silence_s)

    def restart(self) -> None:
        """The counter starts anew: the first frame is not used."""
        self._checker.restart()
        self._senders.restart()
