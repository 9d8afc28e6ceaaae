"""Evaluators: engine, clutch, lock, drive. Restated from design.md section 5, "Machinery" and "Off means off"."""

from itertools import pairwise

from sim.requirements.facts import BOAT, SHAFT, has, no, yes
from sim.requirements.judge import Judge, Lasting
from sim.requirements.on_hold import held
from sim.requirements.scene import Scene, Side
from supervisor.modes import BoatMode, ShaftMode
from supervisor.rules import Boat
from supervisor.signals import ShaftPermit

RAMP_TICK_S = 0.1
"""A late tick is no licence to jump: ramps credit at most this much (s, retyped)."""


class AtRestStandsStill(Judge):
    """SR-12: charging at rest with the clutch open asks for a propeller side proven still."""

    identifier, unit = "SR-12", "rpm"

    def judge_side(self, scene: Scene, side: Side) -> None:
        if side.mode == ShaftMode.GENERATE and side.torque_nm != 0.0 and side.facts.clutch_open:
            rpm = abs(side.inputs.propeller_speed_rpm)
            margin = side.lim.still_rpm - rpm if side.facts.propeller_still else min(-1.0, side.lim.still_rpm - rpm)
            self.note(scene, margin, lambda: f"{side.name}: charging at rest, propeller at {rpm:.1f} rpm")


class OnlyOpposes(Judge):
    """SR-23: a source's torque only opposes rotation, is zero below the lowest speed, and never outlives its engine."""

    identifier, unit = "SR-23", "N m"

    def judge_side(self, scene: Scene, side: Side) -> None:
        if not side.source or side.torque_nm == 0.0:
            return
        facts = side.facts
        if not facts.rpm_known or abs(facts.rpm) < side.lim.generate_min_rpm:
            self.note_zero(scene, side, f"a source turns at {facts.rpm:.1f} rpm")
        elif side.torque_nm * facts.rpm > 0.0:
            self.note_zero(scene, side, f"a source would drive rotation ({facts.rpm:.0f} rpm)")
        elif side.mode == ShaftMode.GENERATE and not facts.engine_running:
            self.note_zero(scene, side, "the engine is not proven running")
        else:
            self.note(scene, 0.0, lambda: f"{side.name}: a source's torque opposes rotation")


class EngineHeadroom(Judge):
    """SR-21: charging torque stays below the headroom times what the engine has to spare at this speed."""

    identifier, unit = "SR-21", "N m"

    def judge_side(self, scene: Scene, side: Side) -> None:
        if side.mode != ShaftMode.GENERATE or side.torque_nm == 0.0:
            return
        spare_nm = 0.0
        if has(side.inputs, SHAFT.ENGINE_SPEED | SHAFT.PROPELLER_SPEED):
            rpm, prop = side.inputs.engine_speed_rpm, side.inputs.propeller_speed_rpm
            points = list(zip(side.lim.curve_rpm, side.lim.curve_nm, strict=True))
            # below the curve's first point: to nothing at half its speed
            first_rpm, first_nm = points[0]
            full_nm = first_nm * max(0.0, 2.0 * rpm / first_rpm - 1.0) if rpm < first_rpm else 0.0
            for (low, low_nm), (high, high_nm) in pairwise(points):
                if high > low and low <= rpm <= high:
                    full_nm = low_nm + (high_nm - low_nm) * (rpm - low) / (high - low)
                    break
            spare_nm = side.lim.headroom * (full_nm * side.lim.ratio - side.lim.propeller_k * prop * prop)
        self.note(
            scene, max(0.0, spare_nm) - abs(side.torque_nm),
            lambda: f"{side.name}: {abs(side.torque_nm):.1f} N m asked of an engine that may spare {spare_nm:.1f}",
        )  # fmt: skip


class TorqueSlew(Judge):
    """SR-24: torque grows no faster than the slew, and never changes sign without passing zero."""

    identifier, unit = "SR-24", "N m/s"

    def judge_side(self, scene: Scene, side: Side) -> None:
        if side.was is None or scene.dt_s <= 0.0 or side.torque_nm == 0.0:
            return
        now, was = side.torque_nm, side.was.torque_nm
        if now * was < 0.0:
            rate = abs(now - was) / min(scene.dt_s, RAMP_TICK_S)
            self.note(scene, -rate, lambda: f"{side.name}: {was:.1f} to {now:.1f} N m in one tick")
        else:
            rate = (abs(now) - abs(was)) / min(scene.dt_s, RAMP_TICK_S)
            self.note(
                scene, side.lim.torque_slew_nm_per_s * (1.0 + 1e-9) - rate,
                lambda: f"{side.name}: torque grew at {rate:.0f} N m/s",
            )  # fmt: skip


class ReversalDwell(Judge):
    """SR-25: in PROPEL the sign changes only after the order has been zero for the dwell."""

    identifier, unit = "SR-25", "s"
    at_once = True

    def __init__(self, boat: Boat) -> None:
        super().__init__(boat)
        self._last: dict[int, tuple[float, float]] = {}

    def forget(self) -> None:
        self._last.clear()

    def judge_side(self, scene: Scene, side: Side) -> None:
        if side.torque_nm == 0.0:
            return
        if side.number in self._last and side.mode == ShaftMode.PROPEL:
            sign, at_s = self._last[side.number]
            if sign * side.torque_nm < 0.0:
                zero_s = scene.time_s - at_s
                self.note(
                    scene, zero_s - side.lim.reversal_dwell_s,
                    lambda: f"{side.name}: reversed after {zero_s:.2f} s at zero",
                )  # fmt: skip
        self._last[side.number] = (1.0 if side.torque_nm > 0.0 else -1.0, scene.time_s)


class LostShaftInput(Judge):
    """SR-30: loss of an indispensable input of a shaft, or its drive's fault, stops that shaft in the tick."""

    identifier, unit = "SR-30", "N m"

    def __init__(self, boat: Boat) -> None:
        super().__init__(boat)
        self._serves: dict[int, bool] = {}
        """Whether a shaft is in service, as its contact says or said last; not there before it was heard."""

    def forget(self) -> None:
        self._serves.clear()

    def judge_side(self, scene: Scene, side: Side) -> None:
        if side.facts.in_service or side.facts.out_of_service:
            self._serves[side.number] = side.facts.in_service
        if side.facts.fault:
            self.note_zero(scene, side, "the drive reports a fault")
        elif side.facts.lost_input or not side.facts.rpm_known:
            self.note_zero(scene, side, "an indispensable input of the shaft is lost")
        else:
            return
        live = scene.mode in (BoatMode.READY, BoatMode.NEUTRAL_WAIT)
        # a shaft taken out of service may have its boxes switched off; so may one whose records begin without a contact
        must = live and (side.facts.fault or self._serves.get(side.number, not scene.blind))
        if must and side.mode != ShaftMode.ISOLATED:
            self.note(scene, -1.0, lambda: f"{side.name}: {side.mode.name}, not ISOLATED")


class DriveDisobeys(Judge):
    """SR-32: zero ordered, yet torque or current: after its time the drive is isolated and its enable dropped."""

    identifier, unit = "SR-32", "s"

    def __init__(self, boat: Boat) -> None:
        super().__init__(boat)
        self._since_s: dict[int, float] = {}

    def forget(self) -> None:
        self._since_s.clear()

    def judge_side(self, scene: Scene, side: Side) -> None:
        inputs, lim = side.inputs, side.lim
        torque = has(inputs, SHAFT.TORQUE) and abs(inputs.torque_nm) > lim.disobey_torque_nm
        feeds_a, draws_a = inputs.current_a, -inputs.current_a - lim.no_load_a
        current = has(inputs, SHAFT.CURRENT) and max(feeds_a, draws_a) > lim.disobey_current_a
        zero = side.was is not None and side.was.torque_nm == 0.0
        if not (zero and (torque or current)):
            self._since_s.pop(side.number, None)
            return
        since_s = self._since_s.setdefault(side.number, scene.time_s)
        stopped = side.mode == ShaftMode.ISOLATED and not side.command.permits & ShaftPermit.DRIVE_ENABLE.value
        if not stopped:
            took_s = scene.time_s - since_s
            self.note(
                scene, lim.disobey_s + scene.tick_s - took_s,
                lambda: f"{side.name}: not isolated {took_s:.2f} s after disobeying",
            )  # fmt: skip
        else:
            self.note(scene, 0.0, lambda: f"{side.name}: isolated for disobeying")


class LinkPrecharged(Judge):
    """SR-33: READY needs each available drive's DC link within its tolerance of the bank voltage."""

    identifier, unit = "SR-33", "V"
    at_once = True

    def judge_side(self, scene: Scene, side: Side) -> None:
        entered = scene.was_mode is not None and scene.was_mode != BoatMode.READY and scene.mode == BoatMode.READY
        working = not side.facts.out_of_service and side.mode != ShaftMode.ISOLATED
        enabled = bool(side.command.permits & ShaftPermit.DRIVE_ENABLE.value)
        if side.was is None and not scene.power_up:
            return  # when it was enabled is not known: a link that was charged may stray for a while
        was_enabled = side.was is not None and bool(side.was.command.permits & ShaftPermit.DRIVE_ENABLE.value)
        if not ((entered and working) or (enabled and not was_enabled)):
            return
        known = has(scene.bank, BOAT.VOLTAGE) and has(side.inputs, SHAFT.LINK_VOLTAGE)
        off_v = abs(side.inputs.link_v - scene.bank.voltage_v)
        # a link that was charged may stray to twice the tolerance without a fresh precharge
        margin = 2.0 * side.lim.link_tolerance * scene.bank.voltage_v - off_v if known else -1.0
        self.note(scene, margin, lambda: f"{side.name}: enabled with its link {off_v:.1f} V from the bank")


class ContactorClosed(Judge):
    """SR-34: no torque while the bank's contactor is not proven closed."""

    identifier, unit = "SR-34", "N m"

    def judge_side(self, scene: Scene, side: Side) -> None:
        if not yes(scene.bank, BOAT.CONTACTOR_CLOSED):
            self.note_zero(scene, side, "the bank contactor is not proven closed")


class StartPermit(Judge):
    """SR-37: engine start is permitted unless in gear or beside a diver, with drive torque zero, or the drive silent
    with its enable dropped."""

    identifier, unit = "SR-37", "N m"
    SILENT_S = 1.0

    def __init__(self, boat: Boat) -> None:
        super().__init__(boat)
        self._silent = Lasting()

    def forget(self) -> None:
        self._silent.forget()

    def judge_side(self, scene: Scene, side: Side) -> None:
        inputs, heard = side.inputs, has(side.inputs, SHAFT.TORQUE)
        was_dropped = side.was is not None and not side.was.command.permits & ShaftPermit.DRIVE_ENABLE.value
        silent_s = self._silent.look(scene, side, not heard and (was_dropped or side.was is None))
        if not side.command.permits & ShaftPermit.ENGINE_START.value:
            return
        margin = side.lim.disobey_torque_nm - abs(inputs.torque_nm)
        # a drive that is switched off, its shaft out of service, says nothing
        quiet = heard or not side.facts.in_service or silent_s >= self.SILENT_S - 1e-6 or not self._silent.sure(side)
        reports = bool(side.lim.react.mapped & inputs.known & SHAFT.GEAR_REPORT) and inputs.gear_report != 0.0
        engaged = yes(inputs, SHAFT.GEAR_AHEAD) or no(inputs, SHAFT.GEAR_NEUTRAL) or reports
        if engaged or not quiet or side.torque_nm != 0.0 or yes(scene.bank, BOAT.DIVER_LOCKOUT):
            margin = min(margin, -1.0)
        self.note(scene, margin, lambda: f"{side.name}: start permitted at {side.inputs.torque_nm:.1f} N m")


class CloseClutchPermit(Judge):
    """SR-38: closing the clutch is permitted only with gear and lever neutral and both sides at nearly one speed."""

    identifier, unit = "SR-38", "rpm"

    def judge_side(self, scene: Scene, side: Side) -> None:
        if not side.command.permits & ShaftPermit.CLUTCH_CLOSE.value:
            return
        apart_rpm = abs(side.inputs.machine_speed_rpm - side.inputs.propeller_speed_rpm)
        margin = side.lim.close_within_rpm - apart_rpm
        known = has(side.inputs, SHAFT.MACHINE_SPEED | SHAFT.PROPELLER_SPEED)
        if not (known and side.facts.gear_neutral and side.facts.lever_neutral and side.torque_nm == 0.0):
            margin = min(margin, -1.0)
        self.note(scene, margin, lambda: f"{side.name}: clutch may close with sides {apart_rpm:.1f} rpm apart")


class LockPermit(Judge):
    """SR-39: the lock may engage only after the shaft has been still for its time, with no torque ordered,
    or held for it."""

    identifier, unit = "SR-39", "s"
    at_once = True

    def __init__(self, boat: Boat) -> None:
        super().__init__(boat)
        self._still = Lasting()

    def forget(self) -> None:
        self._still.forget()

    def judge_side(self, scene: Scene, side: Side) -> None:
        still_s = self._still.look(scene, side, side.facts.shaft_still)
        if not side.command.permits & ShaftPermit.LOCK_ENGAGE.value:
            return
        fresh = side.was is None or not side.was.command.permits & ShaftPermit.LOCK_ENGAGE.value
        if (side.torque_nm != 0.0 and not held(side)) or not side.facts.shaft_still:
            self.note(scene, -1.0, lambda: f"{side.name}: lock may engage on a shaft that turns or is driven")
        elif fresh and self._still.sure(side):
            self.note(
                scene, still_s - side.lim.lock_still_s, lambda: f"{side.name}: lock may engage after {still_s:.2f} s"
            )


class HarvestMachinery(Judge):
    """SR-41: harvest needs engine stopped, gearbox neutral, clutch closed, and a gearbox that may trail."""

    identifier, unit = "SR-41", "N m"

    def judge_side(self, scene: Scene, side: Side) -> None:
        if side.mode != ShaftMode.HARVEST:
            return
        for good, why in (
            (side.facts.engine_stopped, "the engine is not proven stopped"),
            (side.facts.gear_neutral, "the gearbox is not proven in neutral"),
            (side.facts.clutch_closed, "the clutch is not proven closed"),
            (side.lim.trailing_allowed == 1, "the gearbox may not trail"),
        ):
            if not good:
                self.note(
                    scene,
                    min(-1.0, -abs(side.torque_nm)),
                    lambda w=why: f"{side.name}: HARVEST while {w}",  # type: ignore[misc]
                )
        self.note(scene, 0.0, lambda: f"{side.name}: HARVEST only with its machinery in place")


class NoDriveIntoOverspeed(Judge):
    """SR-42: no driving torque at or above the drive's highest speed, where a machine rectifies uncontrolled."""

    identifier, unit = "SR-42", "rpm"

    def judge_side(self, scene: Scene, side: Side) -> None:
        if side.mode == ShaftMode.PROPEL and side.torque_nm * side.facts.rpm > 0.0:
            rpm = abs(side.facts.rpm)
            margin = side.lim.max_speed_rpm - rpm
            self.note(
                scene, margin if margin > 0.0 else min(margin, -1.0),
                lambda: f"{side.name}: {side.torque_nm:.1f} N m ordered with rotation at {rpm:.0f} rpm",
            )  # fmt: skip
