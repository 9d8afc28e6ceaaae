"""The two pipes between the process of the boat and the process of the pages. One line a message: a letter for its
kind, the page it is for (`*`: all), and JSON.

No tick waits for a pipe: lines are read and written by threads of their own, and of the 20 views a second a slow reader
is given the newest.
"""

import json
import queue
import threading
from collections.abc import Callable
from typing import Any, TextIO

FAST, SLOW, EVENTS, REPLY, TRAFFIC, HELLO, FAULT = "F", "S", "E", "R", "B", "H", "X"
EVERYBODY = "*"
PASSING = (FAST, SLOW, TRAFFIC)
"""Of these only the newest is worth sending."""


class Link:
    """The engine's end. `now_s` is the clock that commands are stamped with when they come."""

    def __init__(self, source: TextIO, sink: TextIO, now_s: Callable[[], float]) -> None:
        self.commands: queue.SimpleQueue[tuple[float, dict[str, Any]]] = queue.SimpleQueue()
        self.ended = threading.Event()
        """The other process has gone, or says goodbye."""
        self._source, self._sink, self._now_s = source, sink, now_s
        self._lines: list[str] = []
        self._newest: dict[str, str] = {}
        self._some = threading.Condition()
        self._reader = threading.Thread(target=self._read, name="commands", daemon=True)
        self._writer = threading.Thread(target=self._write, name="views", daemon=True)
        self._reader.start()
        self._writer.start()

    def send(self, kind: str, client: str, payload: object) -> None:
        """One message; never waits. A view that nobody has taken yet gives way to this one."""
        line = f"{kind}{client} {json.dumps(payload, allow_nan=False, separators=(',', ':'))}\n"
        with self._some:
            if kind in PASSING:
                self._newest[kind] = line
            else:
                self._lines.append(line)
            self._some.notify()

    def _read(self) -> None:
        try:
            for line in self._source:
                self.commands.put((self._now_s(), json.loads(line)))
        finally:
            self.ended.set()  # deaf, it must not go on: the server is told, and ends

    def _write(self) -> None:
        while True:
            with self._some:
                while not self._lines and not self._newest:
                    self._some.wait()
                text = "".join([*self._lines, *self._newest.values()])
                self._lines.clear()
                self._newest.clear()
            try:
                self._sink.write(text)
                self._sink.flush()
            except (OSError, ValueError):  # the reader has gone: so does this process
                self.ended.set()
                return

    def drain(self, timeout_s: float = 2.0) -> None:
        """Wait until what was sent is written, for a last word."""
        deadline_s = self._now_s() + timeout_s
        while self._now_s() < deadline_s:
            with self._some:
                if not self._lines and not self._newest:
                    break
            threading.Event().wait(0.01)
