"""The folder of a boat's runs: one supervisor at a time, and what decides a run, fingerprinted."""

import hashlib
import os
from collections.abc import Sequence
from pathlib import Path

from supervisor.config import BoatConfig


class FolderInUseError(Exception):
    """Another supervisor writes into this folder, e.g. a service that was not stopped before a second start by hand."""


class FolderLock:
    """Held while a run writes into `folder`; the system lets go of it when the process dies, however it dies.

    Where the system has no such locks (no `fcntl`), nothing is locked. Raises FolderInUseError, OSError.
    """

    def __init__(self, folder: Path) -> None:
        try:
            self._file = os.open(folder / "lock", os.O_RDWR | os.O_CREAT, 0o644)
        except OSError:
            # A folder that cannot be written is no reason for a boat not to run: the folder itself is locked then.
            self._file = os.open(folder, os.O_RDONLY)
        try:
            import fcntl
        except ModuleNotFoundError:
            return
        try:
            fcntl.flock(self._file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            os.close(self._file)
            raise FolderInUseError(
                f"{folder}: a supervisor is running with this folder. Stop it first, or give another one with --out"
            ) from None

    def release(self) -> None:
        """Let go."""
        os.close(self._file)


def deciding_files(config: BoatConfig, file: Path) -> list[Path]:
    """The boat file and the DBC files beside it: what decides a run."""
    return [file, *(file.parent / name for bus in config.buses.values() for name in bus.dbc)]


def fingerprint(files: Sequence[Path], names: Sequence[str] = ()) -> str:
    """SHA-256 over the contents of all files that decide a run, in the order given; under `names` if these are given,
    for a file that was called something else then. Raises OSError."""
    digest = hashlib.sha256()
    for path, name in zip(files, names or [path.name for path in files], strict=True):
        content = path.read_bytes()
        digest.update(f"{name} {len(content)}\n".encode())
        digest.update(content)
    return digest.hexdigest()
