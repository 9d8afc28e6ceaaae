"""The simulated boat itself, whoever decides for it and however it is heard: plant, panel, nodes, operator, faults.

Every rig is one of these with a supervisor put to it: in the same process with or without buses, or elsewhere.
"""

import math
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

from sim.errors import BenchError
from sim.faults import CATALOGUE, Fault, Sent, make_fault
from sim.faults.base import Value
from sim.nodes.build import build_nodes, new_panel
from sim.nodes.coupling import plant_inputs
from sim.nodes.machinery import Nodes
from sim.nodes.node import Node
from sim.nodes.own import OwnKind, kinds_of
from sim.nodes.panel import Panel
from sim.nodes.plant_file import plant_of
from sim.nodes.wire import Wires
from sim.plant import PlantInputs, PlantParams, PlantState, initial_state, step
from sim.rig.actions import Actions, shown
from sim.rig.energy import Energy, EnergyAudit
from sim.rig.jumps import jump, jump_targets
from sim.rig.reasons import RigEvent
from sim.rig.targets import targets_for
from supervisor.bus import BoatMap, compile_boat
from supervisor.config import BoatConfig


class SimulatedBoat:
    """From cold: isolator on and contactor closed, DC links empty, engines stopped, gears and levers in neutral,
    clutches closed, locks released, no hotel load, no sun, still air and water.

    Times in s since power-up. Raises ConfigError for a boat file that cannot be simulated.
    """

    wires: Wires
    """The buses between nodes and supervisor; a rig without buses raises ValueError."""

    def __init__(
        self,
        config: BoatConfig,
        file: Path,
        *,
        tick_s: float,
        plant_path: str | Path | None = None,
        soc_pct: float | None = None,
        seed: int | None = None,
    ) -> None:
        """`tick_s` is the step of plant and nodes; `plant_path` overrides the plant named in the boat file; `soc_pct`
        is the bank's SOC at the start (70 % if not given); `seed` decides at which moments of their period the nodes
        begin to send, without one all at once."""
        self.config = config
        self.boat = config.boat.name
        self.tick_s = tick_s
        self.params: PlantParams = plant_of(config, file, plant_path)
        self.plant: PlantState = initial_state(self.params, 70.0 if soc_pct is None else soc_pct)
        self.boat_map: BoatMap = compile_boat(config, file)
        self.shafts: Sequence[str] = self.boat_map.shaft_names
        self.interlocks: Mapping[str, OwnKind] = kinds_of(self.boat_map)
        self.bitrates: Mapping[str, int] = {name: bus.bitrate for name, bus in config.buses.items()}
        self.panel: Panel = new_panel(self.boat_map, config.boat.handset_id)
        self.nodes: Nodes = build_nodes(self.boat_map, self.panel, seed)
        self.events: list[RigEvent] = []
        """What happened so far, oldest first; only ever appended to."""
        self._absent = {(level, spec.name) for level, spec in self.boat_map.absent}
        self._targets = targets_for(self.shafts, self.interlocks)
        self._actions = Actions(self.nodes, self._targets, self._fitted, self._missing_permit)
        self._faults: dict[tuple[str, str], Fault] = {}
        self._audit: EnergyAudit | None = None

    # ---- what a rig says of itself

    @property
    def now_s(self) -> float:
        """Time since power-up, s."""
        raise NotImplementedError

    def _missing_permit(self, shaft: int, what: str) -> str:
        """Why the supervisor does not permit `what` on a shaft."""
        raise NotImplementedError

    def _impossible(self, fault: str) -> str:
        """Why a fault of the catalogue cannot be made here; "" if it can."""
        return ""

    # ---- time

    def _advance(self, time_s: float, alter: Callable[[PlantInputs], PlantInputs] | None = None) -> None:
        """The plant moves on by one step under the orders that the nodes last heard, as faults, and `alter`, leave
        them. Raises BenchError for a boat that has no numbers left."""
        inputs = plant_inputs(self.nodes, self.plant, time_s)
        if alter is not None:
            inputs = alter(inputs)
        for fault in self._faults.values():
            inputs = fault.inputs(time_s, inputs)
        plant = step(self.params, self.plant, inputs, self.tick_s)
        for fault in self._faults.values():
            plant = fault.state(time_s, plant)
        if not math.isfinite(plant.bank.terminal_v + plant.boat_speed_ms + plant.shafts[0].line.drive_rpm):
            raise BenchError(
                f"{self.boat}: at {time_s:.2f} s the simulated boat has no speed or voltage that is a number: its "
                "plant file holds something that no boat is; see the warnings of thwart check"
            )
        self.plant = plant
        if self._audit is not None:
            self._audit.stepped(plant, self.tick_s)

    def begin_audit(self) -> None:
        """Add up energies from now on."""
        self._audit = EnergyAudit(self.params, self.plant)

    def energy(self) -> Energy | None:
        """The energy balance since `begin_audit`; None without it."""
        return None if self._audit is None else self._audit.energy()

    def _frames(self, time_s: float, senders: Sequence[Node]) -> list[Sent]:
        """What these nodes send now, as faults leave it."""
        plant = self.plant
        frames = [Sent(node.name, bus, message) for node in senders for bus, message in node.step(time_s, plant)]
        for fault in tuple(self._faults.values()):
            frames = fault.frames(time_s, frames)
        return frames

    # ---- the operator's hands, jumps and faults

    def act(self, target: str, value: Value) -> str:
        """An operator action, in force from the next tick on. Returns "" or, where a circuit of the boat bars it, why
        nothing happens. Raises ValueError if it cannot be done."""
        refusal = self._actions.act(target, value, self.now_s)
        subject = target.partition(".")[0]
        subject = subject if subject in self.shafts else "boat"
        self._tell("action", subject, f"{target} = {shown(value)}")
        if refusal:
            self._tell("refusal", subject, refusal)
        return refusal

    def lacks(self, target: str, value: Value) -> str:
        """Why this boat has no part for an operator action; "" where it has."""
        return self._actions.why_not(target, value)

    def position(self, target: str) -> Value | None:
        """Where a hand has left one control; None where nothing stays."""
        return self._actions.position(target)

    def positions(self) -> Mapping[str, Value]:
        """Where the hands have left each control that stays where it is put."""
        found = {target: self._actions.position(target) for target in self._targets}
        return {target: value for target, value in found.items() if value is not None}

    def faults_at_work(self) -> Sequence[tuple[str, str]]:
        """(fault, target) of each fault that was injected and not cleared."""
        return tuple(self._faults)

    def plant_targets(self) -> Sequence[str]:
        """What `set_plant` may set."""
        return jump_targets(self.shafts)

    def set_plant(self, target: str, value: float) -> None:
        """Make the simulated boat jump. Raises ValueError if it cannot."""
        self.plant = jump(self.params, self.plant, self.panel, self.shafts, target, value)
        if self._audit is not None:
            self._audit.jumped(self.plant)

    def faults(self) -> Mapping[str, str]:
        """Fault name -> what it does, of those that can be made here."""
        return {name: entry.words for name, entry in CATALOGUE.items() if not self._impossible(name)}

    def inject(self, fault: str, target: str, **params: Value) -> None:
        """Start a fault of the catalogue. Raises ValueError naming what is allowed."""
        if fault in CATALOGUE and (why := self._impossible(fault)):
            raise ValueError(why)
        if (fault, target) in self._faults:
            raise ValueError(f"{fault} on {target} is there already; clear it first")
        made = make_fault(fault, target, params)
        made.start(self, self.now_s)
        self._faults[fault, target] = made
        given = "".join(f", {key} {shown(value)}" for key, value in params.items())
        self._tell("fault", target, f"{fault}: {CATALOGUE[fault].words}{given}")

    def clear(self, fault: str, target: str) -> None:
        """End a fault. Raises ValueError if it is not there."""
        found = self._faults.pop((fault, target), None)
        if found is None:
            there = ", ".join(f"{name} on {where}" for name, where in self._faults) or "none"
            raise ValueError(f"there is no {fault} on {target} to clear; at work: {there}")
        found.stop(self, self.now_s)
        self._tell("fault", target, f"{fault} ended")

    def _tell(self, kind: str, subject: str, text: str) -> None:
        self.events.append(RigEvent(self.now_s, kind, subject, text))

    def _fitted(self, level: int, name: str) -> bool:
        return (level, name) not in self._absent


def boat_file(config: str | Path | BoatConfig, file: str | Path | None) -> str | Path:
    """The file that a boat comes from: itself, or for a BoatConfig the one given beside it. Raises ValueError."""
    source = file if isinstance(config, BoatConfig) else config
    if source is None:
        raise ValueError("a BoatConfig needs the file it came from, for the DBC and plant files beside it")
    return source
