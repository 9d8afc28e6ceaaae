"""The black box: bus traffic in rotating logs in the format of can-utils' `candump -L`, with a cap on all of them.

Lines are `(seconds) can0 123#0102 R`: seconds since 1970 as counted from the wall clock at the start (steps of it later
on change nothing), then R for received or T for sent. The first bus of the boat file is can0, the second can1. Frames
go through a bounded queue to a thread of its own; what finds it full is counted.

A disk that refuses costs nothing while the queue has room: the same lines are tried again, in the same file. What is
old is deleted only to make room below the cap for a file that begins, never because a write failed.

Beside each `bus-000001.log` lies `bus-000001.ticks`: the very moments at which the supervisor decided, and what its
runtime knew of itself then. With both, a replay decides bit by bit what was decided on board.
"""

import collections
import contextlib
import math
import threading
import time
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import BinaryIO, NamedTuple

import can

from supervisor.journal.ticks import head as ticks_head
from supervisor.journal.ticks import line as tick_line

CAPACITY = 50_000
"""Frames that wait for the disk at most: a minute of a busy bus."""
FLUSH_S = 0.25
BATCH = 1000
"""Lines written at once."""
REFUSALS_BEFORE_NEW_FILE = 40
"""A disk that was pulled out and is back never takes the file that was open: after 10 s a new one is tried."""
SMALLEST_BYTES = 4096
"""What a file counts at least: it takes a block of the disk, however short it is."""
ERROR_FRAME = "20000080"
"""Error flag with the class `bus error`, as SocketCAN writes it; the classes of a real error are not kept."""

_Item = tuple[float, str, can.Message, bool] | str
"""A frame (time_s, channel, message, sent), or a line of the list of ticks."""


def frame_name(message: can.Message) -> str:
    """A frame as in a candump log: `123#0102`."""
    if message.is_error_frame:
        number = ERROR_FRAME
    else:
        number = f"{message.arbitration_id:08X}" if message.is_extended_id else f"{message.arbitration_id:03X}"
    return f"{number}#{'R' if message.is_remote_frame else message.data.hex().upper()}"


class _Pair(NamedTuple):
    """A log and the list of its ticks, both open for appending."""

    log: BinaryIO
    ticks: BinaryIO

    def sizes(self) -> tuple[int, int]:
        return self.log.tell(), self.ticks.tell()

    def room(self, most: int) -> float:
        """What may still be written under `most` bytes; without end into a file that holds no frame yet."""
        log, ticks = self.sizes()
        return most - log - ticks if log else math.inf

    def append(self, log: bytes, ticks: bytes) -> None:
        """Both texts or neither. Raises OSError."""
        before = self.sizes()
        try:
            for file, text in zip(self, (log, ticks), strict=True):
                _write_whole(file, text)
        except OSError:
            # A full disk takes part of a line. What was begun is taken back, so that a retry writes it once.
            for file, size in zip(self, before, strict=True):
                file.seek(size)
                file.truncate()
            raise

    def close(self) -> None:
        """Close both. Raises OSError."""
        try:
            self.log.close()
        finally:
            self.ticks.close()


def _write_whole(file: BinaryIO, text: bytes) -> None:
    """`file` is unbuffered, so that nothing is left in memory that a later call would write again."""
    rest = memoryview(text)
    while rest:
        rest = rest[file.write(rest) :]


def _counted(log: Path) -> int:
    """What a log and its ticks count under the cap, bytes."""
    both = (path for path in (log, log.with_suffix(".ticks")) if path.exists())
    return sum(max(SMALLEST_BYTES, path.stat().st_size) for path in both)


class BusLog:
    """Rotating logs `bus-000001.log`, ... in `folder`: at most `file_bytes` each with its ticks (or a batch of lines
    that is more by itself), `total_bytes` together, those of earlier runs included.

    Attributes: `lost` frames that found the queue full, or a disk that refused until the end; `written` lines of frames
    on the disk; `failing` why the disk refuses at present, "" while it does not.
    """

    def __init__(
        self,
        folder: Path,
        buses: Sequence[str],
        file_bytes: int = 16_000_000,
        total_bytes: int = 256_000_000,
        capacity: int = CAPACITY,
        since_full_s: float = 0.0,
    ) -> None:
        """`since_full_s` is the time since the last full charge with which the supervisor begins (s)."""
        self._folder = folder
        self._channel = {bus: f"can{number}" for number, bus in enumerate(buses)}
        self._file_bytes = file_bytes
        self._total_bytes = max(total_bytes, file_bytes)
        self._capacity = capacity
        self._offset_s = time.time() - time.monotonic()
        self._queue: collections.deque[_Item] = collections.deque()
        self._pair: _Pair | None = None
        self._refusals = 0
        self._since_full_s: float | None = since_full_s
        self._closing = threading.Event()
        self.lost = 0
        self.written = 0
        self.failing = ""
        self._thread = threading.Thread(target=self._write, name="bus log", daemon=True)
        self._thread.start()

    def write(self, time_s: float, bus: str, message: can.Message, sent: bool) -> None:
        """Hand over one frame; `time_s` is monotonic time. Never waits. Raises KeyError for an unknown bus."""
        if len(self._queue) >= self._capacity:
            self.lost += 1
            return
        self._queue.append((time_s, self._channel[bus], message, sent))

    def tick(
        self, time_s: float, receive_ok: bool, deadline_ok: bool, reopened: Iterable[str] = (),
        decided: int | None = None,
    ) -> None:  # fmt: skip
        """Hand over one tick: its time, the contacts with which it decided, and the code of what. Never waits."""
        if len(self._queue) >= self._capacity:
            self.lost += 1
            return
        self._queue.append(tick_line(time_s, receive_ok, deadline_ok, reopened, decided))

    def close(self, wait_s: float = 5.0) -> bool:
        """Write what is waiting. False if the disk did not take it within `wait_s`."""
        self._closing.set()
        self._thread.join(wait_s)
        return not self._thread.is_alive() and not self.failing

    # ---- the writer's thread

    def _write(self) -> None:
        ending = False
        while not ending:
            ending = self._closing.wait(FLUSH_S)
            while self._queue and self._put(min(BATCH, len(self._queue))):
                pass
        self.lost += len(self._queue)
        self._shut()

    def _put(self, count: int) -> bool:
        """Write the first `count` of what waits; it waits on where the disk refuses."""
        offset_s = self._offset_s
        lines: list[str] = []
        ticks: list[str] = []
        for number in range(count):  # by number: the queue grows meanwhile
            item = self._queue[number]
            if isinstance(item, str):
                ticks.append(item)
                continue
            time_s, channel, message, sent = item
            lines.append(f"({time_s + offset_s:.6f}) {channel} {frame_name(message)} {'T' if sent else 'R'}\n")
        log, beside = "".join(lines).encode("ascii"), "".join(ticks).encode("ascii")
        try:
            if self._pair is not None and self._pair.room(self._file_bytes) < len(log) + len(beside):
                self._shut()
            if self._pair is None:
                self._begin()
            if self._pair is not None:
                self._pair.append(log, beside)
        except OSError as exc:
            self.failing = exc.strerror or str(exc)
            self._refusals += 1
            if self._refusals % REFUSALS_BEFORE_NEW_FILE == 0:
                self._shut()
            return False
        self.failing = ""
        self._refusals = 0
        self.written += len(lines)
        for _ in range(count):
            self._queue.popleft()
        return True

    def _begin(self) -> None:
        """A file for what comes, and room for it below the cap."""
        present = sorted(self._folder.glob("bus-*.log"))
        sizes = [_counted(path) for path in present]
        over = sum(sizes) + max(self._file_bytes, 2 * SMALLEST_BYTES) - self._total_bytes
        for old, size in zip(present, sizes, strict=True):
            if over <= 0:
                break
            old.unlink(missing_ok=True)
            old.with_suffix(".ticks").unlink(missing_ok=True)
            over -= size
        number = 1 + (int(present[-1].stem.removeprefix("bus-")) if present else 0)
        place = self._folder / f"bus-{number:06d}.log"
        with contextlib.ExitStack() as undo:
            log = undo.enter_context(place.open("xb", buffering=0))
            undo.callback(place.unlink, missing_ok=True)
            ticks = undo.enter_context(place.with_suffix(".ticks").open("wb", buffering=0))
            undo.callback(place.with_suffix(".ticks").unlink, missing_ok=True)
            _write_whole(ticks, ticks_head(self._offset_s, self._since_full_s).encode("ascii"))
            undo.pop_all()
        self._pair = _Pair(log, ticks)
        self._since_full_s = None

    def _shut(self) -> None:
        pair, self._pair = self._pair, None
        if pair is None:
            return
        try:
            pair.close()
        except OSError as exc:
            self.failing = exc.strerror or str(exc)
