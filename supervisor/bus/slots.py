"""How a frame becomes numbers and contacts: the mutable cells behind InputTable, one group of slots for each message.

A *slot* holds one input. A *group* holds the slots of one level that are fed by one message under one condition; its
time stamp is theirs. The exception is a slot whose last value was refused: it keeps its older value and stamp, so that
one wild reading does not move an input, and a lasting fault lets it grow stale.
"""

import math

from supervisor.bus.codec import MessageCodec
from supervisor.bus.e2e import Verdict
from supervisor.bus.faults import Bad
from supervisor.bus.rows import InputRow
from supervisor.bus.senders import GuardedStream
from supervisor.config.limits import OWN_DECIMALS

NEVER = -math.inf
TIE_S = 1e-6
"""Ages within this of `stale_s` are fresh: an age of exactly so many ticks must not depend on rounding."""

# (shift, mask, sign threshold or 0, span, absent codes, scale, DBC offset, factor, offset, low, high, index, bit, slot)
NumberPlan = tuple[
    int, int, int, int, frozenset[int], float, float, float, float, float, float, int, int, "Slot"
]  # fmt: skip
# (shift, mask, code that means off, bit, slot)
ContactPlan = tuple[int, int, int, int, "Slot"]


class Slot:
    """One input: its row, and what was last wrong with it."""

    __slots__ = ("bad", "bad_s", "bit", "group", "held_s", "index", "row")

    def __init__(self, row: InputRow, index: int, group: "Group") -> None:
        self.row = row
        self.bit = int(row.spec.bit)
        self.index = index
        self.group = group
        self.bad: Bad | None = None
        self.bad_s = NEVER
        self.held_s: float | None = None

    @property
    def stamp_s(self) -> float:
        """Time of the last value that was used, or NEVER."""
        return self.group.stamp_s if self.held_s is None else self.held_s


class MessageState:
    """One message that the boat listens to: its guard, its counters, its groups."""

    __slots__ = (
        "bad", "bad_s", "codec", "counts", "fast", "gap_s", "good", "groups", "last_good_s",
        "soonest_s", "source", "sources", "stream",
    )  # fmt: skip

    def __init__(self, codec: MessageCodec, fast: bool) -> None:
        self.codec = codec
        self.fast = fast
        self.stream = None if codec.data_id is None else GuardedStream(codec.data_id, codec.max_delta)
        self.gap_s = 0.0
        """The longest gap that made an input stale since it was last asked for, s."""
        self.soonest_s = math.inf
        self.groups: list[Group] = []
        self.counts = [0] * len(Bad)
        self.good = 0
        self.last_good_s = NEVER
        self.bad: Bad | None = None
        self.bad_s = NEVER
        self.source = -1
        """Source address of the last frame that came with one."""
        self.sources: set[int] = set()

    def guard(self, data: bytes | bytearray, time_s: float) -> Verdict:
        """The guard's verdict. Where the frame shows a second sender, what was heard until now is lost."""
        stream = self.stream
        if stream is None:
            return Verdict.OK
        gap_s = time_s - stream.heard_s
        verdict = stream.check(data, time_s)
        if self.gap_s < gap_s < math.inf and gap_s > self.soonest_s and verdict is not Verdict.WRONG_CRC:
            self.gap_s = gap_s
        if stream.second_found:
            for group in self.groups:
                group.lose()
        return verdict

    def two_senders(self, now_s: float) -> bool:
        """Whether two senders of this message were heard of late: none of its frames is used then."""
        return self.stream is not None and self.stream.two(now_s)

    def doubled(self, now_s: float) -> bool:
        """Whether each frame came twice of late."""
        return self.stream is not None and self.stream.doubled(now_s)

    def stale(self, after_s: float) -> None:
        """One more input is stale `after_s` its last good frame: the counter starts anew after the longest."""
        self.soonest_s = min(self.soonest_s, after_s)
        stream = self.stream
        if stream is not None:
            stream.set_silence(max(stream.silence_s, after_s))

    def restart(self) -> None:
        """The counter starts anew: the first frame is not used."""
        if self.stream is not None:
            self.stream.restart()

    def refuse(self, reason: Bad, time_s: float) -> None:
        """Count a frame that is not used."""
        self.counts[reason] += 1
        self.bad = reason
        self.bad_s = time_s


class Group:
    """The slots of one level fed by one message under one condition (`where`, source, staleness)."""

    __slots__ = (
        "contacts", "indices", "known", "numbers", "on", "others", "payload", "plans", "slots", "source", "stale_s",
        "stamp_s", "state", "where",
    )  # fmt: skip

    def __init__(self, state: MessageState, row: InputRow, numbers: list[float]) -> None:
        self.state = state
        self.where = [(signal, codes) for signal, codes in row.where]
        self.source = row.source
        self.stale_s = row.stale_s + TIE_S
        self.numbers = numbers
        self.stamp_s = NEVER
        self.known = 0
        self.on = 0
        self.payload = -1
        self.slots: list[Slot] = []
        self.indices: list[int] = []
        self.plans: list[NumberPlan] = []
        self.contacts: list[ContactPlan] = []
        self.others: list[Slot] = []

    def add(self, row: InputRow, index: int) -> Slot:
        """Put one more input into this group."""
        slot = Slot(row, index, self)
        self.slots.append(slot)
        signal = row.signal
        mask = (1 << signal.bits) - 1
        if index >= 0:
            self.indices.append(index)
        plain = not signal.big_endian and not signal.is_float and row.values is None and row.paired < 0
        plain = plain and signal.need_bytes <= row.message.min_length and (row.own is None or row.spec.is_contact)
        if plain and row.spec.is_contact and not signal.absent & {0, 1} and not signal.signed:
            self.contacts.append((signal.shift, mask, 1 if row.invert else 0, slot.bit, slot))
        elif plain and not row.spec.is_contact:
            half, span = (1 << (signal.bits - 1), 1 << signal.bits) if signal.signed else (0, 0)
            self.plans.append((
                signal.shift, mask, half, span, signal.absent, float(signal.scale), float(signal.offset), row.factor,
                row.offset, row.low, row.high, index, slot.bit, slot,
            ))  # fmt: skip
        else:
            self.others.append(slot)
        return slot

    def lose(self) -> None:
        """What was heard is no longer believed: every input is unknown, as after a silence."""
        self.stamp_s = NEVER
        self.payload = -1
        self.known = self.on = 0
        for slot in self.slots:
            slot.held_s = None

    def matches(self, little: int, big: int) -> bool:
        """Whether the frame's other signals say that it is the one meant."""
        return all(signal.raw(little, big) in codes for signal, codes in self.where)

    def take(self, data: bytes | bytearray, little: int, time_s: float) -> None:
        """Decode a frame that passed its guard, its length, `where` and source."""
        known = on = 0
        clean = True
        numbers = self.numbers
        for shift, mask, off_code, bit, slot in self.contacts:
            code = little >> shift & mask
            if code < 2:
                known |= bit
                if code != off_code:
                    on |= bit
                slot.held_s = None
            else:
                clean = False
                self._absent(slot, time_s, Bad.NOT_AVAILABLE if code in slot.row.signal.absent else Bad.NO_SUCH_CODE)
        for (
            shift, mask, half, span, absent, scale, dbc_offset, factor, offset, low, high, index, bit, slot,
        ) in self.plans:  # fmt: skip
            code = little >> shift & mask
            if half and code >= half:
                code -= span
            if code in absent:
                clean = False
                self._absent(slot, time_s, Bad.NOT_AVAILABLE)
                continue
            value = (code * scale + dbc_offset) * factor + offset
            if low <= value <= high:
                known |= bit
                numbers[index] = value
                slot.held_s = None
            else:
                clean = False
                known |= self._hold(slot, time_s, Bad.OUT_OF_RANGE)
        for slot in self.others:
            known, on = self._other(slot, data, little, time_s, known, on)
            clean = False
        self.known = known
        self.on = on
        self.stamp_s = time_s
        # A frame that says the same again, and said it cleanly, need not be decoded again.
        self.payload = little >> 12 if clean else -1

    def _other(
        self, slot: Slot, data: bytes | bytearray, little: int, time_s: float, known: int, on: int
    ) -> tuple[int, int]:
        """A signal off the beaten track: big-endian, float, coded, in a part of the message that may be missing, or a
        number with a threshold, which must fall on the side that its decimal figures say."""
        row = slot.row
        signal = row.signal
        if signal.need_bytes > len(data):
            self._absent(slot, time_s, Bad.NOT_AVAILABLE)
            return known, on
        big = 0
        if signal.big_endian:
            length = row.message.length
            big = int.from_bytes(bytes(data[:length]).ljust(length, b"\0"), "big")
        code = signal.raw(little, big)
        if row.values is not None and code in row.values:
            value = row.values[code]
        elif code in signal.absent:
            self._absent(slot, time_s, Bad.NOT_AVAILABLE)
            return known, on
        elif row.values is not None:
            self._absent(slot, time_s, Bad.NO_SUCH_CODE)
            return known, on
        elif row.paired >= 0:
            value = 1.0 if signal.physical(code) == row.paired else 0.0
        else:
            value = signal.physical(code) if not row.spec.is_contact or signal.is_float else float(code)
            value = value * row.factor + row.offset
            if row.own is not None and math.isfinite(value):
                value = round(value, OWN_DECIMALS)
        if row.spec.is_contact:
            if value not in (0.0, 1.0):
                self._absent(slot, time_s, Bad.NO_SUCH_CODE)
                return known, on
            slot.held_s = None
            return known | slot.bit, on | slot.bit if (value == 1.0) != row.invert else on
        if not math.isfinite(value):
            return known | self._hold(slot, time_s, Bad.NOT_A_NUMBER), on
        if not row.low <= value <= row.high:
            return known | self._hold(slot, time_s, Bad.OUT_OF_RANGE), on
        self.numbers[slot.index] = value
        slot.held_s = None
        return known | slot.bit, on

    def _absent(self, slot: Slot, time_s: float, reason: Bad) -> None:
        """The sender itself says that it does not know: unknown at once."""
        slot.bad = reason
        slot.bad_s = time_s
        slot.held_s = None
        self.state.counts[reason] += 1
        if slot.index >= 0:
            self.numbers[slot.index] = 0.0

    def _hold(self, slot: Slot, time_s: float, reason: Bad) -> int:
        """An impossible value is not used; the older one keeps its stamp. Returns the slot's bit if there is one."""
        slot.bad = reason
        slot.bad_s = time_s
        self.state.counts[reason] += 1
        if slot.held_s is None:
            slot.held_s = self.stamp_s if self.known & slot.bit else NEVER
        return self.known & slot.bit
