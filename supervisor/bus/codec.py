"""Signals compiled to shift, mask and scale: what cantools does, in about a microsecond a signal.

`cantools` reads and validates the DBC; the classes here are built from its messages and are tested to agree with it.
A raw code that means "not available" is absent (`None`), never a number. Absent codes are

- codes of the DBC's value table named `not_available`, `error`, `out_of_range`, `reserved` or `sna`;
- in NMEA 2000, RV-C and J1939 messages also the highest code of a field of 2 to 7 bits, and the three highest codes
  of a field of 8 bits or more (highest positive codes where the field is signed): the open rule of these protocols;
- everything beyond the end of a message that was sent shorter than its longest form.
"""

import math
import struct
from collections.abc import Mapping
from typing import NamedTuple

from cantools.database.can import Message as DbcMessage
from cantools.database.can import Signal as DbcSignal

ABSENT_NAMES = frozenset({"not_available", "error", "out_of_range", "reserved", "sna"})
_FLOATS = {16: ("<e", 2), 32: ("<f", 4), 64: ("<d", 8)}


class SignalCodec(NamedTuple):
    """One signal of one message.

    `shift` counts from bit 0 of the frame read as one little-endian (or, with `big_endian`, big-endian) integer;
    `need_bytes` is how long the frame must be to hold the signal; `absent` are raw codes that mean "no value".
    `low` and `high` are the DBC's range (None: not given) in the signal's unit.
    """

    name: str
    shift: int
    bits: int
    signed: bool
    big_endian: bool
    is_float: bool
    scale: float
    offset: float
    low: float | None
    high: float | None
    unit: str
    need_bytes: int
    absent: frozenset[int]
    not_available: int | None
    initial: int

    def raw(self, little: int, big: int) -> int:
        """The signal's raw code out of the frame's two integer readings."""
        code = ((big if self.big_endian else little) >> self.shift) & ((1 << self.bits) - 1)
        if self.signed and code >> (self.bits - 1):
            code -= 1 << self.bits
        return code

    def physical(self, code: int) -> float:
        """A raw code in the signal's unit; may be NaN or infinite where the DBC declares an IEEE float."""
        if self.is_float:
            layout, size = _FLOATS[self.bits]
            number: float = struct.unpack(layout, (code & ((1 << self.bits) - 1)).to_bytes(size, "little"))[0]
            return number * self.scale + self.offset
        return code * self.scale + self.offset

    @property
    def all_ones(self) -> float | None:
        """What a signed field filled with ones reads, in its unit; None where that is no reading. A sender that does
        not know a value and does not know either that the field is signed sends just that."""
        if not self.signed or self.is_float or self.bits < 8 or -1 in self.absent:
            return None
        return self.physical(-1)

    def to_raw(self, value: float) -> int:
        """The nearest raw code to `value` (finite), saturated to the DBC's range and to codes that are numbers."""
        if self.low is not None and value < self.low:
            value = self.low
        if self.high is not None and value > self.high:
            value = self.high
        if self.is_float:
            layout, _ = _FLOATS[self.bits]
            try:
                packed = struct.pack(layout, (value - self.offset) / self.scale)
            except OverflowError:
                packed = struct.pack(layout, math.copysign(65504.0 if self.bits == 16 else 3.4028234e38, value))
            return int.from_bytes(packed, "little")
        code = round((value - self.offset) / self.scale)
        lowest = -(1 << (self.bits - 1)) if self.signed else 0
        highest = lowest + (1 << self.bits) - 1
        code = min(max(code, lowest), highest)
        # A number must never be sent as "not available": step back to the nearest code that is one.
        step = -1 if code > 0 else 1
        while code in self.absent and lowest <= code + step <= highest:
            code += step
        return code


class MessageCodec:
    """One message of a DBC, ready to decode and encode.

    Attributes: `name`, `arbitration_id`, `is_extended`, `pgn` (None unless matched by PGN), `length` and `min_length`
    in bytes, `data_id` (None: not guarded), `max_delta`, `period_s` (0.0: not given), `signals` by name.
    """

    def __init__(self, message: DbcMessage) -> None:
        self.name = message.name
        self.arbitration_id = message.frame_id
        self.is_extended = message.is_extended_frame
        self.length = message.length
        by_pgn = message.protocol == "j1939"
        self.pgn = pgn_of(message.frame_id) if by_pgn else None
        self.min_length = int_attribute(message, "MinLength") or message.length
        self.data_id = int_attribute(message, "GuardDataId") or None
        self.max_delta = int_attribute(message, "GuardMaxDelta") or 3
        self.period_s = (message.cycle_time or 0) / 1000.0
        self.signals = {signal.name: compile_signal(signal, message.length, by_pgn) for signal in message.signals}
        self.multiplexed = {signal.name: signal for signal in message.signals if signal.multiplexer_ids}
        self._initial = 0
        for signal in self.signals.values():
            if not signal.big_endian:
                self._initial |= (signal.initial & ((1 << signal.bits) - 1)) << signal.shift
        self._initial_big = 0
        for signal in self.signals.values():
            if signal.big_endian:
                self._initial_big |= (signal.initial & ((1 << signal.bits) - 1)) << signal.shift

    def __repr__(self) -> str:
        return f"MessageCodec({self.name} {self.arbitration_id:#05x})"

    def decode(self, data: bytes | bytearray) -> dict[str, float | None]:
        """Every signal of a frame in its unit; None where not available. Guard and range are not checked here."""
        little = int.from_bytes(data, "little")
        big = int.from_bytes(bytes(data[: self.length]).ljust(self.length, b"\0"), "big")
        result: dict[str, float | None] = {}
        for signal in self.signals.values():
            code = signal.raw(little, big)
            if signal.need_bytes > len(data) or code in signal.absent:
                result[signal.name] = None
            else:
                result[signal.name] = signal.physical(code)
        return result

    def encode(self, values: Mapping[str, float | None]) -> bytearray:
        """A frame of full length. Signals left out hold their DBC start value; None is sent as "not available".

        Numbers are saturated to the signal's range; NaN and infinities are sent as "not available". Counter and CRC
        of a guarded message stay zero: `supervisor.bus.e2e.protect` writes them. Raises KeyError for an unknown signal
        and ValueError where a signal has no code for "not available".
        """
        little, big = self._initial, self._initial_big
        for name, value in values.items():
            signal = self.signals[name]
            mask = (1 << signal.bits) - 1
            if value is None or not math.isfinite(value):
                if signal.not_available is None:
                    raise ValueError(f"{self.name}.{name} has no code for 'not available'")
                code = signal.not_available & mask
            else:
                code = signal.to_raw(value) & mask
            if signal.big_endian:
                big = big & ~(mask << signal.shift) | code << signal.shift
            else:
                little = little & ~(mask << signal.shift) | code << signal.shift
        combined = little | int.from_bytes(big.to_bytes(self.length, "big"), "little")
        return bytearray(combined.to_bytes(self.length, "little"))


def int_attribute(message: DbcMessage, name: str) -> int:
    """An integer attribute of a DBC message; 0 where it is neither set nor given a default."""
    if message.dbc is None:
        return 0
    attribute = message.dbc.attributes.get(name)
    if attribute is not None:
        return int(attribute.value)
    return 0


def pgn_of(arbitration_id: int) -> int:
    """Parameter group number of a 29-bit identifier: the destination byte is left out of PDU1 groups."""
    pgn = arbitration_id >> 8 & 0x3FFFF
    if pgn >> 8 & 0xFF < 0xF0:
        pgn &= 0x3FF00
    return pgn


def absent_codes(signal: DbcSignal, by_pgn: bool) -> tuple[frozenset[int], int | None]:
    """Raw codes of a signal that mean "no value", and the one to send for it (None: there is none)."""
    codes: set[int] = set()
    not_available: int | None = None
    for code, label in (signal.choices or {}).items():
        name = str(label).strip().lower().replace(" ", "_").replace("-", "_")
        if name in ABSENT_NAMES:
            codes.add(code)
            if name in ("not_available", "sna") or not_available is None:
                not_available = code
    if by_pgn and not signal.is_float and signal.length >= 2:
        top = (1 << (signal.length - 1)) - 1 if signal.is_signed else (1 << signal.length) - 1
        codes.update((top, top - 1, top - 2) if signal.length >= 8 else (top,))
        not_available = top
    return frozenset(codes), not_available


def compile_signal(signal: DbcSignal, length: int, by_pgn: bool) -> SignalCodec:
    """Turn a cantools signal into shift and mask. `length` is the message's full length in bytes."""
    big_endian = signal.byte_order == "big_endian"
    if big_endian:
        # DBC numbers bits within a byte from the least significant; a big-endian signal starts at its most
        # significant bit. Counted from the frame's first transmitted bit that bit is at `first`.
        first = 8 * (signal.start // 8) + (7 - signal.start % 8)
        shift = 8 * length - first - signal.length
        need_bytes = (first + signal.length + 7) // 8
    else:
        shift = signal.start
        need_bytes = (signal.start + signal.length + 7) // 8
    absent, not_available = absent_codes(signal, by_pgn)
    initial = signal.raw_initial
    return SignalCodec(
        name=signal.name,
        shift=shift,
        bits=signal.length,
        signed=signal.is_signed and not signal.is_float,
        big_endian=big_endian,
        is_float=signal.is_float,
        scale=signal.scale,
        offset=signal.offset,
        low=signal.minimum,
        high=signal.maximum,
        unit=signal.unit or "",
        need_bytes=need_bytes,
        absent=absent,
        not_available=not_available,
        initial=int(initial) if initial is not None else 0,
    )
