"""The progress bar of a long replay, on a terminal only; and Ctrl-C, which ends it in good order."""

import signal
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import FrameType

from rich.console import Console
from rich.progress import BarColumn, Progress, TextColumn, TimeRemainingColumn

from sim.replay.source import Source

_EVERY_S = 0.2


class Bar:
    """Shows how far a source has been read. Call it after each batch; it draws a few times a second."""

    def __init__(self, source: Callable[[], Source | None]) -> None:
        self._source = source
        self._begun_s = time.monotonic()
        self._drawn_s = 0.0
        self._progress = Progress(
            TextColumn("replay"), BarColumn(), TextColumn("{task.percentage:>3.0f} %"),
            TextColumn("{task.fields[rate]}"),
            TimeRemainingColumn(), console=Console(file=sys.stderr), transient=True,
        )  # fmt: skip
        self._task = self._progress.add_task("replay", total=1.0, rate="")

    def __enter__(self) -> "Bar":
        self._progress.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._progress.stop()

    def update(self) -> None:
        """After a batch."""
        now_s = time.monotonic()
        if now_s - self._drawn_s < _EVERY_S:
            return
        self._drawn_s = now_s
        source = self._source()
        if source is None:
            return
        frames = source.health.frames
        rate = frames / max(now_s - self._begun_s, 1e-6)
        self._progress.update(self._task, completed=source.done() or 0.0,
                              rate=f"{frames} frames, {rate / 1000:.0f} k/s")  # fmt: skip


class NoBar:
    """The same where nobody watches."""

    def __enter__(self) -> "NoBar":
        return self

    def __exit__(self, *_: object) -> None:
        return None

    def update(self) -> None:
        """Nothing."""


def bar_for(source: Callable[[], Source | None]) -> Bar | NoBar:
    """A bar on a terminal."""
    return Bar(source) if sys.stderr.isatty() else NoBar()


@contextmanager
def stopped_by_hand() -> Iterator[Callable[[], bool]]:
    """The first Ctrl-C (or a polite end from outside) ends the replay in good order; the second one ends it at once."""
    asked = False

    def note(_number: int, _frame: FrameType | None) -> None:
        nonlocal asked
        if asked:
            raise KeyboardInterrupt
        asked = True

    before = {number: signal.signal(number, note) for number in (signal.SIGINT, signal.SIGTERM)}
    try:
        yield lambda: asked
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
