"""How a node hears the supervisor: frames checked against their guard, outputs by name, silence noticed.

An output that is not mapped on this boat is not wired: its contact is then bridged, and `value` gives the default.

Two supervisors on one bus: what either orders is no order. A drive then stays without torque until the one that is left
has ordered none.
"""

import math
from collections.abc import Iterable, Sequence

import can

from supervisor.bus import MessageCodec, OutputRow, SignalCodec
from supervisor.bus.e2e import Verdict
from supervisor.bus.senders import GuardedStream

SILENCE_S = 0.2
"""After this long without a good frame an order no longer counts."""

EPS_S = 1e-6


class _Heard:
    """One message of the supervisor."""

    __slots__ = ("barred", "codec", "good_s", "refused", "silence_s", "stream", "wanted")

    def __init__(self, codec: MessageCodec, silence_s: float) -> None:
        self.codec = codec
        self.silence_s = silence_s
        data_id = codec.data_id
        self.stream = None if data_id is None else GuardedStream(data_id, codec.max_delta, silence_s, restarts=False)
        self.wanted: list[tuple[tuple[int, str], SignalCodec]] = []
        self.good_s = -math.inf
        self.refused = 0
        self.barred = False
        """Two senders were heard, and the one that is left has not yet ordered zero torque."""

    def sound(self, data: bytes | bytearray, now_s: float) -> bool:
        """Whether the guard lets a frame through, and it has one sender."""
        stream = self.stream
        if stream is None:
            return True
        verdict = stream.check(data, now_s)
        if stream.second_found:
            self.good_s = -math.inf
            self.barred = True
        return verdict <= Verdict.SOME_LOST and not stream.two(now_s)


class Hearing:
    """The outputs in `rows`, as last heard. Keys are (level, output name); level -1 is the boat, 0.. a shaft.

    A message is silent when no good frame of it came for SILENCE_S or, where `periods` is given, for so many of its
    own periods if that is longer: for a listener that acts on nothing.
    """

    def __init__(self, rows: Iterable[OutputRow], periods: float = 0.0) -> None:
        self._messages: dict[tuple[str, int], _Heard] = {}
        self._of: dict[tuple[int, str], _Heard] = {}
        self._values: dict[tuple[int, str], float] = {}
        for row in rows:
            place = (row.bus, row.message.arbitration_id)
            silence_s = max(SILENCE_S, periods * row.message.period_s)
            heard = self._messages.setdefault(place, _Heard(row.message, silence_s))
            key = (row.level, row.spec.name)
            heard.wanted.append((key, row.signal))
            self._of[key] = heard

    @property
    def identifiers(self) -> Sequence[tuple[str, int]]:
        """(bus, identifier) of the messages heard."""
        return tuple(self._messages)

    @property
    def refused(self) -> int:
        """Frames refused by their guard or their length."""
        return sum(heard.refused for heard in self._messages.values())

    def take(self, bus: str, message: can.Message, now_s: float) -> None:
        """One frame; others' frames are ignored, bad ones counted and not used."""
        heard = self._messages.get((bus, message.arbitration_id))
        if heard is None or message.is_error_frame or message.is_remote_frame:
            return
        data = message.data
        if len(data) != heard.codec.length or message.is_extended_id != heard.codec.is_extended:
            heard.refused += 1
            return
        if not heard.sound(data, now_s):
            heard.refused += 1
            return
        little = int.from_bytes(data, "little")
        # "not available" is no order
        values = {
            key: 0.0 if (code := signal.raw(little, 0)) in signal.absent else signal.physical(code)
            for key, signal in heard.wanted
        }
        if heard.barred and any(value for (_, name), value in values.items() if name == "drive.torque_nm"):
            heard.refused += 1
            return
        heard.barred = False
        heard.good_s = now_s
        self._values.update(values)

    def wired(self, level: int, name: str) -> bool:
        """Whether this boat maps that output."""
        return (level, name) in self._of

    def age_s(self, level: int, name: str, now_s: float) -> float:
        """Time since the last good frame with that output, s; infinite before the first."""
        return now_s - self._of[level, name].good_s

    def silent(self, level: int, name: str, now_s: float) -> bool:
        """Whether no good frame with that output came for too long."""
        return self.age_s(level, name, now_s) >= self._of[level, name].silence_s - EPS_S

    def value(self, level: int, name: str, now_s: float, unwired: float = 0.0) -> float:
        """The output as last heard; 0.0 once it is silent; `unwired` where the boat does not map it."""
        key = (level, name)
        heard = self._of.get(key)
        if heard is None:
            return unwired
        if now_s - heard.good_s >= heard.silence_s - EPS_S:
            return 0.0
        return self._values.get(key, 0.0)
