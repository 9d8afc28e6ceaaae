"""The black box: bus traffic in rotating logs in the format of can-utils' `candump -L`, with a cap on all of them.

Lines are `(seconds) can0 123#0102 R`: seconds since 1970 as counted from the wall clock at the start (steps of it later
on change nothing), then R for received or T for sent. The first bus of the boat file is can0, the second can1. Frames
go through a bounded queue to a thread of its own; what finds it full is counted.

Beside each `bus-000001.log` lies `bus-000001.ticks`: the very moments at which the supervisor decided, and what its
runtime knew of itself then. With both, a replay decides bit by bit what was decided on board.
"""

import collections
import threading
import time
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TextIO

import can

from supervisor.journal.ticks import head as ticks_head
from supervisor.journal.ticks import line as tick_line

CAPACITY = 50_000
"""Frames that wait for the disk at most: a minute of a busy bus."""
FLUSH_S = 0.25
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


class BusLog:
    """Rotating logs `bus-000001.log`, ... in `folder`: at most `file_bytes` each, `total_bytes` together.

    Attributes: `lost` frames that found the queue full or a disk that refused; `failing` why the disk refuses at
    present, "" while it does not.
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
        self._keep = max(2, total_bytes // file_bytes)
        self._capacity = capacity
        self._offset_s = time.time() - time.monotonic()
        self._queue: collections.deque[_Item] = collections.deque()
        self._file: TextIO | None = None
        self._ticks: TextIO | None = None
        self._since_full_s: float | None = since_full_s
        self._size = 0
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

    def tick(self, time_s: float, receive_ok: bool, deadline_ok: bool, reopened: Iterable[str] = ()) -> None:
        """Hand over one tick: its time and the contacts with which it decided. Never waits."""
        if len(self._queue) >= self._capacity:
            self.lost += 1
            return
        self._queue.append(tick_line(time_s, receive_ok, deadline_ok, reopened))

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
            while self._queue:
                batch = [self._queue.popleft() for _ in range(min(1000, len(self._queue)))]
                self._put(batch)
        self._shut()

    def _put(self, batch: list[_Item]) -> None:
        offset_s = self._offset_s
        lines: list[str] = []
        ticks: list[str] = []
        for item in batch:
            if isinstance(item, str):
                ticks.append(item)
                continue
            time_s, channel, message, sent = item
            lines.append(f"({time_s + offset_s:.6f}) {channel} {frame_name(message)} {'T' if sent else 'R'}\n")
        text = "".join(lines)
        try:
            if self._file is None or self._size >= self._file_bytes:
                self._rotate()
            if self._file is not None:
                self._file.write(text)
                self._file.flush()
                self._size += len(text)
            if self._ticks is not None and ticks:
                self._ticks.write("".join(ticks))
                self._ticks.flush()
        except OSError as exc:
            self.failing = exc.strerror or str(exc)
            self.lost += len(batch)
            self._shut()
            return
        self.failing = ""
        self.written += len(lines)

    def _rotate(self) -> None:
        self._shut()
        present = sorted(self._folder.glob("bus-*.log"))
        for old in present[: max(0, len(present) - self._keep + 1)]:
            old.unlink(missing_ok=True)
            old.with_suffix(".ticks").unlink(missing_ok=True)
        number = 1 + (int(present[-1].stem.removeprefix("bus-")) if present else 0)
        place = self._folder / f"bus-{number:06d}.log"
        self._file = place.open("x", encoding="ascii", newline="\n")
        self._size = 0
        self._ticks = place.with_suffix(".ticks").open("w", encoding="ascii", newline="\n")
        self._ticks.write(ticks_head(self._offset_s, self._since_full_s))
        self._since_full_s = None

    def _shut(self) -> None:
        for file in (self._file, self._ticks):
            if file is None:
                continue
            try:
                file.close()
            except OSError as exc:
                self.failing = exc.strerror or str(exc)
        self._file = self._ticks = None
