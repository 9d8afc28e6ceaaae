"""The simulated boat against the boat file: a bench that simulates another boat shows nothing about this one."""

import math
from collections.abc import Iterator, Sequence
from pathlib import Path

from sim.cli.cables import cable_findings
from sim.plant import range_warnings
from sim.plant.building import build_params
from sim.plant.drive import loss
from sim.plant.loading import load_config
from sim.plant.params import DriveParams
from sim.plant.schema import PlantConfig
from sim.plant.schema_shaft import ShaftConfig
from supervisor.config import Finding
from supervisor.config.schema import BoatConfig, Shaft

_REMEDY = "Correct one of the two files: the bench must simulate the boat that is fitted"


def plant_findings(config: BoatConfig, plant_path: Path) -> list[Finding]:
    """What is unusual about the simulated boat, and where it is not the boat of the boat file. Raises PlantConfigError
    where its file cannot be used."""
    plant = load_config(plant_path)
    found = [Finding("warning", "simulation.plant", f"{plant_path}: {text}", "Compare with the data sheet")
             for text in range_warnings(plant)]  # fmt: skip
    names, simulated = [shaft.name for shaft in config.shaft], [shaft.name for shaft in plant.shaft]
    if names != simulated:
        # as the bench has it: they go together by their order, names may differ, but not be the same in another order
        refused = len(names) != len(simulated) or sorted(names) == sorted(simulated)
        problem = f"{plant_path} has the shafts {', '.join(simulated)}, the boat {', '.join(names)}"
        remedy = "Give both files the same shafts in one order"
        found.append(Finding("error" if refused else "warning", "simulation.plant", problem, remedy))
        if refused:
            return found
    found += _bank(config, plant)
    found += cable_findings(config, plant)
    params = build_params(plant)
    for number, (shaft, model, own) in enumerate(zip(config.shaft, plant.shaft, params.shafts, strict=True)):
        found += _shaft(shaft, model, number)
        found += _voltages(config, model, number)
        found += _no_load(config, shaft, own.drive)
    return found


GOVERNED = 1.08
"""An engine without load turns so much faster than its rated speed: its governor's droop (from memory)."""

NO_LOAD_WELL = 0.7
"""A no-load current above this part of what counts as disobeying is said."""


def _no_load(config: BoatConfig, shaft: Shaft, drive: DriveParams) -> Iterator[Finding]:
    """A drive that draws nearly what counts as disobeying with no torque ordered, at the highest speed to which its
    engine or its rating lets it turn."""
    rpm = min(GOVERNED * shaft.engine.max_rpm / shaft.gearbox.ratio, shaft.drive.max_speed_rpm)
    drawn_w = loss(drive, 0.0, rpm * math.pi / 30.0)
    drawn_a = drawn_w / config.bank.min_voltage_v
    most_a = config.limits.disobey_current_a + shaft.drive.no_load_loss_w / config.bank.min_voltage_v
    if drawn_a > NO_LOAD_WELL * most_a:
        yield Finding(
            "warning", f"shaft.{shaft.name}.drive.no_load_loss_w",
            f"with no torque ordered at {rpm:.0f} rpm the simulated drive draws {drawn_a:.1f} A ({drawn_w:.0f} W), and "
            f"{most_a:.1f} A count as disobeying, which isolates the shaft",
            "Declare what the real drive draws at zero torque and highest speed",
        )  # fmt: skip


def _bank(config: BoatConfig, plant: PlantConfig) -> Iterator[Finding]:
    bank, monitor, hull = config.bank, plant.monitor, plant.hull
    yield from _same("bank.cells_in_series", bank.cells_in_series, plant.bank.cells_in_series, 0.0, "cells")
    yield from _same("bank.capacity_ah", bank.capacity_ah, plant.bank.capacity_ah, 0.02, "A h")
    yield from _same(
        "bank.opening_warning_s", bank.opening_warning_s, monitor.warning_s, 0.02, "s", "monitor.warning_s"
    )  # fmt: skip
    yield from _at_most("bank.max_charge_a", bank.max_charge_a, monitor.charge_limit_a, "A", "monitor.charge_limit_a")
    yield from _at_most(
        "bank.max_discharge_a", bank.max_discharge_a, monitor.discharge_limit_a, "A", "monitor.discharge_limit_a"
    )
    hotel = plant.supply.hotel_drops_out_v
    yield from _at_most(
        "bank.min_voltage_v", bank.min_voltage_v, hotel, "V, where hotel loads drop out", "supply.hotel_drops_out_v"
    )
    floats_kg = hull.canoe_body_volume_m3 * hull.water_density_kg_m3
    if not FLOATS[0] * floats_kg <= hull.displacement_kg <= FLOATS[1] * floats_kg:
        yield Finding(
            "warning", "simulation.plant",
            f"the simulated boat weighs {hull.displacement_kg:g} kg (hull.displacement_kg), and its hull without keel "
            f"and rudder displaces {floats_kg:.0f} kg (hull.canoe_body_volume_m3 in water of its density)",
            "Correct one of the two: a boat weighs what its hull and appendages displace",
        )  # fmt: skip


FLOATS = (0.98, 1.3)
"""A boat weighs what it displaces: hull, and keel and rudder besides, which are a few hundredths of it (own choice)."""
ROOM = 1.6
"""A simulated machine that can do more than this times what is fitted is another one (own choice)."""
CURVE_PART = 0.2
"""The simulated engine's curve may be off by this part."""


def _shaft(shaft: Shaft, model: ShaftConfig, number: int) -> Iterator[Finding]:
    key, there, drive = f"shaft.{shaft.name}", f"shaft.{number}", shaft.drive
    of, line = model.drive, model.line
    yield from _same(
        f"{key}.gearbox.ratio", shaft.gearbox.ratio, model.gearbox.ratio_ahead, 0.02, "", f"{there}.gearbox.ratio_ahead"
    )
    yield from _same(
        f"{key}.engine.idle_rpm", shaft.engine.idle_rpm, model.engine.idle_rpm, 0.05, "rpm", f"{there}.engine.idle_rpm"
    )
    yield from _same(
        f"{key}.engine.max_rpm", shaft.engine.max_rpm, model.engine.rated_rpm, 0.1, "rpm", f"{there}.engine.rated_rpm"
    )
    yield from _curve(key, there, shaft, model)
    yield from _fitted(f"{key}.clutch.fitted", shaft.clutch.fitted, line.clutch_fitted, f"{there}.line.clutch_fitted")
    yield from _fitted(f"{key}.lock.fitted", shaft.lock.fitted, line.lock_fitted, f"{there}.line.lock_fitted")
    for name, boat, plant, unit, named in (
        ("rated_torque_nm", drive.rated_torque_nm, of.max_torque_nm, "N m", "max_torque_nm"),
        ("rated_power_kw", drive.rated_power_kw, of.motor_power_kw, "kW", "motor_power_kw"),
        ("generate_power_kw", drive.generate_power_kw, of.generator_power_kw, "kW", "generator_power_kw"),
        ("max_speed_rpm", drive.max_speed_rpm, of.over_speed_rpm, "rpm", "over_speed_rpm"),
    ):
        yield from _at_least(f"{key}.drive.{name}", boat, plant, unit, f"{there}.drive.{named}")
        yield from _at_most(f"{key}.drive.{name}", boat, plant, unit, f"{there}.drive.{named}", ROOM)
    if drive.back_emf_v_per_krpm is not None:
        yield from _at_most(
            f"{key}.drive.back_emf_v_per_krpm", drive.back_emf_v_per_krpm, of.emf_v_per_1000rpm, "V",
            f"{there}.drive.emf_v_per_1000rpm",
        )  # fmt: skip
    yield from _carries(f"{there}.line.coupling_rated_nm", line.coupling_rated_nm, drive.rated_torque_nm, "the drive")
    engine_nm = max(model.engine.torque_nm) * model.gearbox.ratio_ahead
    yield from _carries(
        f"{there}.gearbox.clutch_capacity_nm", model.gearbox.clutch_capacity_nm, engine_nm, "the engine"
    )
    if line.clutch_fitted:
        most_nm = max(engine_nm, drive.rated_torque_nm)
        yield from _carries(
            f"{there}.line.clutch_capacity_nm", line.clutch_capacity_nm, most_nm, "the stronger of engine and drive"
        )


def _curve(key: str, there: str, shaft: Shaft, model: ShaftConfig) -> Iterator[Finding]:
    """The farthest point of the engine's curve that is another engine's; the headroom of charging rests on it."""
    speeds, torques = model.engine.torque_rpm, model.engine.torque_nm
    worst, at_rpm = 0.0, 0.0
    for rpm, boat_nm in shaft.engine.torque_curve:
        part = _interpolated(speeds, torques, rpm) / boat_nm - 1.0 if boat_nm > 0.0 else 0.0
        if abs(part) > abs(worst):
            worst, at_rpm = part, rpm
    if abs(worst) > CURVE_PART:
        boat_nm = dict(shaft.engine.torque_curve)[at_rpm]
        there_nm = _interpolated(speeds, torques, at_rpm)
        yield _differs(
            f"{key}.engine.torque_curve", f"{boat_nm:g} N m at {at_rpm:g} rpm", f"{there_nm:.3g} N m",
            f"{there}.engine.torque_nm",
        )  # fmt: skip


def _interpolated(speeds: Sequence[float], torques: Sequence[float], rpm: float) -> float:
    for low, high, at_low, at_high in zip(speeds, speeds[1:], torques, torques[1:], strict=False):
        if low <= rpm <= high:
            return at_low + (at_high - at_low) * (rpm - low) / (high - low)
    return torques[0] if rpm < speeds[0] else torques[-1]


def _carries(there: str, capacity_nm: float, torque_nm: float, what: str) -> Iterator[Finding]:
    if capacity_nm < torque_nm:
        yield Finding(
            "warning", "simulation.plant",
            f"{there} of the simulated boat is {capacity_nm:g} N m, and {what} gives {torque_nm:.0f} N m there",
            _REMEDY,
        )  # fmt: skip


def _voltages(config: BoatConfig, model: ShaftConfig, number: int) -> Iterator[Finding]:
    low, high = model.drive.under_voltage_v, model.drive.over_voltage_v
    yield from _at_most(
        "bank.min_voltage_v", config.bank.min_voltage_v, low, f"V, where the drive {model.name} gives up",
        f"shaft.{number}.drive.under_voltage_v",
    )  # fmt: skip
    yield from _at_least(
        "bank.max_voltage_v", config.bank.max_voltage_v, high, f"V, where the drive {model.name} gives up",
        f"shaft.{number}.drive.over_voltage_v",
    )  # fmt: skip


def _same(key: str, boat: float, plant: float, part: float, unit: str, there: str = "") -> Iterator[Finding]:
    if abs(plant - boat) > part * abs(boat):
        yield _differs(key, f"{boat:g}", f"{plant:g} {unit}".rstrip(), there or key)


def _fitted(key: str, boat: bool, plant: bool, there: str) -> Iterator[Finding]:
    if boat != plant:
        yield _differs(key, str(boat).lower(), str(plant).lower(), there)


def _at_most(key: str, boat: float, plant: float, unit: str, there: str, room: float = 1.0) -> Iterator[Finding]:
    if plant > boat * room:
        yield _differs(key, f"{boat:g}", f"more, {plant:g} {unit}", there)


def _at_least(key: str, boat: float, plant: float, unit: str, there: str) -> Iterator[Finding]:
    if plant < boat:
        yield _differs(key, f"{boat:g}", f"less, {plant:g} {unit}", there)


def _differs(key: str, boat: str, plant: str, there: str) -> Finding:
    return Finding("warning", key, f"{boat} here, but the simulated boat has {plant} ({there} of its file)", _REMEDY)
