"""The signals of a replay as one flat row: what was read and what was decided. The unit is the end of each name."""

import math

from sim.replay.replayed import Change
from supervisor.bus import BoatMap
from supervisor.bus.register import OWN
from supervisor.signals import BOAT, BOAT_INPUTS, SHAFT_INPUTS, BoatInputs, InputSpec, ShaftInputs

Value = float | str
_PLAIN = {
    "engine.engine_speed_rpm": "engine_rpm", "drive.machine_speed_rpm": "speed_rpm",
    "shaft.propeller_speed_rpm": "propeller_rpm", "drive.torque_nm": "torque_nm", "drive.current_a": "current_a",
    "lever.lever_pct": "lever_pct",
}  # fmt: skip
"""Inputs of a shaft that have a shorter name in tables and plots, the same as on the bench."""


class Signals:
    """Names and rows. `names` begins with the decisions; inputs that are not mapped are left out."""

    def __init__(self, boat_map: BoatMap) -> None:
        self.shafts = boat_map.shaft_names
        mapped = {(row.level, int(row.spec.bit)) for row in boat_map.inputs}
        names = ["boat.mode", "boat.alarms", "boat.charge_limit_a", "boat.derate_pct", "boat.stop_sources"]
        for shaft in self.shafts:
            names += [f"{shaft}.mode", f"{shaft}.order_nm", f"{shaft}.aim_a", f"{shaft}.permits"]
        self._boat = _plan(BOAT_INPUTS, BoatInputs._fields, BOAT, mapped)
        self._shafts = [_plan(SHAFT_INPUTS, ShaftInputs._fields, level, mapped) for level in range(len(self.shafts))]
        names += [name for name, _, _ in self._boat]
        for shaft, plan in zip(self.shafts, self._shafts, strict=True):
            names += [f"{shaft}.{_PLAIN.get(name, name)}" for name, _, _ in plan]
        self._own = [
            (row.spec.name, int(row.spec.bit), row.spec.is_contact) for row in boat_map.inputs if row.level == OWN
        ]
        names += [name for name, _, _ in self._own]
        self.names = tuple(names)
        self.texts = frozenset(name for name in names if name.endswith(".mode"))

    def row(self, change: Change) -> tuple[Value, ...]:
        """Values in the order of `names`; NaN where an input is not known, contacts 0.0 or 1.0."""
        outcome = change.outcome
        command = outcome.boat_command
        row: list[Value] = [
            outcome.boat_mode.name, float(command.alarms), command.charge_limit_a, command.derate_pct,
            float(command.stop_sources),
        ]  # fmt: skip
        for mode, shaft in zip(outcome.shaft_modes, outcome.shaft_commands, strict=True):
            row += [mode.name, shaft.torque_nm, shaft.current_a, float(shaft.permits)]
        _values(row, change.boat, self._boat)
        for inputs, plan in zip(change.shafts, self._shafts, strict=True):
            _values(row, inputs, plan)
        own = change.boat.own
        for _, bit, contact in self._own:
            value = float(own.on & bit != 0) if contact else own.values[bit.bit_length() - 1]
            row.append(value if own.known & bit else math.nan)
        return tuple(row)


def _plan(
    specs: tuple[InputSpec, ...], fields: tuple[str, ...], level: int, mapped: set[tuple[int, int]]
) -> list[tuple[str, int, int]]:
    """(name, bit, place among the fields or -1 for a contact) of every mapped input."""
    return [
        (spec.name, int(spec.bit), -1 if spec.is_contact else fields.index(spec.field))
        for spec in specs
        if (level, int(spec.bit)) in mapped
    ]


def _values(row: list[Value], inputs: BoatInputs | ShaftInputs, plan: list[tuple[str, int, int]]) -> None:
    known, on = inputs.known, inputs.on
    for _, bit, place in plan:
        if not known & bit:
            row.append(math.nan)
        elif place < 0:
            row.append(1.0 if on & bit else 0.0)
        else:
            value = inputs[place]
            row.append(float(value) if isinstance(value, float | int) else math.nan)
