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

from sim.faults.base import Value, node_of
from sim.nodes.wire import Wires
from sim.plant import PlantState
from sim.rig.boat import SimulatedBoat, boat_file
from sim.rig.direct_inputs import DirectHearing, DirectTable
from sim.rig.inside import Inside
from sim.rig.reasons import explain, missing_permit, told
from sim.rig.snapshot import Snapshot, decided
from supervisor.config import BoatConfig, load_config
from supervisor.config.load import resolve_boat
from supervisor.controller import Controller, Outcome, Saved
from supervisor.signals import BoatInputs, ShaftInputs

DIRECT_FAULTS = (
    "value_stuck", "value_drift", "value_out_of_range", "contact_bounces", "permit_withdrawn", "lever_lost",
    "handset_lost", "lock_unproven", "monitor_fault", "contactor_warning", "drive_fault", "drive_disobeys",
    "precharge_failure", "engine_stall", "engine_weak", "clutch_stuck_in_transit", "node_silent",
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


class DirectRig(SimulatedBoat, Inside):
    """A boat on the bench, without buses. Offers what a procedure needs of a rig, except frames and bus faults.

    Raises ConfigError for a boat file that cannot be simulated.
    """

    def __init__(
        self,
        config: str | Path | BoatConfig,
        file: str | Path | None = None,
    ) -> None:
        """`config` is a path, a shipped name, or a validated BoatConfig together with the `file` it came from."""
        path = resolve_boat(boat_file(config, file))
        read = config if isinstance(config, BoatConfig) else load_config(path)
        super().__init__(read, path, tick_s=read.boat.tick_s)
        self.buses: Sequence[str] = tuple(read.buses)
        self._heard = DirectHearing()
        for node in self.nodes.all.values():
            if node.hearing is not None:
                node.hearing = self._heard
        self.controller = Controller(read)
        self.table = DirectTable(self.boat_map, self.nodes)
        self.inputs: tuple[BoatInputs, tuple[ShaftInputs, ...]] = (BoatInputs(), (ShaftInputs(),) * len(self.shafts))
        self._snapshot = Snapshot(self.shafts, self.interlocks)
        self._ticks = 0
        self.outcome: Outcome | None = None
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
        self._advance(before_s)
        self.inputs = self.table.read(self.plant, self.panel, now_s)
        outcome = self.controller.tick(now_s, *self.inputs)
        self.outcome = self._heard.outcome = outcome
        if outcome.events:
            self.events += [told(event) for event in outcome.events]

    def run(self, seconds: float) -> None:
        """Advance by so many seconds."""
        for _ in range(round(seconds / self.tick_s)):
            self.step()

    # ---- faults

    def _impossible(self, fault: str) -> str:
        if fault in DIRECT_FAULTS:
            return ""
        return f"{fault} needs frames, and this boat has no buses; allowed: {', '.join(DIRECT_FAULTS)}"

    def inject(self, fault: str, target: str, **params: Value) -> None:
        """Start a fault. Raises ValueError naming what is allowed."""
        super().inject(fault, target, **params)
        if fault == "node_silent":
            self.table.silence(node_of(self, target).name, self.now_s)

    def clear(self, fault: str, target: str) -> None:
        """End a fault. Raises ValueError if it is not there."""
        super().clear(fault, target)
        if fault == "node_silent":
            self.table.speak(node_of(self, target).name)

    @property
    def wires(self) -> Wires:  # type: ignore[override]
        """There are none. Raises ValueError."""
        raise ValueError("this boat has no buses")

    # ---- looking

    def signals(self) -> Mapping[str, float | str]:
        """A flat snapshot of truth, of what the controller saw, and of what it decided."""
        return self._snapshot.take(
            self.plant, self.panel, decided(self.controller, self.outcome), self.table, self.now_s
        )

    def explain(self, what: str) -> Sequence[str]:
        """What is missing for "enable", a boat mode, or as "port PROPEL"; empty when nothing is."""
        return explain(self.controller, self.shafts, what)

    def close(self) -> None:
        """Nothing to release."""

    def _missing_permit(self, shaft: int, what: str) -> str:
        return missing_permit(self.controller, shaft, what)

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
