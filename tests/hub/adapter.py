"""One simulated adapter: a pseudo-terminal that speaks slcan, and a CAN controller behind it.

Like the real thing it keeps what it hides to itself: bus-off and receive overflow show only in the status flags, which
python-can's driver never asks for.
"""

import errno
import os
import pty
import tty
from collections import deque
from pathlib import Path

from hub.wire import Frame, format_line, parse_line

BITRATE_CODES = {b"S4": 125_000, b"S5": 250_000, b"S6": 500_000, b"S8": 1_000_000}
SEND_QUEUE = 64
"""Frames that an adapter holds for sending; a further one is answered with the bell."""
RECEIVE_BUFFER = 4096
"""Bytes that an adapter holds for a host that does not read, beyond what the terminal itself holds."""
FLAG_SEND_FULL, FLAG_OVERRUN, FLAG_PASSIVE, FLAG_BUS_ERROR = 0x02, 0x08, 0x20, 0x80


class Adapter:
    """`link` is a symbolic link to the terminal, which survives unplugging: the terminal's own name does not."""

    def __init__(self, name: str, link: Path, bitrate: int) -> None:
        self.name = name
        self.link = link
        self.bus_bitrate = bitrate
        self.master = -1
        self._slave = -1
        self.queue: deque[tuple[float, Frame]] = deque()
        self.buffer_limit = RECEIVE_BUFFER
        self.deaf = False
        """Takes nothing more from the host, and goes on giving it what is on the bus."""
        self.counts: dict[str, int] = {}
        self._reset()
        self.plug()

    def _reset(self) -> None:
        self.is_open = False
        self.listen_only = False
        self.bitrate = 0
        self.flags = 0
        self.send_errors = 0
        self.bus_off = False
        self.queue.clear()
        self._input = b""
        self._output = bytearray()

    def count(self, what: str, number: int = 1) -> None:
        self.counts[what] = self.counts.get(what, 0) + number

    @property
    def on_bus(self) -> bool:
        """Takes part in the traffic: a controller set to another bit rate hears nothing that makes sense."""
        return self.is_open and not self.bus_off and self.bitrate == self.bus_bitrate

    # ---- the plug

    def plug(self) -> None:
        """Connect: a new terminal behind the same link."""
        if self.master >= 0:
            return
        self.master, self._slave = pty.openpty()
        tty.setraw(self._slave)
        os.set_blocking(self.master, False)
        fresh = self.link.with_suffix(".new")
        fresh.symlink_to(os.ttyname(self._slave))
        fresh.replace(self.link)

    def unplug(self) -> None:
        """Disconnect: the host's next read or write fails."""
        if self.master < 0:
            return
        self.link.unlink(missing_ok=True)
        os.close(self._slave)
        os.close(self.master)
        self.master = self._slave = -1
        self._reset()

    # ---- from the host

    def read(self, now_s: float) -> None:
        """Take what the host has written, and answer it."""
        try:
            chunk = os.read(self.master, 65536)
        except BlockingIOError:
            return
        except OSError as exc:
            if exc.errno == errno.EIO:  # no host has it open
                return
            raise
        *lines, self._input = (self._input + chunk).split(b"\r")
        for line in lines:
            self._output += self._command(line, now_s)

    def _command(self, line: bytes, now_s: float) -> bytes:
        kind = line[:1]
        if kind in (b"t", b"T", b"r", b"R"):
            return self._send(line, now_s)
        if kind == b"":
            return b"\r"
        if kind == b"C":
            self.is_open = False
            self.queue.clear()
            return b"\r"
        if kind in (b"O", b"L"):
            if self.is_open:
                return b"\a"
            self.is_open, self.listen_only = True, kind == b"L"
            self.bus_off, self.send_errors, self.flags = False, 0, 0
            return b"\r"
        if kind == b"S":
            if self.is_open or line not in BITRATE_CODES:
                return b"\a"
            self.bitrate = BITRATE_CODES[line]
            return b"\r"
        if kind == b"F":
            flags = self.flags | (FLAG_SEND_FULL if len(self.queue) >= SEND_QUEUE else 0)
            self.flags &= ~FLAG_OVERRUN
            return b"F%02X\r" % flags if self.is_open else b"\a"
        if kind == b"V":
            return b"V1013\r"
        if kind == b"N":
            return b"N0815\r"
        return b"\a"

    def _send(self, line: bytes, now_s: float) -> bytes:
        frame = parse_line(line)
        if frame is None or not self.is_open or self.listen_only:
            self.count("refused")
            return b"\a"
        if len(self.queue) >= SEND_QUEUE:
            self.count("send queue full")
            return b"\a"
        self.queue.append((now_s, frame))
        return b"Z\r" if frame.is_extended else b"z\r"

    # ---- from the bus

    def deliver(self, frame: Frame) -> None:
        """A frame that was on the bus."""
        if len(self._output) >= self.buffer_limit:
            self.flags |= FLAG_OVERRUN
            self.count("overflow")
            return
        self._output += format_line(frame)
        self.count("received")

    def garble(self, junk: bytes) -> None:
        """Junk on the serial line."""
        self._output += junk

    def write(self) -> None:
        """Hand to the terminal what it takes."""
        if not self._output or self.master < 0:
            return
        try:
            written = os.write(self.master, self._output)
        except BlockingIOError:
            return
        except OSError as exc:
            if exc.errno == errno.EIO:
                return
            raise
        del self._output[:written]

    @property
    def waiting(self) -> bool:
        """Something is left for the host."""
        return bool(self._output)

    # ---- errors

    def send_failed(self) -> None:
        """A frame of this adapter was destroyed: 8 more on the send error counter, bus-off above 255."""
        self.send_errors += 8
        if self.send_errors > 127:
            self.flags |= FLAG_PASSIVE
        if self.send_errors > 255:
            self.go_bus_off()

    def go_bus_off(self) -> None:
        """Off the bus until closed and opened again; the host is not told."""
        self.bus_off = True
        self.flags |= FLAG_BUS_ERROR
        self.count("bus-off")
