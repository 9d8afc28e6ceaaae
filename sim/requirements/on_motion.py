"""Evaluators: unwanted motion. Restated from design.md section 5, "No path into motion", "Machinery", "Handset"."""

from sim.requirements.facts import SHAFT, has
from sim.requirements.judge import Judge, Lasting
from sim.requirements.on_pause import UnderWay, contact_away
from sim.requirements.scene import FIRST_FRAMES_S, Scene, Side
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

    def judge(self, scene: Scene) -> None:
        super().judge(scene)
        self._under_way.look(scene)

    def judge_side(self, scene: Scene, side: Side) -> None:
        i = side.number
        thrust = side.mode == ShaftMode.PROPEL and side.torque_nm != 0.0
        if side.was is None:
            self._barred[i], self._best_s[i], self._why[i] = True, 0.0, "start"
            self._blind[i] = not scene.power_up
        started = thrust and (side.was is None or side.was.mode != ShaftMode.PROPEL or side.was.torque_nm == 0.0)
        if self._blind[i]:
            pass
        elif self._barred[i] and thrust:
            best_s, why = self._best_s[i], self._why[i]
            self.note(
                scene, best_s - scene.lim.neutral_s - scene.tick_s,
                lambda: f"{side.name}: thrust of {side.torque_nm:.1f} N m without fresh neutral after: {why}",
            )  # fmt: skip
        elif started:
            best_s = self._best_s[i]
            self.note(
                scene, best_s - scene.lim.neutral_s,
                lambda: f"{side.name}: thrust began after {best_s:.2f} s of neutral",
            )  # fmt: skip
        neutral_s = self._neutral.look(scene, side, side.neutral)
        sure = self._neutral.sure(side)
        why = self._ended(scene, side)
        if why:
            if not self._barred[i] or self._blind[i]:
                self._best_s[i] = 0.0
            self._barred[i], self._why[i] = True, why
            self._blind[i] = not sure
        elif neutral_s >= scene.lim.neutral_s - 1e-9:
            self._barred[i] = False
            self._blind[i] = self._blind[i] and not sure
        self._best_s[i] = max(self._best_s[i], neutral_s)

    def _ended(self, scene: Scene, side: Side) -> str:
        """What ends thrust other than the lever, at this tick; "" if nothing does."""
        facts = side.facts
        away_s = self._away.look(scene, side, contact_away(side))
        if away_s < 0.0:
            self._pauses[side.number] = False
        elif side.was is None or (away_s == 0.0 and side.was.propels and side.was.mode != ShaftMode.REST):
            self._pauses[side.number] = not side.handset
        # thrust that a contact interrupts may pause for it, which SR-62 judges
        away = away_s >= (scene.lim.pause_s - 1e-9 if self._pauses[side.number] else 0.0)
        if scene.mode != BoatMode.READY:
            return f"the boat was {scene.mode.name}"
        if side.mode == ShaftMode.ISOLATED:
            return "the shaft was ISOLATED"
        under_thrust = side.propels and side.mode != ShaftMode.REST
        if not (side.asks or facts.lever_lost or under_thrust):
            return ""
        if facts.temp_factor <= 0.0 and side.asks:
            return "motor, inverter or coolant was too hot"
        for lost, words in (
            (not scene.facts.no_diver, "diver lockout was set"),
            (not scene.facts.no_shore and not self._under_way.so, "shore cable was in"),
            (away and not facts.lock_released, "shaft lock was not proven released"),
            (away and not facts.clutch_closed, "shaft clutch was not proven closed"),
            (away and not facts.engine_clear, "the gearbox was not in neutral"),
            (not scene.facts.may_discharge, "monitor did not permit discharging"),
            (facts.out_of_service, "shaft was out of service"),
        ):
            if lost:
                return words
        return ""


class ThrustNeedsFreeShaft(Judge):
    """SR-07: no torque against the shaft lock, and none while it is in transit or unknown."""

    identifier, unit = "SR-07", "N m"

    def judge_side(self, scene: Scene, side: Side) -> None:
        facts = side.facts
        if facts.clutch_open:
            if not (facts.lock_released or facts.lock_engaged):
                self.note_zero(scene, side, "the shaft lock is in transit or unknown")
        elif not facts.lock_released:
            self.note_zero(scene, side, "the shaft lock is not proven released")
        elif side.torque_nm != 0.0:
            self.note(scene, 0.0, lambda: f"{side.name}: torque only with the lock released")


class NoTorqueThroughTransit(Judge):
    """SR-08: a clutch in transit or unknown means zero torque; thrust and harvest need it proven closed."""

    identifier, unit = "SR-08", "N m"

    def judge_side(self, scene: Scene, side: Side) -> None:
        facts = side.facts
        if not facts.clutch_closed and not facts.clutch_open:
            self.note_zero(scene, side, "the shaft clutch is in transit or unknown")
        elif facts.clutch_open and side.mode in (ShaftMode.PROPEL, ShaftMode.HARVEST):
            self.note_zero(scene, side, "the shaft clutch is open")
        elif side.torque_nm != 0.0:
            self.note(scene, 0.0, lambda: f"{side.name}: torque only with the clutch at rest")


class EngineClearForThrust(Judge):
    """SR-09: no electric thrust unless the gearbox is in neutral, or open when stopped and its engine stopped."""

    identifier, unit = "SR-09", "N m"

    def judge_side(self, scene: Scene, side: Side) -> None:
        if side.facts.engine_clear:
            return
        if side.mode == ShaftMode.PROPEL:
            self.note_zero(scene, side, "the engine is coupled")
        elif side.mode == ShaftMode.REST and side.was is not None and side.was.mode == ShaftMode.PROPEL:
            self.note_zero(scene, side, "the engine is no longer uncoupled")
        elif side.propels and side.was is not None:
            growth = abs(side.torque_nm) - abs(side.was.torque_nm)
            self.note(
                scene,
                min(0.0, -growth),
                lambda: f"{side.name}: thrust grew by {growth:.2f} N m with the engine in gear",
            )


class DiverInTheWater(Judge):
    """SR-10: with the diver lockout set or not proven clear nothing turns: no torque."""

    identifier, unit = "SR-10", "N m"

    def judge_side(self, scene: Scene, side: Side) -> None:
        if not scene.facts.no_diver:
            self.note_zero(scene, side, "the diver lockout is set or not proven clear")


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

    def judge_side(self, scene: Scene, side: Side) -> None:
        if side.handset or not side.facts.lever_lost:
            self._since_s.pop(side.number, None)
            return
        since_s = self._since_s.setdefault(side.number, scene.time_s)
        bounces = side.facts.lever_known and scene.time_s - since_s < LEVER_BOUNCE_S + 2 * scene.tick_s
        if side.facts.lever_known and side.propels and side.was is not None and side.was.facts.lever_lost:
            growth = abs(side.torque_nm) - abs(side.was.torque_nm)
            self.note(scene, min(0.0, -growth), lambda: f"{side.name}: thrust grew against the lever's neutral contact")
        if scene.age_s > FIRST_FRAMES_S and not bounces and not scene.command.alarms & Alarm.LEVER_LOST.value:
            self.note(scene, -1.0, lambda: f"{side.name}: no alarm for the lost lever")
        if side.propels and side.torque_nm != 0.0:
            took_s = scene.time_s - since_s
            allowed_s = side.lim.lever_hold_s + side.lim.lever_ramp_s + 2 * scene.tick_s
            if side.facts.lever_known:
                allowed_s = side.lim.rated_torque_nm / side.lim.torque_slew_nm_per_s + 2 * scene.tick_s
            self.note(scene, allowed_s - took_s, lambda: f"{side.name}: thrust {took_s:.2f} s after the lever was lost")


class HandsetLost(Judge):
    """SR-27: the link of the handset in control is lost: thrust is zero at once."""

    identifier, unit = "SR-27", "N m"

    def judge_side(self, scene: Scene, side: Side) -> None:
        if side.was is None or not side.was.handset or side.source or side.unsaid:
            return  # what charges is no thrust: it has no business with the handset
        if not scene.facts.handset_ours or not has(side.inputs, SHAFT.HANDSET_THRUST):
            self.note_zero(scene, side, "the handset in control is lost")


class HandsetLimited(Judge):
    """SR-28: the handset never asks for more than its part of the rated torque."""

    identifier, unit = "SR-28", "N m"

    def judge_side(self, scene: Scene, side: Side) -> None:
        if side.handset and side.mode == ShaftMode.PROPEL:
            most_nm = side.lim.rated_torque_nm * scene.lim.handset_thrust_pct / 100.0
            if side.lessens:
                return
            self.note(
                scene, most_nm - abs(side.torque_nm),
                lambda: f"{side.name}: {side.torque_nm:.1f} N m by handset, at most {most_nm:.1f}",
            )  # fmt: skip


class OneControlPosition(Judge):
    """SR-29: the handset is in control only while held, ours, and with every lever in neutral; then no lever is."""

    identifier, unit = "SR-29", "%"

    def judge(self, scene: Scene) -> None:
        if scene.command.handset_in_control != 1:
            return
        if not scene.facts.handset_ours or not scene.facts.handset_held:
            self.note(scene, -1.0, lambda: "handset in control without being held, or not ours")
        for side in scene.sides:
            if side.facts.out_of_service:
                continue
            off_pct = abs(side.inputs.lever_pct)
            margin = side.lim.neutral_band_pct - off_pct
            if not side.facts.lever_neutral:
                margin = min(margin, -1.0)
            self.note(
                scene, margin, lambda n=side.name, o=off_pct: f"handset in control, {n} lever at {o:.1f} %"  # type: ignore[misc]
            )  # fmt: skip
