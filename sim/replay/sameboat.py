"""Whether a recorded run is of the boat that is given, and of this very boat file."""

import hashlib
import tomllib
from pathlib import Path

from sim.replay.errors import ReplayError
from sim.replay.runfolder import VERDICT, read_verdict
from supervisor.config import BoatConfig
from supervisor.journal import JournalError, deciding_files, fingerprint, read_runs

_COPY = "config.toml"
"""The boat file, as a run on the bench keeps it beside its log."""


def compare_boats(log: str, file: Path, config: BoatConfig) -> str:
    """What is to be said of a run folder's boat against `file`; "" where it is the same, or nothing is known.

    Raises ReplayError for the run of another boat.
    """
    if log == "-":
        return ""
    folder = Path(log) if Path(log).is_dir() else Path(log).parent
    files = deciding_files(config, file)
    copy = folder / _COPY
    try:
        if copy.is_file() and (folder / "bus.log").is_file():
            kept = tomllib.loads(copy.read_text(encoding="utf-8"))
            boat = kept.get("boat")
            _refuse_other(log, str(boat.get("name", "")) if isinstance(boat, dict) else "", config)
            kept_sha = {_COPY: _sha(copy), **_hashes(folder)}
            names = [_COPY, *(path.relative_to(file.parent).as_posix() for path in files[1:])]
            pairs = zip(names, files, strict=True)
            other = [name for name, path in pairs if kept_sha.get(name) not in (None, _sha(path))]
            return _edited(f"{', '.join(other)} of the run folder") if other else ""
        if Path(log).is_dir() and (folder / "journal.sqlite").is_file():
            run = read_runs(folder)[-1]
            _refuse_other(log, run.boat, config)
            names = [Path(run.config_file).name, *(path.name for path in files[1:])]
            same = fingerprint(files, names) == run.config_sha256
            return "" if same else _edited(f"run {run.run} in the journal, {run.config_file}")
    except (OSError, ValueError, IndexError, JournalError) as exc:
        return f"whether this is the boat file of that run cannot be told: {exc}"
    return ""


def _sha(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


def _hashes(folder: Path) -> dict[str, str]:
    """What the verdict says of the files that decided the run; nothing of a run that never ended."""
    found = read_verdict(folder / VERDICT).get("sha256")
    return {str(name): str(digest) for name, digest in found.items()} if isinstance(found, dict) else {}


def _refuse_other(log: str, recorded: str, config: BoatConfig) -> None:
    if recorded and recorded != config.boat.name:
        raise ReplayError(
            f"{log}: is a run of {recorded}, not of {config.boat.name}: give that boat's file, or the log itself with "
            "--own-ticks to see what another boat would have made of it"
        )


def _edited(kept: str) -> str:
    return (
        f"NOT THE BOAT FILE OF THAT RUN: it differs from {kept}. What follows is what this file would have decided, "
        "not what was decided"
    )
