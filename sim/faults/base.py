"""What a fault is: something that acts on frames between node and bus, on a node's values, on the adapter, or on the
boat itself; and what it may touch."""

from collections.abc import Callable, Mapping, Sequence
from typing import NamedTuple, Protocol

import can

from sim.nodes.build import PRECEDENCE
from sim.nodes.machinery import Nodes
from sim.nodes.node import Node
from sim.nodes.sender import Field
from sim.nodes.wire import Wires
from sim.plant import PlantInputs, PlantParams, PlantState
from supervisor.bus import BoatMap

Value = float | bool | str
"""What an operator action, or a fault's parameter, carries: a number, a contact, or one word of a choice."""


class Sent(NamedTuple):
    """One frame on its way from a node to its bus."""

    node: str
    bus: str
    message: can.Message


class Bench(Protocol):
    """The part of a rig that faults act on."""

    @property
    def nodes(self) -> Nodes: ...
    @property
    def wires(self) -> Wires: ...
    @property
    def boat_map(self) -> BoatMap: ...
    @property
    def tick_s(self) -> float: ...
    @property
    def bitrates(self) -> Mapping[str, int]:
        """Bit rate of each bus, bit/s."""

    @property
    def plant(self) -> PlantState: ...
    @property
    def params(self) -> PlantParams: ...


class Fault:
    """One fault at work. `start` and `stop` begin and end it; the other calls come every tick while it lasts.

    The defaults do nothing. `stop` must leave no trace, so that what remains is the supervisor's own memory of it.
    """

    def __init__(self, target: str, params: Mapping[str, Value]) -> None:
        self.target = target
        self.params = params

    def number(self, name: str) -> float:
        """A parameter that the catalogue declares as a number."""
        return float(self.params[name])

    def text(self, name: str) -> str:
        """A parameter that the catalogue declares as a word."""
        return str(self.params[name])

    def start(self, bench: Bench, now_s: float) -> None:
        """Begin. Raises ValueError when this boat has no such target."""

    def stop(self, bench: Bench, now_s: float) -> None:
        """End."""

    def frames(self, now_s: float, frames: list[Sent]) -> list[Sent]:
        """What becomes of this tick's frames from the nodes."""
        return frames

    def orders(self, now_s: float, bus: str, messages: list[can.Message]) -> list[can.Message]:
        """What becomes of this tick's frames from the supervisor, before the nodes hear them."""
        return messages

    def inputs(self, now_s: float, inputs: PlantInputs) -> PlantInputs:
        """What becomes of the orders to the plant."""
        return inputs

    def state(self, now_s: float, plant: PlantState) -> PlantState:
        """What becomes of the boat itself after its step."""
        return plant


def node_of(bench: Bench, target: str) -> Node:
    """A node by name, written either way round: `drive.port` or `port.drive`. Raises ValueError."""
    nodes = bench.nodes.all
    first, _, second = target.partition(".")
    node = nodes.get(target) or nodes.get(f"{second}.{first}")
    if node is None:
        raise ValueError(f"there is no node {target!r}; allowed: {', '.join(nodes)}")
    return node


def shaft_of(bench: Bench, target: str) -> int:
    """A shaft's number from its name or that of one of its nodes: `port`, `lever.port`, `port.lever`."""
    names = bench.boat_map.shaft_names
    parts = target.split(".")
    for name in parts:
        if name in names and all(part == name or part in PRECEDENCE for part in parts):
            return names.index(name)
    raise ValueError(f"there is no shaft {target!r}; allowed: {', '.join(names)}")


def bus_of(bench: Bench, target: str) -> str:
    """A bus by name. Raises ValueError."""
    if target not in bench.wires.channels:
        raise ValueError(f"there is no bus {target!r}; allowed: {', '.join(bench.wires.channels)}")
    return target


def fields_of(bench: Bench, key: str) -> list[Field]:
    """The signals that carry one input: `bank.soc_pct`, `port.drive.torque_nm`. Raises ValueError."""
    fields = [field for node in bench.nodes.all.values() for field in node.fields()]
    found = [field for field in fields if field.key == key or key in field.also]
    if not found:
        known = sorted({name for field in fields if field.row for name in (field.key, *field.also)})
        raise ValueError(f"no node sends the input {key!r}; allowed: {', '.join(known)}")
    return found


def distort(fields: Sequence[Field], change: Callable[[float | None, float], float | None]) -> None:
    """Put a fault on the values of signals. Raises ValueError when one has a fault already."""
    for field in fields:
        if field.distort is not None or field.forced_code is not None:
            raise ValueError(f"{field.key} has a fault already; clear that one first")
    for field in fields:
        field.distort = change


def mend(fields: Sequence[Field]) -> None:
    """Take the fault off the values of signals."""
    for field in fields:
        field.distort = None
        field.forced_code = None
