"""Faults of frames between node and bus."""

import random
from collections.abc import Mapping

import can

from sim.faults.base import Bench, Fault, Sent, Value, bus_of, node_of
from supervisor.bus import MessageCodec
from supervisor.bus.e2e import profile1_crc, start_value

FRAME_BITS = 125
"""Length of a frame of 8 bytes with an 11-bit identifier: 111 bits, and some stuffing."""


class NodeSilent(Fault):
    """The node's frames no longer reach the bus; it still hears and still works."""

    def start(self, bench: Bench, now_s: float) -> None:
        self.target = node_of(bench, self.target).name

    def frames(self, now_s: float, frames: list[Sent]) -> list[Sent]:
        return [sent for sent in frames if sent.node != self.target]


class FrozenCounter(Fault):
    """The node's guard counters stand still, with a valid checksum: a program that hangs behind a live transmitter."""

    def start(self, bench: Bench, now_s: float) -> None:
        for sender in node_of(bench, self.target).senders:
            sender.frozen = True

    def stop(self, bench: Bench, now_s: float) -> None:
        for sender in node_of(bench, self.target).senders:
            sender.frozen = False


class _OnFrames(Fault):
    """A fault on each frame of one node. `changed` gets the frames of one tick, in order."""

    guards: Mapping[tuple[str, int], MessageCodec]

    def start(self, bench: Bench, now_s: float) -> None:
        node = node_of(bench, self.target)
        self.target = node.name
        self.guards = {
            (sender.bus, sender.arbitration_id): sender.codec
            for sender in node.senders
            if sender.codec.data_id is not None
        }

    def frames(self, now_s: float, frames: list[Sent]) -> list[Sent]:
        result: list[Sent] = []
        mine: list[Sent] = []
        for sent in frames:
            (mine if sent.node == self.target else result).append(sent)
        return result + self.changed(now_s, mine)

    def changed(self, now_s: float, frames: list[Sent]) -> list[Sent]:
        return frames


class BadCrc(_OnFrames):
    """One bit of every guarded frame of the node is turned over on its way."""

    def __init__(self, target: str, params: Mapping[str, Value]) -> None:
        super().__init__(target, params)
        self._noise = random.Random(1)  # noqa: S311 - a simulation, no secret

    def changed(self, now_s: float, frames: list[Sent]) -> list[Sent]:
        return [self._hit(sent) for sent in frames]

    def _hit(self, sent: Sent) -> Sent:
        if (sent.bus, sent.message.arbitration_id) not in self.guards:
            return sent
        data = bytearray(sent.message.data)
        data[self._noise.randrange(len(data))] ^= 1 << self._noise.randrange(8)
        return sent._replace(message=_copy(sent.message, data))


class Delayed(_OnFrames):
    """The node's frames arrive late, in their order. What still waits when the fault ends arrives then."""

    def __init__(self, target: str, params: Mapping[str, Value]) -> None:
        super().__init__(target, params)
        self._waiting: list[tuple[float, Sent]] = []

    def changed(self, now_s: float, frames: list[Sent]) -> list[Sent]:
        delay_s = self.number("delay_s")
        self._waiting += [(now_s + delay_s, sent) for sent in frames]
        due = [sent for due_s, sent in self._waiting if due_s <= now_s + 1e-9]
        self._waiting = self._waiting[len(due) :]
        return due


class Duplicated(_OnFrames):
    """Every frame of the node arrives twice, as behind a gateway with a loop."""

    def changed(self, now_s: float, frames: list[Sent]) -> list[Sent]:
        return [sent for sent in frames for _ in range(2)]


class Reordered(_OnFrames):
    """Each two frames of one message change places, as behind a gateway with two queues."""

    def __init__(self, target: str, params: Mapping[str, Value]) -> None:
        super().__init__(target, params)
        self._held: dict[tuple[str, int], Sent] = {}

    def changed(self, now_s: float, frames: list[Sent]) -> list[Sent]:
        result = []
        for sent in frames:
            place = (sent.bus, sent.message.arbitration_id)
            earlier = self._held.pop(place, None)
            if earlier is None:
                self._held[place] = sent
            else:
                result += [sent, earlier]
        return result


class WrongSource(_OnFrames):
    """The node's frames come from somebody else: 29-bit identifiers carry another source address, guarded frames the
    data identifier of another message."""

    def changed(self, now_s: float, frames: list[Sent]) -> list[Sent]:
        return [self._renamed(sent) for sent in frames]

    def _renamed(self, sent: Sent) -> Sent:
        message = sent.message
        codec = self.guards.get((sent.bus, message.arbitration_id))
        changed = _copy(message, message.data)
        if codec is not None and codec.data_id is not None:
            data = bytearray(message.data)
            # Only the checksum: what another fault did to the counter, to one that does not exist perhaps, stays so.
            data[0] = profile1_crc(data, start_value(codec.data_id ^ 0x0080))
            changed = _copy(message, data)
        elif message.is_extended_id:
            changed.arbitration_id = message.arbitration_id & ~0xFF | int(self.number("source"))
        return sent._replace(message=changed)


class Babbling(Fault):
    """A node floods the bus with a frame of the highest priority.

    The bus carries so many frames a tick as its bit rate allows; the flood takes `load_pct` of them, and what is left
    goes to the lowest identifiers. At 100 % nobody else is heard, in either direction.
    """

    def start(self, bench: Bench, now_s: float) -> None:
        self.target = bus_of(bench, self.target)
        room = bench.bitrates[self.target] * bench.tick_s / FRAME_BITS
        self._flood = round(room * self.number("load_pct") / 100.0)
        self._left = max(0, int(room) - self._flood)

    def frames(self, now_s: float, frames: list[Sent]) -> list[Sent]:
        flood = can.Message(arbitration_id=0x001, is_extended_id=False, data=bytes(8))
        mine = sorted((sent for sent in frames if sent.bus == self.target), key=_priority)
        others = [sent for sent in frames if sent.bus != self.target]
        return others + [Sent("", self.target, flood)] * self._flood + mine[: self._left]

    def orders(self, now_s: float, bus: str, messages: list[can.Message]) -> list[can.Message]:
        return messages[: self._left] if bus == self.target else messages


def _priority(sent: Sent) -> tuple[int, bool]:
    """Arbitration: the first 11 bits decide, then the shorter form wins."""
    message = sent.message
    return (message.arbitration_id >> 18, True) if message.is_extended_id else (message.arbitration_id, False)


def _copy(message: can.Message, data: bytearray) -> can.Message:
    return can.Message(
        arbitration_id=message.arbitration_id, is_extended_id=message.is_extended_id, data=bytearray(data)
    )
