"""The hub seen from a test: started, ordered about, its wire log read."""

import contextlib
import json
import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path
from types import TracebackType
from typing import NamedTuple

TESTS = Path(__file__).resolve().parents[1]


def prefer(pid: int) -> None:
    """Put a process before whatever else this machine does, where the system grants it: a test of real time should test
    us, not the neighbours. Threads started later inherit it."""
    with contextlib.suppress(PermissionError, ProcessLookupError):
        os.sched_setscheduler(pid, os.SCHED_RR, os.sched_param(1))


class OnWire(NamedTuple):
    """One frame of the wire's log; `time_s` is its end on the monotonic clock of this computer."""

    time_s: float
    bus: str
    sender: str
    arbitration_id: int
    is_extended: bool
    data: bytes


class Hub:
    """`with Hub(folder, "private:250000:2") as hub: hub.channel("private0")`."""

    def __init__(self, folder: Path, *buses: str, stuffing: str = "actual", log: bool = True) -> None:
        self.folder = folder
        command = [sys.executable, "-m", "hub", "--dir", str(folder), "--stuffing", stuffing]
        for bus in buses:
            command += ["--bus", bus]
        # in memory where there is such a place: a disk that is busy elsewhere must not hold up the wire
        memory = Path("/dev/shm")  # noqa: S108 - a directory of its own is made in it
        self._place = tempfile.mkdtemp(dir=memory if memory.is_dir() else folder)
        self._log = Path(self._place) / "wire.log"
        if log:
            command += ["--log", str(self._log)]
        self._process = subprocess.Popen(
            command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, cwd=TESTS, env=dict(os.environ)
        )
        prefer(self._process.pid)
        assert self._process.stdout is not None
        if self._process.stdout.readline() != "ready\n":
            raise RuntimeError("the hub did not start")

    def channel(self, adapter: str) -> str:
        """The path to open."""
        return str(self.folder / adapter)

    def order(self, text: str) -> dict[str, object]:
        """One order of `python -m hub`."""
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        try:
            self._process.stdin.write(text + "\n")
            self._process.stdin.flush()
            line = self._process.stdout.readline()
        except BrokenPipeError:
            line = ""
        if not line:
            raise RuntimeError(f"the hub has ended, status {self._process.wait(10)}")
        answer: dict[str, object] = json.loads(line)
        if "error" in answer:
            raise ValueError(answer["error"])
        return answer

    def wire(self, since_s: float = 0.0) -> Iterator[OnWire]:
        """Frames of the wire's log that ended at `since_s` or later."""
        self.order("log")
        with self._log.open() as file:
            for line in file:
                time_text, bus, sender, name = line.split()
                if float(time_text) < since_s:
                    continue
                number, _, data = name.partition("#")
                payload = b"" if data == "R" else bytes.fromhex(data)
                yield OnWire(float(time_text), bus, sender, int(number, 16), len(number) == 8, payload)

    def close(self) -> None:
        """End the process."""
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        if self._process.poll() is None:
            self._process.stdin.write("quit\n")
            self._process.stdin.close()
        self._process.wait(10)
        shutil.rmtree(self._place, ignore_errors=True)
        self._process.stdout.close()

    def __enter__(self) -> "Hub":
        return self

    def __exit__(
        self, _kind: type[BaseException] | None, _error: BaseException | None, _trace: TracebackType | None
    ) -> None:
        self.close()
