"""Commands out: one tick's orders packed into frames with counters, checksums and periods. Sans-IO but for can.Message.

A message without a period in the boat file is sent each tick. One with a period is sent when it is due, and at once
when one of its coded signals (permits, modes, switches: up to 4 bits) changes. Numbers saturate at the signal's range.
An order that is not a finite number is never sent: its shaft gets torque 0 and no permit, and it is counted.
"""

import math
from collections.abc import Sequence

import can

from supervisor.bus.codec import MessageCodec
from supervisor.bus.e2e import next_counter, profile1_crc, start_value
from supervisor.bus.rows import BoatMap, OutputRow
from supervisor.controller.status import BoatStatus, ShaftStatus
from supervisor.signals import BOAT, BoatCommand, ShaftCommand, ShaftPermit

PERMIT_OUTPUTS: dict[str, int] = {
    "drive.enable": int(ShaftPermit.DRIVE_ENABLE),
    "drive.enable_output": int(ShaftPermit.DRIVE_ENABLE),
    "drive.precharge": int(ShaftPermit.PRECHARGE),
    "engine.start": int(ShaftPermit.ENGINE_START),
    "clutch.close": int(ShaftPermit.CLUTCH_CLOSE),
    "lock.engage": int(ShaftPermit.LOCK_ENGAGE),
}
"""The permit (a ShaftPermit bit) that each output of a shaft carries."""
HARD_WIRED = frozenset({"drive.enable_output"})
"""Outputs that are wires: what they say, a message says as well."""
_BOAT_COLUMNS = (
    "sources.stop", "sounder.on", "boat.mode", "boat.alarms", "boat.charge_limit_a", "boat.derate_pct",
    "handset.in_control", "boat.more_alarms", "boat.charge_rule", "boat.brake_a", "boat.brake_rule",
    "boat.discharge_a", "boat.discharge_rule", "boat.returned_alarms",
)  # fmt: skip
_SHAFT_COLUMNS = (
    *PERMIT_OUTPUTS, "drive.torque_nm", "drive.current_a", "shaft.mode", "shaft.cause", "shaft.answer",
    "shaft.limit_pct", "shaft.limit_rule", "shaft.brake_nm",
)  # fmt: skip
_WORD_BITS = 32
"""Alarms of one frame."""
_CODED_BITS = 4


class _Sent:
    """One message on its way out: packing plan, counter, time of the last frame."""

    __slots__ = (
        "arbitration_id", "base", "bus", "coded", "counter", "is_extended", "last_coded", "last_s", "length",
        "period_s", "plans", "start",
    )  # fmt: skip

    def __init__(self, bus: str, codec: MessageCodec, period_s: float) -> None:
        self.bus = bus
        self.arbitration_id = codec.arbitration_id
        self.is_extended = codec.is_extended
        self.length = codec.length
        self.period_s = period_s
        self.start = -1 if codec.data_id is None else start_value(codec.data_id)
        self.counter = 0
        self.base = int.from_bytes(codec.encode({}), "little")
        # (shift, mask, scale, offset, low, high, raw low, raw high, column)
        self.plans: list[tuple[int, int, float, float, float, float, int, int, int]] = []
        self.coded = 0
        self.last_coded = -1
        self.last_s = -math.inf

    def add(self, row: OutputRow, column: int) -> None:
        signal = row.signal
        mask = (1 << signal.bits) - 1
        self.base &= ~(mask << signal.shift)
        lowest = -(1 << (signal.bits - 1)) if signal.signed else 0
        highest = lowest + mask
        while lowest in signal.absent:  # the codes for "not available" lie at the ends of a number's range
            lowest += 1
        while highest in signal.absent:
            highest -= 1
        low = -math.inf if signal.low is None else float(signal.low)
        high = math.inf if signal.high is None else float(signal.high)
        self.plans.append((
            signal.shift, mask, float(signal.scale), float(signal.offset), low, high, lowest, highest, column,
        ))  # fmt: skip
        if signal.bits <= _CODED_BITS:
            self.coded |= mask << signal.shift

    def pack(self, values: Sequence[float]) -> int:
        """The frame as a little-endian integer, guard bytes still zero."""
        word = self.base
        for shift, mask, scale, offset, low, high, lowest, highest, column in self.plans:
            value = values[column]
            if value < low:
                value = low
            elif value > high:
                value = high
            code = round((value - offset) / scale)
            if code < lowest:
                code = lowest
            elif code > highest:
                code = highest
            word |= (code & mask) << shift
        return word

    def due(self, word: int, now_s: float, slack_s: float) -> bool:
        if self.period_s <= 0.0 or word & self.coded != self.last_coded:
            return True
        age_s = now_s - self.last_s
        return age_s < 0.0 or age_s >= self.period_s - slack_s

    def frame(self, word: int, now_s: float) -> can.Message:
        self.last_coded = word & self.coded
        self.last_s = now_s
        if self.start >= 0:
            word = word & ~0xFFF | self.counter << 8
            data = word.to_bytes(self.length, "little")
            word |= profile1_crc(data, self.start)
            self.counter = next_counter(self.counter)
        return can.Message(
            arbitration_id=self.arbitration_id,
            is_extended_id=self.is_extended,
            data=word.to_bytes(self.length, "little"),
        )


class OutputTable:
    """Everything commanded, on its way to the buses. Keeps counters and periods between ticks."""

    def __init__(self, boat_map: BoatMap) -> None:
        self._slack_s = boat_map.tick_s / 2
        self._shafts = len(boat_map.shaft_names)
        self._messages: dict[tuple[str, str], _Sent] = {}
        self.faults = 0
        """Commands that held something other than finite numbers, since the start."""
        for row in sorted(boat_map.outputs, key=lambda row: row.message.arbitration_id):
            place = (row.bus, row.message.name)
            if place not in self._messages:
                self._messages[place] = _Sent(row.bus, row.message, boat_map.periods[place])
            self._messages[place].add(row, self._column(row))

    @staticmethod
    def _column(row: OutputRow) -> int:
        if row.level == BOAT:
            return _BOAT_COLUMNS.index(row.spec.name)
        return len(_BOAT_COLUMNS) + row.level * len(_SHAFT_COLUMNS) + _SHAFT_COLUMNS.index(row.spec.name)

    def frames(
        self,
        now_s: float,
        boat_command: BoatCommand,
        shaft_commands: Sequence[ShaftCommand],
        boat_mode: int,
        shaft_modes: Sequence[int],
        bank: BoatStatus | None = None,
        states: Sequence[ShaftStatus] = (),
    ) -> list[tuple[str, can.Message]]:
        """The frames to send at `now_s`, each with the name of its bus, lowest identifier first. Without `bank` and
        `states` the displays are told that nothing is known.

        Raises ValueError when the number of commands or modes is not the number of shafts.
        """
        if len(shaft_commands) != self._shafts or len(shaft_modes) != self._shafts:
            raise ValueError(f"{len(shaft_commands)} commands, {len(shaft_modes)} modes for {self._shafts} shafts")
        values: list[float] = self._boat_values(boat_command, boat_mode, BoatStatus() if bank is None else bank)
        told = states or (ShaftStatus(),) * self._shafts
        for command, mode, state in zip(shaft_commands, shaft_modes, told, strict=True):
            self._shaft_values(values, command, mode)
            sound = math.isfinite(state.limit_pct) and math.isfinite(state.brake_nm)
            self.faults += 0 if sound else 1
            values += state if sound else ShaftStatus()
        result: list[tuple[str, can.Message]] = []
        for sent in self._messages.values():
            word = sent.pack(values)
            if sent.due(word, now_s, self._slack_s):
                result.append((sent.bus, sent.frame(word, now_s)))
        return result

    def _boat_values(self, command: BoatCommand, mode: int, bank: BoatStatus) -> list[float]:
        if not (math.isfinite(bank.brake_a) and math.isfinite(bank.discharge_a)):
            self.faults += 1
            bank = BoatStatus()
        limit_a, derate_pct = command.charge_limit_a, command.derate_pct
        if not (math.isfinite(limit_a) and math.isfinite(derate_pct)):
            self.faults += 1
            limit_a = derate_pct = 0.0
        return [
            1 if command.stop_sources else 0,
            1 if command.sounder else 0,
            mode,
            command.alarms & (1 << _WORD_BITS) - 1,
            limit_a,
            derate_pct,
            1 if command.handset_in_control else 0,
            command.alarms >> _WORD_BITS,
            bank.charge_rule,
            bank.brake_a,
            bank.brake_rule,
            bank.discharge_a,
            bank.discharge_rule,
            bank.returned,
        ]

    def _shaft_values(self, values: list[float], command: ShaftCommand, mode: int) -> None:
        torque_nm, current_a, permits = command
        if not (math.isfinite(torque_nm) and math.isfinite(current_a)):
            self.faults += 1
            torque_nm = current_a = 0.0
            permits = 0
        for bit in PERMIT_OUTPUTS.values():
            values.append(1 if permits & bit else 0)
        values.append(torque_nm)
        values.append(current_a)
        values.append(mode)
