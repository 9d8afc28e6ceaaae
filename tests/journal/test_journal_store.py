"""The journal: what is committed stays, what cannot be committed is counted, and nobody waits."""

import multiprocessing
import os
import signal
import sqlite3
import threading
import time
from collections.abc import Sequence
from datetime import datetime
from pathlib import Path

import pytest

from supervisor.journal import (
    Carried,
    Entry,
    Journal,
    JournalError,
    RunStart,
    carried,
    read_events,
    read_kept,
    read_runs,
)
from supervisor.journal import journal as store
from supervisor.journal import read as reading
from supervisor.journal.journal import connect
from supervisor.journal.schema import FILE_NAME

START = RunStart("marsh_tern", "marsh_tern.toml", "ab" * 32, "0.1", "somebody")


def entry(number: int) -> Entry:
    return Entry(float(number), "mode", "boat", f"event {number}", "STANDBY", "READY", "", "helm.enable")


class SlowConnection(sqlite3.Connection):
    """A disk that takes its time."""

    delay_s = 0.0
    broken = False

    def execute(self, *arguments: object) -> sqlite3.Cursor:
        if arguments[0] == "COMMIT":
            time.sleep(self.delay_s)
            if self.broken:
                raise sqlite3.OperationalError("database or disk is full")
        return super().execute(*arguments)  # type: ignore[arg-type]


def slow(path: Path) -> SlowConnection:
    connect(path).close()
    connection = sqlite3.connect(path, isolation_level=None, check_same_thread=False, factory=SlowConnection)
    assert isinstance(connection, SlowConnection)
    return connection


def test_what_was_noted_is_read_back(tmp_path: Path) -> None:
    settled: list[tuple[str, str]] = []
    journal = Journal(tmp_path, START, lambda some, why: settled.extend((one.text, why) for one in some))
    for number in range(3):
        assert journal.note(entry(number))
    journal.keep("since_full_s", 12.5)
    journal.keep("since_full_s", 13.5)
    assert journal.close("stopped by hand")
    assert [(run, one) for run, _, one in read_events(tmp_path)] == [(1, entry(number)) for number in range(3)]
    assert settled == [(f"event {number}", "") for number in range(3)]
    assert dict(read_kept(tmp_path)) == {"since_full_s": 13.5}
    (run,) = read_runs(tmp_path)
    assert (run.boat, run.config_sha256, run.ended_why, run.events) == ("marsh_tern", "ab" * 32, "stopped by hand", 3)


def test_runs_follow_each_other_in_one_journal(tmp_path: Path) -> None:
    for number in range(2):
        journal = Journal(tmp_path, START)
        assert journal.kept == ({"since_full_s": 0.0} if number else {})
        journal.note(entry(number))
        journal.keep("since_full_s", float(number))
        journal.close("stopped")
    assert [run.run for run in read_runs(tmp_path)] == [1, 2]
    assert [one.text for _, _, one in read_events(tmp_path, 2)] == ["event 1"]


def test_a_slow_disk_holds_nobody_up_and_overflow_is_counted(tmp_path: Path) -> None:
    connections: list[SlowConnection] = []

    def opener(path: Path) -> sqlite3.Connection:
        connections.append(slow(path))
        return connections[-1]

    journal = Journal(tmp_path, START, capacity=10, opener=opener)
    connections[0].delay_s = 0.5
    journal.note(entry(0))
    time.sleep(0.1)  # the writer sits in its commit
    begin_s = time.monotonic()
    taken = [journal.note(entry(number)) for number in range(1, 31)]
    assert time.monotonic() - begin_s < 0.2  # far below one commit
    assert taken == [True] * 10 + [False] * 20
    assert journal.lost == 20
    connections[0].delay_s = 0.0
    assert journal.close("stopped")
    assert [one.text for _, _, one in read_events(tmp_path)] == [f"event {number}" for number in range(11)]


def test_a_full_disk_is_said_once_and_what_waits_is_written_when_there_is_room(tmp_path: Path) -> None:
    connections: list[SlowConnection] = []
    settled: list[tuple[int, str]] = []

    def opener(path: Path) -> sqlite3.Connection:
        connections.append(slow(path))
        return connections[-1]

    journal = Journal(tmp_path, START, lambda some, why: settled.append((len(some), why)), opener=opener)
    connections[0].broken = True
    journal.note(entry(0))
    deadline_s = time.monotonic() + 5
    while not journal.failing and time.monotonic() < deadline_s:
        time.sleep(0.01)
    assert journal.failing == "database or disk is full"
    assert settled == [(1, "database or disk is full")]
    assert read_events(tmp_path) == []
    connections[0].broken = False
    assert journal.close("stopped")
    assert [one.text for _, _, one in read_events(tmp_path)] == ["event 0"]
    assert settled == [(1, "database or disk is full")]  # not said to be committed after it was said not to be


def test_a_disk_full_to_the_end_is_counted(tmp_path: Path) -> None:
    connections: list[SlowConnection] = []

    def opener(path: Path) -> sqlite3.Connection:
        connections.append(slow(path))
        return connections[-1]

    journal = Journal(tmp_path, START, opener=opener)
    connections[0].broken = True
    for number in range(5):
        journal.note(entry(number))
    assert not journal.close("stopped")
    assert journal.lost == 5
    assert read_events(tmp_path) == []


def _write_until_killed(folder: str, acknowledged: "multiprocessing.connection.Connection") -> None:
    def settled(some: Sequence[Entry], why: str) -> None:
        for one in some:
            if not why:
                acknowledged.send(one.text)

    journal = Journal(Path(folder), START, settled)
    number = 0
    while True:
        journal.note(entry(number))
        number += 1
        time.sleep(0.0005)


@pytest.mark.parametrize("delay_s", [0.05, 0.11, 0.17, 0.29])
def test_nothing_acknowledged_is_lost_when_the_process_is_killed(tmp_path: Path, delay_s: float) -> None:
    context = multiprocessing.get_context("spawn")
    ours, theirs = context.Pipe(duplex=False)
    process = context.Process(target=_write_until_killed, args=(str(tmp_path), theirs))
    process.start()
    theirs.close()
    heard = [ours.recv()]
    collector = threading.Thread(target=lambda: _collect(ours, heard))
    collector.start()
    time.sleep(delay_s)
    os.kill(process.pid or 0, signal.SIGKILL)
    process.join(10)
    collector.join(10)
    events = [one.text for _, _, one in read_events(tmp_path)]
    assert heard
    assert set(heard) <= set(events)
    assert events == [f"event {number}" for number in range(len(events))]  # and in order, without a gap
    (run,) = read_runs(tmp_path)
    assert run.ended_why == ""
    Journal(tmp_path, START).close("again")  # opens clean


def _collect(ours: "multiprocessing.connection.Connection", heard: list[str]) -> None:
    while True:
        try:
            heard.append(ours.recv())
        except EOFError:
            return


def test_no_journal_and_a_damaged_one_are_named(tmp_path: Path) -> None:
    with pytest.raises(JournalError, match=r"there is no journal\.sqlite"):
        read_runs(tmp_path)
    (tmp_path / FILE_NAME).write_bytes(b"not a data base" * 100)
    with pytest.raises(JournalError, match="cannot be read"):
        read_runs(tmp_path)
    with pytest.raises(sqlite3.DatabaseError):
        Journal(tmp_path, START)


def test_a_journal_of_another_layout_is_left_alone(tmp_path: Path) -> None:
    Journal(tmp_path, START).close("stopped")
    connection = sqlite3.connect(tmp_path / FILE_NAME)
    connection.execute("PRAGMA user_version = 7")
    connection.commit()
    connection.close()
    with pytest.raises(sqlite3.DatabaseError, match="another version"):
        Journal(tmp_path, START)
    with pytest.raises(JournalError, match="another version"):
        read_runs(tmp_path)


def test_a_journal_of_another_layout_hands_over_its_run_number_and_what_it_kept(tmp_path: Path) -> None:
    for _ in range(3):
        journal = Journal(tmp_path, START)
        journal.keep("since_full_s", 86_400.0)
        journal.close("stopped")
    taken = carried(tmp_path / FILE_NAME)
    assert (taken.run, [row[:2] for row in taken.kept]) == (3, [("since_full_s", 86_400.0)])
    os.replace(tmp_path / FILE_NAME, tmp_path / "old.sqlite")
    journal = Journal(tmp_path, START, carry=taken)
    assert (journal.run, dict(journal.kept)) == (4, {"since_full_s": 86_400.0})
    assert dict(journal.kept_utc) == {"since_full_s": taken.kept[0][2]}
    journal.close("stopped")
    assert carried(tmp_path / "nowhere.sqlite") == Carried(0, [])


def test_an_event_has_the_time_at_which_it_happened_however_late_the_disk(tmp_path: Path) -> None:
    journal = Journal(tmp_path, START, opener=slow)
    journal._connection.delay_s = 1.0  # type: ignore[attr-defined]
    for number in range(3):
        journal.note(entry(number))
        time.sleep(0.05)
    assert journal.close("stopped")
    (run,) = read_runs(tmp_path)
    began = datetime.fromisoformat(run.started_utc)
    moments = [(datetime.fromisoformat(utc) - began).total_seconds() for _, utc, _ in read_events(tmp_path)]
    assert moments == pytest.approx([0.0, 1.0, 2.0], abs=0.002)


def test_the_oldest_events_go_when_there_are_too_many(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(store, "MOST_EVENTS", 500)
    journal = Journal(tmp_path, START)
    for number in range(1_600):
        while not journal.note(entry(number)):
            time.sleep(0.01)
    assert journal.close("stopped")
    texts = [one.text for _, _, one in read_events(tmp_path)]
    assert len(texts) <= 500 + 500 // 50 + 200  # a batch and a fiftieth may wait for the next sweep
    assert texts == [f"event {number}" for number in range(1_600 - len(texts), 1_600)]


def test_a_journal_that_may_only_be_read_is_read_with_what_a_kill_left_beside_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As another user, or from a read-only mount: SQLite wants to write beside the file, so a copy is read."""
    connection = connect(tmp_path / FILE_NAME)  # never closed: its log lies beside the file
    journal = Journal(tmp_path, START)
    journal.note(entry(7))
    assert journal.close("stopped")
    assert (tmp_path / (FILE_NAME + "-wal")).stat().st_size > 0
    before = {path.name: path.read_bytes() for path in tmp_path.iterdir()}
    real = reading._connected

    def refused(path: Path, mode: str = "ro") -> sqlite3.Connection:
        if path.parent == tmp_path:
            raise sqlite3.OperationalError("attempt to write a readonly database")
        return real(path, mode)

    monkeypatch.setattr(reading, "_connected", refused)
    assert [one.text for _, _, one in read_events(tmp_path)] == ["event 7"]
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == before
    connection.close()
