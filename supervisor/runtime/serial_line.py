"""Between python-can's slcan driver and its serial port: reads in one go, never waits, keeps junk from the driver.

python-can's driver (4.6) reads byte by byte with a system call or two for each, some 155 us of CPU a frame; takes an
adapter's "sent" answers for the end of what has come; keeps a byte that is no text in its buffer for ever, so that no
later frame is read; and waits without end in `write` and `flush` when the adapter stops taking bytes. So the driver is
given this object in the place of its port. It hands on whole frame lines only and counts everything else.
"""

import contextlib
import os
import re
import time
from collections import deque
from typing import Any

LONGEST_LINE = 64
"""Bytes without an end of line that are junk, not a beginning."""
BITS_PER_BYTE = 131 / 27
"""A full 29-bit frame has 131 bits on the bus and 27 bytes on the line; other frames have fewer bytes to the bit."""
ANSWERING = 10
"""After so many answers to frames this is an adapter that answers: not all do."""
MUTE_S = 0.1
MUTE_FRAMES = 5
"""So long without an answer to so many frames, and an adapter that answers has stopped sending."""
_FRAME = re.compile(rb"(?:[tr][0-7][0-9A-Fa-f]{2}|[TR][01][0-9A-Fa-f]{7})([0-8])((?:[0-9A-Fa-f]{2})*)")
_LINES = re.compile(rb"[^\r\a]*[\r\a]")


class SerialLine:
    """Stands in for a pyserial port. Attributes: `garbled` lines that were no frame and no answer, `refused` orders
    that the adapter answered with the bell (such as a frame when its send queue is full)."""

    def __init__(self, port: Any) -> None:
        self._port = port
        self._tail = b""
        self._pieces: deque[bytes] = deque()
        self._waiting = 0
        self._unsent = b""
        self.garbled = 0
        self.refused = 0
        self._answers = 0
        self._asked = 0
        self._answer_s = 0.0
        self.write_timeout: float | None = None  # the driver sets it; writing never waits here

    # ---- what python-can's driver calls

    @property
    def in_waiting(self) -> int:
        """How often `read` has something to give. Raises OSError when the port has gone."""
        if not self._pieces:
            self.fill()
        return len(self._pieces)

    def read(self, size: int = 1) -> bytes:
        """The next line, then its end of line, whatever `size`; nothing if there is no more. Never waits.

        The driver asks for one byte at a time, appends what it gets, and looks whether that was the end of a line: to
        give it the line in two pieces takes half the time. A test holds the driver to this.
        """
        if not self._pieces:
            return b""
        piece = self._pieces.popleft()
        self._waiting -= len(piece)
        return piece

    def write(self, data: bytes) -> int:
        """Hand bytes to the port. Raises TimeoutError (an OSError) if it has not taken the line before."""
        if self._unsent:
            self._unsent = self._unsent[self._write(self._unsent) :]
            if self._unsent:
                raise TimeoutError("the adapter takes no more bytes")
        self._unsent = data[self._write(data) :]
        if data[:1] in b"tTrR":
            if self._asked == 0:
                self._answer_s = max(self._answer_s, time.monotonic())
            self._asked += 1
        return len(data)

    def flush(self) -> None:
        """Nothing: waiting for the bytes to leave would hold up the tick."""

    def reset_input_buffer(self) -> None:
        """Forget what has come."""
        self._port.reset_input_buffer()
        self._tail = b""
        self._pieces.clear()
        self._waiting = 0

    def fileno(self) -> int:
        """The port's file descriptor."""
        return int(self._port.fileno())

    def close(self) -> None:
        """Close the port. What an adapter that has stopped sending still has to take is dropped: orders that are old
        must not reach the drives when it goes on."""
        if os.name == "posix" and (self._unsent or self.mute_s(time.monotonic()) > 0.0):
            import termios

            with contextlib.suppress(OSError, termios.error):  # the port has gone, and all that was in it
                termios.tcflush(self._port.fileno(), termios.TCOFLUSH)
        self._port.close()

    # ---- ours

    def fill(self) -> None:
        """Take everything that the port has. Raises OSError when it has gone."""
        while size := self._port.in_waiting:
            self._sort(self._port.read(size))

    def mute_s(self, now_s: float) -> float:
        """How long an adapter that answers each frame has answered none (s); 0 while it does. `now_s`: monotonic."""
        if self._answers < ANSWERING or self._asked < MUTE_FRAMES:
            return 0.0
        quiet_s = now_s - self._answer_s
        return quiet_s if quiet_s > MUTE_S else 0.0

    def unread_s(self, bitrate: int) -> float:
        """How much traffic waits unread, as time on a full bus (s)."""
        self.fill()
        return self._waiting * BITS_PER_BYTE / bitrate

    def _sort(self, chunk: bytes) -> None:
        text = self._tail + chunk
        end = 0
        for match in _LINES.finditer(text):
            end = match.end()
            line = match.group()
            body = line[:-1]
            if line[-1] == 7:
                self.refused += 1
                if not body:
                    self._answered()
                    continue
            if body in (b"", b"z", b"Z"):
                self._answered()
                continue
            if body[:1] in b"FVN":
                continue
            frame = _FRAME.fullmatch(body)
            if frame is None or line[-1] == 7:
                self.garbled += 1
                continue
            length = 2 * int(frame[1]) if body[0] in b"tT" else 0
            if len(frame[2]) in (length, length + 4):  # four more digits are the adapter's own time stamp
                self._pieces.append(body)
                self._pieces.append(b"\r")
                self._waiting += len(line)
            else:
                self.garbled += 1
        self._tail = text[end:]
        if len(self._tail) > LONGEST_LINE:
            self.garbled += 1
            self._tail = b""

    def _answered(self) -> None:
        if self._asked:
            self._answers += 1
            self._asked = 0
            self._answer_s = time.monotonic()

    def _write(self, data: bytes) -> int:
        if os.name != "posix":  # pragma: no cover - pyserial's own bounded write
            self._port.write_timeout = 0.002
            return int(self._port.write(data) or 0)
        try:
            return os.write(
                self._port.fileno(), data
            )  # pyserial opens the port non-blocking, and spins when it is full
        except BlockingIOError:
            return 0
