"""A whole boat without its buses: the plant's truth goes straight into the controller, and its orders straight back.

The same boat, panel, actions, faults and signals as `sim.rig.simulated.SimRig`, but no frames: no quantisation, no
delay, no guard. Several times faster, for searches; what it finds is handed over to the real rig. It can be put back
to a saved moment, so that a search begins under way.
"""

import copy
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any, NamedTuple

import can

from sim.faults import CATALOGUE, Fault, make_fault
from sim.faults.base import node_of
from sim.nodes import Nodes, Panel, build_nodes, new_panel, plant_inputs
from sim.nodes.own import kinds_of
from sim.nodes.plant_file import plant_of
from sim.nodes.wire import Wires
from sim.plant import PlantParams, PlantState, initial_state, step
from sim.rig.actions import Actions, Value
from sim.rig.inside import Inside
from sim.rig.jumps import jump, jump_targets
from sim.rig.reasons import RigEvent, explain, missing_permit, told
from sim.rig.snapshot import Snapshot, decided
from sim.testing.direct_inputs import DirectHearing, DirectTable
from supervisor.bus import BoatMap, compile_boat
from supervisor.config import BoatConfig, load_config
from supervisor.config.load import resolve_boat
from supervisor.controller import Controller, Outcome, Saved
from supervisor.signals import BoatInputs, ShaftInputs

DIRECT_FAULTS = (
    "value_stuck", "value_drift", "value_out_of_range", "contact_bounces", "permit_withdrawn", "lever_lost",
    "handset_lost", "lock_unproven", "monitor_fault", "contactor_warning", "drive_fault", "drive_disobeys",
    "precharge_failure", "engine_stall", "clutch_stuck_in_transit", "node_silent",
)  # fmt: skip
"""Faults that need no frames. Of a silent node the values stand until they are stale, then they are unknown."""


class Moment(NamedTuple):
    """A saved moment of a DirectRig."""

    ticks: int
    plant: PlantState
    outcome: Outcome | None
    panel: dict[str, Any]
    controller: Saved
    events: int


class DirectRig(Inside):
    """A boat on the bench, without buses. Offers what a procedure needs of a rig, except frames and bus faults.

    Raises ConfigError for a boat file that cannot be simulated.
    """

    def __init__(
        self,
        config: str | Path | BoatConfig,
        file: str | Path | None = None,
    ) -> None:
        """`config` is a path, a shipped name, or a validated BoatConfig together with the `file` it came from."""
        source = file if isinstance(config, BoatConfig) else config
        if source is None:
            raise ValueError("a BoatConfig needs the file it came from, for the DBC and plant files beside it")
        path = resolve_boat(source)
        self.config = config if isinstance(config, BoatConfig) else load_config(path)
        boat = self.config.boat
        self.boat = boat.name
        self.tick_s = boat.tick_s
        self.params: PlantParams = plant_of(self.config, path)
        self.plant: PlantState = initial_state(self.params, 70.0)
        self.boat_map: BoatMap = compile_boat(self.config, path)
        self.shafts: Sequence[str] = self.boat_map.shaft_names
        self.interlocks = kinds_of(self.boat_map)
        self.buses: Sequence[str] = tuple(self.config.buses)
        self.bitrates: Mapping[str, int] = {name: bus.bitrate for name, bus in self.config.buses.items()}
        self.panel: Panel = new_panel(self.boat_map, boat.handset_id)
        self.nodes: Nodes = build_nodes(self.boat_map, self.panel)
        self._heard = DirectHearing()
        for node in self.nodes.all.values():
            if node.hearing is not None:
                node.hearing = self._heard
        self.controller = Controller(self.config)
        self.table = DirectTable(self.boat_map, self.nodes)
        self.inputs: tuple[BoatInputs, tuple[ShaftInputs, ...]] = (BoatInputs(), (ShaftInputs(),) * len(self.shafts))
        absent = {(level, spec.name) for level, spec in self.boat_map.absent}
        self._actions = Actions(
            self.nodes, self.shafts, lambda level, name: (level, name) not in absent,
            lambda shaft, what: missing_permit(self.controller, shaft, what),
        )  # fmt: skip
        self._snapshot = Snapshot(self.shafts, self.interlocks)
        self._faults: dict[tuple[str, str], Fault] = {}
        self._ticks = 0
        self.outcome: Outcome | None = None
        self.events: list[RigEvent] = []
        self.on_frame: Callable[[float, can.Message, str], None] | None = None

    # ---- time

    @property
    def now_s(self) -> float:
        """Time since power-up, s."""
        return self._ticks * self.tick_s

    def step(self) -> None:
        """Advance everything by one tick."""
        before_s = self._ticks * self.tick_s
        self._ticks += 1
        now_s = self._ticks * self.tick_s
        self.panel.release_due(before_s)
        orders = plant_inputs(self.nodes, self.plant, before_s)
        for fault in self._faults.values():
            orders = fault.inputs(before_s, orders)
        self.plant = step(self.params, self.plant, orders, self.tick_s)
        for fault in self._faults.values():
            self.plant = fault.state(before_s, self.plant)
        self.inputs = self.table.read(self.plant, self.panel, now_s)
        outcome = self.controller.tick(now_s, *self.inputs)
        self.outcome = self._heard.outcome = outcome
        if outcome.events:
            self.events += [told(event) for event in outcome.events]

    def run(self, seconds: float) -> None:
        """Advance by so many seconds."""
        for _ in range(round(seconds / self.tick_s)):
            self.step()

    # ---- the operator's hands, jumps and faults

    def act(self, target: str, value: Value) -> None:
        """An operator action, in force from the next tick on. Raises ValueError if it cannot be done."""
        refusal = self._actions.act(target, value, self.now_s)
        subject = target.partition(".")[0]
        subject = subject if subject in self.shafts else "boat"
        self.events.append(RigEvent(self.now_s, "action", subject, f"{target} = {value}"))
        if refusal:
            self.events.append(RigEvent(self.now_s, "refusal", subject, refusal))

    def plant_targets(self) -> Sequence[str]:
        """What `set_plant` may set."""
        return jump_targets(self.shafts)

    def set_plant(self, target: str, value: float) -> None:
        """Make the simulated boat jump. Raises ValueError if it cannot."""
        self.plant = jump(self.params, self.plant, self.panel, self.shafts, target, value)

    def faults(self) -> Mapping[str, str]:
        """Fault name -> what it does, of those that need no frames."""
        return {name: CATALOGUE[name].words for name in DIRECT_FAULTS}

    def inject(self, fault: str, target: str, **params: Value) -> None:
        """Start a fault. Raises ValueError naming what is allowed."""
        if fault not in DIRECT_FAULTS:
            raise ValueError(f"{fault} needs frames, and this boat has no buses; allowed: {', '.join(DIRECT_FAULTS)}")
        if (fault, target) in self._faults:
            raise ValueError(f"{fault} on {target} is there already; clear it first")
        made = make_fault(fault, target, params)
        made.start(self, self.now_s)
        if fault == "node_silent":
            self.table.silence(node_of(self, target).name, self.now_s)
        self._faults[fault, target] = made
        self.events.append(RigEvent(self.now_s, "fault", target, f"{fault}: {CATALOGUE[fault].words}"))

    def clear(self, fault: str, target: str) -> None:
        """End a fault. Raises ValueError if it is not there."""
        found = self._faults.pop((fault, target), None)
        if found is None:
            raise ValueError(f"there is no {fault} on {target} to clear")
        found.stop(self, self.now_s)
        if fault == "node_silent":
            self.table.speak(node_of(self, target).name)
        self.events.append(RigEvent(self.now_s, "fault", target, f"{fault} ended"))

    @property
    def wires(self) -> Wires:
        """There are none. Raises ValueError."""
        raise ValueError("this boat has no buses")

    # ---- looking

    def signals(self) -> Mapping[str, float | str]:
        """A flat snapshot of truth, of what the controller saw, and of what it decided."""
        return self._snapshot.take(self.plant, decided(self.controller, self.outcome), self.table, self.now_s)

    def explain(self, what: str) -> Sequence[str]:
        """What is missing for "enable", a boat mode, or as "port PROPEL"; empty when nothing is."""
        return explain(self.controller, self.shafts, what)

    def close(self) -> None:
        """Nothing to release."""

    # ---- moments

    def save(self) -> Moment:
        """The present moment. Raises ValueError while a fault is at work: its memory is its own."""
        if self._faults:
            raise ValueError("a moment can only be saved while no fault is at work")
        return Moment(
            self._ticks, self.plant, self.outcome, copy.deepcopy(vars(self.panel)), self.controller.save(),
            len(self.events),
        )  # fmt: skip

    def restore(self, moment: Moment) -> None:
        """Back to a moment saved from this rig."""
        for (fault, target), _ in tuple(self._faults.items()):
            self.clear(fault, target)
        self._ticks, self.plant = moment.ticks, moment.plant
        self.outcome = self._heard.outcome = moment.outcome
        vars(self.panel).update(copy.deepcopy(moment.panel))
        self.controller.restore(moment.controller)
        del self.events[moment.events :]
