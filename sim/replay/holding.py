"""What held the boat back over a recording: which conditions were missing for a mode that was asked for, and which
limit bound the bank, each with its time in all."""

from collections.abc import Iterable, Sequence
from operator import attrgetter, itemgetter
from typing import NamedTuple

from sim.replay.bounds import charge_bounds, derate_bounds
from sim.replay.replayed import Change, Heard, ReplayedSupervisor
from sim.replay.told import told_in
from supervisor.controller import explain_boat, explain_shaft, freeze
from supervisor.modes import BoatMode, ShaftCondition, ShaftMode
from supervisor.signals import BOAT, BoatCommand, BoatInputs

KEPT = 200
"""Different answers kept; a sound recording has some dozens."""

_ORDERS = (
    (ShaftMode.PROPEL, ShaftCondition.THRUST_ORDER),
    (ShaftMode.GENERATE, ShaftCondition.UNDER_WAY_ORDER | ShaftCondition.AT_REST_ORDER),
    (ShaftMode.HARVEST, ShaftCondition.HARVEST_ORDER),
)
"""Modes of a shaft that are asked for, and by what."""
_modes_of = attrgetter("boat_mode", "shaft_modes", "boat_word", "shaft_words")
_readings_of = itemgetter(
    *(BoatInputs._fields.index(name) for name in (
        "known", "on", "own", "soc_pct", "cell_max_v", "cell_min_v", "cell_hot_c", "cell_cold_c", "charge_limit_a",
    ))
)  # fmt: skip
"""What the answers depend on: most changes are of none of it."""
_BLINKING_S = 0.1
"""An answer that stood for less than this in all is left out: the ticks in which one thing follows another."""


class Held(NamedTuple):
    """Of what; what was held back; why; for how long in all (s), since when first (s); for a limit its least and most
    value meanwhile, else None."""

    subject: str
    what: str
    why: str
    time_s: float
    first_s: float
    least: float | None
    most: float | None
    unit: str


class _Entry:
    __slots__ = ("first_s", "least", "most", "time_s", "unit")

    def __init__(self, first_s: float, unit: str) -> None:
        self.first_s = first_s
        self.unit = unit
        self.time_s = 0.0
        self.least: float | None = None
        self.most: float | None = None


_Key = tuple[str, str, str]


class Holding:
    """Observes one subject."""

    def __init__(self, subject: ReplayedSupervisor, which: int) -> None:
        self._which = which
        self._config = subject.config
        self._lim = freeze(subject.config).limits
        self._names = subject.boat_map.shaft_names
        self._mapped = {int(row.spec.bit) for row in subject.boat_map.inputs if row.level == BOAT}
        self._entries: dict[_Key, _Entry] = {}
        self._standing: list[_Entry] = []
        self._since_s = 0.0
        self._modes: tuple[object, ...] = ()
        self._mode_keys: list[_Key] = []
        self._readings: tuple[object, ...] = ()
        self._command: BoatCommand | None = None
        self._limit_keys: list[tuple[_Key, float, str]] = []

    def span(self, first: int, stop: int, changes: Sequence[Sequence[Change]], commands: Sequence[Heard]) -> None:
        """Take note of what stands in the way from each change on."""
        for change in changes[self._which]:
            modes, readings = _modes_of(change.outcome), _readings_of(change.boat)
            command = change.outcome.boat_command
            same_modes = modes == self._modes
            if same_modes and readings == self._readings and command == self._command:
                continue
            if not same_modes:
                self._modes = modes
                self._mode_keys = list(self._missing(change))
            self._readings, self._command = readings, command
            self._limit_keys = list(self._limits(change))
            self._stand(change.time_s)

    def _stand(self, now_s: float) -> None:
        self._settle(now_s)
        self._standing = [entry for key in self._mode_keys if (entry := self._entry(key, now_s, "")) is not None]
        for key, value, unit in self._limit_keys:
            entry = self._entry(key, now_s, unit)
            if entry is not None:
                entry.least = value if entry.least is None else min(entry.least, value)
                entry.most = value if entry.most is None else max(entry.most, value)
                self._standing.append(entry)

    def _settle(self, now_s: float) -> None:
        for entry in self._standing:
            entry.time_s += now_s - self._since_s
        self._since_s = now_s

    def _entry(self, key: _Key, now_s: float, unit: str) -> _Entry | None:
        entry = self._entries.get(key)
        if entry is None and len(self._entries) < KEPT:
            entry = self._entries[key] = _Entry(now_s, unit)
        return entry

    def _missing(self, change: Change) -> Iterable[_Key]:
        """What is missing for READY; and for a mode that a shaft at rest is asked for."""
        outcome = change.outcome
        if self._config.boat.listen_only:
            return  # it has no buttons to press, and nobody waits for it to be READY
        if outcome.boat_mode != BoatMode.READY:
            told = told_in(self._config, change)
            ways = explain_boat(outcome.boat_mode, outcome.boat_word, BoatMode.READY, told)
            if ways and ways[0].words:
                yield "boat", f"{outcome.boat_mode.name}, not READY", "; ".join(ways[0].words)
            return
        shafts = zip(self._names, outcome.shaft_modes, outcome.shaft_words, strict=True)
        for index, (name, mode, word) in enumerate(shafts):
            if mode not in (ShaftMode.REST, ShaftMode.ISOLATED):
                continue
            told = told_in(self._config, change, index)
            for goal, order in _ORDERS:
                ways = explain_shaft(mode, word, goal, told) if word & int(order) else []
                if ways and ways[0].words:
                    yield name, f"{mode.name}, not {goal.name}", "; ".join(ways[0].words)

    def _limits(self, change: Change) -> Iterable[tuple[_Key, float, str]]:
        """What binds the charge limit, and the propulsion derate."""
        lim, bank, command = self._lim, change.boat, change.outcome.boat_command
        if command.charge_limit_a < lim.full_charge_a:
            for why in charge_bounds(lim, bank, command.charge_limit_a, self._mapped):
                yield ("boat", f"charging below {lim.full_charge_a:g} A", why), command.charge_limit_a, "A"
        if self._names and command.derate_pct < 100.0:
            for why in derate_bounds(lim, bank, command):
                yield ("boat", "electric thrust below 100 %", why), command.derate_pct, "%"

    def found(self, end_s: float) -> list[Held]:
        """All answers up to `end_s`, the longest first within each subject; brief ones left out."""
        self._settle(end_s)
        rows = [
            Held(*key, entry.time_s, entry.first_s, entry.least, entry.most, entry.unit)
            for key, entry in self._entries.items()
            if entry.time_s >= _BLINKING_S
        ]
        order = ("boat", *self._names)
        return sorted(rows, key=lambda row: (order.index(row.subject), -row.time_s, row.first_s))
