"""Evaluators: belt and coupling, a propeller that does not turn. Restated from design.md 5, "Coupling"."""

from sim.requirements.facts import SHAFT, has
from sim.requirements.judge import Judge, Lasting
from sim.requirements.scene import Scene, Side
from supervisor.modes import ShaftMode
from supervisor.rules import Boat
from supervisor.signals import Alarm

WORKS = (ShaftMode.PROPEL, ShaftMode.GENERATE, ShaftMode.HARVEST, ShaftMode.UNLOAD)


def apart_rpm(scene: Scene, side: Side) -> float | None:
    """How much further apart drive and shaft turn than is allowed (rpm; below 0: within), None where nothing says."""
    shaft, lim = side.inputs, scene.lim
    if not has(shaft, SHAFT.MACHINE_SPEED):
        return None
    if side.facts.clutch_closed and has(shaft, SHAFT.PROPELLER_SPEED):
        should_rpm = shaft.propeller_speed_rpm
    elif side.facts.clutch_open and side.facts.gear_ahead and has(shaft, SHAFT.ENGINE_SPEED):
        should_rpm = shaft.engine_speed_rpm / side.lim.ratio
    else:
        return None
    larger_rpm = max(abs(should_rpm), abs(shaft.machine_speed_rpm))
    return abs(shaft.machine_speed_rpm - should_rpm) - lim.coupling_rpm - larger_rpm * lim.coupling_pct / 100.0


class CouplingWatched(Judge):
    """SR-54: a shaft whose drive turns at another speed is isolated in its time, unless get-home is on."""

    identifier, unit = "SR-54", "s"

    def __init__(self, boat: Boat) -> None:
        super().__init__(boat)
        self._apart = Lasting()

    def judge_side(self, scene: Scene, side: Side) -> None:
        worked = side.was is not None and side.was.mode in WORKS
        over_rpm = apart_rpm(scene, side)
        apart = worked and over_rpm is not None and over_rpm > 1e-6
        lasts_s = self._apart.look(scene, side, apart)
        if worked and over_rpm is not None and side.mode in WORKS:
            left_s = scene.lim.coupling_s + 2 * scene.tick_s - max(0.0, lasts_s)
            if not scene.facts.get_home:
                self.note(scene, left_s, lambda: f"{side.name}: works on {lasts_s:.2f} s after its coupling was lost")


class JamStops(Judge):
    """SR-55: torque that turns nothing is cut in its time, then the shaft isolated; both are told."""

    identifier, unit = "SR-55", "s"

    def __init__(self, boat: Boat) -> None:
        super().__init__(boat)
        self._jam = Lasting()

    def judge_side(self, scene: Scene, side: Side) -> None:
        lim = scene.lim
        stands = has(side.inputs, SHAFT.MACHINE_SPEED) and abs(side.inputs.machine_speed_rpm) < side.lim.still_rpm
        was_nm = 0.0 if side.was is None else abs(side.was.torque_nm)
        rated_nm = side.lim.rated_torque_nm
        lasts_s = self._jam.look(scene, side, stands and was_nm >= rated_nm * lim.jam_from_pct / 100.0)
        if lasts_s < 0.0:
            return
        slack_s = 2 * scene.tick_s
        fall_s = rated_nm / side.lim.torque_slew_nm_per_s + slack_s
        self.note(
            scene, lim.jam_s + fall_s - lasts_s,
            lambda: f"{side.name}: {side.torque_nm:.1f} N m turn nothing for {lasts_s:.2f} s",
        )  # fmt: skip
        if lasts_s >= lim.jam_s + slack_s and not scene.command.alarms & Alarm.JAMMED.value:
            self.note(scene, -1.0, lambda: f"{side.name}: nobody is told of the jam")
