"""The bus: codec, guard, freshness, adapters. Loads python-can and cantools, which `import supervisor` does not."""

from supervisor.bus.codec import MessageCodec, SignalCodec
from supervisor.bus.dbc import load_bus, load_dbc
from supervisor.bus.faults import BAD_TEXT, Bad
from supervisor.bus.inputs import InputTable
from supervisor.bus.mapping import compile_boat
from supervisor.bus.outputs import HARD_WIRED, PERMIT_OUTPUTS, OutputTable
from supervisor.bus.port import BusPort, BusSetting, bus_settings
from supervisor.bus.register import BOAT_OUTPUTS, OWN, SHAFT_OUTPUTS
from supervisor.bus.rows import BoatMap, InputRow, OutputRow, OwnSides

__all__ = [
    "BAD_TEXT",
    "BOAT_OUTPUTS",
    "HARD_WIRED",
    "OWN",
    "PERMIT_OUTPUTS",
    "SHAFT_OUTPUTS",
    "Bad",
    "BoatMap",
    "BusPort",
    "BusSetting",
    "InputRow",
    "InputTable",
    "MessageCodec",
    "OutputRow",
    "OutputTable",
    "OwnSides",
    "SignalCodec",
    "bus_settings",
    "compile_boat",
    "load_bus",
    "load_dbc",
]
