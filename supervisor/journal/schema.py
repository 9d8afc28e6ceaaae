"""The journal's tables. One file for the life of a boat: each start of the supervisor adds a run."""

VERSION = 1
"""Kept in SQLite's `user_version`; a journal of another version is refused, never changed."""

MOST_EVENTS = 500_000
"""Events kept at most, of all runs: some 100 MB. The oldest go first."""

FILE_NAME = "journal.sqlite"

STATEMENTS = (
    """CREATE TABLE IF NOT EXISTS runs (
        id INTEGER PRIMARY KEY AUTOINCREMENT,
        started_utc TEXT NOT NULL,
        boat TEXT NOT NULL,
        config_file TEXT NOT NULL,
        config_sha256 TEXT NOT NULL,
        thwart TEXT NOT NULL,
        started_by TEXT NOT NULL,
        ended_utc TEXT,
        ended_why TEXT
    )""",
    """CREATE TABLE IF NOT EXISTS events (
        id INTEGER PRIMARY KEY AUTOINCREMENT,
        run INTEGER NOT NULL REFERENCES runs(id),
        time_s REAL NOT NULL,
        utc TEXT NOT NULL,
        kind TEXT NOT NULL,
        subject TEXT NOT NULL,
        text TEXT NOT NULL,
        source TEXT NOT NULL,
        dest TEXT NOT NULL,
        first_out TEXT NOT NULL,
        asked_by TEXT NOT NULL
    )""",
    "CREATE TABLE IF NOT EXISTS kept (name TEXT PRIMARY KEY, value REAL NOT NULL, utc TEXT NOT NULL)",
    "CREATE INDEX IF NOT EXISTS events_by_run ON events(run)",
)

PRAGMAS = (
    "PRAGMA journal_mode = WAL",
    # Power cuts are a boat's everyday: a commit is on the disk when it returns. It is paid by the writer's thread.
    "PRAGMA synchronous = FULL",
    "PRAGMA foreign_keys = ON",
)
