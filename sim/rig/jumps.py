"""Jumps of the simulated boat, to get somewhere fast: what a procedure's `set` may set. Nobody tells the supervisor."""

from collections.abc import Sequence

from sim.nodes.panel import Panel
from sim.plant import PlantParams, PlantState, with_soc, with_temperature

_MS_PER_KNOT = 1852.0 / 3600.0

# target -> (lowest, highest) value
BOAT_JUMPS: dict[str, tuple[float, float]] = {
    "bank.soc_pct": (0.0, 100.0),
    "bank.temperature_c": (-20.0, 60.0),
    "monitor.soc_pct": (0.0, 100.0),
    "boat.speed_kn": (-5.0, 12.0),
    "air.temperature_c": (-20.0, 50.0),
    "water.temperature_c": (0.0, 35.0),
    "handset.minutes": (0.0, 60000.0),
}
SHAFT_JUMPS: dict[str, tuple[float, float]] = {
    "motor_c": (-20.0, 180.0),
    "inverter_c": (-20.0, 120.0),
    "coolant_c": (-20.0, 100.0),
    "load_shock_nm": (0.0, 2000.0),
    "starter_soc_pct": (0.0, 100.0),
}


def jump_targets(shaft_names: Sequence[str]) -> tuple[str, ...]:
    """All names that `set` takes on a boat with these shafts."""
    return (*BOAT_JUMPS, *(f"{shaft}.{name}" for shaft in shaft_names for name in SHAFT_JUMPS))


def jump(
    params: PlantParams, plant: PlantState, panel: Panel, shaft_names: Sequence[str], target: str, value: float
) -> PlantState:
    """The boat after the jump. Raises ValueError for an unknown target or a value out of range."""
    first, _, rest = target.partition(".")
    level = list(shaft_names).index(first) if first in shaft_names else -1
    bounds = BOAT_JUMPS.get(target) if level < 0 else SHAFT_JUMPS.get(rest)
    if bounds is None:
        raise ValueError(f"{target} cannot be set; allowed: {', '.join(jump_targets(shaft_names))}")
    if not bounds[0] <= value <= bounds[1]:
        raise ValueError(f"{target} = {value:g} is not allowed: {bounds[0]:g} to {bounds[1]:g}")
    value = float(value)
    if level >= 0:
        return _shaft_jump(plant, panel, level, rest, value)
    if target == "bank.soc_pct":
        return with_soc(params, plant, value)
    if target == "bank.temperature_c":
        return with_temperature(params, plant, value)
    if target == "monitor.soc_pct":
        counted = value / 100.0 * params.monitor.capacity_as
        return plant._replace(monitor=plant.monitor._replace(counted_as=counted))
    if target == "boat.speed_kn":
        return plant._replace(boat_speed_ms=value * _MS_PER_KNOT, boat_speed_kn=value)
    if target == "air.temperature_c":
        panel.air_c = value
    elif target == "water.temperature_c":
        panel.water_c = value
    else:
        panel.handset_minutes = value
    return plant


def _shaft_jump(plant: PlantState, panel: Panel, level: int, name: str, value: float) -> PlantState:
    if name == "load_shock_nm":
        panel.shafts[level].load_shock_nm = value
        return plant
    shafts = list(plant.shafts)
    if name == "starter_soc_pct":
        engine = shafts[level].engine
        shafts[level] = shafts[level]._replace(engine=engine._replace(starter=engine.starter._replace(soc_pct=value)))
        return plant._replace(shafts=tuple(shafts))
    drive = shafts[level].drive
    if name == "motor_c":
        drive = drive._replace(motor_c=value)
    elif name == "inverter_c":
        drive = drive._replace(inverter_c=value)
    else:
        drive = drive._replace(coolant_c=value)
    shafts[level] = shafts[level]._replace(drive=drive)
    return plant._replace(shafts=tuple(shafts))
