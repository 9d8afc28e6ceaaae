"""A whole replay put together: recording, wiring, subjects, observers, result."""

import gc
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any, NamedTuple

from sim.replay.candump import CandumpSource
from sim.replay.commands import CommandRow, foreign_commands, own_commands
from sim.replay.decisions import Decisions
from sim.replay.engine import Engine, Observer
from sim.replay.errors import ReplayError
from sim.replay.foreign import ForeignSource
from sim.replay.history import History
from sim.replay.holding import Holding
from sim.replay.identity import Identity
from sim.replay.opening import open_recording
from sim.replay.replayed import ReplayedSupervisor
from sim.replay.result import Result, Run
from sim.replay.rules import FOLLOWED, ForeignRules, OwnRules, RuleReport
from sim.replay.runfolder import RunFacts, run_facts
from sim.replay.sameboat import compare_boats
from sim.replay.shadow import Shadow, ShadowReport
from sim.replay.source import Place, Source
from sim.replay.ticks import Grid, Moment, Recorded, Ticks
from sim.replay.whatif import WhatIf
from sim.replay.wires import (
    Listening,
    Role,
    Wire,
    Wiring,
    look_ahead,
    parse_channels,
    refuse_swapped,
    wire_unseen,
    wire_up,
)
from supervisor.config import BoatConfig, ConfigError, load_config
from supervisor.config.load import resolve_boat

GAP_S = 10.0
"""Silence on every channel for longer than this is a gap in the recording."""


class Options(NamedTuple):
    """How to replay."""

    channels: tuple[str, ...] = ()
    """CHANNEL=BUS, as on the command line."""
    form: str | None = None
    """Format; None: by the file's ending or first bytes."""
    gap_s: float = GAP_S
    rest: bool = True
    """Pass over ticks in which nothing can happen; False does every tick whole, with the same decisions."""
    ticks: Path | None = None
    """The side file with the ticks of a recorded run; None: ticks.csv beside the recording, if it is there."""
    own_ticks: bool = False
    """Do not look for it: tick on the boat's own grid from the first frame."""
    commands: Path | None = None
    """Mapping of a foreign controller's commands; None: the boat file's own outputs."""
    settings: Mapping[str, Any] = {}
    """Changed settings to compare with; empty: no what-if."""
    rules: bool = False
    """Check the safety requirements, on boats with shafts; it takes about as long as the replay itself."""
    assume: Mapping[str, float] = {}
    """Values taken for inputs that the boat file does not map, by name (`bank.cell_max_v`, `port.gearbox.neutral`)."""
    moments: tuple[Moment, ...] = ()
    """What the runtime said of itself, where no side file says it; empty: receive path and deadlines in good order."""


@contextmanager
def _seldom_collected() -> Iterator[None]:
    """A tick makes hundreds of small tuples and no cycles: the collector looks in vain, so let it look less often."""
    before = gc.get_threshold()
    gc.set_threshold(50_000, *before[1:])
    try:
        yield
    finally:
        gc.set_threshold(*before)


class Session:
    """One replay. `run` it once, then take `result`. Raises ReplayError and ConfigError."""

    def __init__(self, config: str | Path, log: str, options: Options | None = None) -> None:
        self.file = resolve_boat(config)
        self.config: BoatConfig = load_config(self.file)
        self.log = log
        self.options = options = options or Options()
        facts = self._facts()
        self.ticks: Ticks = facts.ticks or Grid(self.config.boat.tick_s)
        self.subject = self._subject(self.config, facts.since_full_s)
        self.subjects = [self.subject]
        boat_map = self.subject.boat_map
        self.commands: list[CommandRow] = (
            own_commands(boat_map) if options.commands is None else foreign_commands(options.commands, boat_map)
        )
        self.listening = Listening(boat_map, self.commands)
        self.history = History(0, boat_map.shaft_names, self._doubt_at)
        self.decisions = Decisions(0)
        self.holding = Holding(self.subject, 0)
        self.shadow = Shadow(self.subject, 0, self.commands)
        self.identity = Identity(0, self.ticks) if isinstance(self.ticks, Recorded) and not options.assume else None
        self.whatif: WhatIf | None = None
        if options.settings:
            changed_config = self._changed(options.settings)
            if changed_config.boat.tick_s != self.config.boat.tick_s:
                raise ReplayError("--set boat.tick_s: both runs need one tick; change the boat file instead")
            changed = self._subject(changed_config, facts.since_full_s, self.subject)
            self.subjects.append(changed)
            self.whatif = WhatIf(self.subject, changed, 1, dict(options.settings), self.ticks)
        self._given: Mapping[str, str] = {}
        self._unseen: dict[Place, int] = {}
        seen = look_ahead(log, options.form, options.gap_s)
        self.wiring = self._wire(facts, seen)
        foreign = options.commands is not None or self._nobody_of_ours(seen)
        if foreign:
            self.subject.excuse_drives()
        with_rules = options.rules and bool(self.config.shaft)
        self.own_rules = OwnRules(self.subject, 0, FOLLOWED if foreign else ()) if with_rules else None
        self.foreign_rules = ForeignRules(self.subject, 0, self.commands) if with_rules and self.commands else None
        self.wires: dict[Place, Wire] = {}
        self.source: Source = open_recording(
            log, self._select, gap_s=options.gap_s, origin=facts.origin, form=options.form
        )
        if isinstance(self.source, CandumpSource | ForeignSource):
            self.source.clock.bitrate = float(sum(bus.bitrate for bus in self.config.buses.values()))
        if not options.own_ticks and (remark := compare_boats(log, self.file, self.config)):
            self.source.health.notes.append(remark)
        self._origin = facts.origin
        self.engine: Engine | None = None

    def _doubt_at(self, time_s: float) -> str:
        return self.source.health.doubt_at(time_s)

    def _facts(self) -> RunFacts:
        """The ticks of the recorded run where its folder tells them, else the boat's own grid from the first frame."""
        tick_s = self.config.boat.tick_s
        if self.options.own_ticks:
            return RunFacts(Grid(tick_s, self.options.moments))
        facts = run_facts(self.log, tick_s, self.options.ticks)
        return facts._replace(ticks=Grid(tick_s, self.options.moments)) if facts.ticks is None else facts

    def _changed(self, settings: Mapping[str, Any]) -> BoatConfig:
        """The boat under changed settings. What is wrong with those is no fault of the file."""
        try:
            return load_config(self.file, settings)
        except ConfigError as exc:
            shown = " ".join(f"--set {key}={value}" for key, value in settings.items())
            raise ConfigError(shown, exc.key, exc.problem, exc.remedy) from exc

    def _subject(
        self, config: BoatConfig, since_full_s: float, leader: ReplayedSupervisor | None = None
    ) -> ReplayedSupervisor:
        return ReplayedSupervisor(
            config, str(self.file), self.ticks, rest=self.options.rest, assume=self.options.assume,
            since_full_s=since_full_s, leader=leader,
        )  # fmt: skip

    def _nobody_of_ours(self, seen: Mapping[Place, int]) -> bool:
        """The recording's first part holds drives at work but none of our orders to them."""
        boat_map = self.subject.boat_map
        if not seen or not any(row.spec.name in ("drive.torque_nm", "drive.current_a") for row in boat_map.inputs):
            return False
        for place in seen:
            bus = self.wiring.bus_of.get(place.channel)
            wire = None if bus is None else self.listening.wire(bus, place.arbitration_id, place.is_extended)
            if wire is not None and wire.role is not Role.HEARD:
                return False
        return True

    def _wire(self, facts: RunFacts, seen: Mapping[Place, int]) -> Wiring:
        known = {channel: bus for channel, bus in facts.buses.items() if bus in self.listening.buses}
        given = self._given = {**known, **parse_channels(self.options.channels, self.listening.buses)}
        wiring = wire_up(self.listening, given, seen)
        return wiring._replace(reasons=(*wiring.reasons, facts.note)) if facts.note else wiring

    def _select(self, channel: str, arbitration_id: int, is_extended: bool) -> Wire | None:
        if self.log == "-":
            self.wiring = wire_unseen(self.listening, self.wiring, channel)
            self._unseen[Place(channel, arbitration_id, is_extended)] = 1
            refuse_swapped(self.listening, self.wiring, self._given, self._unseen)
        bus = self.wiring.bus_of.get(channel)
        wire = None if bus is None else self.listening.wire(bus, arbitration_id, is_extended)
        if wire is not None:
            self.wires[Place(channel, arbitration_id, is_extended)] = wire
        return wire

    def run(self, stop: Callable[[], bool] = lambda: False, observers: Sequence[Observer] = ()) -> None:
        """Read the recording to its end, or until `stop()`. Raises ReplayError when nothing of it can be used."""
        longest_s = max((row.stale_s for row in self.subject.boat_map.inputs), default=0.0)
        pause_s = max(self.options.gap_s, longest_s + 1.0)
        watching: list[Observer] = [self.history, self.decisions, self.holding, *observers]
        if self.commands:
            watching.append(self.shadow)
        watching += [one for one in (self.identity, self.whatif, self.own_rules, self.foreign_rules) if one is not None]
        self.engine = Engine(self.subjects, self.ticks, pause_s, watching)
        try:
            with _seldom_collected():
                self.engine.run(self.source, stop)
        finally:
            self.source.close()
        self.history.finish(self.ticks.at(max(self.engine.tick - 1, 0)))
        if self.source.health.frames == 0:
            raise ReplayError(nothing_in(self.log, self.source))

    def result(self) -> Result:
        """Everything that was found."""
        engine, source = self.engine, self.source
        if engine is None:
            raise ValueError("a session has a result only after its run")
        last_s = self.ticks.at(max(engine.tick - 1, 0))
        shadow: ShadowReport | None = self.shadow.report(last_s) if self.shadow.frames else None
        report = self.subject.table.report()
        return Result(
            name="standard input" if self.log == "-" else self.log,
            kind=source.kind,
            begin=source.begin() if self._origin is None else self._origin,
            end_s=engine.end_s,
            frames=source.health.frames,
            fed=sum(bus["frames"] for bus in report.values() if isinstance(bus["frames"], int)),
            ticks=engine.tick - engine.gap_ticks,
            gap_ticks=engine.gap_ticks,
            stopped=engine.stopped,
            health=source.health,
            wiring=self.wiring.reasons,
            counts=source.counts(),
            wires=self.wires,
            run=self._run(max(engine.tick - 1, 0), report),
            shadow=shadow,
            difference=None if self.whatif is None else self.whatif.report(engine.tick),
            rules=self._rules(engine.tick),
            assumed=dict(self.options.assume),
            same=None if self.identity is None else self.identity.report(engine.tick),
        )

    def _run(self, last: int, report: Mapping[str, object]) -> Run:
        history, subject = self.history, self.subject
        return Run(
            boat=self.config.boat.name,
            title=self.config.boat.title,
            tick_s=self.ticks.tick_s,
            names=history.names,
            readings=subject.coverage.readings(subject.why_unknown(last)),
            events=history.events,
            events_lost=history.events_lost,
            trips=history.trips,
            spans=history.spans,
            mode_s=history.mode_s,
            mode_changes=history.mode_changes,
            held=self.holding.found(self.ticks.at(last)),
            digest=self.decisions.digest,
            bus_report=report,
        )

    def _rules(self, stop: int) -> list[RuleReport]:
        reports = [] if self.own_rules is None else [self.own_rules.report(stop)]
        foreign = None if self.foreign_rules is None else self.foreign_rules.report(stop)
        return reports if foreign is None else [*reports, foreign]


def nothing_in(log: str, source: Source) -> str:
    """Why a recording without one usable frame is of no use."""
    name = "standard input" if log == "-" else log
    health = source.health
    if health.damaged:
        kind, places = next(iter(health.where.items()))
        return (f"{name}: no CAN frame can be read from it as {source.kind}: {health.damaged} damaged places, "
                f"the first of kind \"{kind}\" ({places[0]}). Is it another format? See --format")  # fmt: skip
    if health.other:
        others = ", ".join(f"{count} x {kind}" for kind, count in health.other.items())
        return f"{name}: holds no data frame, only {others}"
    return f"{name}: holds no CAN frame; nothing was recorded in it"
