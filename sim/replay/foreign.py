"""The other formats, through python-can's readers: ASC, BLF, CSV, TRC, SQLite, MF4.

python-can's readers end with the first line they cannot read. The text formats are therefore read through a wrapper
that keeps the file's head, so that a new reader can go on behind the damaged line.
"""

import itertools
import logging
import lzma
import re
import sqlite3
import struct
import zlib
from collections.abc import Callable, Iterator
from typing import BinaryIO, TextIO

import can
from can.io.blf import BLFParseError

from sim.replay.health import Health
from sim.replay.logclock import Item, LogClock
from sim.replay.source import STREAM_ERRORS, Batch, Place, Select, Tally

READER_ERRORS = (
    ValueError, TypeError, LookupError, AttributeError, ArithmeticError, AssertionError, EOFError, OSError,
    NotImplementedError, MemoryError, struct.error, zlib.error, lzma.LZMAError, sqlite3.Error, can.CanError,
    BLFParseError,
)  # fmt: skip
"""What python-can's readers, and what they are made of, have been seen to raise on damaged files."""

HARMLESS: dict[str, tuple[re.Pattern[str], ...]] = {
    "asc": tuple(
        re.compile(pattern, re.IGNORECASE)
        for pattern in (
            r"//", r"date\s", r"base\s+(hex|dec)", r"(no\s+)?internal events logged$", r"(begin|end)\s+triggerblock",
            r"[\d.]+\s+start of measurement$", r"[\d.]+\s+(\d+\s+)?statistic:", r"[\d.]+\s+log trigger event",
            r"[\d.]+\s+trigger event", r"previous log file:", r"[\d.]+\s+(canfd\s+)?\d+\s+\S*\s*errorframe",
            r"[\d.]+\s+can\s+\d+\s+status", r"[\d.]+\s+\d+\s+errorframe",
        )
    ),
    "trc": tuple(re.compile(pattern) for pattern in (r";", r"\d+[).]?\s+[\d.]+\s.*\b(Warng|Error|ST|EC|ER|EV)\b")),
    "csv": (re.compile(r"timestamp,"),),
}  # fmt: skip
"""Lines of the text formats that hold no frame: comments, heads, statistics, what a controller says of itself. As
python-can's readers and writers know them; the kinds of event lines beyond those from memory."""
_BATCH = 2000
_LINE_MAX = 1 << 16
_HEAD_MAX = 40


class GuardedText:
    """A text file as python-can's readers want it: an iterator of lines that also remembers the file's head and where
    it is. A line longer than 64 kB is cut."""

    def __init__(self, stream: TextIO, is_head: Callable[[str], bool], closing: str) -> None:
        self._stream = stream
        self._is_head = is_head
        self._closing = closing
        self._head: list[str] = []
        self._again: Iterator[str] = iter(())
        self.number = 0
        self.line = ""
        self.since: list[tuple[int, str]] = []
        """Number and text of the lines read since the last frame, its own last."""
        self.ended = False
        self.cut_short = ""

    def __iter__(self) -> "GuardedText":
        return self

    def __next__(self) -> str:
        for line in self._again:
            return line
        try:
            line = self._stream.readline(_LINE_MAX)
        except STREAM_ERRORS as exc:
            self.cut_short = str(exc)
            line = ""
        if not line:
            self.ended = True
            raise StopIteration
        self.number += 1
        self.line = line
        self.since.append((self.number, line))
        if self.number <= _HEAD_MAX and self._is_head(line):
            self._head.append(line)
        return line

    def restart(self) -> None:
        """Let the next reader see the head again before it goes on."""
        closing = [self._closing] if self._closing else []
        self._again = itertools.chain(self._head, closing)

    def close(self) -> None:
        """Nothing: the source closes its stream itself."""


class GuardedBlfReader(can.BLFReader):
    """python-can's BLF reader, which would go round for ever at an object that says it has no length."""

    def _parse_data(self, data: bytes) -> Iterator[can.Message]:
        position = 0
        sound = True
        while sound:
            position = data.find(b"LOBJ", position, position + 8)
            if position < 0 or position + 12 > len(data):
                break
            size = int.from_bytes(data[position + 8 : position + 12], "little")
            sound = 32 <= size <= 1 << 22
            if sound:
                position += size
        if sound:
            yield from super()._parse_data(data)
            return
        yield from super()._parse_data(data[:position])
        raise BLFParseError("an object with an impossible length")


class ForeignSource:
    """A recording read by one of python-can's readers.

    `make` builds a reader on whatever is left of the file; `text` is None for binary formats, which cannot be taken up
    again behind damage. `closing` releases the file.
    """

    def __init__(
        self, kind: str, make: Callable[[], can.io.generic.MessageReader], text: GuardedText | None, select: Select,
        gap_s: float, origin: float | None, closing: Callable[[], None], stream: BinaryIO | None, size: int | None,
    ) -> None:  # fmt: skip
        self.kind = kind
        self.health = Health()
        self.clock = LogClock(self.health, gap_s, origin)
        self.tally = Tally(select, self.health)
        self._make = make
        self._text = text
        self._closing = closing
        self._stream = stream
        self._size = size
        self._reader: can.io.generic.MessageReader | None = None
        self._told_line = 0
        """The last line that was counted as damaged."""

    def counts(self) -> dict[Place, int]:
        """Data frames so far by identifier."""
        return self.tally.counts()

    def begin(self) -> float | None:
        """Stamp of the first frame."""
        return self.clock.begin

    def done(self) -> float | None:
        """Share read, by the position in the file as stored."""
        if not self._size or self._stream is None or self._stream.closed:
            return None
        return min(1.0, self._stream.tell() / self._size)

    def close(self) -> None:
        """Close reader and file."""
        if isinstance(self._reader, can.SqliteReader | can.MF4Reader):
            self._reader.stop()
        self._reader = None
        self._closing()

    def batches(self) -> Iterator[Batch]:
        """The wanted frames."""
        items: list[Item] = []
        clock = self.clock
        for message in self._messages():
            self._take(message, items)
            if len(items) >= _BATCH or self.health.lines % _BATCH == 0:
                yield Batch(items, clock.end_s)
                items = []
        items += clock.flush()
        yield Batch(items, clock.end_s)

    def _take(self, message: can.Message, items: list[Item]) -> None:
        health, clock = self.health, self.clock
        health.lines += 1
        if message.is_error_frame:
            health.count_other("error frame")
            return
        if message.is_remote_frame:
            health.count_other("remote frame")
            return
        if message.is_fd:
            health.count_other("CAN FD frame")
            return
        try:
            arbitration_id, data = int(message.arbitration_id), bytes(message.data)
            stamp, length = float(message.timestamp), int(message.dlc)
        except (TypeError, ValueError, OverflowError):
            health.damage("record with a field of the wrong kind", f"record {health.lines}")
            return
        if not 0 <= arbitration_id <= (0x1FFFFFFF if message.is_extended_id else 0x7FF):
            health.damage("identifier too large", f"record {health.lines}")
            return
        if len(data) > 8:
            health.damage("more than 8 bytes of data", f"record {health.lines}")
            return
        if length > len(data):
            health.damage("less data than announced", f"record {health.lines}")
            return
        channel = "" if message.channel is None else str(message.channel)
        row = self.tally.row(Place(channel, arbitration_id, message.is_extended_id))
        row.count += 1
        health.frames += 1
        clock.frames = health.frames
        clock.carried(stamp, 1, len(data))
        if 0.0 <= stamp - clock.last <= clock.near_s:
            clock.last = stamp
            clock.end_s = stamp + clock.offset
            if row.handle is not None:
                items.append((clock.end_s, row.handle, data))
        else:
            items += clock.odd(stamp, row.handle, data)
            if clock.last == clock.last:
                clock.end_s = clock.last + clock.offset

    def _messages(self) -> Iterator[can.Message]:
        """All messages that can be had, past damaged lines where the format allows it."""
        text = self._text
        log = logging.getLogger("can")
        quiet = logging.NullHandler()  # what the readers warn of is counted here, line by line
        log.addHandler(quiet)
        try:
            while True:
                at = 0 if text is None else text.number
                try:
                    reader = self._reader = self._make()
                    for message in self._absolute(reader):
                        self._passed_over(1)
                        yield message
                    self._passed_over(0)
                except READER_ERRORS as exc:
                    if text is None:
                        self.health.damage(f"file is damaged or ends early ({_short(exc)})",
                                           f"after record {self.health.lines}")  # fmt: skip
                        return
                    self._passed_over(0)
                    if self._told_line != text.number:
                        self._no_frame(text.number, text.line)
                    if text.number == at:
                        return
                    text.restart()
                    continue
                if text is not None and text.cut_short:
                    self.health.damage(f"file ends early ({text.cut_short})", f"after line {text.number}")
                return
        finally:
            log.removeHandler(quiet)

    def _passed_over(self, own: int) -> None:
        """Count the lines that the reader read and said nothing of; the last `own` are a frame's."""
        text = self._text
        if text is None or not text.since:
            return
        lines, text.since = text.since[: len(text.since) - own], []
        for number, line in lines:
            if number > self._told_line and not self._harmless(line):
                self._no_frame(number, line)

    def _harmless(self, line: str) -> bool:
        """A line of the format that is no frame and none that was lost."""
        words = line.strip()
        if not words:
            return True
        if self.health.frames and words[0] == ";":  # a TRC file has its comments at its head
            return False
        return any(pattern.match(words) for pattern in HARMLESS.get(self.kind, ()))

    def _no_frame(self, number: int, line: str) -> None:
        self._told_line = number
        self.health.damage("line that is no frame", f"line {number}: {line.strip()[:40]!a}")

    @staticmethod
    def _absolute(reader: can.io.generic.MessageReader) -> Iterator[can.Message]:
        """ASC files may give each stamp as the time since the line before, which python-can passes on as it stands."""
        total_s = 0.0
        for message in reader:
            if isinstance(reader, can.ASCReader) and reader.timestamps_format == "relative":
                total_s += message.timestamp
                message.timestamp = total_s
            yield message


def _short(exc: BaseException) -> str:
    text = str(exc).strip().splitlines()
    return text[0][:80] if text else type(exc).__name__
