"""The bus log: frames of every bus in the log format of can-utils' `candump -L`."""

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, TextIO

from sim.errors import naming
from supervisor.journal.buslog import frame_name

if TYPE_CHECKING:
    import can

_CHUNK = 5000


class CandumpLog:
    """Writes `(seconds) can0 123#0102` lines; the first bus is can0, the second can1. Times are simulated seconds.

    The format is the one python-can's `CanutilsLogReader` reads. Raises OSError when the disk does.
    """

    def __init__(self, path: Path, buses: Sequence[str]) -> None:
        self.channel = {bus: f"can{number}" for number, bus in enumerate(buses)}
        self.frames = 0
        self._path = path
        self._file: TextIO = path.open("w", encoding="ascii", newline="\n")
        self._lines: list[str] = []

    def write(self, time_s: float, frame: "can.Message", bus: str) -> None:
        """One frame."""
        self._lines.append(f"({time_s:.6f}) {self.channel[bus]} {frame_name(frame)}\n")
        self.frames += 1
        if len(self._lines) >= _CHUNK:
            self._flush()

    def _flush(self) -> None:
        text = "".join(self._lines)
        self._lines.clear()  # first: what could not be written once is not tried again at the end
        with naming(self._path):
            self._file.write(text)
            self._file.flush()

    def close(self) -> None:
        """Write what is left and close the file."""
        if not self._file.closed:
            try:
                self._flush()
            finally:
                with naming(self._path):
                    self._file.close()
