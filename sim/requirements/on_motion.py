"""Evaluators: unwanted motion. Restated from their sentences in docs/safety.md."""

from sim.requirements.facts import SHAFT, has
from sim.requirements.judge import Judge, Lasting
from sim.requirements.on_pause import UnderWay, contact_away
from sim.requirements.tick import FIRST_FRAMES_S, BoatTick, ShaftTick
from supervisor.modes import BoatMode, ShaftMode
from supervisor.rules import Boat
from supervisor.signals import Alarm


class NoPathIntoMotion(Judge):
    """SR-05: whatever ends thrust other than the lever itself asks for fresh neutral before thrust comes back."""

    identifier, unit = "SR-05", "s"

    def __init__(self, boat: Boat) -> None:
        super().__init__(boat)
        n = len(boat.shafts)
        self._neutral = Lasting()
        self._away = Lasting()
        self._pauses = [False] * n
        self._under_way = UnderWay()
        self._barred = [True] * n
        self._best_s = [0.0] * n
        self._why = ["start"] * n
        self._blind = [False] * n
        """What happened before the records began may have barred or armed this shaft: nothing is held against it until
        the records show the one or the other."""

    def forget(self) -> None:
        self._neutral.forget()
        self._away.forget()
        self._under_way.forget()

    def judge(self, tick: BoatTick) -> None:
        super().judge(tick)
        self._under_way.look(tick)

    def judge_shaft(self, tick: BoatTick, shaft: ShaftTick) -> None:
        i = shaft.number
        thrust = shaft.mode == ShaftMode.PROPEL and shaft.torque_nm != 0.0
        if shaft.was is None:
            self._barred[i], self._best_s[i], self._why[i] = True, 0.0, "start"
            self._blind[i] = not tick.power_up
        started = thrust and (shaft.was is None or shaft.was.mode != ShaftMode.PROPEL or shaft.was.torque_nm == 0.0)
        if self._blind[i]:
            pass
        elif self._barred[i] and thrust:
            best_s, why = self._best_s[i], self._why[i]
            self.note(
                tick, best_s - tick.lim.neutral_s - tick.tick_s,
                lambda: f"{shaft.name}: thrust of {shaft.torque_nm:.1f} N m without fresh neutral after: {why}",
            )  # fmt: skip
        elif started:
            best_s = self._best_s[i]
            self.note(
                tick, best_s - tick.lim.neutral_s,
                lambda: f"{shaft.name}: thrust began after {best_s:.2f} s of neutral",
            )  # fmt: skip
        neutral_s = self._neutral.look(tick, shaft, shaft.neutral)
        sure = self._neutral.sure(shaft)
        why = self._ended(tick, shaft)
        if why:
            if not self._barred[i] or self._blind[i]:
                self._best_s[i] = 0.0
            self._barred[i], self._why[i] = True, why
            self._blind[i] = not sure
        elif neutral_s >= tick.lim.neutral_s - 1e-9:
            self._barred[i] = False
            self._blind[i] = self._blind[i] and not sure
        self._best_s[i] = max(self._best_s[i], neutral_s)

    def _ended(self, tick: BoatTick, shaft: ShaftTick) -> str:
        """What ends thrust other than the lever, at this tick; "" if nothing does."""
        facts = shaft.facts
        away_s = self._away.look(tick, shaft, contact_away(shaft))
        if away_s < 0.0:
            self._pauses[shaft.number] = False
        elif shaft.was is None or (away_s == 0.0 and shaft.was.propels and shaft.was.mode != ShaftMode.REST):
            self._pauses[shaft.number] = not shaft.handset
        # thrust that a contact interrupts may pause for it, which SR-62 judges
        away = away_s >= (tick.lim.pause_s - 1e-9 if self._pauses[shaft.number] else 0.0)
        if tick.mode != BoatMode.READY:
            return f"the boat was {tick.mode.name}"
        if shaft.mode == ShaftMode.ISOLATED:
            return "the shaft was ISOLATED"
        under_thrust = shaft.propels and shaft.mode != ShaftMode.REST
        if not (shaft.asks or facts.lever_lost or under_thrust):
            return ""
        if facts.temp_factor <= 0.0 and shaft.asks:
            return "motor, inverter or coolant was too hot"
        for lost, words in (
            (not tick.facts.no_diver, "diver lockout was set"),
            (not tick.facts.no_shore and not self._under_way.so, "shore cable was in"),
            (away and not facts.lock_released, "shaft lock was not confirmed released"),
            (away and not facts.clutch_closed, "shaft clutch was not confirmed closed"),
            (away and not facts.engine_clear, "the gearbox was not in neutral"),
            (not tick.facts.may_discharge, "monitor did not permit discharging"),
            (facts.out_of_service, "shaft was out of service"),
        ):
            if lost:
                return words
        return ""


class ThrustNeedsFreeShaft(Judge):
    """SR-07: no torque against the shaft lock, and none while it is in transit or unknown."""

    identifier, unit = "SR-07", "N m"

    def judge_shaft(self, tick: BoatTick, shaft: ShaftTick) -> None:
        facts = shaft.facts
        if facts.clutch_open:
            if not (facts.lock_released or facts.lock_engaged):
                self.note_zero(tick, shaft, "the shaft lock is in transit or unknown")
        elif not facts.lock_released:
            self.note_zero(tick, shaft, "the shaft lock is not confirmed released")
        elif shaft.torque_nm != 0.0:
            self.note(tick, 0.0, lambda: f"{shaft.name}: torque only with the lock released")


class NoTorqueThroughTransit(Judge):
    """SR-08: a clutch in transit or unknown means zero torque; thrust and harvest need it confirmed closed."""

    identifier, unit = "SR-08", "N m"

    def judge_shaft(self, tick: BoatTick, shaft: ShaftTick) -> None:
        facts = shaft.facts
        if not facts.clutch_closed and not facts.clutch_open:
            self.note_zero(tick, shaft, "the shaft clutch is in transit or unknown")
        elif facts.clutch_open and shaft.mode in (ShaftMode.PROPEL, ShaftMode.HARVEST):
            self.note_zero(tick, shaft, "the shaft clutch is open")
        elif shaft.torque_nm != 0.0:
            self.note(tick, 0.0, lambda: f"{shaft.name}: torque only with the clutch at rest")


class EngineClearForThrust(Judge):
    """SR-09: no electric thrust unless the gearbox is in neutral, or open when stopped and its engine stopped."""

    identifier, unit = "SR-09", "N m"

    def judge_shaft(self, tick: BoatTick, shaft: ShaftTick) -> None:
        if shaft.facts.engine_clear:
            return
        if shaft.mode == ShaftMode.PROPEL:
            self.note_zero(tick, shaft, "the engine is coupled")
        elif shaft.mode == ShaftMode.REST and shaft.was is not None and shaft.was.mode == ShaftMode.PROPEL:
            self.note_zero(tick, shaft, "the engine is no longer uncoupled")
        elif shaft.propels and shaft.was is not None:
            growth = abs(shaft.torque_nm) - abs(shaft.was.torque_nm)
            self.note(
                tick,
                min(0.0, -growth),
                lambda: f"{shaft.name}: thrust grew by {growth:.2f} N m with the engine in gear",
            )


class DiverInTheWater(Judge):
    """SR-10: with the diver lockout set or not confirmed clear nothing turns: no torque."""

    identifier, unit = "SR-10", "N m"

    def judge_shaft(self, tick: BoatTick, shaft: ShaftTick) -> None:
        if not tick.facts.no_diver:
            self.note_zero(tick, shaft, "the diver lockout is set or its contact unknown")


LEVER_BOUNCE_S = 0.2


class LeverLost(Judge):
    """SR-26: a lost lever ramps thrust to zero in its time, with an alarm; one whose contact says neutral against its
    position gives no more thrust at once, and is lost when that lasts."""

    identifier, unit = "SR-26", "s"

    def __init__(self, boat: Boat) -> None:
        super().__init__(boat)
        self._since_s: dict[int, float] = {}

    def forget(self) -> None:
        self._since_s.clear()

    def judge_shaft(self, tick: BoatTick, shaft: ShaftTick) -> None:
        if shaft.handset or not shaft.facts.lever_lost:
            self._since_s.pop(shaft.number, None)
            return
        since_s = self._since_s.setdefault(shaft.number, tick.time_s)
        bounces = shaft.facts.lever_known and tick.time_s - since_s < LEVER_BOUNCE_S + 2 * tick.tick_s
        if shaft.facts.lever_known and shaft.propels and shaft.was is not None and shaft.was.facts.lever_lost:
            growth = abs(shaft.torque_nm) - abs(shaft.was.torque_nm)
            self.note(tick, min(0.0, -growth), lambda: f"{shaft.name}: thrust grew against the lever's neutral contact")
        if tick.age_s > FIRST_FRAMES_S and not bounces and not tick.command.alarms & Alarm.LEVER_LOST.value:
            self.note(tick, -1.0, lambda: f"{shaft.name}: no alarm for the lost lever")
        if shaft.propels and shaft.torque_nm != 0.0:
            took_s = tick.time_s - since_s
            allowed_s = shaft.lim.lever_hold_s + shaft.lim.lever_ramp_s + 2 * tick.tick_s
            if shaft.facts.lever_known:
                allowed_s = shaft.lim.rated_torque_nm / shaft.lim.torque_slew_nm_per_s + 2 * tick.tick_s
            self.note(tick, allowed_s - took_s, lambda: f"{shaft.name}: thrust {took_s:.2f} s after the lever was lost")


class HandsetLost(Judge):
    """SR-27: the link of the handset in control is lost: thrust is zero at once."""

    identifier, unit = "SR-27", "N m"

    def judge_shaft(self, tick: BoatTick, shaft: ShaftTick) -> None:
        if shaft.was is None or not shaft.was.handset or shaft.source or shaft.unsaid:
            return  # what charges is no thrust: it has no business with the handset
        if not tick.facts.handset_ours or not has(shaft.inputs, SHAFT.HANDSET_THRUST):
            self.note_zero(tick, shaft, "the handset in control is lost")


class HandsetLimited(Judge):
    """SR-28: the handset never asks for more than its part of the rated torque."""

    identifier, unit = "SR-28", "N m"

    def judge_shaft(self, tick: BoatTick, shaft: ShaftTick) -> None:
        if shaft.handset and shaft.mode == ShaftMode.PROPEL:
            most_nm = shaft.lim.rated_torque_nm * tick.lim.handset_thrust_pct / 100.0
            if shaft.lessens:
                return
            self.note(
                tick, most_nm - abs(shaft.torque_nm),
                lambda: f"{shaft.name}: {shaft.torque_nm:.1f} N m by handset, at most {most_nm:.1f}",
            )  # fmt: skip


class OneControlPosition(Judge):
    """SR-29: the handset is in control only while held, ours, and with every lever in neutral; then no lever is."""

    identifier, unit = "SR-29", "%"

    def judge(self, tick: BoatTick) -> None:
        if tick.command.handset_in_control != 1:
            return
        if not tick.facts.handset_ours or not tick.facts.handset_held:
            self.note(tick, -1.0, lambda: "handset in control without being held, or not ours")
        for shaft in tick.shafts:
            if shaft.facts.out_of_service:
                continue
            off_pct = abs(shaft.inputs.lever_pct)
            margin = shaft.lim.neutral_band_pct - off_pct
            if not shaft.facts.lever_neutral:
                margin = min(margin, -1.0)
            self.note(
                tick, margin, lambda n=shaft.name, o=off_pct: f"handset in control, {n} lever at {o:.1f} %"  # type: ignore[misc]
            )  # fmt: skip
