"""Reading a run folder: the journal of all runs and the bus logs, after whatever end they had."""

import contextlib
import shutil
import sqlite3
import tempfile
from collections.abc import Iterator, Mapping
from datetime import datetime
from pathlib import Path
from typing import NamedTuple
from urllib.parse import quote

from supervisor.journal.entry import Entry
from supervisor.journal.schema import FILE_NAME, VERSION


class JournalError(Exception):
    """There is no journal in the folder, or it cannot be read."""


class RunRecord(NamedTuple):
    """One run: `ended_utc` and `ended_why` are "" for one that was killed or lost its power (or still goes on)."""

    run: int
    started_utc: str
    boat: str
    config_file: str
    config_sha256: str
    thwart: str
    started_by: str
    ended_utc: str
    ended_why: str
    events: int


class FrameLine(NamedTuple):
    """One line of a bus log, `time_s` since 1970; `sent` None where the log does not say."""

    time_s: float
    channel: str
    frame: str
    sent: bool | None


@contextlib.contextmanager
def _opened(folder: Path) -> Iterator[sqlite3.Connection]:
    """The journal, read only. Raises JournalError.

    What a killed run left in the log beside the file is read with it. Where that cannot be done in place (another
    user's folder, a read-only mount), a copy is read.
    """
    path = folder / FILE_NAME
    if not path.is_file():
        raise JournalError(f"{folder}: there is no {FILE_NAME} in this folder. Give the folder that `thwart run` named")
    with tempfile.TemporaryDirectory(prefix="thwart-log-") as place:
        try:
            connection = _connected(path)
        except sqlite3.OperationalError:
            try:
                for beside in (path, path.with_name(path.name + "-wal")):
                    if beside.exists():
                        shutil.copyfile(beside, Path(place) / beside.name)
                connection = _connected(Path(place) / path.name, "rwc")
            except (sqlite3.Error, OSError) as exc:
                raise JournalError(f"{path}: cannot be read: {exc}") from exc
        except sqlite3.Error as exc:
            raise JournalError(f"{path}: cannot be read: {exc}") from exc
        with contextlib.closing(connection):
            try:
                complaint = connection.execute("PRAGMA quick_check").fetchone()[0]
                version = connection.execute("PRAGMA user_version").fetchone()[0]
            except sqlite3.Error as exc:
                raise JournalError(f"{path}: cannot be read: {exc}") from exc
            if complaint != "ok":
                raise JournalError(f"{path}: damaged: {complaint}")
            if version != VERSION:
                raise JournalError(
                    f"{path}: written by another version of Thwart (layout {version}, this one reads {VERSION})"
                )
            yield connection


def _connected(path: Path, mode: str = "ro") -> sqlite3.Connection:
    connection = sqlite3.connect(f"file:{quote(str(path.absolute()))}?mode={mode}", uri=True, timeout=5.0)
    try:
        connection.execute("SELECT COUNT(*) FROM sqlite_master").fetchone()
    except sqlite3.Error:
        connection.close()
        raise
    return connection


def read_runs(folder: Path) -> list[RunRecord]:
    """All runs, oldest first. Raises JournalError."""
    with _opened(folder) as connection:
        rows = connection.execute(
            "SELECT id, started_utc, boat, config_file, config_sha256, thwart, started_by, IFNULL(ended_utc, ''), "
            "IFNULL(ended_why, ''), (SELECT COUNT(*) FROM events WHERE run = runs.id) FROM runs ORDER BY id"
        ).fetchall()
    return [RunRecord(*row) for row in rows]


def read_events(folder: Path, run: int | None = None) -> list[tuple[int, str, Entry]]:
    """Events as (run, UTC by the clock as it stood when the run began, entry), oldest first. Raises JournalError."""
    with _opened(folder) as connection:
        rows = connection.execute(
            "SELECT run, utc, time_s, kind, subject, text, source, dest, first_out, asked_by FROM events "
            "WHERE ? IS NULL OR run = ? ORDER BY id",
            (run, run),
        ).fetchall()
    return [(row[0], row[1], Entry(*row[2:])) for row in rows]


def read_kept(folder: Path) -> Mapping[str, float]:
    """What is kept between runs. Raises JournalError."""
    with _opened(folder) as connection:
        return dict(connection.execute("SELECT name, value FROM kept").fetchall())


def bus_files(folder: Path) -> list[Path]:
    """The bus logs, oldest first."""
    return sorted(folder.glob("bus-*.log"))


def files_of_run(folder: Path, run: int) -> list[Path]:
    """The bus logs of one run: each run begins a file, whose stamps begin no earlier than the run and before the next
    one. Raises JournalError for a run that is not in the journal, OSError."""
    begins = {record.run: datetime.fromisoformat(record.started_utc).timestamp() for record in read_runs(folder)}
    if run not in begins:
        raise JournalError(f"{folder}: there is no run {run}; runs: {', '.join(map(str, begins))}")
    found = []
    for path in bus_files(folder):
        first_s = next((line.time_s for line in _frames_of(path)), None)
        # A run notes its beginning just after its clock was read: what is not earlier than that by more is its own.
        owner = max((one for one, begin_s in begins.items() if first_s is not None and begin_s <= first_s + 0.05),
                    default=None)  # fmt: skip
        if owner == run:
            found.append(path)
    return found


def read_frames(folder: Path, run: int | None = None) -> Iterator[FrameLine]:
    """Every frame of every bus log (of one run if given), oldest first; a line torn by a kill is left out. Raises
    OSError, and JournalError for a run that is not there."""
    for path in bus_files(folder) if run is None else files_of_run(folder, run):
        yield from _frames_of(path)


def _frames_of(path: Path) -> Iterator[FrameLine]:
    with path.open(encoding="ascii", errors="replace") as file:
        for line in file:
            parsed = _parse(line)
            if parsed is not None:
                yield parsed


def _parse(line: str) -> FrameLine | None:
    words = line.split()
    if not line.endswith("\n") or len(words) not in (3, 4) or "#" not in words[2]:
        return None
    try:
        time_s = float(words[0].strip("()"))
    except ValueError:
        return None
    return FrameLine(time_s, words[1], words[2], {"T": True, "R": False}.get(words[3]) if len(words) == 4 else None)
