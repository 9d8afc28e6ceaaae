"""What a run folder says of its bus log: the ticks of the run, and which channel is which bus."""

import json
from collections.abc import Mapping
from pathlib import Path
from typing import NamedTuple

from sim.replay.opening import recordings_in
from sim.replay.ticklog import ENDING, NAME, read_ticks
from sim.replay.ticks import Ticks

VERDICT = "verdict.json"
"""Of a run on the bench: it says which channel is which bus."""


class RunFacts(NamedTuple):
    """`ticks` None: nothing is known of them. `origin` is the stamp of log time 0. `buses`: channel -> bus."""

    ticks: Ticks | None = None
    origin: float | None = None
    since_full_s: float = 0.0
    buses: Mapping[str, str] = {}
    note: str = ""


def run_facts(log: str, tick_s: float, ticks: Path | None = None) -> RunFacts:
    """What lies beside a recording, or is given as `ticks`. Raises ReplayError for a list of ticks that is none."""
    verdict = {} if log == "-" else read_verdict((Path(log) if Path(log).is_dir() else Path(log).parent) / VERDICT)
    found = verdict.get("buses")
    buses = {str(channel): str(bus) for channel, bus in found.items()} if isinstance(found, dict) else {}
    sides = _side_files(log) if ticks is None else [ticks]
    if sides:
        recorded = read_ticks(sides, tick_s)
        note = "" if recorded.whole else "the beginning of this run was rotated away: it is replayed as from power-up"
        origin = recorded.offset_s + recorded.ticks.zero_s
        return RunFacts(recorded.ticks, origin, recorded.since_full_s, buses, note)
    return RunFacts(buses=buses)


def _side_files(log: str) -> list[Path]:
    """The lists of ticks that belong to a recording: all of them, or none."""
    if log == "-":
        return []
    path = Path(log)
    logs = recordings_in(path) if path.is_dir() else [path]
    sides = [one.with_suffix(ENDING) for one in logs]
    if all(side.is_file() for side in sides):
        return sides
    beside = (path if path.is_dir() else path.parent) / NAME
    return [beside] if beside.is_file() else []


def read_verdict(path: Path) -> Mapping[str, object]:
    """What a run on the bench says of itself; nothing where that is missing or cannot be read."""
    try:
        found = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return found if isinstance(found, dict) else {}
