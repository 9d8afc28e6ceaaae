"""A simulated boat with its supervisor, in logical time: plant, stand-in nodes, python-can virtual buses, supervisor.

One tick: the plant moves on under the orders that the nodes last heard; the nodes send what is due; the supervisor
receives, decides and sends; the nodes hear it. Nothing but the frames passes between the two sides.
"""

import math
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

import can

from sim.errors import BenchError
from sim.faults import CATALOGUE, Fault, Sent, make_fault
from sim.nodes.build import build_nodes, new_panel
from sim.nodes.coupling import plant_inputs
from sim.nodes.machinery import Nodes
from sim.nodes.node import Node
from sim.nodes.own import kinds_of
from sim.nodes.plant_file import plant_of
from sim.nodes.wire import Wires
from sim.plant import PlantState, initial_state, step
from sim.requirements import Evaluator, Record, of_tick
from sim.rig.actions import Actions, Value, shown
from sim.rig.inside import Inside
from sim.rig.jumps import jump, jump_targets
from sim.rig.reasons import RigEvent, explain, missing_permit, told
from sim.rig.snapshot import Snapshot, decided
from supervisor.bus import BoatMap, BusPort, compile_boat
from supervisor.config import BoatConfig, load_config
from supervisor.config.load import resolve_boat
from supervisor.controller import Outcome
from supervisor.runtime import Supervisor
from supervisor.runtime.supervisor import TickSink


class SimRig(Inside):
    """A whole boat on the bench. Deterministic: the same file, the same seed and the same calls give the same frames,
    byte for byte, at the same times.

    From cold: isolator on and contactor closed, DC links empty, engines stopped, gears and levers in neutral, clutches
    closed, locks released, no hotel load, no sun, still air and water. Raises ConfigError for a boat file that cannot
    be simulated.
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
        source = file if isinstance(config, BoatConfig) else config
        if source is None:
            raise ValueError("a BoatConfig needs the file it came from, for the DBC and plant files beside it")
        path = resolve_boat(source)
        self.config = config if isinstance(config, BoatConfig) else load_config(path)
        boat = self.config.boat
        self.boat = boat.name
        self.tick_s = boat.tick_s
        self.params = plant_of(self.config, path, plant_path)
        self.plant: PlantState = initial_state(self.params, 70.0 if soc_pct is None else soc_pct)
        self.boat_map: BoatMap = compile_boat(self.config, path)
        self.shafts: Sequence[str] = self.boat_map.shaft_names
        # buses are opened last, so that a boat that cannot be simulated leaves none behind
        self.wires = Wires(self.config.buses, boat.name)
        self._port = BusPort(self.wires.settings(), self.boat_map.essential, self.wires.open_adapter, background=False)
        self.supervisor = Supervisor(self.config, self.boat_map, self._port)
        self.interlocks = kinds_of(self.boat_map)
        self.buses: Sequence[str] = tuple(self.config.buses)
        self.bitrates: Mapping[str, int] = {name: bus.bitrate for name, bus in self.config.buses.items()}
        self.panel = new_panel(self.boat_map, boat.handset_id)
        self.nodes: Nodes = build_nodes(self.boat_map, self.panel, seed)
        self._nodes = tuple(self.nodes.all.values())
        self._hearers = _hearers(self.nodes)
        self._absent = {(level, spec.name) for level, spec in self.boat_map.absent}
        self._actions = Actions(self.nodes, self.shafts, self._fitted, self._missing_permit)
        self._snapshot = Snapshot(self.shafts, self.interlocks)
        self._faults: dict[tuple[str, str], Fault] = {}
        self._ticks = 0
        self._handled = 0
        self.outcome: Outcome | None = None
        self.supervisor_dead = False
        """The supervisor takes no more ticks: it hears and sends nothing."""
        self.events: list[RigEvent] = []
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
        self._move(before_s)
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

    def _move(self, before_s: float) -> None:
        self.panel.release_due(before_s)
        inputs = plant_inputs(self.nodes, self.plant, before_s)
        for fault in self._faults.values():
            inputs = fault.inputs(before_s, inputs)
        self.plant = step(self.params, self.plant, inputs, self.tick_s)
        for fault in self._faults.values():
            self.plant = fault.state(before_s, self.plant)
        plant = self.plant
        if not math.isfinite(plant.bank.terminal_v + plant.boat_speed_ms + plant.shafts[0].line.drive_rpm):
            raise BenchError(
                f"{self.boat}: at {before_s:.2f} s the simulated boat has no speed or voltage that is a number: its "
                "plant file holds something that no boat is; see the warnings of thwart check"
            )

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
        frames = [Sent(node.name, bus, message) for node in self._nodes for bus, message in node.step(now_s, plant)]
        for fault in tuple(self._faults.values()):
            frames = fault.frames(now_s, frames)
        for _, bus, message in frames:
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

    # ---- the operator's hands

    def act(self, target: str, value: Value) -> None:
        """An operator action, in force from the next tick on. Raises ValueError if it cannot be done."""
        refusal = self._actions.act(target, value, self.now_s)
        subject = target.partition(".")[0]
        subject = subject if subject in self.shafts else "boat"
        self.events.append(RigEvent(self.now_s, "action", subject, f"{target} = {shown(value)}"))
        if refusal:
            self.events.append(RigEvent(self.now_s, "refusal", subject, refusal))

    def plant_targets(self) -> Sequence[str]:
        """What `set_plant` may set."""
        return jump_targets(self.shafts)

    def set_plant(self, target: str, value: float) -> None:
        """Make the simulated boat jump. Raises ValueError if it cannot."""
        self.plant = jump(self.params, self.plant, self.panel, self.shafts, target, value)

    # ---- faults

    def faults(self) -> Mapping[str, str]:
        """Fault name -> what it does."""
        return {name: entry.words for name, entry in CATALOGUE.items()}

    def inject(self, fault: str, target: str, **params: Value) -> None:
        """Start a fault of the catalogue. Raises ValueError naming what is allowed."""
        if (fault, target) in self._faults:
            raise ValueError(f"{fault} on {target} is there already; clear it first")
        made = make_fault(fault, target, params)
        made.start(self, self.now_s)
        self._faults[fault, target] = made
        given = "".join(f", {key} {shown(value)}" for key, value in params.items())
        self.events.append(RigEvent(self.now_s, "fault", target, f"{fault}: {CATALOGUE[fault].words}{given}"))

    def clear(self, fault: str, target: str) -> None:
        """End a fault. Raises ValueError if it is not there."""
        found = self._faults.pop((fault, target), None)
        if found is None:
            there = ", ".join(f"{name} on {where}" for name, where in self._faults) or "none"
            raise ValueError(f"there is no {fault} on {target} to clear; at work: {there}")
        found.stop(self, self.now_s)
        self.events.append(RigEvent(self.now_s, "fault", target, f"{fault} ended"))

    # ---- looking

    def signals(self) -> Mapping[str, float | str]:
        """A flat snapshot of truth, of what the supervisor saw, and of what it decided."""
        says = decided(self.supervisor.controller, self.outcome)
        return self._snapshot.take(self.plant, says, self.supervisor.table, self.now_s)

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

    def _fitted(self, level: int, name: str) -> bool:
        return (level, name) not in self._absent

    def _missing_permit(self, shaft: int, what: str) -> str:
        return missing_permit(self.supervisor.controller, shaft, what)


def _hearers(nodes: Nodes) -> dict[tuple[str, int], tuple[Node, ...]]:
    found: dict[tuple[str, int], list[Node]] = {}
    for node in nodes.all.values():
        for place in node.hears:
            found.setdefault(place, []).append(node)
    return {place: tuple(group) for place, group in found.items()}
