"""What a replay found: everything that summary, page and JSON are made from."""

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from sim.replay.coverage import Reading
from sim.replay.health import Health
from sim.replay.history import ModeSpan, Trip
from sim.replay.holding import Held
from sim.replay.identity import SameAsRun
from sim.replay.rules import RuleReport
from sim.replay.shadow import ShadowReport
from sim.replay.source import Place
from sim.replay.whatif import Difference
from sim.replay.wires import Wire
from supervisor.controller import Event


class Run(NamedTuple):
    """What one configuration did. `names` are "boat" and the shafts; `mode_s` is time (s) by (name, mode)."""

    boat: str
    title: str
    tick_s: float
    names: tuple[str, ...]
    readings: Sequence[Reading]
    events: Sequence[Event]
    events_lost: int
    trips: Sequence[Trip]
    spans: Sequence[ModeSpan]
    mode_s: Mapping[tuple[str, str], float]
    mode_changes: int
    held: Sequence[Held]
    digest: str
    """SHA-256 of all decisions, tick by tick."""
    bus_report: Mapping[str, object]


class Result(NamedTuple):
    """A whole replay. Times in s of log time; `begin` is the recorder's own stamp of log time 0."""

    name: str
    kind: str
    begin: float | None
    end_s: float
    frames: int
    fed: int
    ticks: int
    gap_ticks: int
    stopped: bool
    health: Health
    wiring: tuple[str, ...]
    counts: Mapping[Place, int]
    wires: Mapping[Place, Wire]
    run: Run
    shadow: ShadowReport | None
    """None where the recording holds no commands."""
    difference: Difference | None
    """None unless asked what if."""
    rules: Sequence[RuleReport]
    assumed: Mapping[str, float]
    """Values that were taken for inputs which the boat file does not map."""
    same: SameAsRun | None = None
    """Against what was decided on board; None where that is not beside the recording."""
