"""Inputs from frames without counter and checksum that end what runs: what is said once does not act.

A frame without a guard may be anybody's, or torn. Where such a signal can stop a shaft, it acts only when so many
frames *running* from one source say the same: a contact the same state, a number the same side of its threshold, either
of them "not available". Until then what stood before stands, with its old time stamp, so that a sender that never
agrees with itself, or two that contradict each other, grow stale: unknown, in the end, is bad.
"""

from supervisor.bus.faults import Bad
from supervisor.bus.rows import InputRow, OwnSides, ReportSides
from supervisor.bus.slots import NEVER, Group, MessageState, Slot

_NOTHING = -1
_UNKNOWN = 0
_GOOD = 1
_BAD = 2
_BETWEEN = 3
_SIDE = 10
"""What a frame says: of a contact off is _GOOD and on is _BAD here, whichever of the two the boat file calls good; of a
report _SIDE and the side of its bounds."""


class ConfirmedGroup(Group):
    """One input under the frame rule; a group of its own, for its time stamp is its own."""

    __slots__ = ("_from", "_heard_s", "_running", "_said", "_sides", "_source", "_stands")

    def __init__(self, state: MessageState, row: InputRow, numbers: list[float], sides: OwnSides | ReportSides) -> None:
        super().__init__(state, row, numbers)
        self._sides = sides
        self._heard_s = NEVER
        self._said = _NOTHING
        self._from = -1
        self._running = 0
        self._stands = _NOTHING
        self._source = -1

    def lose(self) -> None:
        """What was heard is no longer believed."""
        super().lose()
        self._said = self._stands = _NOTHING
        self._heard_s = NEVER

    def take(self, data: bytes | bytearray, little: int, time_s: float) -> None:
        """Decode a frame; use it if enough of them agree."""
        slot = self.slots[0]
        number = self.numbers[slot.index] if slot.index >= 0 else 0.0
        before = self.known, self.on, self.stamp_s, slot.held_s
        if not 0.0 <= time_s - self.stamp_s <= self.stale_s:
            self._stands = _NOTHING
        if not 0.0 <= time_s - self._heard_s <= self.stale_s:
            self._said = _NOTHING
        self._heard_s = time_s
        super().take(data, little, time_s)
        said = self._what(slot, time_s)
        if not self._counts(said, self.state.source):
            held_s = slot.held_s  # of a value that cannot be, it says why the input is unknown in the end
            self.known, self.on, self.stamp_s, slot.held_s = before
            if said == _NOTHING:
                slot.held_s = held_s
            if slot.index >= 0:
                self.numbers[slot.index] = number
        elif said == _UNKNOWN and slot.index >= 0:
            self.numbers[slot.index] = 0.0

    def _what(self, slot: Slot, time_s: float) -> int:
        """What the frame just decoded says; _NOTHING where its value cannot be."""
        if slot.bad in (Bad.OUT_OF_RANGE, Bad.NOT_A_NUMBER) and slot.bad_s == time_s and slot.held_s is not None:
            return _NOTHING
        if not self.known & slot.bit:
            return _UNKNOWN
        if slot.index < 0:
            return _BAD if self.on & slot.bit else _GOOD
        value = self.numbers[slot.index]
        if isinstance(self._sides, ReportSides):
            return _SIDE + self._sides.side(value)
        return _BAD if self._sides.bad(value) else _GOOD if self._sides.good(value) else _BETWEEN

    def _counts(self, said: int, source: int) -> bool:
        """Whether a frame that says `said` may be used: it agrees with what stands, or enough running say so."""
        if said == self._said and source == self._from:
            self._running += 1
        else:
            self._said, self._from, self._running = said, source, 1
        if said == _NOTHING:
            return False
        decided = self._stands in (_GOOD, _BAD) or self._stands >= _SIDE
        if decided and source == self._source and said in (self._stands, _BETWEEN):
            return True
        at_once = False
        if isinstance(self._sides, ReportSides):
            falls = self._sides.falls_freely == 1 and _SIDE <= said < self._stands and source == self._source
            at_once = falls or (self._sides.first_at_once == 1 and self._stands == _NOTHING)
        if self._running < self._sides.frames and not at_once:
            return False
        self._stands, self._source = said, source
        return True
