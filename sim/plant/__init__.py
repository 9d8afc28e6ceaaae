"""Physics of a hybrid boat: pure step functions over NamedTuples.

``step(params, state, inputs, dt_s)`` moves the whole boat on by one tick. See docs/plant.md for equations, sources and
checks.
"""

from sim.plant.bank import bank_step
from sim.plant.boat import (
    KNOTS_PER_MS,
    MAX_SHAFTS,
    idle_inputs,
    initial_state,
    make_step,
    run,
    step,
    with_soc,
    with_temperature,
)
from sim.plant.building import build_params
from sim.plant.loading import PlantConfigError, load_config, load_plant, shaft_names
from sim.plant.monitor import monitor_step
from sim.plant.params import PlantParams, ShaftParams
from sim.plant.ranges import range_warnings
from sim.plant.schema import PlantConfig
from sim.plant.state import (
    DRIVE_OK,
    DRIVE_OVER_SPEED,
    DRIVE_OVER_TEMPERATURE,
    DRIVE_OVER_VOLTAGE,
    DRIVE_UNDER_VOLTAGE,
    FLAG_CELL_OVER_VOLTAGE,
    FLAG_CELL_UNDER_VOLTAGE,
    FLAG_INTERNAL,
    FLAG_OVER_CURRENT_CHARGE,
    FLAG_OVER_CURRENT_DISCHARGE,
    FLAG_OVER_TEMPERATURE,
    FLAG_UNDER_TEMPERATURE,
    POSITION_IN_TRANSIT,
    POSITION_OFF,
    POSITION_ON,
    BankState,
    BusState,
    DriveState,
    EngineState,
    GearboxState,
    LineState,
    MonitorState,
    PlantInputs,
    PlantShaft,
    PlantState,
    ShaftOrders,
)

__all__ = [
    "DRIVE_OK",
    "DRIVE_OVER_SPEED",
    "DRIVE_OVER_TEMPERATURE",
    "DRIVE_OVER_VOLTAGE",
    "DRIVE_UNDER_VOLTAGE",
    "FLAG_CELL_OVER_VOLTAGE",
    "FLAG_CELL_UNDER_VOLTAGE",
    "FLAG_INTERNAL",
    "FLAG_OVER_CURRENT_CHARGE",
    "FLAG_OVER_CURRENT_DISCHARGE",
    "FLAG_OVER_TEMPERATURE",
    "FLAG_UNDER_TEMPERATURE",
    "KNOTS_PER_MS",
    "MAX_SHAFTS",
    "POSITION_IN_TRANSIT",
    "POSITION_OFF",
    "POSITION_ON",
    "BankState",
    "BusState",
    "DriveState",
    "EngineState",
    "GearboxState",
    "LineState",
    "MonitorState",
    "PlantConfig",
    "PlantConfigError",
    "PlantInputs",
    "PlantParams",
    "PlantShaft",
    "PlantState",
    "ShaftOrders",
    "ShaftParams",
    "bank_step",
    "build_params",
    "idle_inputs",
    "initial_state",
    "load_config",
    "load_plant",
    "make_step",
    "monitor_step",
    "range_warnings",
    "run",
    "shaft_names",
    "step",
    "with_soc",
    "with_temperature",
]
