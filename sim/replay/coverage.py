"""What the supervisor would have read: how long each input was known, its least, most and last value."""

import math
from collections.abc import Callable, Sequence
from operator import attrgetter
from typing import Any, NamedTuple

from supervisor.bus import BoatMap
from supervisor.bus.register import OWN
from supervisor.signals import BOAT, BOAT_INPUTS, SHAFT_INPUTS, BoatInputs, InputSpec, OwnInputs, ShaftInputs

Inputs = BoatInputs | ShaftInputs | OwnInputs


class Reading(NamedTuple):
    """One input over the whole recording. `known_pct` is the share of ticks at which it was known; `least`, `most` and
    `last` are None for one that never was. Contacts read 0 or 1; `on_pct` is the share of its known ticks it was on."""

    name: str
    text: str
    unit: str
    mapped: bool
    known_pct: float
    least: float | None
    most: float | None
    last: float | None
    on_pct: float | None
    why: str
    """Why it was unknown at the end, "" if it was known."""
    doubt: str = ""
    """Why its readings may be none, "" if nothing speaks against them."""


ALL_ONES = "every bit of this signed field is set, all along: the sender may mean that it does not know"


def _field(spec: InputSpec) -> Callable[[Any], float]:
    """Where a number of the boat or of a shaft is among its inputs."""
    return attrgetter(spec.field)


def _channel(spec: InputSpec) -> Callable[[Any], float]:
    """Where the number of an own interlock is."""
    channel = spec.bit.bit_length() - 1
    return lambda own: float(own.values[channel])


class _Watch:
    """One level: ticks known and on for each bit, extremes of each number; `where` finds a number among the inputs."""

    def __init__(self, specs: Sequence[InputSpec], where: Callable[[InputSpec], Callable[[Any], float]]) -> None:
        self.specs = specs
        self.known_ticks = dict.fromkeys((int(spec.bit) for spec in specs), 0)
        self.on_ticks = dict.fromkeys(self.known_ticks, 0)
        numbers = [spec for spec in specs if not spec.is_contact]
        self.places = {spec.name: place for place, spec in enumerate(numbers)}
        self.least = [math.inf] * len(numbers)
        self.most = [-math.inf] * len(numbers)
        self.last: list[float | None] = [None] * len(numbers)
        self.numbers = [(int(spec.bit), self.places[spec.name], where(spec)) for spec in numbers]
        self.inputs: Inputs | None = None
        self.ticks = 0

    def take(self, inputs: Inputs) -> None:
        """Inputs that differ from those before."""
        known = inputs.known
        before = self.inputs
        if before is None or before.known != known or before.on != inputs.on:
            self._settle()
        self.inputs = inputs
        for bit, place, read in self.numbers:
            if known & bit:
                value = read(inputs)
                if value < self.least[place]:
                    self.least[place] = value
                if value > self.most[place]:
                    self.most[place] = value
                self.last[place] = value

    def _settle(self) -> None:
        """Credit the ticks since the last change."""
        inputs, ticks = self.inputs, self.ticks
        self.ticks = 0
        if inputs is None or not ticks:
            return
        known, on = inputs.known, inputs.on
        counts = self.known_ticks
        while known:
            bit = known & -known
            known ^= bit
            if bit in counts:
                counts[bit] += ticks
        while on:
            bit = on & -on
            on ^= bit
            if bit in self.on_ticks:
                self.on_ticks[bit] += ticks

    def finish(self) -> None:
        self._settle()


class Coverage:
    """Watches the inputs of every tick."""

    def __init__(self, boat_map: BoatMap) -> None:
        self._map = boat_map
        self._boat = _Watch(BOAT_INPUTS, _field)
        self._shafts = [_Watch(SHAFT_INPUTS, _field) for _ in boat_map.shaft_names]
        self._own = _Watch([row.spec for row in boat_map.inputs if row.level == OWN], _channel)
        self.ticks = 0
        self._all_ones = {
            (row.level, int(row.spec.bit)): row.signal.all_ones * row.factor + row.offset
            for row in boat_map.inputs
            if row.signal.all_ones is not None
        }

    def take(self, boat: BoatInputs, shafts: tuple[ShaftInputs, ...]) -> None:
        """The inputs of one tick."""
        watch = self._boat
        if boat is not watch.inputs:
            watch.take(boat)
            if boat.own != self._own.inputs:
                self._own.take(boat.own)
        watch.ticks += 1
        self._own.ticks += 1
        if shafts:
            for watch, shaft in zip(self._shafts, shafts, strict=True):
                if shaft != watch.inputs:
                    watch.take(shaft)
                watch.ticks += 1
        self.ticks += 1

    def more(self, ticks: int) -> None:
        """The same inputs for `ticks` more ticks."""
        self._boat.ticks += ticks
        self._own.ticks += ticks
        for watch in self._shafts:
            watch.ticks += ticks
        self.ticks += ticks

    def ever_known(self) -> tuple[int, list[int], set[str]]:
        """Bits of the inputs that were known at some tick, of the boat and of each shaft, and of the parts that the
        boat file declares not fitted; the own interlocks whose signal was, by the names of their inputs."""
        found = []
        for level, watch in enumerate((self._boat, *self._shafts), start=BOAT):
            watch.finish()
            known = sum(bit for bit, ticks in watch.known_ticks.items() if ticks)
            absent = sum(int(spec.bit) for at, spec in self._map.absent if at == level)
            found.append(known | absent)
        own = self._own
        own.finish()
        return found[0], found[1:], {spec.name for spec in own.specs if own.known_ticks[int(spec.bit)]}

    def readings(self, why: dict[tuple[int, int], str]) -> list[Reading]:
        """All inputs that are mapped, then those that are not. `why` says why an input was unknown at the end, by
        (level, bit)."""
        mapped = {(row.level, int(row.spec.bit)) for row in self._map.inputs}
        found = []
        for level, watch in enumerate((self._own, self._boat, *self._shafts), start=OWN):
            watch.finish()
            name = "" if level <= BOAT else f"{self._map.shaft_names[level]}."
            for spec in watch.specs:
                if spec.name.startswith("runtime."):
                    continue
                key = (level, int(spec.bit))
                found.append(self._reading(watch, spec, name, level, key in mapped, why.get(key, "")))
        return sorted(found, key=lambda reading: not reading.mapped)

    def _reading(self, watch: _Watch, spec: InputSpec, prefix: str, level: int, mapped: bool, why: str) -> Reading:
        bit = int(spec.bit)
        known = watch.known_ticks[bit]
        least: float | None = None
        most: float | None = None
        last: float | None = None
        on_pct: float | None = None
        if spec.is_contact:
            if known:
                on = watch.on_ticks[bit]
                on_pct = 100.0 * on / known
                least, most = float(on == known), float(on > 0)
                if watch.inputs is not None and watch.inputs.known & bit:
                    last = float(watch.inputs.on & bit != 0)
        else:
            place = watch.places[spec.name]
            if watch.last[place] is not None:
                least, most, last = watch.least[place], watch.most[place], watch.last[place]
        share = 100.0 * known / self.ticks if self.ticks else 0.0
        doubt = ALL_ONES if least is not None and least == most == self._all_ones.get((level, bit)) else ""
        name = f"{prefix}{spec.name}"
        return Reading(name, spec.text, spec.unit, mapped, share, least, most, last, on_pct, why, doubt)
