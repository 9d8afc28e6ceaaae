"""Evaluators: stop and lock. Restated from design.md 5, "Lock under sail"."""

from sim.requirements.facts import SHAFT, yes
from sim.requirements.judge import Judge, Lasting
from sim.requirements.scene import Scene, Side
from supervisor.modes import BoatMode, ShaftMode
from supervisor.rules import Boat
from supervisor.signals import Alarm


def held(side: Side) -> bool:
    """Thrust with the lever in neutral and in control: nothing but stop and lock gives it."""
    return side.mode == ShaftMode.PROPEL and side.facts.lever_neutral and not side.handset


class HeldNotTurned(Judge):
    """SR-60: a shaft is held only on request and with its lock proven released, and never turned by that."""

    identifier, unit = "SR-60", "N m"

    def judge_side(self, scene: Scene, side: Side) -> None:
        if not held(side):
            return
        if not yes(side.inputs, SHAFT.STOP_AND_LOCK) or not side.facts.lock_released:
            self.note(scene, -1.0 - abs(side.torque_nm), lambda: f"{side.name}: thrust that nobody asks for")
        elif side.facts.rpm_known and abs(side.facts.rpm) > side.lim.still_rpm:
            turns_nm = side.torque_nm if side.facts.rpm > 0.0 else -side.torque_nm
            self.note(scene, -turns_nm, lambda: f"{side.name}: turned by {turns_nm:.1f} N m, to be held")


class HoldEnds(Judge):
    """SR-61: no shaft is held for longer than its time, and one that was not locked in it is told."""

    identifier, unit = "SR-61", "s"

    def __init__(self, boat: Boat) -> None:
        super().__init__(boat)
        self._held = Lasting()
        self._lasted_s = [-1.0] * len(boat.shafts)

    def forget(self) -> None:
        self._held.forget()
        self._lasted_s = [-1.0] * len(self.boat.shafts)

    def judge_side(self, scene: Scene, side: Side) -> None:
        slack_s = 2 * scene.tick_s
        lasts_s = self._held.look(scene, side, held(side))
        over = self._lasted_s[side.number] >= scene.lim.hold_s - slack_s
        self._lasted_s[side.number] = lasts_s
        if lasts_s >= 0.0:
            left_s = scene.lim.hold_s + slack_s - lasts_s
            self.note(scene, left_s, lambda: f"{side.name}: held for {lasts_s:.2f} s")
        asked = yes(side.inputs, SHAFT.STOP_AND_LOCK) and side.facts.lever_neutral and side.facts.lock_released
        if over and asked and side.mode == ShaftMode.UNLOAD and scene.mode == BoatMode.READY:
            told = bool(scene.command.alarms & Alarm.HOLD_FAILED.value)
            self.note(scene, 0.0 if told else -1.0, lambda: f"{side.name}: let go, and nobody is told")
