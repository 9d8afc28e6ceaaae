"""The signal table on disk, written as the replay goes, so that a run stopped by hand leaves what it has."""

import csv
import itertools
from array import array
from collections.abc import Sequence
from importlib.util import find_spec
from pathlib import Path
from types import ModuleType
from typing import Any, Protocol

from sim.replay.replayed import Change, Heard
from sim.replay.signals import Signals, Value

PERIOD_S = 0.1
"""Rows are written when something changed, but no more often than this; a change of mode is always written."""
_CHUNK = 1500


class RowFile(Protocol):
    """Takes rows of one table."""

    def write(self, time_s: float, row: Sequence[Value]) -> None: ...
    def close(self) -> None: ...


class CsvRows:
    """`signals.csv`: not known is empty."""

    def __init__(self, path: Path, names: Sequence[str]) -> None:
        self._file = path.open("w", encoding="utf-8", newline="")
        self._writer = csv.writer(self._file, lineterminator="\n")
        self._writer.writerow(("time_s", *names))

    def write(self, time_s: float, row: Sequence[Value]) -> None:
        """One row."""
        self._writer.writerow((f"{time_s:.3f}", *(_cell(value) for value in row)))

    def close(self) -> None:
        """Close the file."""
        self._file.close()


class ParquetRows:
    """`signals.parquet`, in row groups; a file that was not closed cannot be read, so close it always."""

    def __init__(self, path: Path, names: Sequence[str], texts: frozenset[str]) -> None:
        self._pa = _pyarrow()
        pa = self._pa
        kinds = [pa.string() if name in texts else pa.float64() for name in names]
        self._schema = pa.schema([("time_s", pa.float64()), *zip(names, kinds, strict=True)])
        self._writer: Any = _parquet().ParquetWriter(path, self._schema)
        self._rows: list[tuple[Value, ...]] = []

    def write(self, time_s: float, row: Sequence[Value]) -> None:
        """One row."""
        self._rows.append((time_s, *row))
        if len(self._rows) >= _CHUNK:
            self._flush()

    def _flush(self) -> None:
        if self._rows:
            columns = [self._column(column) for column in zip(*self._rows, strict=True)]
            self._writer.write_batch(self._pa.RecordBatch.from_arrays(columns, schema=self._schema))
            self._rows.clear()

    def _column(self, values: Sequence[Value]) -> Any:
        """Out of plain buffers: given a list, pyarrow would look for pandas, and load it (50 MB)."""
        pa = self._pa
        if isinstance(values[0], str):
            texts = [str(value).encode() for value in values]
            ends = array("i", itertools.accumulate((len(text) for text in texts), initial=0))
            return pa.StringArray.from_buffers(len(texts), pa.py_buffer(ends), pa.py_buffer(b"".join(texts)))
        numbers = array("d", (float(value) for value in values))
        return pa.Array.from_buffers(pa.float64(), len(numbers), [None, pa.py_buffer(numbers)])

    def close(self) -> None:
        """Write what is left and close the file."""
        self._flush()
        self._writer.close()


def row_file(folder: Path, signals: Signals) -> tuple[RowFile, Path]:
    """The table's file: Parquet where pyarrow is installed, CSV where it is not."""
    if find_spec("pyarrow") is None:
        path = folder / "signals.csv"
        return CsvRows(path, signals.names), path
    path = folder / "signals.parquet"
    return ParquetRows(path, signals.names, signals.texts), path


class TableWriter:
    """Observes one subject and writes its signals."""

    def __init__(self, which: int, signals: Signals, file: RowFile) -> None:
        self.rows = 0
        self._which = which
        self._signals = signals
        self._file = file
        self._next_s = 0.0
        self._modes: tuple[object, ...] = ()
        self._late: Change | None = None

    def span(self, first: int, stop: int, changes: Sequence[Sequence[Change]], commands: Sequence[Heard]) -> None:
        """Write what changed."""
        for change in changes[self._which]:
            late, self._late = self._late, None
            if late is not None and change.time_s > self._next_s:
                self._put(late)  # how things stood until this change
            modes = change.outcome[1:3]
            if change.time_s >= self._next_s or modes != self._modes:
                self._modes = modes
                self._put(change)
                self._next_s = change.time_s + PERIOD_S
            else:
                self._late = change

    def _put(self, change: Change) -> None:
        self._file.write(change.time_s, self._signals.row(change))
        self.rows += 1

    def finish(self) -> None:
        """Write what is held back, and close."""
        if self._late is not None:
            self._put(self._late)
        self._file.close()


def _cell(value: Value) -> str:
    if isinstance(value, str):
        return value
    return "" if value != value else f"{value:.7g}"  # noqa: PLR0124 - only NaN differs from itself


def _pyarrow() -> ModuleType:
    import pyarrow

    return pyarrow  # type: ignore[no-any-return]


def _parquet() -> ModuleType:
    from pyarrow import parquet

    return parquet  # type: ignore[no-any-return]
