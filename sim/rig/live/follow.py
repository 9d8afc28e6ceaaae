"""What other boxes on the bus say about the parts that they hold, followed by the simulated boat as far as it shows.

Contactor, gear, clutch, lock, engine run and speed, the torque of a drive, and state of charge. Nothing else.
"""

from collections.abc import Collection, Sequence

from sim.nodes.panel import Panel, ShaftPanel
from sim.plant import PlantInputs, PlantParams, PlantState, with_soc
from supervisor.config import BoatConfig
from supervisor.signals import BoatInput, BoatInputs, ShaftInput, ShaftInputs

_START_KEY_S = 5.0
_SOC_STEP_PCT = 1.0
"""The simulated bank jumps to a real monitor's SOC when they differ by more: a jump rests the bank, so not always."""


class Follower:
    """Follows the parts of a boat that are not among the `chosen` nodes."""

    def __init__(self, config: BoatConfig, params: PlantParams, panel: Panel, chosen: Collection[str]) -> None:
        self._params = params
        self._panel = panel
        self._shafts = config.shaft
        self._monitor = "monitor" not in chosen
        self._contacts = [f"contacts.{shaft.name}" not in chosen for shaft in config.shaft]
        self._engines = [f"engine.{shaft.name}" not in chosen for shaft in config.shaft]
        self._drives = [f"drive.{shaft.name}" not in chosen for shaft in config.shaft]
        self._torque_nm: list[float | None] = [None] * len(config.shaft)

    def look(self, plant: PlantState, boat: BoatInputs, shafts: Sequence[ShaftInputs], time_s: float) -> PlantState:
        """Take what was heard up to `time_s` into the controls; returns the boat, with its bank at the SOC that a real
        monitor reports."""
        for level, inputs in enumerate(shafts):
            panel = self._panel.shafts[level]
            if self._contacts[level]:
                _contacts(panel, inputs, plant.shafts[level].engine.running, time_s)
            if self._engines[level] and inputs.known & ShaftInput.ENGINE_SPEED:
                engine = self._shafts[level].engine
                share = (inputs.engine_speed_rpm - engine.idle_rpm) / (engine.max_rpm - engine.idle_rpm)
                panel.throttle_pct = min(max(100.0 * share, 0.0), 100.0)
            heard = self._drives[level] and inputs.known & ShaftInput.TORQUE
            self._torque_nm[level] = inputs.torque_nm if heard else None
        if not self._monitor:
            return plant
        if boat.known & BoatInput.CONTACTOR_CLOSED:
            self._panel.isolator = 1 if boat.on & BoatInput.CONTACTOR_CLOSED else 0
        if boat.known & BoatInput.SOC and abs(boat.soc_pct - plant.bank.soc_pct) > _SOC_STEP_PCT:
            return with_soc(self._params, plant, min(max(boat.soc_pct, 0.0), 100.0))
        return plant

    def drives(self, inputs: PlantInputs) -> PlantInputs:
        """The orders of a step, with the torque that each real drive says it gives in the place of what it was told."""
        if all(torque_nm is None for torque_nm in self._torque_nm):
            return inputs
        shafts = tuple(
            command if torque_nm is None else command._replace(torque_order_nm=torque_nm)
            for command, torque_nm in zip(inputs.shafts, self._torque_nm, strict=True)
        )
        return inputs._replace(shafts=shafts)


def _contacts(panel: ShaftPanel, inputs: ShaftInputs, running: int, time_s: float) -> None:
    on, known = inputs.on, inputs.known
    if on & ShaftInput.GEAR_NEUTRAL:
        panel.gear = 0
    elif on & ShaftInput.GEAR_AHEAD:
        panel.gear = 1
    elif known & ShaftInput.GEAR_REPORT and inputs.gear_report < 0.0:
        panel.gear = -1
    if on & ShaftInput.CLUTCH_OPEN:
        panel.clutch_close = 0
    elif on & ShaftInput.CLUTCH_CLOSED:
        panel.clutch_close = 1
    if on & ShaftInput.LOCK_ENGAGED:
        panel.lock_engage = 1
    elif on & ShaftInput.LOCK_RELEASED:
        panel.lock_engage = 0
    if known & ShaftInput.ENGINE_RUN and bool(on & ShaftInput.ENGINE_RUN) != bool(running):
        panel.start_key, panel.stop_key = (0, 1) if running else (1, 0)
        panel.key_until_s = time_s + _START_KEY_S
