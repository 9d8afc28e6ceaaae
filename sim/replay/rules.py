"""The safety requirements, checked over a recording: on our own decisions, and on the commands of whoever was really in
control, as far as they are in the recording."""

from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

from sim.replay.commands import CommandDecoder, CommandRow
from sim.replay.pace import Pace
from sim.replay.replayed import Change, Heard, ReplayedSupervisor
from sim.requirements import JUDGES, OWN_PREFIX, Evaluator, Judgement, Record, own_identifier
from sim.requirements.evaluator import judges_of
from sim.requirements.grain import Order, grain_of_orders, grain_of_readings, too_coarse, within_grain
from sim.requirements.judge import Judge
from sim.requirements.needs import heard, missing, needs_of
from sim.requirements.over_a_bus import COARSE
from supervisor.bus import HARD_WIRED, PERMIT_OUTPUTS
from supervisor.bus.codec import pgn_of
from supervisor.controller import freeze
from supervisor.modes import BoatMode, ShaftMode
from supervisor.rules import Boat
from supervisor.signals import BOAT, BoatCommand, ShaftCommand, ShaftInput, ShaftInputs

SPARSE_S = 0.4
"""While nothing changes, a record is fed this often: longer, and the evaluators would take it for a gap."""

FOREIGN = (
    "SR-07", "SR-08", "SR-09", "SR-10", "SR-11", "SR-13", "SR-14", "SR-15", "SR-16", "SR-18", "SR-21", "SR-23", "SR-24",
    "SR-25", "SR-34", "SR-41", "SR-42",
)  # fmt: skip
"""Requirements that can be judged on torque orders and inputs alone, whatever modes a foreign controller has."""


FOLLOWED = ("SR-32",)
"""Requirements that need drives which follow our orders: not judged where the drives followed another's."""


_NAMED = 4
"""Inputs named of those that were missing."""


class RuleReport(NamedTuple):
    """Verdicts. `of` says whose orders were judged; `unjudged` which requirements this recording cannot judge, and
    why: they are not among the verdicts, however well they would look."""

    of: str
    records: int
    judgements: Sequence[Judgement]
    unjudged: Mapping[str, str] = {}


_ALARMS = "it is judged by an alarm in its tick, and alarms are recorded a few times a second"
_MODES = "it needs the modes, which are not recorded"


def _by_inputs(
    judges: Iterable[Judge], boat: Boat, subject: ReplayedSupervisor, verdicts: Sequence[Judgement], keep_violated: bool
) -> dict[str, str]:
    """Requirements whose inputs were never known: their verdicts would say nothing."""
    known, shafts_known, own_known = subject.coverage.ever_known()
    shafts = list(zip(subject.boat_map.shaft_names, shafts_known, strict=True))
    violated = {one.id for one in verdicts if one.held is False} if keep_violated else set()
    found = {}
    for judge in judges:
        names = missing(needs_of(judge, boat), known, shafts)
        if judge.identifier.startswith(OWN_PREFIX):
            signal = f"interlock.{judge.identifier.removeprefix(OWN_PREFIX)}"
            names += [] if signal in own_known else [signal]
        if names and judge.identifier not in violated:
            more = f" and {len(names) - _NAMED} more" if len(names) > _NAMED else ""
            found[judge.identifier] = f"never known here: {', '.join(names[:_NAMED])}{more}"
    return found


class _Feeder:
    """Feeds an evaluator every tick that matters: each change, the tick before it, and sparsely in between."""

    def __init__(self, evaluator: Evaluator, subject: ReplayedSupervisor) -> None:
        self.evaluator = evaluator
        self.records = 0
        self._subject = subject
        self._fed_tick = -1
        self._fed_s = -1.0
        self._state: Record | None = None

    def change(self, tick: int, record: Record) -> None:
        """Something is different from tick `tick` on."""
        self.upto(tick - 1)
        self._feed(tick, record)
        self._state = record

    def upto(self, tick: int) -> None:
        """Nothing was different up to and including tick `tick`."""
        state = self._state
        if state is None or tick <= self._fed_tick:
            return
        at = self._subject.ticks.at
        while (number := self._next()) < tick:
            self._feed(number, state._replace(time_s=at(number)))
        self._feed(tick, state._replace(time_s=at(tick)))

    def _next(self) -> int:
        """The last tick that is not much more than SPARSE_S after the one fed last, however late ticks were; at least
        the tick after it."""
        ticks, fed = self._subject.ticks, self._fed_tick
        stride = max(1, int(SPARSE_S / ticks.tick_s))
        latest_s = ticks.at(fed) + SPARSE_S + 0.5 * ticks.tick_s
        while stride > 1 and ticks.at(fed + stride) > latest_s:
            stride //= 2
        return fed + stride

    def _feed(self, tick: int, record: Record) -> None:
        if tick == self._fed_tick:
            return
        self.evaluator.feed(record)
        self.records += 1
        self._fed_tick = tick


class OwnRules:
    """Observes one subject: every requirement on what it would have ordered, but for those `without`."""

    def __init__(self, subject: ReplayedSupervisor, which: int, without: Sequence[str] = ()) -> None:
        self._which = which
        self._subject = subject
        self._names = subject.boat_map.shaft_names
        interlocks = subject.config.interlock
        wanted = [*(judge.identifier for judge in JUDGES), *(own_identifier(entry.name) for entry in interlocks)]
        only = [identifier for identifier in wanted if identifier not in without]
        self._without = dict.fromkeys(without, "the drives in the recording followed another's orders")
        self._boat = freeze(subject.config)
        self._judges = judges_of(self._boat, self._names, interlocks, only)
        self._feeder = _Feeder(Evaluator(self._boat, self._names, only, interlocks), subject)
        self._grain = grain_of_readings(subject.boat_map)

    def span(self, first: int, stop: int, changes: Sequence[Sequence[Change]], commands: Sequence[Heard]) -> None:
        """Feed what changed."""
        for change in changes[self._which]:
            outcome = change.outcome
            self._feeder.change(change.tick, Record(
                change.time_s, outcome.boat_mode, outcome.shaft_modes, change.boat, change.shafts,
                outcome.boat_command, outcome.shaft_commands, outcome.boat_word, outcome.shaft_words,
            ))  # fmt: skip

    def report(self, stop: int) -> RuleReport:
        """The verdicts up to tick `stop`."""
        self._feeder.upto(stop - 1)
        verdicts = within_grain(self._feeder.evaluator.finish(), self._grain)
        unjudged = self._without | _by_inputs(self._judges, self._boat, self._subject, verdicts, keep_violated=True)
        kept = [one for one in verdicts if one.id not in unjudged]
        return RuleReport("this supervisor", self._feeder.records, kept, unjudged)


def orders_of(rows: Sequence[CommandRow]) -> list[Order]:
    """The orders of a mapping of commands, with the steps of their codes."""
    return [Order(row.level, row.name, abs(row.signal.scale * row.factor)) for row in rows]


class ForeignRules:
    """Observes the commands in the recording: the requirements on what was really ordered."""

    def __init__(self, subject: ReplayedSupervisor, which: int, rows: Sequence[CommandRow]) -> None:
        self._which = which
        self._subject = subject
        self._decoder = CommandDecoder(list(rows))
        self._values: dict[tuple[int, str], float] = {}
        self._pace: dict[tuple[int, str], Pace] = {}
        self._state: Change | None = None
        self.modes_recorded = any(row.name == "boat.mode" for row in rows) and all(
            any(row.level == level and row.name == "shaft.mode" for row in rows)
            for level in range(len(subject.boat_map.shaft_names))
        )
        boat = freeze(subject.config)
        self._grain = grain_of_orders(subject.boat_map, boat, subject.ticks.tick_s, orders_of(rows))
        self.too_coarse = too_coarse(boat, self._grain)
        told = heard(subject.config, (row.name for row in rows))
        told |= {"boat.mode", "shaft.mode"} if not self.modes_recorded else set()
        self._boat, self._unjudged, only = boat, dict[str, str](), list[str]()
        for judge in judges_of(boat, subject.boat_map.shaft_names):
            identifier = judge.identifier
            outputs = needs_of(judge, boat).outputs
            silent = sorted(outputs - told)
            if not self.modes_recorded and identifier not in FOREIGN:
                self._unjudged[identifier] = _MODES
            elif identifier in self.too_coarse:
                self._unjudged[identifier] = COARSE
            elif any(name.endswith("alarms") for name in outputs):
                self._unjudged[identifier] = _ALARMS
            elif silent:
                self._unjudged[identifier] = f"not recorded: {', '.join(silent)}"
            else:
                only.append(identifier)
        self._judges = judges_of(boat, subject.boat_map.shaft_names, (), only)
        self._feeder = _Feeder(Evaluator(boat, subject.boat_map.shaft_names, only), subject)
        self.frames = 0

    def span(self, first: int, stop: int, changes: Sequence[Sequence[Change]], commands: Sequence[Heard]) -> None:
        """Feed what changed."""
        mine = list(changes[self._which])
        now_s = self._subject.ticks.at(first)
        self._fall_silent(first - 1)
        new = False
        for wire, data in commands:
            self.frames += 1
            for row, value in self._decoder.decode(
                wire.bus, wire.arbitration_id, wire.is_extended, pgn_of(wire.arbitration_id), data
            ):
                key = (row.level, row.name)
                self._pace.setdefault(key, Pace()).heard(now_s)
                if self._values.get(key) != value:
                    self._values[key] = value
                    new = True
        new |= self._drop(now_s)
        if new and (not mine or mine[0].tick != first) and self._state is not None:
            mine.insert(0, self._state._replace(tick=first, time_s=now_s))
        for change in mine:
            self._fall_silent(change.tick - 1)
            self._drop(change.time_s)
            self._take(change)

    def _take(self, change: Change) -> None:
        """Something read or ordered is different from this tick on."""
        self._state = change
        if self._pace:
            self._feeder.change(change.tick, self._record(change))

    def _drop(self, now_s: float) -> bool:
        """Forget the orders that are not repeated any more: they are none. Returns whether there were any."""
        gone = [key for key in self._values if now_s > self._pace[key].stands_until_s]
        for key in gone:
            del self._values[key]
        return bool(gone)

    def _fall_silent(self, upto: int) -> None:
        """Up to tick `upto` nothing was heard and nothing changed: but orders may have stopped to stand meanwhile."""
        ticks = self._subject.ticks
        while self._state is not None and self._values:
            until_s = min(self._pace[key].stands_until_s for key in self._values)
            if not ticks.at(upto) > until_s:
                return
            number = ticks.before(until_s)
            while not ticks.at(number) > until_s:
                number += 1
            now_s = ticks.at(number)
            self._drop(now_s)
            self._take(self._state._replace(tick=number, time_s=now_s))

    def _record(self, change: Change) -> Record:
        values = self._values
        count = len(change.shafts)
        commands: list[ShaftCommand | None] = []
        modes: list[int | None] = []
        for level in range(count):
            torque = values.get((level, "drive.torque_nm"))
            commands.append(None if torque is None else self._command(level, torque))
            modes.append(None if torque is None else self._mode(level, torque, change.shafts[level]))
        live = any(command is not None and (command.torque_nm or command.permits & 1) for command in commands)
        boat_mode = values.get((BOAT, "boat.mode"))
        if boat_mode is None or boat_mode not in tuple(BoatMode):
            boat_mode = float(BoatMode.READY if live else BoatMode.STANDBY)
        boat_command = BoatCommand(
            stop_sources=int(values.get((BOAT, "sources.stop"), 1.0)),
            sounder=int(values.get((BOAT, "sounder.on"), 0.0)),
            alarms=int(values.get((BOAT, "boat.alarms"), 0.0)) | int(values.get((BOAT, "boat.more_alarms"), 0.0)) << 32,
            charge_limit_a=values.get((BOAT, "boat.charge_limit_a"), 0.0),
            derate_pct=values.get((BOAT, "boat.derate_pct"), 0.0),
            handset_in_control=int(values.get((BOAT, "handset.in_control"), 0.0)),
        )
        return Record(change.time_s, int(boat_mode), tuple(modes), change.boat, change.shafts, boat_command,
                      tuple(commands))  # fmt: skip

    def _command(self, level: int, torque_nm: float) -> ShaftCommand:
        permits = 0
        for name, bit in PERMIT_OUTPUTS.items():
            if name not in HARD_WIRED and self._values.get((level, name)) == 1.0:
                permits |= bit
        return ShaftCommand(torque_nm, self._values.get((level, "drive.current_a"), 0.0), permits)

    def _mode(self, level: int, torque_nm: float, shaft: ShaftInputs) -> int:
        """The recorded mode; where there is none, what the torque says: against rotation is charging."""
        mode = self._values.get((level, "shaft.mode"))
        if mode is not None and mode in tuple(ShaftMode):
            return int(mode)
        if torque_nm == 0.0:
            return ShaftMode.REST
        rpm = shaft.machine_speed_rpm if shaft.known & ShaftInput.MACHINE_SPEED else 0.0
        if torque_nm * rpm >= 0.0:
            return ShaftMode.PROPEL
        runs = shaft.known & shaft.on & ShaftInput.ENGINE_RUN
        return ShaftMode.GENERATE if runs else ShaftMode.HARVEST

    def report(self, stop: int) -> RuleReport | None:
        """The verdicts up to tick `stop`; None where the recording held no command."""
        if not self._pace:
            return None
        self._fall_silent(stop - 1)
        self._feeder.upto(stop - 1)
        how = "modes as recorded" if self.modes_recorded else "modes inferred from torque and rotation"
        verdicts = within_grain(self._feeder.evaluator.finish(), self._grain)
        unknown = _by_inputs(self._judges, self._boat, self._subject, verdicts, keep_violated=False)
        kept = [one for one in verdicts if one.id not in unknown]
        return RuleReport(f"the recorded controller ({how})", self._feeder.records, kept, self._unjudged | unknown)
