"""Simulated nodes on a real bus, in real time: the engine behind `thwart stand-in`.

One process simulates one whole boat, moved by the supervisor's orders that it hears on the bus, and sends the frames of
the chosen nodes only. What other boxes on the bus (real ones, or another stand-in process) say about the parts that are
not chosen, it follows as far as it shows on the bus: gear, clutch, lock, engine run and speed, contactor. Nothing else
is shared: see docs/adapters.md for what that means.
"""

from collections.abc import Mapping, Sequence
from pathlib import Path

from sim.errors import BenchError
from sim.faults import CATALOGUE, Fault, Sent, make_fault
from sim.nodes.actions import Actions
from sim.nodes.build import build_nodes, new_panel
from sim.nodes.coupling import plant_inputs
from sim.nodes.jumps import jump
from sim.nodes.machinery import Nodes
from sim.nodes.node import Node
from sim.nodes.wire import Wires
from sim.plant import PlantState, initial_state, load_plant, shaft_names, step
from supervisor.bus import BusPort, InputTable, compile_boat
from supervisor.bus.port import BusSetting
from supervisor.config import BoatConfig, ConfigError
from supervisor.runtime.adapters import Adapters
from supervisor.signals import BoatInput, ShaftInput, ShaftInputs

Value = float | bool | str
MOST_STEPS = 5
"""Steps of the boat in one tick at most, after a late one."""
_START_KEY_S = 5.0


class StandIn:
    """The chosen nodes of one boat. `tick(now_s)` every `tick_s`; times are monotonic."""

    def __init__(
        self, config: BoatConfig, file: Path, chosen: Sequence[str], settings: Mapping[str, BusSetting],
        adapters: Adapters, now_s: float, soc_pct: float = 70.0,
    ) -> None:  # fmt: skip
        """Raises ConfigError for a boat without a plant, BenchError for a node that it does not have."""
        if config.simulation is None:
            raise ConfigError(str(file), "simulation.plant", "the boat file names no plant to simulate",
                              "Add [simulation] with plant = a file beside it")  # fmt: skip
        plant_file = file.parent / config.simulation.plant
        self.params = load_plant(plant_file)
        names, found = [shaft.name for shaft in config.shaft], list(shaft_names(plant_file))
        if len(names) != len(found) or (sorted(names) == sorted(found) and names != found):
            problem = f"its shafts are {', '.join(found)}, the boat's {', '.join(names)}"
            raise ConfigError(str(plant_file), "shaft", problem, "Give as many, in the same order")
        self.plant: PlantState = initial_state(self.params, soc_pct)
        self.config = config
        self.boat_map = compile_boat(config, file)
        self.table = InputTable(self.boat_map)
        self.tick_s = config.boat.tick_s / 2  # twice the supervisor's rate: what is sent is never a whole tick late
        self.bitrates: Mapping[str, int] = {name: setting.bitrate for name, setting in settings.items()}
        self.wires = Wires(config.buses, config.boat.name)
        self.panel = new_panel(self.boat_map, config.boat.handset_id)
        self.nodes: Nodes = build_nodes(self.boat_map, self.panel, seed=0)
        self.chosen = frozenset(choose(chosen, self.nodes.all))
        self._senders = tuple(node for name, node in self.nodes.all.items() if name in self.chosen)
        self.buses = frozenset(sender.bus for node in self._senders for sender in node.senders)
        self.port = BusPort(settings, essential=self.buses, opener=adapters.open)
        self._faults: dict[tuple[str, str], Fault] = {}
        absent = {(level, spec.name) for level, spec in self.boat_map.absent}
        self._actions = Actions(
            self.nodes, self.boat_map.shaft_names, lambda level, name: (level, name) not in absent,
            lambda _level, what: f"no permit for {what} is heard from the supervisor",
        )  # fmt: skip
        self._start_s = now_s
        self._steps = 0
        self._now_s = 0.0
        self.sent = 0

    def tick(self, now_s: float) -> None:
        """Hear what came, move the boat, send what is due."""
        self._now_s = time_s = now_s - self._start_s
        received = self.port.receive_all(now_s)
        for bus in self.port.reopened:
            self.table.restart_bus(bus)
        for bus, message in received:
            self.table.take(bus, message, time_s)
            for node in self.nodes.all.values():
                node.take(bus, message, time_s)
        self._follow(time_s)
        self._move(time_s)
        plant = self.plant
        frames = [Sent(node.name, bus, message) for node in self._senders for bus, message in node.step(time_s, plant)]
        for fault in tuple(self._faults.values()):
            frames = fault.frames(time_s, frames)
        self.sent += self.port.send([(bus, message) for _, bus, message in frames], now_s)

    def _move(self, time_s: float) -> None:
        self.panel.release_due(time_s)
        due = int(time_s / self.tick_s) - self._steps
        self._steps += due
        for _ in range(min(due, MOST_STEPS)):
            inputs = plant_inputs(self.nodes, self.plant, time_s)
            for fault in self._faults.values():
                inputs = fault.inputs(time_s, inputs)
            self.plant = step(self.params, self.plant, inputs, self.tick_s)
            for fault in self._faults.values():
                self.plant = fault.state(time_s, self.plant)

    # ---- what others say about the parts that they hold

    def _follow(self, time_s: float) -> None:
        boat, shafts = self.table.snapshot(time_s)
        if "monitor" not in self.chosen and boat.known & BoatInput.CONTACTOR_CLOSED:
            self.panel.isolator = 1 if boat.on & BoatInput.CONTACTOR_CLOSED else 0
        for level, (name, inputs) in enumerate(zip(self.boat_map.shaft_names, shafts, strict=True)):
            if f"contacts.{name}" not in self.chosen:
                self._follow_contacts(level, inputs, time_s)
            if f"engine.{name}" not in self.chosen and inputs.known & ShaftInput.ENGINE_SPEED:
                engine = self.config.shaft[level].engine
                share = (inputs.engine_speed_rpm - engine.idle_rpm) / (engine.max_rpm - engine.idle_rpm)
                self.panel.shafts[level].throttle_pct = min(max(100.0 * share, 0.0), 100.0)

    def _follow_contacts(self, level: int, inputs: ShaftInputs, time_s: float) -> None:
        shaft = self.panel.shafts[level]
        on, known = inputs.on, inputs.known
        if on & ShaftInput.GEAR_NEUTRAL:
            shaft.gear = 0
        elif on & ShaftInput.GEAR_AHEAD:
            shaft.gear = 1
        elif known & ShaftInput.GEAR_REPORT and inputs.gear_report < 0.0:
            shaft.gear = -1
        if on & ShaftInput.CLUTCH_OPEN:
            shaft.clutch_close = 0
        elif on & ShaftInput.CLUTCH_CLOSED:
            shaft.clutch_close = 1
        if on & ShaftInput.LOCK_ENGAGED:
            shaft.lock_engage = 1
        elif on & ShaftInput.LOCK_RELEASED:
            shaft.lock_engage = 0
        running = self.plant.shafts[level].engine.running
        if known & ShaftInput.ENGINE_RUN and bool(on & ShaftInput.ENGINE_RUN) != bool(running):
            shaft.start_key, shaft.stop_key = (0, 1) if running else (1, 0)
            shaft.key_until_s = time_s + _START_KEY_S

    # ---- the operator's hands

    def order(self, line: str) -> str:
        """One line: `TARGET VALUE`, `set TARGET VALUE`, `inject FAULT TARGET [PARAM=VALUE ...]`, `clear FAULT TARGET`.

        Returns the answer, "" if there is nothing to say. Raises ValueError with a sentence for what cannot be done.
        """
        words = line.split()
        match words:
            case []:
                return ""
            case ["set", target, number]:
                self.plant = jump(
                    self.params, self.plant, self.panel, self.boat_map.shaft_names, target, _number(number)
                )
                return ""
            case ["inject", name, target, *params]:
                return self._inject(name, target, _params(params))
            case ["clear", name, target]:
                fault = self._faults.pop((name, target), None)
                if fault is None:
                    raise ValueError(f"there is no {name} on {target} to clear")
                fault.stop(self, self._now_s)
                return ""
            case [target, value]:
                return self._actions.act(target, _value(value), self._now_s)
        raise ValueError(f"not understood: {line.strip()!r}. Say TARGET VALUE, set, inject or clear")

    def _inject(self, name: str, target: str, params: Mapping[str, Value]) -> str:
        if name in CATALOGUE and CATALOGUE[name].targets == "bus" and name != "babbling":
            raise ValueError(f"{name} is a fault of the supervisor's own adapter: pull its plug, or short its bus")
        if (name, target) in self._faults:
            raise ValueError(f"{name} on {target} is there already; clear it first")
        made = make_fault(name, target, params)
        made.start(self, self._now_s)
        self._faults[name, target] = made
        return CATALOGUE[name].words

    def close(self) -> None:
        """Release the adapters."""
        self.port.close()
        self.wires.close()


def choose(wanted: Sequence[str], nodes: Mapping[str, Node]) -> list[str]:
    """Names of nodes: as they are, written the other way round (`port.drive`), a part for all its shafts (`drive`), or
    `all`. Raises BenchError for one that the boat does not have."""
    found: list[str] = []
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


def _number(text: str) -> float:
    try:
        return float(text)
    except ValueError:
        raise ValueError(f"{text!r} is not a number") from None


def _params(words: Sequence[str]) -> dict[str, Value]:
    pairs = (word.partition("=") for word in words)
    return {key: _value(text) for key, _, text in pairs}


def _value(text: str) -> Value:
    if text in ("on", "true"):
        return True
    if text in ("off", "false"):
        return False
    try:
        return float(text)
    except ValueError:
        return text
