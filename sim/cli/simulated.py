"""The simulated boat against the boat file: a bench that simulates another boat shows nothing about this one."""

import math
from collections.abc import Iterator
from pathlib import Path

from sim.plant import range_warnings
from sim.plant.building import build_params
from sim.plant.drive import loss
from sim.plant.loading import load_config
from sim.plant.params import DriveParams
from sim.plant.schema import PlantConfig
from sim.plant.schema_shaft import ShaftConfig
from supervisor.config import Finding
from supervisor.config.schema import BoatConfig, Shaft

_REMEDY = "Mend one of the two: the bench must simulate the boat that is fitted"


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
    params = build_params(plant)
    for shaft, model, own in zip(config.shaft, plant.shaft, params.shafts, strict=True):
        found += _shaft(shaft, model)
        found += _voltages(config, model)
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
    bank, monitor = config.bank, plant.monitor
    yield from _same("bank.cells_in_series", bank.cells_in_series, plant.bank.cells_in_series, 0.0, "cells")
    yield from _same("bank.capacity_ah", bank.capacity_ah, plant.bank.capacity_ah, 0.02, "A h")
    yield from _same("bank.opening_warning_s", bank.opening_warning_s, monitor.warning_s, 0.02, "s")
    yield from _at_most("bank.max_charge_a", bank.max_charge_a, monitor.charge_limit_a, "A")
    yield from _at_most("bank.max_discharge_a", bank.max_discharge_a, monitor.discharge_limit_a, "A")
    hotel = plant.supply.hotel_drops_out_v
    yield from _at_most("bank.min_voltage_v", bank.min_voltage_v, hotel, "V, where hotel loads drop out")


def _shaft(shaft: Shaft, model: ShaftConfig) -> Iterator[Finding]:
    key, drive = f"shaft.{shaft.name}", shaft.drive
    yield from _same(f"{key}.gearbox.ratio", shaft.gearbox.ratio, model.gearbox.ratio_ahead, 0.02, "")
    yield from _same(f"{key}.engine.idle_rpm", shaft.engine.idle_rpm, model.engine.idle_rpm, 0.05, "rpm")
    yield from _fitted(f"{key}.clutch.fitted", shaft.clutch.fitted, model.line.clutch_fitted)
    yield from _fitted(f"{key}.lock.fitted", shaft.lock.fitted, model.line.lock_fitted)
    yield from _at_least(f"{key}.drive.rated_torque_nm", drive.rated_torque_nm, model.drive.max_torque_nm, "N m")
    yield from _at_least(f"{key}.drive.rated_power_kw", drive.rated_power_kw, model.drive.motor_power_kw, "kW")
    if drive.back_emf_v_per_krpm is not None:
        yield from _at_most(
            f"{key}.drive.back_emf_v_per_krpm", drive.back_emf_v_per_krpm, model.drive.emf_v_per_1000rpm, "V"
        )


def _voltages(config: BoatConfig, model: ShaftConfig) -> Iterator[Finding]:
    low, high = model.drive.under_voltage_v, model.drive.over_voltage_v
    yield from _at_most(
        "bank.min_voltage_v", config.bank.min_voltage_v, low, f"V, where the drive {model.name} gives up"
    )
    yield from _at_least(
        "bank.max_voltage_v", config.bank.max_voltage_v, high, f"V, where the drive {model.name} gives up"
    )


def _same(key: str, boat: float, plant: float, part: float, unit: str) -> Iterator[Finding]:
    if abs(plant - boat) > part * abs(boat):
        yield _differs(key, f"{boat:g}", f"{plant:g} {unit}".rstrip())


def _fitted(key: str, boat: bool, plant: bool) -> Iterator[Finding]:
    if boat != plant:
        yield _differs(key, str(boat).lower(), str(plant).lower())


def _at_most(key: str, boat: float, plant: float, unit: str) -> Iterator[Finding]:
    if plant > boat:
        yield _differs(key, f"{boat:g}", f"more, {plant:g} {unit}")


def _at_least(key: str, boat: float, plant: float, unit: str) -> Iterator[Finding]:
    if plant < boat:
        yield _differs(key, f"{boat:g}", f"less, {plant:g} {unit}")


def _differs(key: str, boat: str, plant: str) -> Finding:
    return Finding("warning", key, f"{boat} here, but the simulated boat has {plant}", _REMEDY)
