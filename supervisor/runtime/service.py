"""What a service manager is told of a run: that it listens, that it still ticks, that it ends.

The protocol is sd_notify's (systemd, sd_notify(3) and systemd.service(5)): datagrams to the socket in NOTIFY_SOCKET.
The library for it in the registry (sdnotify 0.3.2) is one file as long as this, and waits where the socket is full; a
datagram is not worth a late tick, so these are sent without waiting and lost where nobody takes them.
"""

import os
import socket
from collections.abc import Mapping

_PART = 3.0
"""Signs of life in the time that the manager allows: one may be lost, and one late."""


class ServiceManager:
    """Tells whoever started this process. Without a manager nothing happens. Raises nothing."""

    def __init__(self, environment: Mapping[str, str] = os.environ) -> None:
        self._socket: socket.socket | None = None
        self._every_s = 0.0
        self._due_s = 0.0
        address = environment.get("NOTIFY_SOCKET", "")
        if not address or not hasattr(socket, "AF_UNIX"):
            return
        try:
            self._socket = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
            self._socket.setblocking(False)
            self._socket.connect(f"\0{address[1:]}" if address[0] == "@" else address)
            # WATCHDOG_PID names another process where a shell stands between: not ours to keep alive then
            if environment.get("WATCHDOG_PID", str(os.getpid())) == str(os.getpid()):
                self._every_s = int(environment.get("WATCHDOG_USEC", "0")) / 1e6 / _PART
        except (OSError, ValueError):
            self.close()

    @property
    def watched(self) -> bool:
        """Whether the manager ends a run that no longer ticks."""
        return self._socket is not None and self._every_s > 0.0

    def ready(self) -> None:
        """The run listens."""
        self._tell("READY=1\nSTATUS=listening, no torque")

    def ticked(self, now_s: float, status: str) -> None:
        """A tick is over. Only a tick may call this: that is what the sign of life is a sign of."""
        if self._every_s > 0.0 and now_s >= self._due_s:
            self._due_s = now_s + self._every_s
            self._tell(f"WATCHDOG=1\nSTATUS={status}")

    def stopping(self, why: str) -> None:
        """The run ends."""
        self._tell(f"STOPPING=1\nSTATUS={' '.join(why.split())}")

    def close(self) -> None:
        """Let go of the socket."""
        if self._socket is not None:
            self._socket.close()
        self._socket = None
        self._every_s = 0.0

    def _tell(self, text: str) -> None:
        if self._socket is None:
            return
        try:
            self._socket.send(text.encode("utf-8", "replace"))
        except OSError:
            return  # nobody listens, or too much lies there unread; the next one is soon
