"""The commands that a real controller sent, decoded from the recording: by the boat file's outputs, or by a mapping of
the foreign controller's messages in a file of its own (`--commands`)."""

from collections.abc import Mapping
from pathlib import Path
from typing import NamedTuple

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from supervisor.bus import BOAT_OUTPUTS, SHAFT_OUTPUTS, BoatMap, MessageCodec, SignalCodec, load_bus
from supervisor.bus.e2e import profile1_crc, start_value
from supervisor.config import ConfigError
from supervisor.config.load import as_config_error, read_toml
from supervisor.signals import BOAT


class CommandRow(NamedTuple):
    """One command: the output it corresponds to, and where it is found."""

    level: int
    name: str
    label: str
    bus: str
    message: MessageCodec
    signal: SignalCodec
    factor: float
    offset: float
    invert: bool


class _Strict(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, strict=True)


class _Command(_Strict):
    bus: str
    message: str
    signal: str
    factor: float = 1.0
    offset: float = 0.0
    invert: bool = False


class _BusFiles(_Strict):
    dbc: list[str] = Field(min_length=1)


class _Shaft(_Strict):
    outputs: dict[str, _Command]


class _Mapping(_Strict):
    buses: dict[str, _BusFiles]
    outputs: dict[str, _Command] = Field(default_factory=dict)
    shaft: dict[str, _Shaft] = Field(default_factory=dict)


def own_commands(boat_map: BoatMap) -> list[CommandRow]:
    """The rows of the boat file's own outputs."""
    return [
        CommandRow(row.level, row.spec.name, _label(boat_map, row.level, row.spec.name), row.bus, row.message,
                   row.signal, 1.0, 0.0, False)
        for row in boat_map.outputs
    ]  # fmt: skip


def foreign_commands(path: Path, boat_map: BoatMap) -> list[CommandRow]:
    """The rows of a mapping file; DBC paths are relative to it. Raises ConfigError naming file and key."""
    file = str(path)
    try:
        mapping = _Mapping.model_validate(read_toml(path))
    except ValidationError as exc:
        raise as_config_error(exc, file) from exc
    messages: dict[str, Mapping[str, MessageCodec]] = {}
    for bus, entry in mapping.buses.items():
        if bus not in boat_map.kinds:
            raise ConfigError(file, f"buses.{bus}", "is no bus of this boat", f"Allowed: {', '.join(boat_map.kinds)}")
        messages[bus] = load_bus([path.parent / name for name in entry.dbc], file, f"buses.{bus}.dbc")
    rows = []
    for name, command in mapping.outputs.items():
        rows.append(_row(file, f"outputs.{name}", BOAT, name, command, messages, boat_map))
    for shaft, of_shaft in mapping.shaft.items():
        if shaft not in boat_map.shaft_names:
            allowed = ", ".join(boat_map.shaft_names) or "none"
            raise ConfigError(file, f"shaft.{shaft}", "is no shaft of this boat", f"Allowed: {allowed}")
        level = boat_map.shaft_names.index(shaft)
        for name, command in of_shaft.outputs.items():
            rows.append(_row(file, f"shaft.{shaft}.outputs.{name}", level, name, command, messages, boat_map))
    if not rows:
        raise ConfigError(file, "", "maps no command", 'Map e.g. shaft.NAME.outputs."drive.torque_nm"')
    return rows


def _row(
    file: str, key: str, level: int, name: str, command: _Command,
    messages: Mapping[str, Mapping[str, MessageCodec]], boat_map: BoatMap,
) -> CommandRow:  # fmt: skip
    register = BOAT_OUTPUTS if level == BOAT else SHAFT_OUTPUTS
    if name not in register:
        raise ConfigError(file, key, "no such output", f"Allowed: {', '.join(register)}")
    if command.bus not in messages:
        raise ConfigError(file, f"{key}.bus", f"{command.bus!r} is not under buses", f"Allowed: {', '.join(messages)}")
    message = messages[command.bus].get(command.message)
    if message is None:
        allowed = ", ".join(messages[command.bus])
        raise ConfigError(file, f"{key}.message", f"no message {command.message!r}", f"Allowed: {allowed}")
    signal = message.signals.get(command.signal)
    if signal is None:
        allowed = ", ".join(message.signals)
        raise ConfigError(file, f"{key}.signal", f"{message.name} has no signal {command.signal!r}",
                          f"Allowed: {allowed}")  # fmt: skip
    if message.length > 8:
        raise ConfigError(file, f"{key}.message", f"{message.name} is longer than 8 bytes", "Map a single frame")
    return CommandRow(level, name, _label(boat_map, level, name), command.bus, message, signal, command.factor,
                      command.offset, command.invert)  # fmt: skip


def _label(boat_map: BoatMap, level: int, name: str) -> str:
    return name if level == BOAT else f"{boat_map.shaft_names[level]}.{name}"


class CommandDecoder:
    """Turns command frames into values by row. A frame that is short or fails its checksum gives nothing."""

    def __init__(self, rows: list[CommandRow]) -> None:
        self.rows = rows
        self.bad = 0
        self._by_place: dict[tuple[str, bool, int], list[CommandRow]] = {}
        for row in rows:
            key = (row.bus, row.message.is_extended, self._identity(row.message))
            self._by_place.setdefault(key, []).append(row)

    @staticmethod
    def _identity(message: MessageCodec) -> int:
        return message.arbitration_id if message.pgn is None else -message.pgn

    def decode(self, bus: str, arbitration_id: int, is_extended: bool, pgn: int, data: bytes) -> list[
        tuple[CommandRow, float]
    ]:  # fmt: skip
        """Values of all rows that this frame carries; "not available" is left out."""
        rows = self._by_place.get((bus, is_extended, arbitration_id)) or self._by_place.get((bus, is_extended, -pgn))
        if not rows:
            return []
        codec = rows[0].message
        if len(data) < codec.min_length or (
            codec.data_id is not None and profile1_crc(data, start_value(codec.data_id)) != data[0]
        ):
            self.bad += 1
            return []
        values = codec.decode(data)
        found = []
        for row in rows:
            value = values[row.signal.name]
            if value is not None:
                value = value * row.factor + row.offset
                found.append((row, 1.0 - value if row.invert else value))
        return found
