"""NMEA 2000 on the wire: fields of the 29-bit identifier, and fast packets put together again.

A fast packet carries up to 223 bytes. Byte 0 of each frame holds a sequence number (high 3 bits) and the frame's place
(low 5 bits); byte 1 of the first frame the length. First frame: 6 bytes of data, the others 7.
"""

from collections.abc import Callable
from typing import NamedTuple

from supervisor.bus.codec import pgn_of
from supervisor.bus.faults import Bad

LONGEST = 223
TIMEOUT_S = 0.75
"""A packet that is not complete this long after its first frame is given up (own choice)."""


class Address(NamedTuple):
    """A 29-bit identifier taken apart. `destination` is 255 for groups that are sent to all."""

    priority: int
    pgn: int
    source: int
    destination: int


def split_id(arbitration_id: int) -> Address:
    """Priority, PGN, source and destination of a 29-bit identifier."""
    pgn = pgn_of(arbitration_id)
    to_all = pgn & 0xFF00 >= 0xF000
    return Address(
        arbitration_id >> 26 & 7,
        pgn,
        arbitration_id & 0xFF,
        255 if to_all else arbitration_id >> 8 & 0xFF,
    )


class _Packet:
    __slots__ = ("data", "length", "place", "sequence", "since_s")

    def __init__(self, sequence: int, length: int, data: bytearray, since_s: float) -> None:
        self.sequence = sequence
        self.length = length
        self.data = data
        self.place = 0
        self.since_s = since_s


class FastPackets:
    """Puts fast packets together, one at a time for each PGN and sender; senders may interleave.

    `bad(pgn, reason)` is called for each packet lost. A lost frame loses its packet; nothing is guessed.
    """

    def __init__(self, bad: Callable[[int, Bad], None], timeout_s: float = TIMEOUT_S) -> None:
        self._bad = bad
        self._timeout_s = timeout_s
        self._open: dict[int, _Packet] = {}

    @property
    def incomplete(self) -> int:
        """Packets begun and not finished."""
        return len(self._open)

    def feed(self, arbitration_id: int, data: bytes | bytearray, time_s: float) -> bytes | None:
        """Take one frame; return the whole message when this frame completes it, else None."""
        key = arbitration_id & 0x3FFFFFF  # without the priority: a sender may change it, the packet stays one
        if len(data) < 2:
            self._open.pop(key, None)
            self._bad(pgn_of(arbitration_id), Bad.SHORT)
            return None
        sequence, place = data[0] >> 5, data[0] & 0x1F
        if place == 0:
            return self._first(key, arbitration_id, sequence, data, time_s)
        packet = self._open.get(key)
        if packet is None:
            self._bad(pgn_of(arbitration_id), Bad.PACKET_MISSING)
            return None
        age_s = time_s - packet.since_s
        if not 0.0 <= age_s <= self._timeout_s:
            del self._open[key]
            self._bad(pgn_of(arbitration_id), Bad.PACKET_TIMEOUT)
            return None
        if sequence != packet.sequence or place != packet.place + 1:
            del self._open[key]
            self._bad(pgn_of(arbitration_id), Bad.PACKET_MISSING)
            return None
        packet.place = place
        packet.data += data[1:]
        return self._done(key, arbitration_id, packet, len(data))

    def _first(
        self, key: int, arbitration_id: int, sequence: int, data: bytes | bytearray, time_s: float
    ) -> bytes | None:
        if self._open.pop(key, None) is not None:
            self._bad(pgn_of(arbitration_id), Bad.PACKET_RESTART)
        length = data[1]
        if not 1 <= length <= LONGEST:
            self._bad(pgn_of(arbitration_id), Bad.PACKET_LENGTH)
            return None
        packet = _Packet(sequence, length, bytearray(data[2:]), time_s)
        self._open[key] = packet
        return self._done(key, arbitration_id, packet, len(data))

    def _done(self, key: int, arbitration_id: int, packet: _Packet, frame_length: int) -> bytes | None:
        if len(packet.data) >= packet.length:
            del self._open[key]
            return bytes(packet.data[: packet.length])
        if frame_length < 8:  # only the last frame may be shorter, and this one is not the last
            del self._open[key]
            self._bad(pgn_of(arbitration_id), Bad.SHORT)
        return None


def split_fast_packet(data: bytes, sequence: int) -> list[bytes]:
    """Frames of a message of 1 to 223 bytes, filled up with FF. Raises ValueError for another length."""
    if not 1 <= len(data) <= LONGEST:
        raise ValueError(f"a fast packet has 1 to {LONGEST} bytes, not {len(data)}")
    frames = [bytes([(sequence & 7) << 5, len(data)]) + data[:6].ljust(6, b"\xff")]
    for place, start in enumerate(range(6, len(data), 7), start=1):
        frames.append(bytes([(sequence & 7) << 5 | place]) + data[start : start + 7].ljust(7, b"\xff"))
    return frames
