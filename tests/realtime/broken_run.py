"""`thwart run` with something broken around it. Called like it, with `--broken WHAT` in front of the rest.

Its budget of missed ticks is large: what is tested here must not depend on what else this machine does. The budget has
tests of its own, which run the command as it is.

nothing: no more than that
exception: the tick raises when the file DIR/now appears
file_limit: no file may grow beyond 90 kB: the system itself refuses, as a full disk does
slow_disk: each commit and each write of the bus log takes 1.5 s
clock_steps: the wall clock jumps an hour forth and back all the time
"""

import functools
import pathlib
import resource
import sqlite3
import sys
import time
from typing import Any


def nothing() -> None:
    pass


def exception() -> None:
    from supervisor.runtime.supervisor import Supervisor

    trigger = pathlib.Path(sys.argv[sys.argv.index("--out") + 1]).parent / "now"
    real = Supervisor.tick

    def tick(self: Supervisor, now_s: float) -> Any:
        if trigger.exists():
            raise ZeroDivisionError("injected")
        return real(self, now_s)

    Supervisor.tick = tick  # type: ignore[method-assign]


def file_limit() -> None:
    resource.setrlimit(resource.RLIMIT_FSIZE, (90_000, 90_000))


class SlowConnection(sqlite3.Connection):
    """A disk that takes its time."""

    def execute(self, *arguments: Any) -> sqlite3.Cursor:
        if arguments[0] == "COMMIT":
            time.sleep(1.5)
        return super().execute(*arguments)


def slow_disk() -> None:
    from supervisor.journal.buslog import BusLog

    real = sqlite3.connect

    def connect(*arguments: Any, **more: Any) -> sqlite3.Connection:
        return real(*arguments, **more, factory=SlowConnection)

    sqlite3.connect = connect  # type: ignore[assignment]
    put = BusLog._put

    def slow_put(self: BusLog, batch: Any) -> None:
        time.sleep(1.5)
        put(self, batch)

    BusLog._put = slow_put  # type: ignore[method-assign]


def clock_steps() -> None:
    real, began_s = time.time, time.monotonic()

    def stepping() -> float:
        return real() + (3600.0 if int((time.monotonic() - began_s) / 0.3) % 2 else -3600.0)

    time.time = stepping


if __name__ == "__main__":
    place = sys.argv.index("--broken")
    what = sys.argv[place + 1]
    del sys.argv[place : place + 2]
    import sim.cli
    import sim.cli.run
    from supervisor.runtime.run import RunOptions

    sim.cli.run.RunOptions = functools.partial(RunOptions, budget=500)  # type: ignore[assignment, misc]
    getattr(sys.modules["__main__"], what)()
    sys.exit(sim.cli.main(["run", *sys.argv[1:]]))
