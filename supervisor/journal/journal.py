"""The journal: events in SQLite, written by a thread of its own.

`note` and `keep` never wait: they put the entry in a bounded queue, or count it as lost when that is full. An entry is
*acknowledged* when the transaction that holds it has been committed. `on_settled` is called then, in the writer's
thread, or once with the disk's complaint when it first refuses. A disk that is full, slow or gone costs entries,
counted, and never the tick.
"""

import contextlib
import queue
import sqlite3
import threading
from collections.abc import Callable, Mapping, Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import NamedTuple

from supervisor.journal.entry import Entry
from supervisor.journal.schema import FILE_NAME, MOST_EVENTS, PRAGMAS, STATEMENTS, VERSION

CAPACITY = 2000
"""Entries that wait for the disk at most: an hour of a busy day."""
BATCH = 200
RETRY_S = 0.5
"""Pause after a disk error before the same entries are tried again."""

Connect = Callable[[Path], sqlite3.Connection]
Settled = Callable[[Sequence[Entry], str], None]
"""Called with entries and "" when they are committed, or with the disk's complaint when it refuses them for now."""


class RunStart(NamedTuple):
    """What is known when a run begins."""

    boat: str
    config_file: str
    config_sha256: str
    thwart: str
    started_by: str


class LayoutError(sqlite3.DatabaseError):
    """A sound journal, written by another version of Thwart. `layout` is its number."""

    def __init__(self, path: Path, layout: int) -> None:
        super().__init__(
            f"{path} was written by another version of Thwart (layout {layout}, this one writes {VERSION})"
        )
        self.layout = layout


class Carried(NamedTuple):
    """What a new journal takes over from one of another layout: the number of its last run, and what it kept as (name,
    value, UTC)."""

    run: int = 0
    kept: Sequence[tuple[str, float, str]] = ()


class _End(NamedTuple):
    why: str


class _Keep(NamedTuple):
    name: str
    value: float


def connect(path: Path) -> sqlite3.Connection:
    """Open the journal's file for writing; made if it is not there. Raises sqlite3.Error."""
    connection = sqlite3.connect(path, timeout=5.0, isolation_level=None, check_same_thread=False)
    try:
        complaint = connection.execute("PRAGMA quick_check").fetchone()[0]
        if complaint != "ok":
            raise sqlite3.DatabaseError(complaint)
        version = connection.execute("PRAGMA user_version").fetchone()[0]
        if version not in (0, VERSION):
            raise LayoutError(path, version)
        for statement in PRAGMAS:
            connection.execute(statement)
        for statement in STATEMENTS:
            connection.execute(statement)
        connection.execute(f"PRAGMA user_version = {VERSION}")
    except BaseException:
        connection.close()
        raise
    return connection


def carried(path: Path) -> Carried:
    """What can be taken over from a journal of another layout. Raises nothing for what it does not hold."""
    run = 0
    kept: list[tuple[str, float, str]] = []
    try:
        with contextlib.closing(sqlite3.connect(path, timeout=5.0)) as connection:
            run = int(connection.execute("SELECT IFNULL(MAX(id), 0) FROM runs").fetchone()[0])
            rows = connection.execute("SELECT name, value, utc FROM kept").fetchall()
            kept = [(str(name), float(value), str(utc)) for name, value, utc in rows]
    except (sqlite3.Error, TypeError, ValueError):
        return Carried(run, kept)
    return Carried(run, kept)


def _utc(when: datetime | None = None) -> str:
    return (when or datetime.now(UTC)).isoformat(timespec="milliseconds")


class Journal:
    """One run's journal in `folder`.

    Attributes: `run` its number (0 until the first commit); `lost` entries that found the queue full or no disk until
    the end; `committed` entries acknowledged; `failing` why the disk refuses at present, "" while it does not; `kept`
    what `keep` stored in earlier runs; `kept_utc` when.
    """

    def __init__(
        self,
        folder: Path,
        start: RunStart,
        on_settled: Settled | None = None,
        capacity: int = CAPACITY,
        opener: Connect = connect,
        carry: Carried | None = None,
    ) -> None:
        """`carry` is what a new journal takes over. Raises sqlite3.Error or OSError if it cannot be opened at all."""
        self.path = folder / FILE_NAME
        self._connection = opener(self.path)
        self._queue: queue.Queue[Entry | _Keep | _End] = queue.Queue(capacity)
        self._on_settled = on_settled
        self._closing = threading.Event()
        self.lost = 0
        self.committed = 0
        self._since_forgotten = 0
        self.failing = ""
        self._began = datetime.now(UTC)
        if carry is not None:
            self._take_over(carry)
        self._forget()
        rows = self._connection.execute("SELECT name, value, utc FROM kept").fetchall()
        self.kept: Mapping[str, float] = {name: value for name, value, _ in rows}
        self.kept_utc: Mapping[str, str] = {name: utc for name, _, utc in rows}
        cursor = self._connection.execute(
            "INSERT INTO runs (started_utc, boat, config_file, config_sha256, thwart, started_by) VALUES (?,?,?,?,?,?)",
            (_utc(self._began), *start),
        )
        self.run = int(cursor.lastrowid or 0)
        self._thread = threading.Thread(target=self._write, name="journal", daemon=True)
        self._thread.start()

    def note(self, entry: Entry) -> bool:
        """Hand over one entry. Never waits; False if it was lost because the queue is full."""
        return self._put(entry)

    def keep(self, name: str, value: float) -> bool:
        """Store a number under `name` for later runs. Never waits; False if the queue is full."""
        return self._put(_Keep(name, value))

    def close(self, why: str, wait_s: float = 5.0) -> bool:
        """Write what is waiting and how the run ended. False if the disk did not take it within `wait_s`."""
        self._closing.set()
        self._put(_End(why))
        self._thread.join(wait_s)
        return not self._thread.is_alive() and not self.failing

    @property
    def waiting(self) -> int:
        """Entries not yet committed."""
        return self._queue.qsize()

    def _put(self, item: Entry | _Keep | _End) -> bool:
        try:
            self._queue.put_nowait(item)
        except queue.Full:
            self.lost += 1
            return False
        return True

    def _take_over(self, carry: Carried) -> None:
        self._connection.executemany("INSERT OR IGNORE INTO kept VALUES (?,?,?)", carry.kept)
        self._connection.execute("DELETE FROM sqlite_sequence WHERE name = 'runs'")
        self._connection.execute("INSERT INTO sqlite_sequence (name, seq) VALUES ('runs', ?)", (carry.run,))

    def _forget(self) -> None:
        """The oldest events beyond MOST_EVENTS."""
        self._connection.execute(
            "DELETE FROM events WHERE id <= (SELECT IFNULL(MAX(id), 0) FROM events) - ?", (MOST_EVENTS,)
        )

    # ---- the writer's thread

    def _write(self) -> None:
        ended = False
        while not ended:
            batch = self._next_batch()
            if not self._settle(batch):
                self.lost += sum(isinstance(item, Entry) for item in batch)
            ended = any(isinstance(item, _End) for item in batch) or (self._closing.is_set() and self._queue.empty())
        self._connection.close()

    def _settle(self, batch: Sequence[Entry | _Keep | _End]) -> bool:
        """Commit `batch`, again and again while the disk refuses: newer entries wait in the queue meanwhile, and are
        lost there, counted, when it is full. When the run ends there is one last try. False if that failed too."""
        told = False
        last = False
        while not self._commit(batch, told):
            told = True
            if last:
                return False
            last = self._closing.wait(RETRY_S)
        return True

    def _next_batch(self) -> list[Entry | _Keep | _End]:
        try:
            batch = [self._queue.get(timeout=1.0 if not self._closing.is_set() else 0.01)]
        except queue.Empty:
            return []
        while len(batch) < BATCH:
            try:
                batch.append(self._queue.get_nowait())
            except queue.Empty:
                break
        return batch

    def _commit(self, batch: Sequence[Entry | _Keep | _End], told: bool) -> bool:
        if not batch:
            return True
        utc = _utc()
        entries = [item for item in batch if isinstance(item, Entry)]
        connection = self._connection
        try:
            connection.execute("BEGIN IMMEDIATE")
            connection.executemany(
                "INSERT INTO events (run, time_s, utc, kind, subject, text, source, dest, first_out, asked_by) "
                "VALUES (?,?,?,?,?,?,?,?,?,?)",
                [(self.run, entry.time_s, self._utc_of(entry), *entry[1:]) for entry in entries],
            )
            for item in batch:
                if isinstance(item, _Keep):
                    connection.execute(
                        "INSERT INTO kept VALUES (?,?,?) ON CONFLICT (name) DO UPDATE SET value = excluded.value, "
                        "utc = excluded.utc",
                        (item.name, item.value, utc),
                    )
                elif isinstance(item, _End):
                    connection.execute(
                        "UPDATE runs SET ended_utc = ?, ended_why = ? WHERE id = ?", (utc, item.why, self.run)
                    )
            if self._since_forgotten > MOST_EVENTS // 50:
                self._since_forgotten = 0
                self._forget()
            connection.execute("COMMIT")
        except (sqlite3.Error, OSError) as exc:
            self.failing = str(exc) or type(exc).__name__
            self._roll_back()
            if self._on_settled is not None and entries and not told:
                self._on_settled(entries, self.failing)
            return False
        self.failing = ""
        self.committed += len(entries)
        self._since_forgotten += len(entries)
        if self._on_settled is not None and entries and not told:
            self._on_settled(entries, "")
        return True

    def _utc_of(self, entry: Entry) -> str:
        """When it happened, by the wall clock as it stood when the run began: a disk that is late, or a clock that is
        set meanwhile, does not move it."""
        try:
            return _utc(self._began + timedelta(seconds=entry.time_s))
        except (OverflowError, ValueError):
            return _utc()

    def _roll_back(self) -> None:
        if self._connection.in_transaction:
            try:
                self._connection.execute("ROLLBACK")
            except (sqlite3.Error, OSError) as exc:
                self.failing = f"{self.failing}; {exc}"
