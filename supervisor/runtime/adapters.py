"""Real adapters: any python-can interface behind a wall that turns whatever its driver raises into one kind of error.

`BusPort` treats a `can.CanError` or OSError as the loss of the bus, and tries again with backoff. Drivers raise other
things too (IndexError on a cut line, termios.error on an unplugged port, a vendor's own exceptions): here all of them
become `can.CanOperationError`, with their name in the words.
"""

import os
import threading
import time
from typing import Any

import can
from can.interfaces.slcan import slcanBus

from supervisor.bus.port import inside_only
from supervisor.runtime.serial_line import SerialLine

SETTLE_S = 2.0
"""Time a serial adapter gets after its port was opened: many restart then."""


class PortLock:
    """A serial port held for one program alone: two that read it would steal each other's bytes.

    Where the system has no such locks (no `fcntl`), or the channel is no file, nothing is held. Programs that take no
    lock themselves are not kept out. Raises OSError (BlockingIOError when another program holds it).
    """

    def __init__(self, channel: str) -> None:
        self._file = -1
        path = channel.partition("@")[0]
        if os.name != "posix" or not os.path.exists(path):
            return
        import fcntl

        self._file = os.open(path, os.O_RDWR | os.O_NOCTTY | os.O_NONBLOCK)
        try:
            fcntl.flock(self._file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            self.release()
            raise BlockingIOError(f"{path} is in use by another program") from None

    def release(self) -> None:
        """Let go."""
        file, self._file = self._file, -1
        if file >= 0:
            os.close(file)


class Adapter(can.BusABC):
    """One opened adapter. Every failure of the driver leaves as can.CanOperationError."""

    def __init__(self, inner: can.BusABC, channel: str, bitrate: int, lock: PortLock | None = None) -> None:
        super().__init__(channel)
        self._lock = lock
        self._inner = inner
        self._bitrate = bitrate
        self._blamed = ""
        self._closed = False
        self.line: SerialLine | None = None
        if isinstance(inner, slcanBus):
            port: Any = inner
            self.line = port.serialPortOrig = SerialLine(port.serialPortOrig)

    def recv(self, timeout: float | None = None) -> can.Message | None:
        """The next frame, or None. Raises can.CanOperationError."""
        if self._blamed:
            raise can.CanOperationError(self._blamed)
        try:
            return self._inner.recv(timeout)
        except Exception as exc:
            raise _as_can_error("receive", exc) from exc

    def send(self, msg: can.Message, timeout: float | None = None) -> None:
        """Hand over one frame. Raises can.CanOperationError."""
        try:
            self._inner.send(msg, timeout)
        except Exception as exc:
            raise _as_can_error("send", exc) from exc

    @property
    def state(self) -> can.BusState:
        """The driver's word on the bus, where it knows."""
        try:
            return self._inner.state
        except Exception as exc:
            raise _as_can_error("state", exc) from exc

    @state.setter
    def state(self, new_state: can.BusState) -> None:
        self._inner.state = new_state

    def shutdown(self) -> None:
        """Close the driver, and its serial port even if the driver fails on the way: a port left open at each unplug
        uses up the process's file descriptors."""
        super().shutdown()
        self._closed = True
        try:
            self._inner.shutdown()
        except Exception as exc:
            raise _as_can_error("shutdown", exc) from exc
        finally:
            if self.line is not None:
                self.line.close()
            if self._lock is not None:
                self._lock.release()

    def blame(self, why: str) -> None:
        """Judged dead from outside: the next `recv` fails with `why`, and the port opens the adapter anew."""
        self._blamed = why

    def mute_s(self) -> float:
        """How long an adapter that answers each frame has answered none (s); 0 where the driver cannot tell."""
        return 0.0 if self.line is None or self._closed else self.line.mute_s(time.monotonic())

    def unread_s(self) -> float:
        """Traffic that waits unread, as time on a full bus (s); 0 where the driver cannot tell, or is closed."""
        if self.line is None or self._closed:
            return 0.0
        try:
            return self.line.unread_s(self._bitrate)
        except OSError:  # gone: the next recv says so
            return 0.0


def _as_can_error(what: str, exc: Exception) -> can.CanOperationError:
    if isinstance(exc, can.CanOperationError):
        return can.CanOperationError(f"{exc}: {exc.__cause__}") if exc.__cause__ is not None else exc
    return can.CanOperationError(f"{what}: {type(exc).__name__}: {exc}")


class Adapters:
    """Opens adapters for a BusPort (`BusPort(settings, opener=adapters.open)`) and remembers the live ones."""

    def __init__(self, settle_s: float = SETTLE_S) -> None:
        self._settle_s = settle_s
        self._live: dict[tuple[str, str], Adapter] = {}
        self._past: dict[tuple[str, str], dict[str, int]] = {}
        self._lock = threading.Lock()

    def open(self, interface: str, channel: str, bitrate: int) -> can.BusABC:
        """Open one adapter. Raises can.CanOperationError; called from BusPort's worker thread after a loss."""
        extra: dict[str, Any] = {"sleep_after_open": self._settle_s} if interface == "slcan" else {}
        extra |= inside_only(interface, channel)
        lock = None
        try:
            if interface == "slcan":
                lock = PortLock(channel)
            inner = can.Bus(interface=interface, channel=channel, bitrate=bitrate, ignore_config=True, **extra)
        except Exception as exc:
            if lock is not None:
                lock.release()
            raise _as_can_error("open", exc) from exc
        adapter = Adapter(inner, channel, bitrate, lock)
        place = (interface, channel)
        with self._lock:
            old = self._live.get(place)
            if old is not None and old.line is not None:
                past = self._past.setdefault(place, {"garbled": 0, "refused": 0})
                past["garbled"] += old.line.garbled
                past["refused"] += old.line.refused
            self._live[place] = adapter
        return adapter

    def get(self, interface: str, channel: str) -> Adapter | None:
        """The adapter that was opened last there."""
        with self._lock:
            return self._live.get((interface, channel))

    def counts(self, interface: str, channel: str) -> dict[str, int]:
        """`garbled` lines and `refused` orders of a serial adapter, over all times it was opened."""
        adapter = self.get(interface, channel)
        past = self._past.get((interface, channel), {"garbled": 0, "refused": 0})
        if adapter is None or adapter.line is None:
            return dict(past)
        return {
            "garbled": past["garbled"] + adapter.line.garbled,
            "refused": past["refused"] + adapter.line.refused,
        }
