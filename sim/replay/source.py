"""What every reader of recordings has in common: who wants which frame, and batches of wanted frames in log time."""

import lzma
import zlib
from collections.abc import Callable, Iterator
from typing import NamedTuple, Protocol

from sim.replay.health import Health
from sim.replay.logclock import Item

Select = Callable[[str, int, bool], object | None]
"""Asked once for each (channel, identifier, is_extended): the handle under which its frames are wanted, or None."""

STREAM_ERRORS = (EOFError, OSError, zlib.error, lzma.LZMAError)
"""What a stream raises that ends before its end, or is damaged where it is compressed."""

KEYS_MAX = 20_000
"""Distinct identifiers that are counted one by one. A sound bus has some hundreds; damage can invent millions."""


class Batch(NamedTuple):
    """Frames that somebody wanted, in log time, oldest first; `end_s` is the log time of the last frame of any kind."""

    items: list[Item]
    end_s: float


class Place(NamedTuple):
    """An identifier on a channel of the recording."""

    channel: str
    arbitration_id: int
    is_extended: bool


class Source(Protocol):
    """An open recording. Iterate `batches` once, to the end or not, then `close`."""

    health: Health
    kind: str
    """Format, in words."""

    def batches(self) -> Iterator[Batch]:
        """The wanted frames. Damage is counted in `health`; raises ReplayError only for what makes the whole file
        unreadable, e.g. a missing package."""

    def counts(self) -> dict[Place, int]:
        """Data frames so far by identifier."""

    def begin(self) -> float | None:
        """The recorder's own stamp of the first frame (s), None before it."""

    def done(self) -> float | None:
        """Share of the file that has been read (0 to 1), None where that cannot be known."""

    def close(self) -> None:
        """Release the file."""


class Row:
    """How often an identifier came, and the handle under which it is wanted."""

    __slots__ = ("count", "handle")

    def __init__(self, handle: object | None) -> None:
        self.count = 0
        self.handle = handle


class Tally:
    """Frames by identifier, with the handle of each."""

    def __init__(self, select: Select, health: Health) -> None:
        self.select = select
        self.health = health
        self.rows: dict[Place, Row] = {}
        self._overflow = Row(None)

    def row(self, place: Place) -> Row:
        """The row of a place, made on its first frame."""
        row = self.rows.get(place)
        if row is None:
            if len(self.rows) >= KEYS_MAX:
                self.health.count_other("frame with yet another identifier (more than are possible)")
                return self._overflow
            row = self.rows[place] = Row(self.select(*place))
        return row

    def counts(self) -> dict[Place, int]:
        """Frames by place."""
        return {place: row.count for place, row in self.rows.items()}
