"""A boat file and its simulated boat from the ratings of a boat: a shipped one, with its numbers scaled.

What is asked for is taken as it is said. All else is scaled from the shipped boat in simple proportion, with margins of
our own: a start that holds together, to be replaced number by number by data sheets. Comments and wiring of the shipped
file stay.
"""

import math
import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any, NamedTuple, TypeVar

from sim.bench.toml_text import toml
from sim.plant.building import build_params
from sim.plant.drive import loss
from sim.plant.loading import load_config as load_plant
from sim.plant.schema import PlantConfig
from sim.plant.schema_cable import CableConfig
from sim.plant.schema_shaft import StartingConfig
from supervisor.config import BoatConfig, load_config, shipped_path

BASES = {1: "reed_warbler", 2: "marsh_tern"}
"""The shipped boat that a new one begins from, by its number of shafts."""

Edits = Mapping[tuple[str, str], Any]
"""New values by table header and key; a header that comes more than once is meant each time."""


class Ratings(NamedTuple):
    """What is asked of the user. Torque, power and speed are those of one drive, at the propeller shaft."""

    shafts: int
    capacity_ah: float
    cells: int
    max_charge_a: float
    max_discharge_a: float
    torque_nm: float
    power_kw: float
    generate_kw: float
    speed_rpm: float
    engine_kw: float
    idle_rpm: float
    engine_rpm: float
    ratio: float
    waterline_m: float
    displacement_kg: float


def ratings_of(shafts: int) -> Ratings:
    """Those of the shipped boat with so many shafts."""
    config, plant = _base(shafts)
    bank, shaft = config.bank, config.shaft[0]
    return Ratings(
        shafts, bank.capacity_ah, bank.cells_in_series, bank.max_charge_a, bank.max_discharge_a,
        shaft.drive.rated_torque_nm, shaft.drive.rated_power_kw, shaft.drive.generate_power_kw,
        shaft.drive.max_speed_rpm, shaft.engine.rated_power_kw, shaft.engine.idle_rpm, shaft.engine.max_rpm,
        shaft.gearbox.ratio, plant.hull.waterline_length_m, plant.hull.displacement_kg,
    )  # fmt: skip


def boat_text(name: str, title: str, r: Ratings) -> str:
    """The boat file."""
    config, plant = _base(r.shafts)
    base = shipped_path(f"{config.boat.name}.toml").read_text(encoding="utf-8")
    text = re.sub(r"\A#.*\n(#.*\n)*", f"# {name}: ratings as entered; all else scaled from a demonstration boat.\n"
                  "# Go through it with your data sheets; `thwart check` compares.\n", base)  # fmt: skip
    text = text.replace(f"{config.boat.name}_private", f"{name}_private")
    text = text.replace(f"{config.boat.name}_backbone", f"{name}_backbone")
    return edited(text, _boat_edits(name, title, r, config, plant))


def plant_text(name: str, r: Ratings) -> str:
    """The simulated boat's file."""
    config, plant = _base(r.shafts)
    text = _plant_path(config).read_text(encoding="utf-8")
    text = re.sub(r"\A(#.*\n)+", "", text)
    head = f"# The simulated {name}: scaled from a demonstration boat; docs/plant/parameters.md lists the numbers.\n"
    return head + edited(text, _plant_edits(name, r, config, plant))


def edited(text: str, edits: Edits) -> str:
    """The text with these values; a key that a table does not have is added at its head. Comments stay."""
    lines, header = [], ""
    for line in text.splitlines():
        found = re.match(r"\s*\[+([\w.]+)\]+", line)
        if found is not None:
            header = found[1]
            lines.append(line)
            there = {key for where, key in edits if where == header}
            missing = [key for key in there if not _has(text, header, key)]
            lines += [f"{key} = {_toml(edits[header, key])}" for key in sorted(missing)]
            continue
        key = line.partition("=")[0].strip()
        if (header, key) in edits:
            comment = re.search(r"\s#.*$", line) if isinstance(edits[header, key], int | float) else None
            said = "" if comment is None or re.search(r"\d", comment[0]) else comment[0]
            lines.append(f"{key} = {_toml(edits[header, key])}{said}")
        else:
            lines.append(line)
    return "\n".join(lines) + "\n"


def _has(text: str, header: str, key: str) -> bool:
    body = re.search(rf"^\[+{re.escape(header)}\]+.*?(?=^\[|\Z)", text, re.DOTALL | re.MULTILINE)
    return body is not None and re.search(rf"^{re.escape(key)}\s*=", body[0], re.MULTILINE) is not None


def _toml(value: Any) -> str:
    """Four digits are more than was entered."""
    if isinstance(value, list):
        return "[" + ", ".join(_toml(one) for one in value) + "]"
    return toml(float(f"{value:.4g}") if isinstance(value, float) else value)


def _base(shafts: int) -> tuple[BoatConfig, PlantConfig]:
    config = load_config(BASES[shafts])
    return config, load_plant(_plant_path(config))


def _plant_path(config: BoatConfig) -> Path:
    if config.simulation is None:
        raise ValueError(f"{config.boat.name} has no simulated boat")
    return shipped_path(config.simulation.plant)


def _boat_edits(name: str, title: str, r: Ratings, config: BoatConfig, plant: PlantConfig) -> Edits:
    bank, shaft = config.bank, config.shaft[0]
    of = shaft.drive
    cells = r.cells / bank.cells_in_series
    low_v, high_v = bank.min_voltage_v * cells, bank.max_voltage_v * cells
    torque = r.torque_nm / of.rated_torque_nm
    full_a = 0.8 * r.max_charge_a
    return {
        ("boat", "name"): name,
        ("boat", "title"): title,
        ("bank", "capacity_ah"): r.capacity_ah,
        ("bank", "cells_in_series"): r.cells,
        ("bank", "min_voltage_v"): low_v,
        ("bank", "max_voltage_v"): high_v,
        ("bank", "max_charge_a"): r.max_charge_a,
        ("bank", "max_discharge_a"): r.max_discharge_a,
        ("limits", "full_charge_a"): full_a,
        ("limits", "charge_end_a"): max(1.0, 0.05 * full_a),
        ("limits", "charge_rise_a_per_s"): max(0.5, full_a / r.shafts / 25.0),
        ("simulation", "plant"): "plant.toml",
        ("shaft.drive", "rated_torque_nm"): r.torque_nm,
        ("shaft.drive", "rated_power_kw"): r.power_kw,
        ("shaft.drive", "generate_power_kw"): r.generate_kw,
        ("shaft.drive", "generate_torque_nm"): 0.8 * r.torque_nm,
        ("shaft.drive", "max_speed_rpm"): r.speed_rpm,
        # power through the efficiency at the lowest voltage
        ("shaft.drive", "max_current_a"): 1.05 * r.power_kw * 1000.0 / of.efficiency / low_v,
        # at the highest speed below the lowest bank voltage
        ("shaft.drive", "back_emf_v_per_krpm"): 0.92 * low_v / (r.speed_rpm / 1000.0),
        ("shaft.drive", "torque_slew_nm_per_s"): of.torque_slew_nm_per_s * torque,
        ("shaft.drive", "no_load_loss_w"): 1.2 * _no_load_w(r, config, plant),
        ("shaft.engine", "rated_power_kw"): r.engine_kw,
        ("shaft.engine", "idle_rpm"): r.idle_rpm,
        ("shaft.engine", "max_rpm"): r.engine_rpm,
        ("shaft.engine", "torque_curve"): [list(point) for point in _curve(r, shaft.engine.torque_curve)],
        ("shaft.gearbox", "ratio"): r.ratio,
        ("shaft.rules", "propeller_nm_per_krpm2"): _propeller(r),
        ("shaft.rules", "harvest_nm_per_krpm2"): (
            _propeller(r) * shaft.rules.harvest_nm_per_krpm2 / shaft.rules.propeller_nm_per_krpm2
        ),
    }


def _no_load_w(r: Ratings, config: BoatConfig, plant: PlantConfig) -> float:
    """What the simulated drive loses at its highest speed without torque: as much of its power as the shipped one."""
    rated = config.shaft[0].drive
    lost_w = loss(build_params(plant).shafts[0].drive, 0.0, rated.max_speed_rpm * math.tau / 60.0)
    return lost_w * max(1.0, r.power_kw / rated.rated_power_kw)


def _curve(r: Ratings, base: Any) -> list[tuple[float, float]]:
    """The shape of the shipped engine's curve between this one's idle and highest speed, its rated power there."""
    first, last = base[0][0], base[-1][0]
    top_nm = r.engine_kw * 1000.0 / (r.engine_rpm * math.tau / 60.0)
    return [
        (r.idle_rpm + (rpm - first) / (last - first) * (r.engine_rpm - r.idle_rpm), nm / base[-1][1] * top_nm)
        for rpm, nm in base
    ]


def _propeller(r: Ratings) -> float:
    """A propeller that takes nine tenths of the engine's power at its highest speed, N m for (1000 rpm) squared."""
    shaft_rpm = r.engine_rpm / r.ratio
    return 0.9 * r.engine_kw * 1000.0 / (shaft_rpm * math.tau / 60.0) / (shaft_rpm / 1000.0) ** 2


Table = TypeVar("Table", CableConfig, StartingConfig)


def _given(table: Table | None) -> Table:
    """A table that each demonstration boat gives."""
    if table is None:
        raise ValueError("the demonstration boat's plant file lacks a table that is to be scaled")
    return table


def _cable(table: str, cable: CableConfig, amperes: float) -> Edits:
    """Section and fuse in proportion to the current: the base boat's drop in volts, and the same load of the fuse."""
    return {
        (table, "section_mm2"): cable.section_mm2 * amperes,
        (table, "fuse_a"): cable.fuse_a * amperes,
        (table, "fuse_loss_w"): cable.fuse_loss_w * amperes,
    }


def _plant_edits(name: str, r: Ratings, config: BoatConfig, plant: PlantConfig) -> Edits:
    hull, bank, one, drive = plant.hull, plant.bank, plant.shaft[0], plant.shaft[0].drive
    line, engine, starting = one.line, one.engine, _given(one.engine.starting)
    long, heavy = r.waterline_m / hull.waterline_length_m, r.displacement_kg / hull.displacement_kg
    across = math.sqrt(heavy / long)  # beam and draft take what length does not
    rated = config.shaft[0].drive
    torque, power = r.torque_nm / rated.rated_torque_nm, r.power_kw / rated.rated_power_kw
    speed = r.speed_rpm / rated.max_speed_rpm
    curve = _curve(r, config.shaft[0].engine.torque_curve)
    strong = max(nm for _, nm in curve) / max(engine.torque_nm)
    ampere_hours = r.capacity_ah / bank.capacity_ah
    turning = torque * power
    most_nm = max(nm for _, nm in curve) * r.ratio
    cells = r.cells / bank.cells_in_series
    base = config.shaft[0].rules.propeller_nm_per_krpm2
    amperes = power / cells
    return {
        ("", "name"): name,
        ("", "description"): f"{r.waterline_m:g} m on the waterline, {r.displacement_kg / 1000.0:g} t, scaled",
        ("hull", "displacement_kg"): r.displacement_kg,
        ("hull", "waterline_length_m"): r.waterline_m,
        ("hull", "waterline_beam_m"): hull.waterline_beam_m * across,
        ("hull", "canoe_body_draft_m"): hull.canoe_body_draft_m * across,
        ("hull", "canoe_body_volume_m3"): hull.canoe_body_volume_m3 * heavy,
        ("hull", "waterplane_area_m2"): hull.waterplane_area_m2 * long * across,
        ("hull", "appendage_area_m2"): hull.appendage_area_m2 * long * across,
        ("bank", "cells_in_series"): r.cells,
        ("bank", "capacity_ah"): r.capacity_ah,
        ("bank", "mass_kg"): bank.mass_kg * ampere_hours * cells,
        ("monitor", "charge_limit_a"): r.max_charge_a,
        ("monitor", "discharge_limit_a"): r.max_discharge_a,
        ("supply", "hotel_drops_out_v"): plant.supply.hotel_drops_out_v * cells,
        ("shaft.engine", "idle_rpm"): r.idle_rpm,
        ("shaft.engine", "rated_rpm"): r.engine_rpm,
        ("shaft.engine", "torque_rpm"): [0.0, 0.5 * r.idle_rpm, *(rpm for rpm, _ in curve), 1.07 * r.engine_rpm],
        ("shaft.engine", "torque_nm"): [0.0, 0.6 * curve[0][1], *(nm for _, nm in curve), 0.92 * curve[-1][1]],
        ("shaft.engine", "inertia_kgm2"): engine.inertia_kgm2 * strong,
        ("shaft.engine", "friction_nm"): engine.friction_nm * strong,
        ("shaft.engine", "friction_nm_per_rpm"): engine.friction_nm_per_rpm * strong,
        ("shaft.engine", "starter_nm"): engine.starter_nm * strong,
        ("shaft.engine", "heat_capacity_kj_k"): engine.heat_capacity_kj_k * strong,
        ("shaft.gearbox", "ratio_ahead"): r.ratio,
        ("shaft.gearbox", "ratio_astern"): r.ratio,
        ("shaft.gearbox", "clutch_capacity_nm"): 2.5 * most_nm,
        ("shaft.drive", "max_torque_nm"): 1.08 * r.torque_nm,
        ("shaft.drive", "motor_power_kw"): r.power_kw,
        ("shaft.drive", "generator_power_kw"): 1.1 * r.generate_kw,
        # the same parts of rated power are lost at rated torque and speed
        ("shaft.drive", "copper_loss_w_nm2"): drive.copper_loss_w_nm2 * power / torque**2,
        ("shaft.drive", "iron_loss_w_per_rad_s"): drive.iron_loss_w_per_rad_s * power / speed,
        ("shaft.drive", "iron_loss_w_per_rad2_s2"): drive.iron_loss_w_per_rad2_s2 * power / speed**2,
        ("shaft.drive", "inverter_loss_w_nm"): drive.inverter_loss_w_nm * power / torque,
        ("shaft.drive", "emf_v_per_1000rpm"): drive.emf_v_per_1000rpm * cells / speed,
        ("shaft.drive", "over_speed_rpm"): 1.15 * r.speed_rpm,
        ("shaft.drive", "under_voltage_v"): drive.under_voltage_v * cells,
        ("shaft.drive", "over_voltage_v"): drive.over_voltage_v * cells,
        ("shaft.drive", "full_power_v"): drive.full_power_v * cells,
        ("shaft.drive", "max_dc_a"): drive.max_dc_a * amperes,
        **_cable("shaft.drive.cable", _given(drive.cable), amperes),
        **_cable("supply.bank_cable", _given(plant.supply.bank_cable), r.max_discharge_a / config.bank.max_discharge_a),
        ("shaft.engine.starting", "starter_stall_a"): starting.starter_stall_a * strong,
        ("shaft.engine.starting", "battery_ah"): starting.battery_ah * strong,
        ("shaft.engine.starting", "battery_mohm"): starting.battery_mohm / strong,
        ("shaft.drive", "rotor_inertia_kgm2"): max(0.001, drive.rotor_inertia_kgm2 * turning),
        ("shaft.line", "machine_inertia_kgm2"): max(0.01, line.machine_inertia_kgm2 * turning),
        ("shaft.line", "propeller_inertia_kgm2"): max(0.01, line.propeller_inertia_kgm2 * _propeller(r) / base),
        ("shaft.line", "clutch_capacity_nm"): 2.5 * max(most_nm, r.torque_nm),
        ("shaft.line", "lock_capacity_nm"): 2.5 * max(most_nm, r.torque_nm),
        ("shaft.line", "coupling_rated_nm"): 2.2 * r.torque_nm,
        # torque at one speed goes with the fifth power of the diameter
        ("shaft.propeller", "diameter_m"): one.propeller.diameter_m * (_propeller(r) / base) ** 0.2,
    }
