"""Frames in, one tick's inputs out: guarded, checked, fresh. Sans-IO: bus names, bytes and times are passed in.

    table = InputTable(compile_boat(config, path))
    table.feed("private", 0x041, False, data, time_s)
    boat, shafts = table.snapshot(now_s)

A frame that is short, repeated, corrupt, out of sequence or from the wrong source is counted and moves nothing.
An input is known while its last good value is not older than its `stale_s` and not from the future. A number that is
out of range or not a number is counted and not used; the older value stays until it is stale. "Not available" makes
the input unknown at once.
"""

from collections.abc import Sequence

import can

from supervisor.bus.codec import pgn_of
from supervisor.bus.confirmed import ConfirmedGroup
from supervisor.bus.e2e import Verdict
from supervisor.bus.faults import BAD_TEXT, Bad
from supervisor.bus.n2k import FastPackets
from supervisor.bus.register import OWN
from supervisor.bus.rows import BoatMap, InputRow
from supervisor.bus.slots import NEVER, TIE_S, Group, MessageState, Slot
from supervisor.signals import (
    BOAT,
    BOAT_INPUTS,
    OWN_CHANNELS,
    SHAFT_INPUTS,
    BoatInput,
    BoatInputs,
    InputSpec,
    OwnInputs,
    ShaftInputs,
)

_GUARD_REASON = {
    Verdict.INITIAL: Bad.INITIAL,
    Verdict.REPEATED: Bad.REPEATED,
    Verdict.WRONG_COUNTER: Bad.COUNTER,
    Verdict.WRONG_CRC: Bad.CRC,
}
_OWN_CONTACTS = int(BoatInput.RECEIVE_OK) | int(BoatInput.DEADLINE_OK)
_NONE_OWN = OwnInputs()
REASONS_SHOWN = 3
"""So many reasons of inputs that are missing are told, and so many keys with each."""
_BOAT_NUMBERS = len(BoatInputs._fields) - 3
"""All fields of BoatInputs but `known`, `on` and `own`."""


class _BusState:
    """One bus: its messages by identifier, its fast packets, its counters."""

    __slots__ = ("exact", "foreign", "frames", "lost", "noted", "packets", "pgns", "standard")

    def __init__(self, is_nmea2000: bool) -> None:
        self.standard: dict[int, MessageState] = {}
        self.exact: dict[int, MessageState] = {}
        self.pgns: dict[int, MessageState] = {}
        self.packets = FastPackets(self._packet_bad) if is_nmea2000 else None
        self.frames = 0
        self.foreign = 0
        self.noted: dict[str, int] = {}
        self.lost: list[tuple[int, Bad]] = []

    def _packet_bad(self, pgn: int, reason: Bad) -> None:
        self.lost.append((pgn, reason))


class _Level:
    """The boat, one shaft, or the own interlocks: groups that feed it, and its numbers."""

    __slots__ = ("fixed_known", "fixed_on", "groups", "numbers")

    def __init__(self, size: int) -> None:
        self.groups: list[Group] = []
        self.numbers = [0.0] * size
        self.fixed_known = 0
        self.fixed_on = 0

    def read(self, now_s: float) -> tuple[int, int, list[float]]:
        known, on = self.fixed_known, self.fixed_on
        numbers = self.numbers[:]
        for group in self.groups:
            if 0.0 <= now_s - group.stamp_s <= group.stale_s:
                known |= group.known
                on |= group.on
                if group.payload < 0:
                    for slot in group.slots:
                        if slot.held_s is not None and not 0.0 <= now_s - slot.held_s <= group.stale_s:
                            known &= ~slot.bit
                            on &= ~slot.bit
                            if slot.index >= 0:
                                numbers[slot.index] = 0.0
            else:
                for index in group.indices:
                    numbers[index] = 0.0
        return known, on, numbers


def _number_index(specs: tuple[InputSpec, ...], fields: tuple[str, ...]) -> dict[str, int]:
    """Position of each number among the floats of BoatInputs or ShaftInputs (which begin with `known` and `on`)."""
    return {spec.name: fields.index(spec.field) - 2 for spec in specs if not spec.is_contact}


def _few(keys: list[str]) -> str:
    rest = [f"and {len(keys) - REASONS_SHOWN} more"] if len(keys) > REASONS_SHOWN else []
    return ", ".join(keys[:REASONS_SHOWN] + rest)


class InputTable:
    """Everything measured, as last heard. See the module's docstring."""

    def __init__(self, boat_map: BoatMap) -> None:
        self._map = boat_map
        self._buses = {name: _BusState(kind == "nmea2000") for name, kind in boat_map.kinds.items()}
        self._boat = _Level(_BOAT_NUMBERS)
        self._own = _Level(OWN_CHANNELS)
        self._shafts = [_Level(len(ShaftInputs._fields) - 2) for _ in boat_map.shaft_names]
        self._slots: dict[tuple[int, int], Slot] = {}
        self._index = {
            **_number_index(BOAT_INPUTS, BoatInputs._fields),
            **_number_index(SHAFT_INPUTS, ShaftInputs._fields),
        }
        for row in boat_map.inputs:
            self._add(row)
        for level_number, spec in boat_map.absent:
            self._set_absent(self._level(level_number), spec)

    def _level(self, level: int) -> _Level:
        return self._boat if level == BOAT else self._own if level == OWN else self._shafts[level]

    def _set_absent(self, level: _Level, spec: InputSpec) -> None:
        level.fixed_known |= int(spec.bit)
        if spec.is_contact:
            if spec.if_not_fitted:
                level.fixed_on |= int(spec.bit)
        else:
            level.numbers[self._index[spec.name]] = float(spec.if_not_fitted or 0.0)

    def _add(self, row: InputRow) -> None:
        bus = self._buses[row.bus]
        codec = row.message
        if codec.pgn is not None:
            table, identity = bus.pgns, codec.pgn
        else:
            table, identity = (bus.exact if codec.is_extended else bus.standard), codec.arbitration_id
        state = table.get(identity)
        if state is None:
            state = table[identity] = MessageState(codec, codec.length > 8)
        level = self._level(row.level)
        group = self._group(state, row, level)
        if row.level == OWN:
            index = -1 if row.spec.is_contact else row.spec.bit.bit_length() - 1
        else:
            index = self._index.get(row.spec.name, -1)
        self._slots[row.level, int(row.spec.bit)] = group.add(row, index)

    @staticmethod
    def _group(state: MessageState, row: InputRow, level: _Level) -> Group:
        """The group that a row belongs to, made where there is none yet."""
        sides = row.own or row.report
        if sides is not None and sides.frames > 1:
            group: Group = ConfirmedGroup(state, row, level.numbers, sides)
        else:
            wanted = (row.where, row.source, row.stale_s + TIE_S)
            for there in state.groups:
                same = there.numbers is level.numbers and not isinstance(there, ConfirmedGroup)
                if same and (tuple(there.where), there.source, there.stale_s) == wanted:
                    return there
            group = Group(state, row, level.numbers)
        state.groups.append(group)
        state.stale(group.stale_s)
        level.groups.append(group)
        return group

    # ---- frames in

    def feed(
        self, bus_name: str, arbitration_id: int, is_extended: bool, data: bytes | bytearray, time_s: float
    ) -> None:
        """Take one data frame. `time_s` is when it was received, on the clock of `snapshot`.

        Raises KeyError for a bus that the boat does not have; nothing that a frame holds raises.
        """
        bus = self._buses[bus_name]
        bus.frames += 1
        if is_extended:
            state = bus.exact.get(arbitration_id)
            if state is None:
                state = bus.pgns.get(pgn_of(arbitration_id))
        else:
            state = bus.standard.get(arbitration_id)
        if state is None:
            bus.foreign += 1
            return
        if state.fast and bus.packets is not None:
            whole = bus.packets.feed(arbitration_id, data, time_s)
            if bus.lost:
                for _, reason in bus.lost:
                    state.refuse(reason, time_s)
                bus.lost.clear()
            if whole is None:
                return
            data = whole
        length = len(data)
        codec = state.codec
        if length < codec.min_length:
            state.refuse(Bad.SHORT, time_s)
            return
        if length > codec.length and not state.fast:  # a later edition may append fields to a fast packet
            state.refuse(Bad.LONG, time_s)
            return
        if state.stream is not None:
            verdict = state.guard(data, time_s)
            if verdict > Verdict.SOME_LOST:
                state.refuse(_GUARD_REASON[verdict], time_s)
                return
            if state.two_senders(time_s):
                state.refuse(Bad.SECOND_SENDER, time_s)
                return
        state.good += 1
        state.last_good_s = time_s
        little = int.from_bytes(data, "little")
        # Where nothing but the guard can differ, a payload that is the same again need not be decoded again.
        cached = state.stream is not None and codec.pgn is None and length == codec.length
        payload = little >> 12 if cached else -2
        for group in state.groups:
            if payload == group.payload:
                group.stamp_s = time_s
                continue
            if group.where:
                big = int.from_bytes(bytes(data[: codec.length]).ljust(codec.length, b"\0"), "big")
                if not group.matches(little, big):
                    continue
            if is_extended and codec.pgn is not None:
                source = state.source = arbitration_id & 0xFF
                if source != group.source:
                    if group.source >= 0:
                        state.refuse(Bad.WRONG_SOURCE, time_s)
                        continue
                    state.sources.add(source)
            group.take(data, little, time_s)

    def take(self, bus_name: str, message: can.Message, time_s: float) -> None:
        """Take whatever an adapter received: data frames are fed, all others are counted by kind."""
        if message.is_error_frame:
            self.note(bus_name, "error frame")
        elif message.is_remote_frame:
            self.note(bus_name, "remote frame")
        elif message.is_fd:
            self.note(bus_name, "CAN FD frame")
        else:
            self.feed(bus_name, message.arbitration_id, message.is_extended_id, message.data, time_s)

    def note(self, bus_name: str, what: str) -> None:
        """Count something on a bus that is no data frame: an error frame, a remote frame, a receive error."""
        noted = self._buses[bus_name].noted
        noted[what] = noted.get(what, 0) + 1

    def restart_bus(self, bus_name: str) -> None:
        """The bus was away and is back: counters of guarded frames start anew, so the first frame is not used."""
        bus = self._buses[bus_name]
        for table in (bus.standard, bus.exact, bus.pgns):
            for state in table.values():
                state.restart()

    def set_contact(self, bit: int, on: bool) -> None:
        """Set what the runtime measures itself: BoatInput.RECEIVE_OK or DEADLINE_OK. Raises ValueError for others."""
        bit = int(bit)  # a member would turn the whole word into an enum, and each `&` of the rules with it
        if bit not in (int(BoatInput.RECEIVE_OK), int(BoatInput.DEADLINE_OK)):
            raise ValueError(f"bit {bit:#x} comes from the bus, or is no contact of the runtime")
        self._boat.fixed_known |= bit
        if on:
            self._boat.fixed_on |= bit
        else:
            self._boat.fixed_on &= ~bit

    # ---- inputs out

    def snapshot(self, now_s: float) -> tuple[BoatInputs, tuple[ShaftInputs, ...]]:
        """The inputs of this tick. Every float is finite; what is not known is 0.0."""
        own = _NONE_OWN
        if self._own.groups:
            known, on, numbers = self._own.read(now_s)
            own = OwnInputs(known, on, tuple(numbers))
        known, on, numbers = self._boat.read(now_s)
        boat = BoatInputs._make((known, on, *numbers, own))
        shafts = []
        for level in self._shafts:
            known, on, numbers = level.read(now_s)
            shafts.append(ShaftInputs(known, on, *numbers))
        return boat, tuple(shafts)

    # ---- what is wrong

    def ages(self, now_s: float) -> dict[str, float | None]:
        """Age in seconds of the last good value of each mapped input; None if there never was one.

        Keys are the input's name, for a shaft's inputs led by the shaft's name, as `port.lever.neutral`.
        """
        result: dict[str, float | None] = {}
        for (level, _), slot in self._slots.items():
            name = slot.row.spec.name
            key = name if level < 0 else f"{self._map.shaft_names[level]}.{name}"
            result[key] = None if slot.stamp_s == NEVER else now_s - slot.stamp_s
        return result

    def gaps(self) -> dict[tuple[str, str], tuple[float, float]]:
        """(bus, guarded message) -> the longest gap between two of its frames, and after how long its first input is
        stale (s): those whose gap made one stale since this was last asked."""
        found = {}
        for name, bus in self._buses.items():
            for table in (bus.standard, bus.exact, bus.pgns):
                for state in table.values():
                    if state.gap_s:
                        label = f"{state.codec.name} {state.codec.arbitration_id:#05x}"
                        found[name, label] = (state.gap_s, state.soonest_s - TIE_S)
                        state.gap_s = 0.0
        return found

    def second_senders(self, now_s: float) -> dict[tuple[str, str], bool]:
        """(bus, message) of those that were heard twice over of late: True from two senders, of which neither is
        believed; False each frame twice, byte for byte."""
        return {
            (name, f"{state.codec.name} {state.codec.arbitration_id:#05x}"): state.two_senders(now_s)
            for name, bus in self._buses.items()
            for table in (bus.standard, bus.exact, bus.pgns)
            for state in table.values()
            if state.two_senders(now_s) or state.doubled(now_s)
        }

    def why_unknown(self, level: int, bit: int, now_s: float) -> str:
        """Why an input is not known at `now_s`, for an electrician; "" if it is known.

        `level` is BOAT (-1), OWN (-2) or the shaft's number, `bit` one BoatInput or ShaftInput bit, or a channel's.
        """
        here = self._level(level)
        if here.read(now_s)[0] & bit:
            return ""
        slot = self._slots.get((level, int(bit)))
        if slot is None:
            if level == BOAT and bit & _OWN_CONTACTS:
                return "not yet measured by the supervisor"
            return "not mapped in the boat file"
        row, state = slot.row, slot.group.state
        where = f"{row.message.name} {row.message.arbitration_id:#05x} on bus {row.bus}"
        if state.two_senders(now_s):
            return f"{BAD_TEXT[Bad.SECOND_SENDER]} ({where})"
        if slot.bad is not None and slot.bad_s >= slot.group.stamp_s and slot.group.stamp_s != NEVER:
            fresh = 0.0 <= now_s - slot.group.stamp_s <= slot.group.stale_s
            if fresh:
                return f"{BAD_TEXT[slot.bad]} ({row.signal.name} in {where})"
        stamp_s = slot.stamp_s
        reason = ""
        if state.bad is not None and state.bad_s >= stamp_s:
            reason = f"; last refused {now_s - state.bad_s:.2f} s ago: {BAD_TEXT[state.bad]}"
        elif slot.bad is not None and slot.bad_s > stamp_s:
            reason = f"; last refused {now_s - slot.bad_s:.2f} s ago: {BAD_TEXT[slot.bad]}"
        if stamp_s == NEVER:
            if state.last_good_s != NEVER and not reason:
                reason = "; the message comes, but not with the wanted where and source"
            return f"no frame yet: {where}{reason}"
        age_s = now_s - stamp_s
        if age_s < 0.0:
            return f"its time stamp lies {-age_s:.2f} s in the future ({where})"
        return f"no good frame for {age_s:.2f} s, {row.stale_s:g} s allowed: {where}{reason}"

    def why_missing(self, inputs: Sequence[tuple[int, int]], now_s: float) -> str:
        """Why inputs, each (level, bit) as in `why_unknown`, are not known: by their keys in the boat file, those with
        one reason together. "" if all are known. Of more than three reasons the rest is only counted."""
        reasons: dict[str, list[str]] = {}
        for level, bit in inputs:
            if text := self.why_unknown(level, bit, now_s):
                specs = BOAT_INPUTS if level == BOAT else SHAFT_INPUTS
                key = next(spec.name for spec in specs if spec.bit == bit)
                reasons.setdefault(text, []).append(key if level == BOAT else f"{self._map.shaft_names[level]} {key}")
        shown = [f"{_few(keys)}: {text}" for text, keys in reasons.items()]
        rest = [f"and {len(shown) - REASONS_SHOWN} reasons more"] if len(shown) > REASONS_SHOWN else []
        return "; ".join(shown[:REASONS_SHOWN] + rest)

    def report(self) -> dict[str, dict[str, object]]:
        """Counters by bus: `frames`, `foreign` (not for us), `noted`, and for each message good and refused frames
        by reason, in words, and the sources heard where the boat file names none."""
        result: dict[str, dict[str, object]] = {}
        for name, bus in self._buses.items():
            messages: dict[str, dict[str, object]] = {}
            for table in (bus.standard, bus.exact, bus.pgns):
                for state in table.values():
                    entry: dict[str, object] = {"good": state.good}
                    for reason in Bad:
                        if state.counts[reason]:
                            entry[BAD_TEXT[reason]] = state.counts[reason]
                    if state.sources:
                        entry["sources"] = sorted(state.sources)
                    messages[state.codec.name] = entry
            result[name] = {
                "frames": bus.frames,
                "foreign": bus.foreign,
                "noted": dict(bus.noted),
                "messages": messages,
            }
        return result

    def counts(self, bus_name: str, message: str) -> dict[Bad, int]:
        """Refused frames of one message by reason; zero counts are left out. Raises KeyError for an unknown one."""
        bus = self._buses[bus_name]
        for table in (bus.standard, bus.exact, bus.pgns):
            for state in table.values():
                if state.codec.name == message:
                    return {reason: state.counts[reason] for reason in Bad if state.counts[reason]}
        raise KeyError(message)
