"""Reading a run folder: the journal of all runs and the bus logs, after whatever end they had."""

import sqlite3
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import NamedTuple

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


def _open(folder: Path) -> sqlite3.Connection:
    path = folder / FILE_NAME
    if not path.is_file():
        raise JournalError(f"{folder}: there is no {FILE_NAME} in this folder. Give the folder that `thwart run` named")
    try:
        # Not read-only: after a kill the write-ahead log beside the file has yet to be taken in.
        connection = sqlite3.connect(path, timeout=5.0)
        complaint = connection.execute("PRAGMA quick_check").fetchone()[0]
        version = connection.execute("PRAGMA user_version").fetchone()[0]
    except sqlite3.Error as exc:
        raise JournalError(f"{path}: cannot be read: {exc}") from exc
    if complaint != "ok":
        raise JournalError(f"{path}: damaged: {complaint}")
    if version != VERSION:
        raise JournalError(f"{path}: written by another version of Thwart (layout {version}, this one reads {VERSION})")
    return connection


def read_runs(folder: Path) -> list[RunRecord]:
    """All runs, oldest first. Raises JournalError."""
    connection = _open(folder)
    try:
        rows = connection.execute(
            "SELECT id, started_utc, boat, config_file, config_sha256, thwart, started_by, IFNULL(ended_utc, ''), "
            "IFNULL(ended_why, ''), (SELECT COUNT(*) FROM events WHERE run = runs.id) FROM runs ORDER BY id"
        ).fetchall()
    finally:
        connection.close()
    return [RunRecord(*row) for row in rows]


def read_events(folder: Path, run: int | None = None) -> list[tuple[int, str, Entry]]:
    """Events as (run, time in UTC when written, entry), oldest first. Raises JournalError."""
    connection = _open(folder)
    try:
        rows = connection.execute(
            "SELECT run, utc, time_s, kind, subject, text, source, dest, first_out, asked_by FROM events "
            "WHERE ? IS NULL OR run = ? ORDER BY id",
            (run, run),
        ).fetchall()
    finally:
        connection.close()
    return [(row[0], row[1], Entry(*row[2:])) for row in rows]


def read_kept(folder: Path) -> Mapping[str, float]:
    """What is kept between runs. Raises JournalError."""
    connection = _open(folder)
    try:
        return dict(connection.execute("SELECT name, value FROM kept").fetchall())
    finally:
        connection.close()


def bus_files(folder: Path) -> list[Path]:
    """The bus logs, oldest first."""
    return sorted(folder.glob("bus-*.log"))


def read_frames(folder: Path) -> Iterator[FrameLine]:
    """Every frame of every bus log, oldest first; a line torn by a kill is left out. Raises OSError."""
    for path in bus_files(folder):
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
