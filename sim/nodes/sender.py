"""One message of one node: values read from the boat, turned into the codes of its signals, guarded, sent on time.

The mapping from signals to inputs is the supervisor's, read backwards: what `factor`, `offset`, `values` and `invert`
do on the way in is undone here on the way out, so that a boat with other DBC files works too. Scaling, saturation and
quantisation are those of the supervisor's codec.
"""

from collections.abc import Callable, Mapping, Sequence

import can

from sim.nodes.panel import Panel
from sim.nodes.readers import Reader
from sim.plant import PlantState
from supervisor.bus import InputRow, MessageCodec, SignalCodec
from supervisor.bus.e2e import next_counter, protect
from supervisor.bus.n2k import split_fast_packet

EPS_S = 1e-6

Distort = Callable[[float | None, float], float | None]
"""A fault on a value: (value, time in s) -> the value that the node sends instead."""


class Field:
    """One signal of a message and where its value comes from.

    `key` is the input's name, led by the shaft's name, as `port.drive.torque_nm`; for signals that feed no input the
    message's and the signal's; `also` are the names of other inputs that the same signal feeds. `distort` and
    `forced_code` are faults: a value sent instead, a raw code sent instead. `place` is where the panel may hold a raw
    code for it, "" for a signal that no own interlock listens to.
    """

    __slots__ = (
        "also", "code", "distort", "forced_code", "key", "last_code", "last_value", "place", "read", "row", "shaft",
        "signal",
    )  # fmt: skip

    def __init__(self, key: str, signal: SignalCodec, read: Reader, shaft: int, row: InputRow | None) -> None:
        self.key = key
        self.also: tuple[str, ...] = ()
        self.place = ""
        self.signal = signal
        self.read = read
        self.shaft = shaft
        self.row = row
        self.code = _coder(signal, row)
        self.distort: Distort | None = None
        self.forced_code: int | None = None
        self.last_value: float | None = None
        self.last_code = self.code(None) if signal.not_available is not None else 0

    def wire_code(self, plant: PlantState, panel: Panel, now_s: float) -> int:
        """The raw code to send now."""
        if self.forced_code is not None:
            return self.forced_code
        if self.place and self.distort is None and self.place in panel.own:
            return panel.own[self.place]
        value = self.read(plant, panel, self.shaft)
        if self.distort is not None:
            return self.code(self.distort(value, now_s))
        if value == self.last_value and value is not None:
            return self.last_code
        code = self.code(value)
        self.last_value, self.last_code = value, code
        return code


def _coder(signal: SignalCodec, row: InputRow | None) -> Callable[[float | None], int]:
    """The way from an input's value back to the signal's raw code: the mapping of `row` reversed."""
    absent = signal.not_available
    if row is None or row.paired >= 0:

        def plain(value: float | None) -> int:
            return signal.to_raw(value) if value is not None else _no_value(signal, absent)

        return plain
    if row.values is not None:
        pairs = [(value, code) for code, value in row.values.items()]

        def coded(value: float | None) -> int:
            if value is None:
                return _no_value(signal, absent)
            return min(pairs, key=lambda pair: abs(pair[0] - value))[1]

        return coded
    if row.spec.is_contact:
        turn = 1 if row.invert else 0

        def contact(value: float | None) -> int:
            if value is None:
                return _no_value(signal, absent)
            return (1 if value else 0) ^ turn

        return contact
    factor, offset = row.factor, row.offset

    def number(value: float | None) -> int:
        return signal.to_raw((value - offset) / factor) if value is not None else _no_value(signal, absent)

    return number


def _no_value(signal: SignalCodec, absent: int | None) -> int:
    """The code for "not available"; a signal that has none says 0."""
    return 0 if absent is None else absent


class Sender:
    """Sends one message at its period, at absolute deadlines: `start_s`, `start_s` + period, ... without drift.

    `fixed` are raw codes of signals that tell this message from others of its kind (an instance number). `source` is
    the source address that goes into the identifier of a message matched by PGN.
    """

    def __init__(
        self,
        bus: str,
        codec: MessageCodec,
        fields: Sequence[Field],
        fixed: Mapping[str, int],
        source: int,
        period_s: float,
        start_s: float = 0.0,
    ) -> None:
        self.bus = bus
        self.codec = codec
        self.place = f"{bus}/{codec.name}"
        self.fields = tuple(fields)
        self.fixed = dict(fixed)
        self.period_s = period_s
        self.start_s = start_s
        self.arbitration_id = codec.arbitration_id if codec.pgn is None else codec.arbitration_id & ~0xFF | source
        self.counter = 0
        self.frozen = False
        """A fault: the guard's counter stands still."""
        self.sequence = 0
        self._sent = 0
        self._next_s = start_s
        self._little, self._big = self._resting()

    def _resting(self) -> tuple[int, int]:
        """The message with every signal at "not available" where it has a code for that, else at its start value, and
        the fixed codes in place: as one little-endian and one big-endian integer. Bits that belong to no signal are
        ones in a message matched by PGN, as NMEA 2000, RV-C and J1939 want it, else zeros."""
        little = big = 0
        if self.codec.pgn is not None:
            little = (1 << 8 * self.codec.length) - 1
            for signal in self.codec.signals.values():
                if not signal.big_endian:
                    little &= ~(((1 << signal.bits) - 1) << signal.shift)
        for name, signal in self.codec.signals.items():
            code = self.fixed.get(name, signal.initial if signal.not_available is None else signal.not_available)
            code = (code & ((1 << signal.bits) - 1)) << signal.shift
            if signal.big_endian:
                big |= code
            else:
                little |= code
        return little, big

    def due(self, now_s: float) -> bool:
        """Whether a deadline has come. What was missed is left out, never sent in a burst."""
        if now_s < self._next_s - EPS_S:
            return False
        while self._next_s <= now_s + EPS_S:
            self._sent += 1
            self._next_s = self.start_s + self._sent * self.period_s
        return True

    def payload(self, plant: PlantState, panel: Panel, now_s: float) -> bytearray:
        """The message's bytes, guard bytes still zero."""
        little, big = self._little, self._big
        for field in self.fields:
            signal = field.signal
            mask = (1 << signal.bits) - 1
            code = (field.wire_code(plant, panel, now_s) & mask) << signal.shift
            if signal.big_endian:
                big = big & ~(mask << signal.shift) | code
            else:
                little = little & ~(mask << signal.shift) | code
        length = self.codec.length
        if big:
            little |= int.from_bytes(big.to_bytes(length, "big"), "little")
        return bytearray(little.to_bytes(length, "little"))

    def frames(self, plant: PlantState, panel: Panel, now_s: float) -> list[can.Message]:
        """The frames of the message as it stands now: one, or several for a fast packet."""
        data = self.payload(plant, panel, now_s)
        codec = self.codec
        if codec.data_id is not None:
            protect(data, codec.data_id, self.counter)
            if not self.frozen:
                self.counter = next_counter(self.counter)
        if codec.length <= 8:
            return [can.Message(arbitration_id=self.arbitration_id, is_extended_id=codec.is_extended, data=data)]
        self.sequence = (self.sequence + 1) & 7
        return [
            can.Message(arbitration_id=self.arbitration_id, is_extended_id=codec.is_extended, data=part)
            for part in split_fast_packet(bytes(data), self.sequence)
        ]
