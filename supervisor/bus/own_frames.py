"""The supervisor's own identifiers, heard: another supervisor on the bus, or a stand-in or a replay that sends for one.

An adapter may give back what was sent through it. Such an echo is a frame equal to one sent within the last ECHO_S,
each of them once; only adapters that are known for it are allowed echoes.
"""

from collections import deque
from collections.abc import Iterable, Sequence

import can

from supervisor.bus.rows import BoatMap

ECHOING = frozenset({"udp_multicast"})
"""Interfaces of python-can that give back what was sent through them."""
ECHO_S = 1.0

_Frame = tuple[int, bool, bytes]


class _Bus:
    __slots__ = ("echoes", "names", "waiting")

    def __init__(self, echoes: bool) -> None:
        self.echoes = echoes
        self.names: dict[tuple[int, bool], str] = {}
        self.waiting: deque[tuple[float, _Frame]] = deque()
        """What was sent and not yet given back, oldest first."""


class OwnFrames:
    """What this boat's supervisor sends, on each bus. `echoing`: the buses whose adapter gives back what was sent."""

    def __init__(self, boat_map: BoatMap, echoing: Iterable[str] = ()) -> None:
        back = frozenset(echoing)
        self._buses: dict[str, _Bus] = {}
        for row in boat_map.outputs:
            bus = self._buses.setdefault(row.bus, _Bus(row.bus in back))
            codec = row.message
            bus.names[codec.arbitration_id, codec.is_extended] = codec.name

    def sent(self, now_s: float, frames: Sequence[tuple[str, can.Message]]) -> None:
        """Frames that went out at `now_s`."""
        for name, message in frames:
            bus = self._buses.get(name)
            if bus is None or not bus.echoes:
                continue
            bus.waiting.append((now_s, _frame(message)))

    def foreign(self, now_s: float, name: str, message: can.Message) -> str:
        """The name of the own message that somebody else has sent; "" for an echo and for all others' frames."""
        bus = self._buses.get(name)
        if bus is None:
            return ""
        own = bus.names.get((message.arbitration_id, message.is_extended_id))
        if own is None or message.is_error_frame or message.is_remote_frame:
            return ""
        waiting = bus.waiting
        while waiting and now_s - waiting[0][0] > ECHO_S:
            waiting.popleft()
        heard = _frame(message)
        for index, (_, frame) in enumerate(waiting):
            if frame == heard:
                del waiting[index]
                return ""
        return own


def _frame(message: can.Message) -> _Frame:
    return (message.arbitration_id, message.is_extended_id, bytes(message.data))
