"""End-to-end protection of one frame: AUTOSAR E2E profile 1, data identifier in both bytes (mode "BOTH").

Byte 0 is the CRC, the low nibble of byte 1 the counter (0 to 14, 15 is never sent). The CRC is taken over the data
identifier, low byte then high byte, then over all bytes of the frame but the CRC itself. Polynomial 1D, and in effect
start value 00 and no final inversion. Checked in tests against published vectors and an independent implementation.
"""

from enum import IntEnum

POLYNOMIAL = 0x1D
COUNTER_MAX = 14
"""Highest counter value; the next one is 0."""


def _make_table(polynomial: int) -> bytes:
    table = bytearray(256)
    for index in range(256):
        crc = index
        for _ in range(8):
            crc = ((crc << 1) ^ polynomial) & 0xFF if crc & 0x80 else crc << 1
        table[index] = crc
    return bytes(table)


_TABLE = _make_table(POLYNOMIAL)


def crc8_j1850(data: bytes | bytearray) -> int:
    """CRC-8 SAE J1850 of `data`: polynomial 1D, start FF, result inverted; b"123456789" gives 4B."""
    table = _TABLE
    crc = 0xFF
    for byte in data:
        crc = table[crc ^ byte]
    return crc ^ 0xFF


def start_value(data_id: int) -> int:
    """CRC state after the two bytes of the data identifier: computed once for each message."""
    return _TABLE[_TABLE[data_id & 0xFF] ^ (data_id >> 8 & 0xFF)]


def profile1_crc(data: bytes | bytearray, start: int) -> int:
    """CRC of a frame, byte 0 left out; `start` comes from `start_value`."""
    t = _TABLE
    if len(data) == 8:  # unrolled: most frames, and this is the hottest line of the receive path
        return t[
            t[t[t[t[t[t[start ^ data[1]] ^ data[2]] ^ data[3]] ^ data[4]] ^ data[5]] ^ data[6]] ^ data[7]
        ]  # fmt: skip
    crc = start
    for byte in data[1:]:
        crc = t[crc ^ byte]
    return crc


def protect(data: bytearray, data_id: int, counter: int) -> None:
    """Write `counter` (0 to 14) and the CRC into `data` (at least 2 bytes), in place.

    Raises ValueError for a counter, data identifier or length that the profile does not have.
    """
    if not 0 <= counter <= COUNTER_MAX or not 0 <= data_id <= 0xFFFF or len(data) < 2:
        raise ValueError(f"no such guard: counter {counter}, data id {data_id:#x}, {len(data)} bytes")
    data[1] = data[1] & 0xF0 | counter
    data[0] = profile1_crc(data, start_value(data_id))


def next_counter(counter: int) -> int:
    """The counter that follows: 14 wraps to 0."""
    return counter + 1 if counter < COUNTER_MAX else 0


class Verdict(IntEnum):
    """What the check of one frame says. Only OK and SOME_LOST frames may be used."""

    OK = 0
    """CRC right, counter one further than the last."""
    SOME_LOST = 1
    """CRC right, counter further by more than one, within the allowed step: frames are missing, this one is good."""
    INITIAL = 2
    """CRC right, but nothing to compare its counter with: first frame. Not used."""
    REPEATED = 3
    """CRC right, counter has not moved: a stuck sender or a doubled frame. Not used."""
    WRONG_COUNTER = 4
    """CRC right, counter jumped too far or is 15. Not used; the counter is taken up from here."""
    WRONG_CRC = 5
    """Corrupted, or a frame of another message. Not used."""


class GuardChecker:
    """Checks the frames of one guarded message in the order of their arrival.

    `max_delta` is the largest step of the counter that is still accepted (1: no frame may be lost). After the first
    frame and after a jump the next frame in sequence is the first one used: one frame out of nowhere moves nothing.
    """

    __slots__ = ("_max_delta", "_start", "last")

    def __init__(self, data_id: int, max_delta: int = 3) -> None:
        self._start = start_value(data_id)
        self._max_delta = max_delta
        self.last = -1
        """The counter of the last frame with a right checksum; -1 before the first."""

    def check(self, data: bytes | bytearray) -> Verdict:
        """The verdict on one frame of at least 2 bytes."""
        if profile1_crc(data, self._start) != data[0]:
            return Verdict.WRONG_CRC
        counter = data[1] & 0x0F
        last = self.last
        if counter > COUNTER_MAX:
            return Verdict.WRONG_COUNTER
        self.last = counter
        if last < 0:
            return Verdict.INITIAL
        delta = counter - last
        if delta < 0:
            delta += COUNTER_MAX + 1
        if delta == 1:
            return Verdict.OK
        if delta == 0:
            return Verdict.REPEATED
        if delta <= self._max_delta:
            return Verdict.SOME_LOST
        return Verdict.WRONG_COUNTER

    def restart(self) -> None:
        """Forget the counter, e.g. after the bus was away: the next frame is INITIAL again."""
        self.last = -1
