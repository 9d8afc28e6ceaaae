"""One CAN bus in real time: arbitration by identifier, pacing by bit rate, error frames, a babbling node for load.

The wire has its own clock: a frame begins when the one before has ended, or when it came, and takes its bits. When the
process wakes late, all that has ended meanwhile is delivered at once; the wire itself keeps its bit rate.
Simplified: two nodes that send one identifier with different data are served one after the other, not destroyed.
"""

import random
from collections.abc import Callable

from hub.adapter import Adapter
from hub.wire import ERROR_FRAME_BITS, LENGTHS, Frame, arbitration_key


class Load:
    """A node inside the hub that always has a frame to send: `share` of the bus (1.0: all that is left)."""

    def __init__(self, arbitration_id: int, is_extended: bool, size: int, share: float, seed: int = 1) -> None:
        self._random = random.Random(seed)
        self._id, self._extended, self._size, self._share = arbitration_id, is_extended, size, share
        self.due_s = 0.0
        self.frame = self._next()
        self.sent = 0

    def _next(self) -> Frame:
        return Frame(self._id, self._extended, self._random.randbytes(self._size), False, self._size)

    def was_sent(self, start_s: float, length_s: float) -> None:
        """Prepare the next frame."""
        self.sent += 1
        self.due_s = max(self.due_s, start_s) + length_s / self._share
        self.frame = self._next()


class HubBus:
    """`on_frame(end_s, bus, sender, frame)` is called for each frame that was on the wire whole."""

    def __init__(
        self, name: str, bitrate: int, stuffing: str, on_frame: Callable[[float, str, str, Frame], None]
    ) -> None:
        self.name = name
        self.bitrate = bitrate
        self.adapters: list[Adapter] = []
        self.load: Load | None = None
        self.destroy = 0
        """Frames still to be destroyed by a disturbance."""
        self.witness = True
        """One more node on the bus that only acknowledges: a boat has many boxes. Without it the last adapter is alone,
        and no frame of its own is ever acknowledged."""
        self.frames = 0
        self.destroyed = 0
        self.busy_s = 0.0
        self._bits = LENGTHS[stuffing]
        self._on_frame = on_frame
        self._free_s = 0.0
        self._now: tuple[float, float, Adapter | None, Frame] | None = None

    def advance(self, now_s: float) -> None:
        """Let everything happen that has ended by `now_s`."""
        while True:
            if self._now is None and not self._begin(now_s):
                return
            assert self._now is not None
            start_s, end_s, sender, frame = self._now
            if end_s > now_s:
                return
            self._now = None
            self._free_s = end_s
            self.busy_s += end_s - start_s
            self._end(start_s, end_s, sender, frame)

    def _begin(self, now_s: float) -> bool:
        heads: list[tuple[float, Adapter | None, Frame]] = [
            (adapter.queue[0][0], adapter, adapter.queue[0][1])
            for adapter in self.adapters
            if adapter.queue and adapter.on_bus
        ]
        if self.load is not None:
            heads.append((self.load.due_s, None, self.load.frame))
        if not heads:
            return False
        start_s = max(self._free_s, min(head[0] for head in heads))
        if start_s > now_s:
            return False
        _, sender, frame = min(
            (head for head in heads if head[0] <= start_s), key=lambda head: arbitration_key(head[2])
        )
        self._now = (start_s, start_s + self._bits(frame) / self.bitrate, sender, frame)
        return True

    def _end(self, start_s: float, end_s: float, sender: Adapter | None, frame: Frame) -> None:
        alone = self.witness + sum(one.on_bus for one in self.adapters) + (self.load is not None) < 2
        if self.destroy > 0 or alone:  # nobody acknowledges a frame on a bus with one node
            self.destroy = max(0, self.destroy - 1)
            self.destroyed += 1
            self._free_s = end_s + ERROR_FRAME_BITS / self.bitrate
            if sender is not None and self.destroyed and not alone:
                sender.send_failed()
            return  # it stays in the queue and is sent again
        if sender is None:
            if self.load is not None:  # else it was taken away half way: let its last frame pass
                self.load.was_sent(start_s, end_s - start_s)
        elif sender.queue and sender.queue[0][1] is frame:
            sender.queue.popleft()
            sender.send_errors = max(0, sender.send_errors - 1)
            sender.count("sent")
        else:
            return  # closed or unplugged half way: the rest of the frame never came
        self.frames += 1
        for adapter in self.adapters:
            if adapter is not sender and adapter.on_bus:
                adapter.deliver(frame)
        self._on_frame(end_s, self.name, "load" if sender is None else sender.name, frame)

    def next_s(self) -> float | None:
        """When something ends or may begin; None: not before a host sends."""
        if self._now is not None:
            return self._now[1]
        return self.load.due_s if self.load is not None else None
