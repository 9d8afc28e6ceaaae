"""A simulated boat with its supervisor, in logical time: plant, stand-in nodes, python-can virtual buses, supervisor.

One tick: the plant moves on under the orders that the nodes last heard; the nodes send what is due; the supervisor
receives, decides and sends; the nodes hear it. Nothing but the frames passes between the two sides.
"""

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

import can

from sim.nodes.machinery import Nodes
from sim.nodes.node import Node
from sim.nodes.wire import Wires
from sim.requirements import Evaluator, Record, of_tick
from sim.rig.boat import SimulatedBoat, boat_file
from sim.rig.inside import Inside
from sim.rig.reasons import explain, missing_permit, told
from sim.rig.snapshot import Snapshot, decided
from supervisor.bus import BusPort
from supervisor.config import BoatConfig, load_config
from supervisor.config.load import resolve_boat
from supervisor.controller import Outcome
from supervisor.runtime import Supervisor
from supervisor.runtime.supervisor import TickSink


class SimRig(SimulatedBoat, Inside):
    """A whole boat on the bench. Deterministic: the same file, the same seed and the same calls give the same frames,
    byte for byte, at the same times. Raises ConfigError for a boat file that cannot be simulated.
    """

    def __init__(
        self,
        config: str | Path | BoatConfig,
        plant_path: str | Path | None = None,
        soc_pct: float | None = None,
        seed: int = 0,
        file: str | Path | None = None,
    ) -> None:
        """`config` is a path, a shipped name, or a validated BoatConfig together with the `file` it came from (for the
        paths in it). `plant_path` overrides the plant named in the boat file; `soc_pct` is the bank's SOC at the start
        (70 % if not given); `seed` decides at which moments of their period the nodes begin to send.
        """
        path = resolve_boat(boat_file(config, file))
        read = config if isinstance(config, BoatConfig) else load_config(path)
        super().__init__(
            read, path, tick_s=read.boat.tick_s, plant_path=plant_path, soc_pct=soc_pct, seed=seed
        )  # fmt: skip
        # buses are opened last, so that a boat that cannot be simulated leaves none behind
        self.wires = Wires(read.buses, self.boat)
        self._port = BusPort(self.wires.settings(), self.boat_map.essential, self.wires.open_adapter, background=False)
        self.supervisor = Supervisor(read, self.boat_map, self._port)
        self.buses: Sequence[str] = tuple(read.buses)
        self._nodes = tuple(self.nodes.all.values())
        self._hearers = _hearers(self.nodes)
        self._snapshot = Snapshot(self.shafts, self.interlocks)
        self._ticks = 0
        self._handled = 0
        self.outcome: Outcome | None = None
        self.supervisor_dead = False
        """The supervisor takes no more ticks: it hears and sends nothing."""
        self.on_frame: Callable[[float, can.Message, str], None] | None = None
        self._port.open(0.0)
        self._port.receive_all(0.0)

    # ---- time

    @property
    def now_s(self) -> float:
        """Time since power-up, s."""
        return self._ticks * self.tick_s

    @property
    def frames(self) -> int:
        """Frames that crossed the buses so far."""
        return self._handled

    def step(self) -> None:
        """Advance everything by one tick."""
        before_s = self._ticks * self.tick_s
        self._ticks += 1
        now_s = self._ticks * self.tick_s
        self.panel.release_due(before_s)
        self._advance(before_s)
        self._send(now_s)
        if not self.supervisor_dead:
            outcome = self.supervisor.tick(now_s)
            self.outcome = outcome
            if outcome.events:
                self.events += [told(event) for event in outcome.events]
        self._hear(now_s)

    def run(self, seconds: float) -> None:
        """Advance by so many seconds."""
        for _ in range(round(seconds / self.tick_s)):
            self.step()

    def _send(self, now_s: float) -> None:
        plant, taps, sink = self.plant, self.wires.taps, self.on_frame
        if not self._faults:
            for node in self._nodes:
                for bus, message in node.step(now_s, plant):
                    taps[bus].send(message)
                    self._handled += 1
                    if sink is not None:
                        sink(now_s, message, bus)
            return
        for _, bus, message in self._frames(now_s, self._nodes):
            taps[bus].send(message)
            self._handled += 1
            if sink is not None:
                sink(now_s, message, bus)

    def _hear(self, now_s: float) -> None:
        hearers, sink = self._hearers, self.on_frame
        for bus in self.buses:
            messages = self.wires.drain(bus)
            for fault in self._faults.values():
                messages = fault.orders(now_s, bus, messages)
            for message in messages:
                self._handled += 1
                if sink is not None:
                    sink(now_s, message, bus)
                for node in hearers.get((bus, message.arbitration_id), ()):
                    node.take(bus, message, now_s)

    # ---- looking

    def signals(self) -> Mapping[str, float | str]:
        """A flat snapshot of truth, of what the supervisor saw, and of what it decided."""
        says = decided(self.supervisor.controller, self.outcome)
        return self._snapshot.take(self.plant, self.panel, says, self.supervisor.table, self.now_s)

    def record_supervisor(
        self, on_frame: Callable[[float, can.Message, str], None] | None, on_tick: TickSink | None
    ) -> None:
        """Follow the supervisor from its own side: what its adapters give it and take from it, and its ticks."""
        if on_frame is None:
            self.supervisor.on_frame = None
        else:
            self.supervisor.on_frame = lambda time_s, bus, message, _sent: on_frame(time_s, message, bus)
        self.supervisor.on_tick = on_tick

    def evaluator(self) -> Evaluator:
        """A fresh evaluator of the safety requirements, with this boat's limits, for the ticks from now on."""
        return Evaluator(
            self.supervisor.controller.boat, self.shafts, interlocks=self.config.interlock,
            from_power_up=self.outcome is None,
        )  # fmt: skip

    def records(self) -> list[Record]:
        """The tick just done, as the supervisor saw it and decided; none before the first one."""
        if self.outcome is None:
            return []
        return [of_tick(*self.supervisor.table.snapshot(self.now_s), self.outcome)]

    def explain(self, what: str) -> Sequence[str]:
        """What is missing for "enable", a boat mode, or as "port PROPEL"; empty when nothing is."""
        return explain(self.supervisor.controller, self.shafts, what)

    def close(self) -> None:
        """Release the buses."""
        self._port.close()
        self.wires.close()

    def _missing_permit(self, shaft: int, what: str) -> str:
        return missing_permit(self.supervisor.controller, shaft, what)


def _hearers(nodes: Nodes) -> dict[tuple[str, int], tuple[Node, ...]]:
    found: dict[tuple[str, int], list[Node]] = {}
    for node in nodes.all.values():
        for place in node.hears:
            found.setdefault(place, []).append(node)
    return {place: tuple(group) for place, group in found.items()}
