"""Lines for a person, and files that are brought up to date, by threads of their own: a terminal that does not scroll
or a disk that does not turn must not hold up the tick."""

import json
import os
import queue
import threading
from collections.abc import Callable
from pathlib import Path

CAPACITY = 1000
PERIOD_S = 60.0


class Talker:
    """Prints lines through `say` in a thread. `lost` counts lines that found the queue full."""

    def __init__(self, say: Callable[[str], None]) -> None:
        self._say = say
        self._queue: queue.Queue[str | None] = queue.Queue(CAPACITY)
        self.lost = 0
        self._thread = threading.Thread(target=self._talk, name="talker", daemon=True)
        self._thread.start()

    def say(self, line: str) -> None:
        """Hand over one line. Never waits."""
        try:
            self._queue.put_nowait(line)
        except queue.Full:
            self.lost += 1

    def close(self, wait_s: float = 1.0) -> None:
        """Say what is waiting; give up after `wait_s`."""
        try:
            self._queue.put(None, timeout=wait_s)
        except queue.Full:
            return
        self._thread.join(wait_s)

    def _talk(self) -> None:
        while (line := self._queue.get()) is not None:
            try:
                self._say(line)
            except (OSError, ValueError):
                # The reader has gone, the stream is closed, or it has no such letters: the run goes on.
                self.lost += 1


class ReportFile:
    """Writes `report()` as JSON to `path` every PERIOD_S and at the end, whole or not at all."""

    def __init__(self, path: Path, report: Callable[[], object]) -> None:
        self._path = path
        self._report = report
        self._closing = threading.Event()
        self.failing = ""
        self._thread = threading.Thread(target=self._write, name="report", daemon=True)
        self._thread.start()

    def close(self, wait_s: float = 2.0) -> None:
        """Write once more."""
        self._closing.set()
        self._thread.join(wait_s)

    def _write(self) -> None:
        ending = False
        while not ending:
            ending = self._closing.wait(PERIOD_S)
            fresh = self._path.with_suffix(".new")
            try:
                fresh.write_text(json.dumps(self._report()), encoding="utf-8")
                os.replace(fresh, self._path)
                self.failing = ""
            except OSError as exc:
                self.failing = exc.strerror or str(exc)
