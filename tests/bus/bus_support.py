"""Boats compiled from their files, and a sender of guarded frames."""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from supervisor.bus import BoatMap, InputTable, compile_boat
from supervisor.bus.e2e import next_counter, protect
from supervisor.config import parse_config
from supervisor.config.load import read_boat

ROOT = Path(__file__).resolve().parents[2]
CONFIGS = ROOT / "configs"


def boat_data(name: str) -> dict[str, Any]:
    """A shipped boat file as nested dicts, each shaft written out."""
    return read_boat(CONFIGS / f"{name}.toml")


def compile_data(data: Mapping[str, Any], name: str = "marsh_tern") -> BoatMap:
    """A boat's contents compiled as if they stood in configs/NAME.toml."""
    path = CONFIGS / f"{name}.toml"
    return compile_boat(parse_config(data, str(path)), path)


class Sender:
    """Sends frames of a boat's messages, each with its own running counter."""

    def __init__(self, boat_map: BoatMap, table: InputTable) -> None:
        self.boat_map = boat_map
        self.table = table
        self.counters: dict[str, int] = {}

    def bytes_of(self, message: str, values: Mapping[str, float | None], bus: str = "private") -> bytearray:
        codec = self.boat_map.messages[bus][message]
        data = codec.encode(values)
        if codec.data_id is not None:
            self.counters[message] = next_counter(self.counters.get(message, 14))
            protect(data, codec.data_id, self.counters[message])
        return data

    def raw(self, message: str, data: bytes | bytearray, time_s: float, bus: str = "private") -> None:
        codec = self.boat_map.messages[bus][message]
        self.table.feed(bus, codec.arbitration_id, codec.is_extended, data, time_s)

    def send(self, message: str, values: Mapping[str, float | None], time_s: float, bus: str = "private") -> None:
        self.raw(message, self.bytes_of(message, values, bus), time_s, bus)

    def twice(self, message: str, values: Mapping[str, float | None], time_s: float) -> None:
        """The first frame of a guarded message only opens its counter; the second one counts."""
        self.send(message, values, time_s)
        self.send(message, values, time_s)
