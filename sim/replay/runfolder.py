"""What a run folder says of its bus log: the ticks of the run, and which channel is which bus."""

import json
from collections.abc import Mapping
from pathlib import Path
from typing import NamedTuple

from sim.replay.ticklog import NAME, read_ticks
from sim.replay.ticks import Grid, Ticks

VERDICT = "verdict.json"
"""A run on the bench, in simulated time: its tick n was at n times `tick_s`, the first one n = 1."""


class RunFacts(NamedTuple):
    """`ticks` None: nothing is known of them. `origin` is the stamp of log time 0. `buses`: channel -> bus."""

    ticks: Ticks | None
    origin: float | None
    buses: Mapping[str, str]


def run_facts(log: str, tick_s: float, ticks: Path | None = None) -> RunFacts:
    """What lies beside a recording, or is given as `ticks`. Raises ReplayError for a list of ticks that is none."""
    folder = Path(log) if Path(log).is_dir() else Path(log).parent
    verdict = {} if log == "-" else _verdict(folder / VERDICT)
    found = verdict.get("buses")
    buses = {str(channel): str(bus) for channel, bus in found.items()} if isinstance(found, dict) else {}
    if ticks is None and log != "-" and (folder / NAME).is_file():
        ticks = folder / NAME
    if ticks is not None:
        recorded, origin = read_ticks(ticks, tick_s)
        return RunFacts(recorded, origin, buses)
    count = verdict.get("ticks")
    if verdict.get("tick_s") == tick_s and isinstance(count, int) and count > 0:
        return RunFacts(Grid(tick_s, first=1, count=count), 0.0, buses)
    return RunFacts(None, None, buses)


def _verdict(path: Path) -> Mapping[str, object]:
    try:
        found = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return found if isinstance(found, dict) else {}
