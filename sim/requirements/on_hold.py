"""Evaluators: stop and lock. Restated from their sentences in docs/safety.md."""

from sim.requirements.facts import SHAFT, yes
from sim.requirements.judge import Judge, Lasting
from sim.requirements.tick import BoatTick, ShaftTick
from supervisor.modes import BoatMode, ShaftMode
from supervisor.rules import Boat
from supervisor.signals import Alarm


def held(shaft: ShaftTick) -> bool:
    """Thrust with the lever in neutral and in control: nothing but stop and lock gives it."""
    return shaft.mode == ShaftMode.PROPEL and shaft.facts.lever_neutral and not shaft.handset


class HeldNotTurned(Judge):
    """SR-60: a shaft is held only on request and with its lock confirmed released, and never turned by that."""

    identifier, unit = "SR-60", "N m"

    def judge_shaft(self, tick: BoatTick, shaft: ShaftTick) -> None:
        if not held(shaft):
            return
        if not yes(shaft.inputs, SHAFT.STOP_AND_LOCK) or not shaft.facts.lock_released:
            self.note(tick, -1.0 - abs(shaft.torque_nm), lambda: f"{shaft.name}: thrust that nobody asks for")
        elif shaft.facts.rpm_known and abs(shaft.facts.rpm) > shaft.lim.still_rpm:
            turns_nm = shaft.torque_nm if shaft.facts.rpm > 0.0 else -shaft.torque_nm
            self.note(tick, -turns_nm, lambda: f"{shaft.name}: turned by {turns_nm:.1f} N m, to be held")


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

    def judge_shaft(self, tick: BoatTick, shaft: ShaftTick) -> None:
        slack_s = 2 * tick.tick_s
        lasts_s = self._held.look(tick, shaft, held(shaft))
        over = self._lasted_s[shaft.number] >= tick.lim.hold_s - slack_s
        self._lasted_s[shaft.number] = lasts_s
        if lasts_s >= 0.0:
            left_s = tick.lim.hold_s + slack_s - lasts_s
            self.note(tick, left_s, lambda: f"{shaft.name}: held for {lasts_s:.2f} s")
        asked = yes(shaft.inputs, SHAFT.STOP_AND_LOCK) and shaft.facts.lever_neutral and shaft.facts.lock_released
        if over and asked and shaft.mode == ShaftMode.UNLOAD and tick.mode == BoatMode.READY:
            told = bool(tick.command.alarms & Alarm.HOLD_FAILED.value)
            self.note(tick, 0.0 if told else -1.0, lambda: f"{shaft.name}: let go, and no alarm")
