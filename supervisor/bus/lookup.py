"""Finding messages and signals by name for a boat file, and complaining where there are none."""

import difflib
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import TypeVar

from supervisor.bus.codec import MessageCodec, SignalCodec
from supervisor.bus.dbc import COUNTER_SIGNAL, CRC_SIGNAL, load_bus
from supervisor.config.errors import ConfigError, raise_all
from supervisor.config.schema import BoatConfig

Row = TypeVar("Row")


class Lookup:
    """A boat file and the DBC files it names; paths are relative to the boat file. Raises ConfigError."""

    def __init__(self, config: BoatConfig, path: Path) -> None:
        self.config = config
        self.file = str(path)
        self.messages: dict[str, dict[str, MessageCodec]] = {}
        self.complaints: list[ConfigError] = []
        """What cannot be used so far; the rest is compiled on, so that all of it is said at once."""
        for name, bus in config.buses.items():
            paths = [path.parent / entry for entry in bus.dbc]
            self.messages[name] = load_bus(paths, self.file, f"buses.{name}.dbc")

    def error(self, key: str, problem: str, remedy: str) -> ConfigError:
        """A complaint about one key of this boat file."""
        return ConfigError(self.file, key, problem, remedy)

    def attempt(self, make: Callable[[], Row]) -> Row | None:
        """What `make` makes; None, and a complaint kept, where it raises ConfigError."""
        try:
            return make()
        except ConfigError as error:
            self.complaints.append(error)
            return None

    def raise_complaints(self) -> None:
        """Raise the first complaint, the others with it, if there is any."""
        raise_all(self.complaints)

    def message(self, key: str, bus: str, name: str) -> MessageCodec:
        """The message NAME of a bus."""
        if bus not in self.messages:
            raise self.error(f"{key}.bus", f"{bus!r} is no bus of this boat", hint(bus, self.messages))
        message = self.messages[bus].get(name)
        if message is None:
            raise self.error(f"{key}.message", f"no message {name!r} on bus {bus}", hint(name, self.messages[bus]))
        return message

    def signal(self, key: str, message: MessageCodec, name: str) -> SignalCodec:
        """The signal NAME of a message; the guard's own signals are nobody's input or output."""
        signal = message.signals.get(name)
        if signal is None:
            raise self.error(f"{key}.signal", f"{message.name} has no signal {name!r}", hint(name, message.signals))
        if message.data_id is not None and name in (CRC_SIGNAL, COUNTER_SIGNAL):
            raise self.error(f"{key}.signal", f"{name} belongs to the guard", "Choose another signal")
        if signal.is_float and signal.bits not in (16, 32, 64):
            raise self.error(
                f"{key}.signal", f"{name} is a float of {signal.bits} bits", "Correct the DBC file: 16, 32 or 64 bits"
            )
        return signal


def hint(name: str, allowed: Iterable[str]) -> str:
    """The remedy for a misspelt name: the nearest ones, or all there are."""
    choices = list(allowed)
    near = difflib.get_close_matches(name, choices, n=3, cutoff=0.5)
    if near:
        return f"Did you mean {' or '.join(near)}?"
    return f"Allowed: {', '.join(choices[:20]) or 'nothing'}"
