"""Simulated nodes on a real bus, in real time: the engine behind `thwart stand-in` and `thwart bench --live`.

One process simulates one whole boat, moved by the supervisor's orders that it hears on the bus, and sends the frames of
the chosen nodes only. What other boxes say about the parts that are not chosen, it follows as far as it shows on the
bus (sim.rig.live.follow). Nothing else is shared: see docs/adapters.md for what that means.
"""

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

import can

from sim.errors import BenchError
from sim.faults import CATALOGUE
from sim.nodes.node import Node
from sim.nodes.wire import Wires
from sim.rig.boat import SimulatedBoat
from sim.rig.live.follow import Follower
from supervisor.bus import BusPort, InputTable
from supervisor.bus.port import BusSetting
from supervisor.config import BoatConfig
from supervisor.runtime.adapters import Adapters

FrameSink = Callable[[float, can.Message, str, bool], None]
"""Called for each frame with time (s), frame, bus name, and whether this process sent it."""

MOST_STEPS = 5
"""Steps of the boat in one tick at most, after a late one."""


class StandIn(SimulatedBoat):
    """The chosen nodes of one boat. `tick(now_s)` every `tick_s`; times are monotonic."""

    def __init__(
        self, config: BoatConfig, file: Path, chosen: Sequence[str], settings: Mapping[str, BusSetting],
        adapters: Adapters, now_s: float, soc_pct: float = 70.0,
    ) -> None:  # fmt: skip
        """Raises ConfigError for a boat that cannot be simulated, BenchError for a node that it does not have."""
        # at twice the supervisor's rate: what is sent is never a whole tick late
        super().__init__(config, file, tick_s=config.boat.tick_s / 2, soc_pct=soc_pct, seed=0)
        self.table = InputTable(self.boat_map)
        self.bitrates = {name: setting.bitrate for name, setting in settings.items()}
        self.chosen = frozenset(choose(chosen, self.nodes.all))
        self._senders = tuple(node for name, node in self.nodes.all.items() if name in self.chosen)
        self.buses = frozenset(sender.bus for node in self._senders for sender in node.senders)
        self.port = BusPort(settings, essential=self.buses, opener=adapters.open)
        self._follower = Follower(config, self.params, self.panel, self.chosen)
        self.on_frame: FrameSink | None = None
        self.wires = Wires(config.buses, config.boat.name)  # last: what is refused above leaves no bus open
        self._start_s = now_s
        self._steps = 0
        self.time_s = 0.0
        """Time of the last tick since the start, s."""
        self.sent = 0

    @property
    def now_s(self) -> float:
        """Time of the last tick, s."""
        return self.time_s

    def tick(self, now_s: float) -> None:
        """Hear what came, move the boat, send what is due."""
        self.time_s = time_s = now_s - self._start_s
        sink = self.on_frame
        received = self.port.receive_all(now_s)
        for bus in self.port.reopened:
            self.table.restart_bus(bus)
        for bus, message in received:
            self.table.take(bus, message, time_s)
            for node in self.nodes.all.values():
                node.take(bus, message, time_s)
            if sink is not None:
                sink(time_s, message, bus, False)
        self.plant = self._follower.look(self.plant, *self.table.snapshot(time_s), time_s)
        self._move(time_s)
        frames = self._frames(time_s, self._senders)
        sent = self.port.send([(bus, message) for _, bus, message in frames], now_s)
        self.sent += len(sent)
        if sink is not None:
            for bus, message in sent:
                sink(time_s, message, bus, True)

    def _move(self, time_s: float) -> None:
        self.panel.release_due(time_s)
        due = int(time_s / self.tick_s) - self._steps
        self._steps += due
        for _ in range(min(due, MOST_STEPS)):
            self._advance(time_s, self._follower.drives)

    def _missing_permit(self, shaft: int, what: str) -> str:
        return f"no permit for {what} is heard from the supervisor"

    def _impossible(self, fault: str) -> str:
        if CATALOGUE[fault].targets != "bus" or fault == "babbling":
            return ""
        return f"{fault} is a fault of the supervisor's own adapter: pull its plug, or short its bus"

    def close(self) -> None:
        """Release the adapters."""
        self.port.close()
        self.wires.close()


def choose(wanted: Sequence[str], nodes: Mapping[str, Node]) -> list[str]:
    """Names of nodes: as they are, written the other way round (`port.drive`), a part for all its shafts (`drive`), or
    `all`. Raises BenchError for one that the boat does not have."""
    found: list[str] = []
    if not wanted:
        raise BenchError(f"--nodes: no node is named; this boat has: all, {', '.join(nodes)}")
    for name in wanted:
        first, _, second = name.partition(".")
        if name == "all":
            found += nodes
        elif name in nodes:
            found.append(name)
        elif f"{second}.{first}" in nodes:
            found.append(f"{second}.{first}")
        elif not second and (parts := [one for one in nodes if one.startswith(f"{first}.")]):
            found += parts
        else:
            raise BenchError(f"--nodes: this boat has no node {name!r}; it has: all, {', '.join(nodes)}")
    return found
