"""Keeps a run's signals and events in memory, and writes them as tables."""

import csv
from collections.abc import Mapping, Sequence
from importlib.util import find_spec
from pathlib import Path
from typing import NamedTuple

from sim.bench.bind import BoundStep
from sim.bench.expecting import EPS_S
from sim.bench.rig import Event
from sim.bench.sinks import NullSink


class Mark(NamedTuple):
    """An event as recorded."""

    time_s: float
    kind: str
    subject: str
    text: str


class Recorder(NullSink):
    """Records all signals every `period_s` (0: every tick), on every change of a mode, and all events exactly.

    `columns[name]` is a list as long as `times_s`; numbers are floats, NaN where not known.
    """

    def __init__(self, period_s: float = 0.1) -> None:
        self.period_s = period_s
        self.times_s: list[float] = []
        self.names: tuple[str, ...] = ()
        self.rows: list[tuple[float | str, ...]] = []
        self.events: list[Mark] = []
        self.step_starts: list[tuple[float, int]] = []
        self._mode_names: tuple[str, ...] = ()
        self._modes: list[float | str] = []
        self._next_s = 0.0

    def step_started(self, step: BoundStep, time_s: float) -> None:
        """Note the start."""
        self.step_starts.append((time_s, step.number))

    def tick(self, time_s: float, signals: Mapping[str, float | str]) -> None:
        """Record if it is time, or if a mode has changed."""
        if not self.names:
            self.names = tuple(signals)
            self._mode_names = tuple(name for name in signals if name.endswith(".mode"))
            self._next_s = time_s
        modes = [signals[name] for name in self._mode_names]
        due = time_s >= self._next_s - EPS_S
        if not due and modes == self._modes:
            return
        self._modes = modes
        self.times_s.append(time_s)
        self.rows.append(tuple(signals[name] for name in self.names))
        if due:
            self._next_s += self.period_s
            if self._next_s <= time_s:  # the period is shorter than the tick, or a rig skipped some
                self._next_s = time_s + self.period_s

    def happened(self, event: Event) -> None:
        """Keep a copy."""
        self.events.append(Mark(event.time_s, event.kind, event.subject, event.text))

    def column(self, name: str) -> list[float | str]:
        """All values of one signal. Raises KeyError for an unknown one."""
        if name not in self.names:
            raise KeyError(name)
        place = self.names.index(name)
        return [row[place] for row in self.rows]

    def write_signals(self, path: Path) -> None:
        """`signals.csv`: `time_s`, then one column a signal; the unit is the end of each name; not known is empty."""
        with path.open("w", encoding="utf-8", newline="") as file:
            writer = csv.writer(file, lineterminator="\n")
            writer.writerow(("time_s", *self.names))
            for time_s, row in zip(self.times_s, self.rows, strict=True):
                writer.writerow((f"{time_s:.3f}", *map(_cell, row)))

    def write_parquet(self, path: Path) -> bool:
        """The same table as Parquet; False, and no file, when pyarrow is not installed."""
        if find_spec("pyarrow") is None:
            return False
        import pyarrow as pa
        from pyarrow import parquet

        columns: dict[str, Sequence[float | str]] = {"time_s": self.times_s}
        columns.update({name: self.column(name) for name in self.names})
        parquet.write_table(pa.table(columns), path)
        return True

    def write_events(self, path: Path) -> None:
        """`events.csv`: time_s, kind, subject, text."""
        with path.open("w", encoding="utf-8", newline="") as file:
            writer = csv.writer(file, lineterminator="\n")
            writer.writerow(Mark._fields)
            for mark in self.events:
                writer.writerow((f"{mark.time_s:.3f}", mark.kind, mark.subject, mark.text))


def _cell(value: float | str) -> str:
    if isinstance(value, str):
        return value
    return "" if value != value else f"{value:.7g}"  # noqa: PLR0124 - only NaN differs from itself
