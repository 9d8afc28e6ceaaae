"""Reads the log format of `candump -L`: `(1700000000.123456) can0 09F11234#FF519CFF7F5506FC`.

It has its own reader because most frames of a long log concern nobody: they are counted without being taken apart.
Understood as well: python-can's trailing R or T for the direction, remote frames, error frames, CAN FD (counted, not
fed). A line that is none of these is counted as damage.
"""

import io
import math
from collections.abc import Iterator
from typing import BinaryIO

from sim.replay.health import Health
from sim.replay.logclock import Item, LogClock
from sim.replay.source import KEYS_MAX, STREAM_ERRORS, Batch, Place, Row, Select, Tally

_CHUNK = 1 << 18
WINDOW_S = 0.02
"""What the bus carried is told to the clock this often, in the recorder's time."""
_LINE_MAX = 1 << 16
_ERROR_FLAG = 0x20000000
_SHOWN = 40


class CandumpSource:
    """A candump log, read in chunks from `stream`, which is closed with it.

    `stored` is the file as it lies on the disk (compressed or not), `size` its length in bytes if that is known.
    `origin` None counts log time from the first frame; a number is the stamp of log time 0.
    """

    kind = "candump"

    def __init__(
        self, stream: BinaryIO, stored: BinaryIO, select: Select, gap_s: float, origin: float | None = None,
        size: int | None = None,
    ) -> None:  # fmt: skip
        self.health = Health()
        self.clock = LogClock(self.health, gap_s, origin)
        self.tally = Tally(select, self.health)
        self._stream = stream
        # one read of the file below at a time: what came before the place where it breaks off is not lost with it
        self._next = stream.read1 if isinstance(stream, io.BufferedReader) else stream.read
        self._stored = stored
        self._size = size
        self._table: dict[str, Row] = {}

    def counts(self) -> dict[Place, int]:
        """Data frames so far by identifier."""
        return self.tally.counts()

    def begin(self) -> float | None:
        """Stamp of the first frame."""
        return self.clock.begin

    def done(self) -> float | None:
        """Share read."""
        return None if not self._size or self._stored.closed else min(1.0, self._stored.tell() / self._size)

    def close(self) -> None:
        """Close the streams."""
        self._stream.close()
        self._stored.close()

    def batches(self) -> Iterator[Batch]:
        """The wanted frames of each chunk."""
        rest = b""
        while True:
            chunk = self._next_chunk()
            if not chunk:
                break
            head, newline, tail = chunk.rpartition(b"\n")
            if not newline:
                rest += tail
                if len(rest) > _LINE_MAX:
                    self.health.damage("line without end", f"line {self.health.lines + 1}")
                    rest = b""
                continue
            text = (rest + head).decode("latin-1")
            rest = tail
            yield self._parse(text)
        if rest:
            yield self._parse(rest.decode("latin-1"))
        yield Batch(self.clock.flush(), self.clock.end_s)

    def _next_chunk(self) -> bytes:
        try:
            return self._next(_CHUNK)
        except STREAM_ERRORS as exc:
            self.health.damage(f"file ends early ({exc})", f"after line {self.health.lines}")
            return b""

    def _parse(self, text: str) -> Batch:
        if "\r" in text:
            text = text.replace("\r", "")
        if text[-2:] in (" R", " T"):  # python-can marks the direction of each frame
            text = f"{text}\n".replace(" R\n", "\n").replace(" T\n", "\n")[:-1]
        lines = text.split("\n")
        clock, table, fromhex = self.clock, self._table, bytes.fromhex
        last, offset, near_s = clock.last, clock.offset, clock.near_s
        told, mark, bytes_in = 0, math.nan, 0
        items: list[Item] = []
        out = items.append
        number = self.health.lines
        frames = 0
        for line in lines:
            number += 1
            head, _, text_data = line.partition("#")
            stamp_text, _, key = head.partition(") ")
            try:
                stamp = float(stamp_text[1:])
                data = fromhex(text_data)
                row = table[key]
                size = len(data)
                plain = size <= 8 and size + size == len(text_data) and line[0] == "("
            except (ValueError, KeyError):
                plain = False
            if not plain:
                found = self._unusual(line, number)
                if found is None:
                    continue
                stamp, row, data = found
            frames += 1
            bytes_in += len(data)
            row.count += 1
            handle = row.handle
            if stamp - mark > WINDOW_S or mark != mark:  # noqa: PLR0124 - at the first frame
                clock.frames = self.health.frames + frames
                clock.carried(stamp, frames - told, bytes_in)
                told, mark, bytes_in = frames, stamp, 0
            if 0.0 <= stamp - last <= near_s:
                last = stamp
                if handle is not None:
                    out((stamp + offset, handle, data))
            else:
                clock.last = last
                clock.frames = self.health.frames + frames
                items += clock.odd(stamp, handle, data)
                last, offset = clock.last, clock.offset
        self.health.lines = number
        self.health.frames += frames
        clock.last = last
        if last == last:  # noqa: PLR0124 - not while a frame is held
            clock.carried(last, frames - told, bytes_in)
            clock.end_s = last + offset
        return Batch(items, clock.end_s)

    def _unusual(self, line: str, number: int) -> tuple[float, Row, bytes] | None:
        """A line that is not a plain frame of a known identifier; None for one that brings no data frame."""
        line = line.strip()
        if not line:
            return None
        if line[-2:].lower() in (" r", " t"):
            line = line[:-2]
        try:
            opening, channel, frame = line.split()
            if opening[0] != "(" or opening[-1] != ")":
                raise ValueError(line)
            stamp = float(opening[1:-1])
            name, hash_sign, text_data = frame.partition("#")
            arbitration_id = int(name, 16)
            if not hash_sign or not name.isalnum() or len(name) > 8:
                raise ValueError(line)
        except ValueError:
            return self._damage("line that is no frame", line, number)
        other = _other_kind(arbitration_id, text_data)
        if other:
            self.health.count_other(other)
            return None
        is_extended = len(name) > 3
        if arbitration_id > (0x1FFFFFFF if is_extended else 0x7FF):
            return self._damage("identifier too large", line, number)
        try:
            data = bytes.fromhex(text_data)
        except ValueError:
            return self._damage("data that is not hexadecimal", line, number)
        if len(data) > 8:
            return self._damage("more than 8 bytes of data", line, number)
        row = self.tally.row(Place(channel, arbitration_id, is_extended))
        if len(self._table) < KEYS_MAX:
            self._table[f"{channel} {name}"] = row
        return stamp, row, data

    def _damage(self, kind: str, line: str, number: int) -> tuple[float, Row, bytes] | None:
        shown = line if len(line) <= _SHOWN else f"{line[:_SHOWN]}..."
        self.health.damage(kind, f"line {number}: {shown!a}")
        return None


def _other_kind(arbitration_id: int, text_data: str) -> str:
    """The kind of a frame that carries no data for the supervisor, "" for a data frame."""
    if arbitration_id & _ERROR_FLAG:
        return "error frame"
    if text_data[:1] == "#":
        return "CAN FD frame"
    return "remote frame" if text_data[:1] in ("R", "r") else ""
