"""Journal, bus log and screen of one run, as the tick sees them: it hands over and goes on."""

import getpass
import os
import sqlite3
import sys
from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

from supervisor.config import BoatConfig
from supervisor.controller import EventKind, Outcome
from supervisor.journal import (
    BusLog,
    Carried,
    Entry,
    Journal,
    LayoutError,
    RunStart,
    carried,
    deciding_files,
    entry_of,
    fingerprint,
)  # fmt: skip
from supervisor.journal.journal import connect
from supervisor.journal.schema import FILE_NAME
from supervisor.runtime.talk import Talker

SINCE_FULL = "since_full_s"
KEEP_PERIOD_S = 60.0
_LONGEST_AWAY_S = 366 * 86400.0
_SPOKEN = (EventKind.MODE.value, EventKind.TRIP.value, EventKind.REFUSAL.value, EventKind.ALARM.value, "runtime")


class Recorder:
    """Everything of a run that is kept or shown.

    `start_s` is when the run began, on the clock of the ticks. A journal that cannot be opened does not keep the boat
    from running: the screen says so. A damaged one is put aside under another name.
    """

    def __init__(
        self, folder: Path, config: BoatConfig, file: Path, buses: Sequence[str], start_s: float,
        say: Callable[[str], None], log_bytes: int, opener: Callable[[Path], sqlite3.Connection] = connect,
    ) -> None:  # fmt: skip
        self.start_s = start_s
        self.talker = Talker(say)
        self.sha256 = fingerprint(deciding_files(config, file))
        self.journal = self._open_journal(folder, config, file, opener)
        self.began_since_full_s = self.since_full_s()
        self.bus_log = BusLog(
            folder,
            buses,
            file_bytes=max(100_000, log_bytes // 16),
            total_bytes=log_bytes,
            since_full_s=self.began_since_full_s,
        )
        self._keep_due_s = start_s + KEEP_PERIOD_S

    def _open_journal(
        self, folder: Path, config: BoatConfig, file: Path, opener: Callable[[Path], sqlite3.Connection]
    ) -> Journal | None:
        start = RunStart(config.boat.name, str(file), self.sha256, _version(), _who())
        path = folder / FILE_NAME
        carry: Carried | None = None
        for _ in range(2):
            try:
                return Journal(folder, start, self._settled, opener=opener, carry=carry)
            except LayoutError as exc:
                carry = carried(path)
                aside = _put_aside(path, f"journal-layout-{exc.layout}")
                self.talker.say(
                    f"{exc}. The old journal is undamaged and is renamed to {aside}. A new journal starts with run "
                    f"{carry.run + 1}; it keeps: {', '.join(name for name, _, _ in carry.kept) or 'nothing'}"
                )
            except (sqlite3.Error, OSError) as exc:
                if type(exc) is not sqlite3.DatabaseError:
                    self.talker.say(
                        f"NO JOURNAL: {path} cannot be written: {exc}. Free space on the disk, or repair it"
                    )
                    return None
                aside = _put_aside(path, "journal-damaged")
                self.talker.say(f"the journal was damaged ({exc}); it is renamed to {aside}, a new journal starts")
        return None

    def since_full_s(self) -> float:
        """Time since the last full charge (s) as kept, the time switched off included where the wall clock allows."""
        if self.journal is None or SINCE_FULL not in self.journal.kept:
            return 0.0
        away_s = 0.0
        written = self.journal.kept_utc[SINCE_FULL]
        try:
            away_s = (datetime.now(UTC) - datetime.fromisoformat(written)).total_seconds()
        except ValueError:
            self.talker.say(f"the journal has no valid date of the last full charge ({SINCE_FULL}): {written!r}")
        if not 0.0 <= away_s <= _LONGEST_AWAY_S:  # a clock without battery, or set wrongly
            away_s = 0.0
        return self.journal.kept[SINCE_FULL] + away_s

    def outcome(self, outcome: Outcome, since_full_s: float) -> None:
        """Note what one tick decided."""
        for event in outcome.events:
            self._note(entry_of(event, outcome, self.start_s))
        if outcome.time_s >= self._keep_due_s:
            self._keep_due_s = outcome.time_s + KEEP_PERIOD_S
            self.keep(since_full_s)

    def keep(self, since_full_s: float) -> None:
        """Store what the next run needs."""
        if self.journal is not None:
            self.journal.keep(SINCE_FULL, since_full_s)

    def runtime(self, now_s: float, subject: str, text: str) -> None:
        """Note something that clock, adapters or disk report."""
        self._note(Entry(now_s - self.start_s, "runtime", subject, text))

    def _note(self, entry: Entry) -> None:
        if self.journal is None:
            self._settled([entry], "no journal")
        else:
            self.journal.note(entry)

    def _settled(self, entries: Sequence[Entry], complaint: str) -> None:
        """Lines appear when they are in the journal, or marked when the disk does not take them."""
        for entry in entries:
            if entry.kind in _SPOKEN:
                self.talker.say(entry.line + (f"  [NOT IN THE JOURNAL: {complaint}]" if complaint else ""))

    def report(self) -> dict[str, object]:
        """Counters of what was kept and lost."""
        journal = self.journal
        return {
            "journal": {
                "committed": journal.committed if journal is not None else 0,
                "lost": journal.lost if journal is not None else None,
                "failing": journal.failing if journal is not None else "not open",
            },
            "bus_log": {
                "written": self.bus_log.written, "lost": self.bus_log.lost, "failing": self.bus_log.failing,
            },
            "lines_lost": self.talker.lost,
        }  # fmt: skip

    def close(self, why: str) -> None:
        """Write what is waiting and how the run ended."""
        if self.journal is not None and not self.journal.close(why):
            self.talker.say(f"the end of this run is not in the journal: {self.journal.failing}")
        self.bus_log.close()
        self.talker.close()


def _put_aside(path: Path, name: str) -> Path:
    """The file and what SQLite keeps beside it, under another name."""
    number = 1
    while (aside := path.with_name(f"{name}-{number}.sqlite")).exists():
        number += 1
    os.replace(path, aside)
    for ending in ("-wal", "-shm"):
        beside = path.with_name(path.name + ending)
        if beside.exists():
            os.replace(beside, aside.with_name(aside.name + ending))
    return aside


def _version() -> str:
    try:
        return version("thwart")
    except PackageNotFoundError:
        return "not installed"


def _who() -> str:
    try:
        name = getpass.getuser()
    except (KeyError, OSError):  # a service without an entry in the user list
        name = f"uid {os.getuid()}" if hasattr(os, "getuid") else "unknown"
    return f"{name}, process {os.getpid()}, {Path(sys.argv[0]).name}"
