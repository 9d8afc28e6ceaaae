"""The bus log: every frame of every bus in the log format of can-utils' `candump -L`."""

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, TextIO

from sim.errors import naming

if TYPE_CHECKING:
    import can

_CHUNK = 5000
_ERROR_FRAME = "20000080"
"""Error flag with the class `bus error`, as SocketCAN writes it; the classes of a real error are not kept."""


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
        number = frame.arbitration_id
        if frame.is_error_frame:
            name = _ERROR_FRAME
        else:
            name = f"{number:08X}" if frame.is_extended_id else f"{number:03X}"
        data = "R" if frame.is_remote_frame else frame.data.hex().upper()
        self._lines.append(f"({time_s:.6f}) {self.channel[bus]} {name}#{data}\n")
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
