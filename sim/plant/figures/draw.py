"""Runs the figure functions and saves what they draw."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

from sim.plant.figures import electrical, mechanical, network, voyage
from sim.plant.figures.parameters import parameter_table
from sim.plant.loading import load_config, load_plant
from sim.plant.params import PlantParams

FIGURES: dict[str, Callable[..., Any]] = {
    "bank_ocv": electrical.bank_ocv,
    "bank_equivalent_circuit": electrical.bank_equivalent_circuit,
    "bank_temperature": electrical.bank_temperature,
    "drive_efficiency": electrical.drive_efficiency,
    "drive_link": electrical.drive_link,
    "solar_clear_day": electrical.solar_clear_day,
    "engine_map": mechanical.engine_map,
    "propeller_open_water": mechanical.propeller_open_water,
    "propeller_four_quadrant": mechanical.propeller_four_quadrant,
    "hull_resistance": mechanical.hull_resistance,
    "free_running": voyage.free_running,
    "harvest": voyage.harvest,
    "manoeuvres": voyage.manoeuvres,
    "tick_size": voyage.tick_size,
    "cables": network.cables,
    "falling_voltage": network.falling_voltage,
    "blackout": network.blackout,
    "packs": network.packs,
    "starter": network.starter,
}
"""Name of the picture -> function(figure, params, config)."""


def draw_all(folder: Path, plants: Path) -> list[Path]:
    """Draw every figure for marsh_tern into `folder` as PNG, and the parameter table; returns the paths written."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    file = plants / "marsh_tern.toml"
    params: PlantParams = load_plant(file)
    config = load_config(file)
    folder.mkdir(parents=True, exist_ok=True)
    written = []
    for name, draw in FIGURES.items():
        figure = Figure(figsize=(9.0, 4.6), layout="constrained")
        FigureCanvasAgg(figure)
        draw(figure, params, config)
        path = folder / f"{name}.png"
        figure.savefig(path, dpi=100, metadata={"Software": None})
        written.append(path)
    table = folder / "parameters.md"
    table.write_text(parameter_table(config), encoding="utf-8")
    written.append(table)
    return written
