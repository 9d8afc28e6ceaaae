"""The short way from the boat to the controller and back, without frames."""

import math
from typing import NamedTuple

from sim.nodes import Field, Nodes, Panel
from sim.nodes.hear import Hearing
from sim.nodes.readers import BOAT_READERS, SHAFT_READERS
from sim.plant import PlantState
from supervisor.bus import BOAT, BoatMap, InputTable
from supervisor.controller import Outcome
from supervisor.signals import BoatInput, BoatInputs, ShaftInputs, ShaftPermit

_OWN = int(BoatInput.RECEIVE_OK) | int(BoatInput.DEADLINE_OK)
_PERMIT_OF = {
    "drive.enable": int(ShaftPermit.DRIVE_ENABLE),
    "drive.enable_output": int(ShaftPermit.DRIVE_ENABLE),
    "drive.precharge": int(ShaftPermit.PRECHARGE),
    "engine.start": int(ShaftPermit.ENGINE_START),
    "clutch.close": int(ShaftPermit.CLUTCH_CLOSE),
    "lock.engage": int(ShaftPermit.LOCK_ENGAGE),
}


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
        return 1.0 if command.permits & _PERMIT_OF[name] else 0.0


class _Cell(NamedTuple):
    """One input: its bit, its place among the inputs (-1 for a contact), where its value comes from, its bounds."""

    bit: int
    place: int
    field: Field
    low: float
    high: float
    paired: int
    stale_s: float
    node: str


class DirectTable(InputTable):
    """Everything measured, from the boat itself. `read` makes the inputs of a tick, `snapshot` gives them again."""

    def __init__(self, boat_map: BoatMap, nodes: Nodes) -> None:
        super().__init__(boat_map)
        self._now: tuple[BoatInputs, tuple[ShaftInputs, ...]] = (
            BoatInputs(),
            (ShaftInputs(),) * len(boat_map.shaft_names),
        )
        self._silent_s: dict[str, float] = {}
        self._fixed: dict[int, tuple[int, int, dict[int, float]]] = {}
        for level in range(BOAT, len(boat_map.shaft_names)):
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
        self._cells: dict[int, list[_Cell]] = {level: [] for level in self._fixed}
        there = {field.key: (field, node.name) for node in nodes.all.values() for field in node.fields()}
        for row in boat_map.inputs:
            name = row.spec.name
            key = name if row.level == BOAT else f"{boat_map.shaft_names[row.level]}.{name}"
            readers = BOAT_READERS if row.level == BOAT else SHAFT_READERS
            field, node_name = there.get(key) or (Field(key, row.signal, readers[name], max(row.level, 0), row), "")
            self._cells[row.level].append(
                _Cell(int(row.spec.bit), self._index.get(name, -1), field, row.low, row.high, row.paired, row.stale_s,
                      node_name)
            )  # fmt: skip

    def silence(self, node: str, now_s: float) -> None:
        """A node falls silent."""
        self._silent_s[node] = now_s

    def speak(self, node: str) -> None:
        """A silent node is heard again."""
        self._silent_s.pop(node, None)

    def read(self, plant: PlantState, panel: Panel, now_s: float) -> tuple[BoatInputs, tuple[ShaftInputs, ...]]:
        """The inputs of this tick."""
        boat_was, shafts_was = self._now
        known, on, numbers = self._measure(BOAT, boat_was, plant, panel, now_s)
        boat = BoatInputs(known, on, *numbers)
        shafts = []
        for level, was in enumerate(shafts_was):
            known, on, numbers = self._measure(level, was, plant, panel, now_s)
            shafts.append(ShaftInputs(known, on, *numbers))
        self._now = boat, tuple(shafts)
        return self._now

    def snapshot(self, now_s: float) -> tuple[BoatInputs, tuple[ShaftInputs, ...]]:
        return self._now

    def _measure(
        self, level: int, was: BoatInputs | ShaftInputs, plant: PlantState, panel: Panel, now_s: float
    ) -> tuple[int, int, list[float]]:
        known, on, fixed = self._fixed[level]
        values = [0.0] * (len(was) - 2)
        for index, number in fixed.items():
            values[index] = number
        silent = self._silent_s
        for bit, index, field, low, high, paired, stale_s, node in self._cells[level]:
            if silent and node in silent:
                if now_s - silent[node] <= stale_s and was.known & bit:
                    known |= bit
                    on |= was.on & bit
                    if index >= 0:
                        values[index] = was[index + 2]
                continue
            if field.forced_code is not None:
                continue
            value = field.read(plant, panel, field.shaft)
            if field.distort is not None:
                value = field.distort(value, now_s)
            if value is None or math.isnan(value):
                continue
            if index < 0:
                known |= bit
                if value == paired if paired >= 0 else value:
                    on |= bit
            elif low <= value <= high:
                known |= bit
                values[index] = float(value)
        return known, on, values
