"""The short way from the boat to the controller and back, without frames."""

import math
from collections.abc import Sequence
from typing import NamedTuple

from sim.nodes import Field, Nodes, Panel
from sim.nodes.build import input_key
from sim.nodes.hear import Hearing
from sim.nodes.own import reading
from sim.nodes.readers import BOAT_READERS, SHAFT_READERS
from sim.plant import PlantState
from supervisor.bus import OWN, PERMIT_OUTPUTS, BoatMap, InputRow, InputTable
from supervisor.config.limits import OWN_DECIMALS
from supervisor.controller import Outcome
from supervisor.signals import BOAT, OWN_CHANNELS, BoatInput, BoatInputs, OwnInputs, ShaftInputs

_OWN = int(BoatInput.RECEIVE_OK) | int(BoatInput.DEADLINE_OK)


class DirectHearing(Hearing):
    """Hears the controller's last outcome itself: never silent once there is one."""

    def __init__(self) -> None:
        super().__init__(())
        self.outcome: Outcome | None = None

    def wired(self, level: int, name: str) -> bool:
        return True

    def age_s(self, level: int, name: str, now_s: float) -> float:
        return math.inf if self.outcome is None else 0.0

    def silent(self, level: int, name: str, now_s: float) -> bool:
        return self.outcome is None

    def value(self, level: int, name: str, now_s: float, unwired: float = 0.0) -> float:
        if self.outcome is None:
            return 0.0
        if level == BOAT:
            return float(self.outcome.boat_command.stop_sources)
        command = self.outcome.shaft_commands[level]
        if name == "drive.torque_nm":
            return command.torque_nm
        return 1.0 if command.permits & PERMIT_OUTPUTS[name] else 0.0


class Cell(NamedTuple):
    """One input: its bit, its place among the inputs (-1 for a contact), where its value comes from, its bounds."""

    bit: int
    place: int
    field: Field
    low: float
    high: float
    paired: int
    stale_s: float
    node: str
    message: str
    shared: InputRow | None
    """Set for an own interlock on a signal that another input feeds from: it reads that one's code in its own way."""


class _Was(NamedTuple):
    """What a level read one tick before: known, on, and its numbers by place."""

    known: int
    on: int
    numbers: tuple[float, ...]


class DirectTable(InputTable):
    """Everything measured, from the boat itself. `read` makes the inputs of a tick, `snapshot` gives them again."""

    def __init__(self, boat_map: BoatMap, nodes: Nodes) -> None:
        super().__init__(boat_map)
        self._now: tuple[BoatInputs, tuple[ShaftInputs, ...]] = (
            BoatInputs(),
            (ShaftInputs(),) * len(boat_map.shaft_names),
        )
        self._was: dict[int, _Was] = {}
        self._silent_s: dict[str, float] = {}
        self._fixed: dict[int, tuple[int, int, dict[int, float]]] = {}
        sizes = {OWN: OWN_CHANNELS, BOAT: len(BoatInputs._fields) - 3}
        for level in range(OWN, len(boat_map.shaft_names)):
            self._was[level] = _Was(0, 0, (0.0,) * sizes.get(level, len(ShaftInputs._fields) - 2))
            known = on = _OWN if level == BOAT else 0
            numbers: dict[int, float] = {}
            for place, spec in boat_map.absent:
                if place != level:
                    continue
                known |= int(spec.bit)
                if not spec.is_contact:
                    numbers[self._index[spec.name]] = float(spec.if_not_fitted or 0.0)
                elif spec.if_not_fitted:
                    on |= int(spec.bit)
            self._fixed[level] = known, on, numbers
        self._cells: dict[int, list[Cell]] = {level: [] for level in self._fixed}
        there = {field.key: (field, node.name) for node in nodes.all.values() for field in node.fields()}
        also = {
            name: (field, node.name) for node in nodes.all.values() for field in node.fields() for name in field.also
        }
        for row in boat_map.inputs:
            name = row.spec.name
            key = input_key(boat_map, row.level, name)
            shared = also.get(key) if row.own is not None else None
            field, node_name = shared or there.get(key) or (_field(key, row), "")
            index = self._index.get(name, -1)
            if row.own is not None and not row.spec.is_contact:
                index = row.spec.bit.bit_length() - 1
            self._cells[row.level].append(
                Cell(
                    int(row.spec.bit),
                    index,
                    field,
                    row.low,
                    row.high,
                    row.paired,
                    row.stale_s,
                    node_name,
                    f"{row.bus}/{row.message.name}",
                    None if shared is None else row,
                )
            )

    def cells(self, level: int) -> Sequence[Cell]:
        """The inputs of a level that are measured."""
        return self._cells[level]

    def fixed(self, level: int) -> tuple[int, int, dict[int, float]]:
        """What holds at a level without being measured: bits known, bits on, numbers by place."""
        return self._fixed[level]

    def silence(self, node: str, now_s: float) -> None:
        """A node falls silent."""
        self._silent_s[node] = now_s

    def speak(self, node: str) -> None:
        """A silent node is heard again."""
        self._silent_s.pop(node, None)

    def read(self, plant: PlantState, panel: Panel, now_s: float) -> tuple[BoatInputs, tuple[ShaftInputs, ...]]:
        """The inputs of this tick."""
        own = OwnInputs(*self._measure(OWN, plant, panel, now_s))
        known, on, numbers = self._measure(BOAT, plant, panel, now_s)
        boat = BoatInputs._make((known, on, *numbers, own))
        shafts = []
        for level in range(len(self._now[1])):
            known, on, numbers = self._measure(level, plant, panel, now_s)
            shafts.append(ShaftInputs(known, on, *numbers))
        self._now = boat, tuple(shafts)
        return self._now

    def snapshot(self, now_s: float) -> tuple[BoatInputs, tuple[ShaftInputs, ...]]:
        return self._now

    def _measure(self, level: int, plant: PlantState, panel: Panel, now_s: float) -> _Was:
        was = self._was[level]
        known, on, fixed = self._fixed[level]
        values = [0.0] * len(was.numbers)
        for index, number in fixed.items():
            values[index] = number
        silent = self._silent_s
        for bit, index, field, low, high, paired, stale_s, node, message, shared in self._cells[level]:
            if silent and node in silent:
                if now_s - silent[node] <= stale_s and was.known & bit:
                    known |= bit
                    on |= was.on & bit
                    if index >= 0:
                        values[index] = was.numbers[index]
                continue
            if field.forced_code is not None or message in panel.silent:
                continue
            value = field.read(plant, panel, field.shaft)
            if field.distort is not None:
                value = field.distort(value, now_s)
            if shared is not None:
                value = reading(shared, field.code(value))
            if value is None or math.isnan(value):
                continue
            if index < 0:
                known |= bit
                if value == paired if paired >= 0 else value:
                    on |= bit
            elif low <= value <= high:
                known |= bit
                values[index] = float(value) if level != OWN else round(float(value), OWN_DECIMALS)
        read = self._was[level] = _Was(known, on, tuple(values))
        return read


def _field(key: str, row: InputRow) -> Field:
    """A reader of its own, for an input that no node sends by itself: another one feeds from the same signal."""
    readers = BOAT_READERS if row.level == BOAT else SHAFT_READERS
    return Field(key, row.signal, readers[row.spec.name], max(row.level, 0), row)
