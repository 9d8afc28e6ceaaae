"""The journal and the black box: what happened, kept on disk by threads of their own. No tick waits for a disk."""

from supervisor.journal.buslog import BusLog
from supervisor.journal.entry import Entry, asked_by, entry_of
from supervisor.journal.folder import FolderInUseError, FolderLock, deciding_files, fingerprint
from supervisor.journal.journal import Carried, Journal, LayoutError, RunStart, carried
from supervisor.journal.read import JournalError, RunRecord, bus_files, read_events, read_frames, read_kept, read_runs

__all__ = [
    "BusLog",
    "Carried",
    "Entry",
    "FolderInUseError",
    "FolderLock",
    "Journal",
    "JournalError",
    "LayoutError",
    "RunRecord",
    "RunStart",
    "asked_by",
    "bus_files",
    "carried",
    "deciding_files",
    "entry_of",
    "fingerprint",
    "read_events",
    "read_frames",
    "read_kept",
    "read_runs",
]
