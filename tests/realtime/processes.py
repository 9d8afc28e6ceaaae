"""Supervisor and stand-ins as processes of their own, on the hub."""

import os
import queue
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Sequence
from pathlib import Path
from types import TracebackType

from hub.process import Hub, prefer

ROOT = Path(__file__).resolve().parents[2]


class Process:
    """One command of ours; its lines are collected as they come."""

    def __init__(self, arguments: Sequence[str], cwd: Path) -> None:
        self.process = subprocess.Popen(
            [sys.executable, *arguments], stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.STDOUT,
            text=True, cwd=cwd, env={**os.environ, "PYTHONPATH": f"{ROOT}:{ROOT / 'tests'}"}, bufsize=1,
        )  # fmt: skip
        prefer(self.process.pid)
        self.lines: list[str] = []
        self._fresh: queue.SimpleQueue[str | None] = queue.SimpleQueue()
        self._thread = threading.Thread(target=self._read, daemon=True)
        self._thread.start()

    def _read(self) -> None:
        assert self.process.stdout is not None
        for line in self.process.stdout:
            self.lines.append(line.rstrip("\n"))
            self._fresh.put(line)
        self._fresh.put(None)

    def wait_for(self, text: str, timeout_s: float = 20.0) -> str:
        """The first line, past or to come, with `text` in it."""
        until_s = time.monotonic() + timeout_s
        seen = 0
        while True:
            while seen < len(self.lines):
                if text in self.lines[seen]:
                    return self.lines[seen]
                seen += 1
            left_s = until_s - time.monotonic()
            if left_s <= 0 or (self.process.poll() is not None and not self._thread.is_alive()):
                raise AssertionError(f"no line with {text!r} in:\n" + "\n".join(self.lines))
            try:
                self._fresh.get(timeout=min(left_s, 0.5))
            except queue.Empty:
                continue

    def say(self, line: str) -> None:
        """One line to its standard input."""
        assert self.process.stdin is not None
        self.process.stdin.write(line + "\n")
        self.process.stdin.flush()

    def end(self, number: int = signal.SIGTERM, timeout_s: float = 15.0) -> int:
        """Send a signal and wait. Returns the exit status (negative: killed by that signal)."""
        if self.process.poll() is None:
            self.process.send_signal(number)
        status = self.process.wait(timeout_s)
        self._thread.join(5.0)
        for stream in (self.process.stdin, self.process.stdout):
            if stream is not None:
                stream.close()
        return status

    def __enter__(self) -> "Process":
        return self

    def __exit__(
        self, _kind: type[BaseException] | None, _error: BaseException | None, _trace: TracebackType | None
    ) -> None:
        if self.process.poll() is None:
            self.process.kill()
        if self.process.stdin is None or not self.process.stdin.closed:
            self.end(signal.SIGKILL)


def supervisor(
    hub: Hub, folder: Path, boat: str = "marsh_tern", adapters: Sequence[str] = ("private0", "backbone0"),
    broken: str | None = "nothing",
) -> Process:  # fmt: skip
    """`thwart run` on the hub, with something broken as broken_run.py says; None: the command as it is."""
    start = ["-m", "sim.cli", "run"]
    if broken is not None:
        start = [str(ROOT / "tests" / "realtime" / "broken_run.py"), "--broken", broken]
    return Process([*start, boat, *buses(hub, adapters), "--out", str(folder)], folder.parent)


def stand_in(
    hub: Hub, nodes: str = "all", boat: str = "marsh_tern", adapters: Sequence[str] = ("private1", "backbone1")
) -> Process:
    """`thwart stand-in` on the hub."""
    return Process(["-m", "sim.cli", "stand-in", boat, "--nodes", nodes, *buses(hub, adapters)], hub.folder)


def buses(hub: Hub, adapters: Sequence[str]) -> list[str]:
    """--bus options: private0 is an adapter of the bus private."""
    found = ["--settle", "0"]
    for adapter in adapters:
        found += ["--bus", f"{adapter.rstrip('0123456789')}=slcan:{hub.channel(adapter)}"]
    return found


def under_way(supervised: Process, standing: Process, shaft: str = "port", lever_pct: float = 60.0) -> None:
    """From STANDBY to electric thrust."""
    supervised.wait_for("STANDBY: torque zero")
    standing.wait_for("ready")
    for _ in range(5):
        # On a saturated machine the system's own workers, which carry the bytes of a pseudo-terminal, come late: frames
        # are then taken for lost and the boat trips, rightly. Start again.
        standing.say(f"{shaft}.lever_pct 0")
        try:
            ready(supervised, standing)
            standing.say(f"{shaft}.lever_pct {lever_pct}")
            supervised.wait_for("-> PROPEL", 3.0)
        except AssertionError:
            continue
        return
    raise AssertionError("never under way:\n" + "\n".join(supervised.lines))


def ready(supervised: Process, standing: Process) -> None:
    """Reset and enable until the boat is READY, with levers neutral for long enough."""
    time.sleep(1.0)
    for _ in range(10):  # more than once on a machine so busy that frames came late and were taken for lost
        seen = len(supervised.lines)
        standing.say("helm.reset press")
        time.sleep(0.5)
        standing.say("helm.enable press")
        until_s = time.monotonic() + 2.5
        while time.monotonic() < until_s:
            if any("-> READY" in line for line in supervised.lines[seen:]):
                time.sleep(0.6)
                return
            time.sleep(0.02)
    raise AssertionError("not READY:\n" + "\n".join(supervised.lines))
