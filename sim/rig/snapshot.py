"""A flat snapshot of a rig: the truth of the simulated boat, what the supervisor saw, and what it decided."""

import math
from collections.abc import Callable, Mapping, Sequence
from operator import attrgetter
from typing import Any, NamedTuple

from sim.nodes.own import OwnKind
from sim.nodes.panel import Panel
from sim.plant import PlantState
from sim.plant.packs import connected
from supervisor.bus import InputTable
from supervisor.controller import Controller, Outcome
from supervisor.modes import BoatMode
from supervisor.signals import (
    BOAT_INPUTS,
    SHAFT_INPUTS,
    BoatCommand,
    InputSpec,
    ShaftCommand,
    ShaftPermit,
    alarm_texts,
)

Shown = float | str

NOT_SAID = "not said"
"""Of an own interlock under a supervisor that does not say whether it holds it for bad."""

_GEAR = {1: "ahead", 0: "neutral", -1: "astern"}
_CLUTCH = {1: "closed", 0: "open", -1: "in transit"}
_LOCK = {1: "engaged", 0: "released", -1: "in transit"}
_PERMITS = tuple((str(bit.name).lower(), int(bit)) for bit in ShaftPermit)
_SHAFT_KEYS = (
    "mode", "torque_nm", "order_nm", "current_a", "aim_a", "power_w", "speed_rpm", "propeller_rpm", "engine_rpm",
    "engine_running", "engine_stalled", "gear", "clutch", "lock", "rearmed", "link_v", "link_peak_v", "motor_c",
    "inverter_c", "coolant_c", "coupling_nm", "engine_nm", "fuel_l", "fuel_l_h", "drive_loss_w", "propeller_nm",
    "thrust_n", "inrush_a", "starter_v", "starter_soc_pct", "alternator_a", "permits",
)  # fmt: skip


class Decided(NamedTuple):
    """What a supervisor decided, whether it is in this process or only heard of on the bus. `rearmed` is 1.0 or 0.0 for
    each shaft; numbers that are not known are NaN. `own_bad` has bit k set while own interlock k is bad; None where a
    supervisor does not say so."""

    boat_mode: str
    shaft_modes: Sequence[str]
    boat: BoatCommand
    shafts: Sequence[ShaftCommand]
    rearmed: Sequence[float]
    own_bad: int | None = None


def decided(controller: Controller, outcome: Outcome | None) -> Decided:
    """What the controller decided in its last tick, or before the first one."""
    names = controller.shaft_names
    rearmed = [float(controller.rearmed(index)) for index in range(len(names))]
    bad = controller.memory.boat.own.bad
    if outcome is None:
        return Decided(
            BoatMode.STANDBY.name, ["REST"] * len(names), BoatCommand(), [ShaftCommand()] * len(names), rearmed, bad
        )
    modes = [mode.name for mode in outcome.shaft_modes]
    return Decided(outcome.boat_mode.name, modes, outcome.boat_command, outcome.shaft_commands, rearmed, bad)


class Snapshot:
    """Makes the flat view. Texts of alarm and permit words are kept, for they seldom change."""

    def __init__(self, shaft_names: Sequence[str], interlocks: Mapping[str, OwnKind] | None = None) -> None:
        self._names = tuple(shaft_names)
        self._own = [(f"interlock.{name}", kind.number) for name, kind in (interlocks or {}).items()]
        self._words = alarm_texts(self._names)
        self._alarm_texts: dict[int, str] = {}
        self._permits: dict[int, tuple[Shown, ...]] = {}
        self._boat_seen = _seen_rows(BOAT_INPUTS, "")
        self._shafts = [_ShaftKeys(name) for name in self._names]

    def take(self, plant: PlantState, panel: Panel, says: Decided, table: InputTable, now_s: float) -> dict[str, Shown]:
        """All signals. Keys never change; what is not known is NaN."""
        bank, bus = plant.bank, plant.bus
        boat_in, shafts_in = table.snapshot(now_s)
        command = says.boat
        found: dict[str, Shown] = {
            "boat.mode": says.boat_mode,
            "boat.alarms": self._alarm_text(command.alarms),
            "boat.charge_limit_a": command.charge_limit_a,
            "boat.derate_pct": command.derate_pct,
            "boat.stop_sources": float(command.stop_sources),
            "boat.sounder": float(command.sounder),
            "boat.handset_in_control": float(command.handset_in_control),
            "boat.speed_kn": plant.boat_speed_kn,
            "boat.distance_m": plant.distance_m,
            "bank.soc_pct": bank.soc_pct,
            "bank.current_a": bank.current_a,
            "bank.voltage_v": bank.terminal_v,
            "bank.cell_max_v": bank.cell_max_v,
            "bank.cell_min_v": bank.cell_min_v,
            "bank.hot_c": bank.core_c,
            "bank.cold_c": bank.edge_c,
            "bank.contactor": float(bank.contactor_closed),
            "bank.link_peak_v": max(bus.peak_v, *(shaft.drive.link_peak_v for shaft in plant.shafts)),
            "bank.charge_permit": float(plant.monitor.charge_permit),
            "bank.discharge_permit": float(plant.monitor.discharge_permit),
            "bank.charged_ah": bank.charged_ah,
            "bank.discharged_ah": bank.discharged_ah,
            "bank.connected_pct": 100.0 * connected(plant.packs),
            "bank.equalising_a": plant.packs.current_a,
            "bank.inrush_a": bus.inrush_a,
            "bus.voltage_v": bus.bus_v,
            "hotel.current_a": bus.hotel_current_a,
            "sun.current_a": bus.solar_current_a,
            "shore.current_a": bus.shore_current_a,
            "sun.irradiance_w_m2": panel.irradiance_w_m2,
            "sail.force_n": panel.sail_force_n,
        }
        known = boat_in.known
        for key, bit, read in self._boat_seen:
            found[key] = read(boat_in) if known & bit else math.nan
        own = boat_in.own
        for channel, (key, number) in enumerate(self._own):
            bit = 1 << channel
            found[key] = NOT_SAID if says.own_bad is None else "bad" if says.own_bad & bit else "good"
            value = own.values[channel] if number else float(own.on & bit != 0)
            found[f"{key}.seen"] = value if own.known & bit else math.nan
        for index, keys in enumerate(self._shafts):
            seen = shafts_in[index]
            known = seen.known
            found.update(zip(keys.own, self._shaft(index, plant, says), strict=True))
            for key, bit, read in keys.seen:
                found[key] = read(seen) if known & bit else math.nan
        return found

    def _shaft(self, index: int, plant: PlantState, says: Decided) -> tuple[Shown, ...]:
        """The values of _SHAFT_KEYS, in that order, and one for each permit."""
        engine, gearbox, drive, line = plant.shafts[index]
        order_nm, aim_a, permits = says.shafts[index]
        return (
            says.shaft_modes[index],
            drive.torque_nm,
            order_nm,
            drive.current_a,
            aim_a,
            drive.power_w,
            line.drive_rpm,
            line.propeller_rpm,
            engine.speed_rpm,
            float(engine.running),
            float(engine.stalled),
            "in transit" if gearbox.in_transit else _GEAR[gearbox.engaged],
            _CLUTCH[line.clutch_position],
            _LOCK[line.lock_position],
            says.rearmed[index],
            drive.link_v,
            drive.link_peak_v,
            drive.motor_c,
            drive.inverter_c,
            drive.coolant_c,
            line.coupling_torque_nm,
            engine.torque_nm,
            engine.fuel_l,
            engine.fuel_l_h,
            drive.loss_w,
            line.propeller_torque_nm,
            line.propeller_thrust_n,
            drive.inrush_a,
            engine.starter.battery_v,
            engine.starter.soc_pct,
            engine.starter.alternator_a,
            *self._permit_values(permits),
        )

    def _alarm_text(self, alarms: int) -> str:
        text = self._alarm_texts.get(alarms)
        if text is None:
            text = "; ".join(words for bit, words in self._words.items() if alarms & bit)
            self._alarm_texts[alarms] = text
        return text

    def _permit_values(self, permits: int) -> tuple[Shown, ...]:
        values = self._permits.get(permits)
        if values is None:
            text = ", ".join(name.replace("_", " ") for name, bit in _PERMITS if permits & bit)
            values = self._permits[permits] = (text, *(1.0 if permits & bit else 0.0 for _, bit in _PERMITS))
        return values


class _ShaftKeys:
    """The keys of one shaft, made once: `own` in the order of `Snapshot._shaft`, `seen` with bit and place."""

    def __init__(self, name: str) -> None:
        self.own = tuple(f"{name}.{key}" for key in (*_SHAFT_KEYS, *(key for key, _ in _PERMITS)))
        self.seen = _seen_rows(SHAFT_INPUTS, f"{name}.")


def _seen_rows(specs: Sequence[InputSpec], prefix: str) -> list[tuple[str, int, Callable[[Any], float]]]:
    """(key, bit in `known`, how it is read from the inputs) of each number."""
    return [(prefix + seen_key(spec.name), int(spec.bit), attrgetter(spec.field)) for spec in specs if spec.field]


def seen_key(name: str) -> str:
    """`bank.soc_pct` -> `bank.seen_soc_pct`; a shaft's `drive.torque_nm` -> `seen_torque_nm`."""
    part, _, rest = name.partition(".")
    if part == "bank" or name == "handset.minutes":
        return f"{part}.seen_{rest}"
    return f"seen_handset_{rest}" if part == "handset" else f"seen_{rest}"
