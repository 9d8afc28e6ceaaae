"""Evaluators: engine, clutch, lock, drive. Restated from their sentences in docs/safety.md."""

from itertools import pairwise

from sim.requirements.facts import BOAT, SHAFT, has, no, yes
from sim.requirements.judge import Judge, Lasting
from sim.requirements.on_hold import held
from sim.requirements.tick import BoatTick, ShaftTick
from supervisor.modes import BoatMode, ShaftMode
from supervisor.rules import Boat
from supervisor.signals import ShaftPermit

RAMP_TICK_S = 0.1
"""A late tick is no licence to jump: ramps credit at most this much (s, retyped)."""


class AtRestStandsStill(Judge):
    """SR-12: charging at rest with the clutch open asks for a propeller side confirmed still."""

    identifier, unit = "SR-12", "rpm"

    def judge_shaft(self, tick: BoatTick, shaft: ShaftTick) -> None:
        if shaft.mode == ShaftMode.GENERATE and shaft.torque_nm != 0.0 and shaft.facts.clutch_open:
            rpm = abs(shaft.inputs.propeller_speed_rpm)
            margin = shaft.lim.still_rpm - rpm if shaft.facts.propeller_still else min(-1.0, shaft.lim.still_rpm - rpm)
            self.note(tick, margin, lambda: f"{shaft.name}: charging at rest, propeller at {rpm:.1f} rpm")


class OnlyOpposes(Judge):
    """SR-23: a source's torque only opposes rotation, is zero below the lowest speed, and never outlives its engine."""

    identifier, unit = "SR-23", "N m"

    def judge_shaft(self, tick: BoatTick, shaft: ShaftTick) -> None:
        if not shaft.source or shaft.torque_nm == 0.0:
            return
        facts = shaft.facts
        if not facts.rpm_known or abs(facts.rpm) < shaft.lim.generate_min_rpm:
            self.note_zero(tick, shaft, f"a source turns at {facts.rpm:.1f} rpm")
        elif shaft.torque_nm * facts.rpm > 0.0:
            self.note_zero(tick, shaft, f"a source would drive rotation ({facts.rpm:.0f} rpm)")
        elif shaft.mode == ShaftMode.GENERATE and not facts.engine_running:
            self.note_zero(tick, shaft, "the engine is not confirmed running")
        else:
            self.note(tick, 0.0, lambda: f"{shaft.name}: a source's torque opposes rotation")


class EngineHeadroom(Judge):
    """SR-21: charging torque stays below the headroom times what the engine has to spare at this speed."""

    identifier, unit = "SR-21", "N m"

    def judge_shaft(self, tick: BoatTick, shaft: ShaftTick) -> None:
        if shaft.mode != ShaftMode.GENERATE or shaft.torque_nm == 0.0:
            return
        spare_nm = 0.0
        if has(shaft.inputs, SHAFT.ENGINE_SPEED | SHAFT.PROPELLER_SPEED):
            rpm, prop = shaft.inputs.engine_speed_rpm, shaft.inputs.propeller_speed_rpm
            points = list(zip(shaft.lim.curve_rpm, shaft.lim.curve_nm, strict=True))
            # below the curve's first point: to nothing at half its speed
            first_rpm, first_nm = points[0]
            full_nm = first_nm * max(0.0, 2.0 * rpm / first_rpm - 1.0) if rpm < first_rpm else 0.0
            for (low, low_nm), (high, high_nm) in pairwise(points):
                if high > low and low <= rpm <= high:
                    full_nm = low_nm + (high_nm - low_nm) * (rpm - low) / (high - low)
                    break
            spare_nm = shaft.lim.headroom * (full_nm * shaft.lim.ratio - shaft.lim.propeller_k * prop * prop)
        self.note(
            tick, max(0.0, spare_nm) - abs(shaft.torque_nm),
            lambda: f"{shaft.name}: {abs(shaft.torque_nm):.1f} N m asked of an engine that may spare {spare_nm:.1f}",
        )  # fmt: skip


class TorqueSlew(Judge):
    """SR-24: torque grows no faster than the slew, and never changes sign without passing zero."""

    identifier, unit = "SR-24", "N m/s"

    def judge_shaft(self, tick: BoatTick, shaft: ShaftTick) -> None:
        if shaft.was is None or tick.dt_s <= 0.0 or shaft.torque_nm == 0.0:
            return
        now, was = shaft.torque_nm, shaft.was.torque_nm
        if now * was < 0.0:
            rate = abs(now - was) / min(tick.dt_s, RAMP_TICK_S)
            self.note(tick, -rate, lambda: f"{shaft.name}: {was:.1f} to {now:.1f} N m in one tick")
        else:
            rate = (abs(now) - abs(was)) / min(tick.dt_s, RAMP_TICK_S)
            self.note(
                tick, shaft.lim.torque_slew_nm_per_s * (1.0 + 1e-9) - rate,
                lambda: f"{shaft.name}: torque grew at {rate:.0f} N m/s",
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

    def judge_shaft(self, tick: BoatTick, shaft: ShaftTick) -> None:
        if shaft.torque_nm == 0.0:
            return
        if shaft.number in self._last and shaft.mode == ShaftMode.PROPEL:
            sign, at_s = self._last[shaft.number]
            if sign * shaft.torque_nm < 0.0:
                zero_s = tick.time_s - at_s
                self.note(
                    tick, zero_s - shaft.lim.reversal_dwell_s,
                    lambda: f"{shaft.name}: reversed after {zero_s:.2f} s at zero",
                )  # fmt: skip
        self._last[shaft.number] = (1.0 if shaft.torque_nm > 0.0 else -1.0, tick.time_s)


class LostShaftInput(Judge):
    """SR-30: loss of a required input of a shaft, or its drive's fault, stops that shaft in the tick."""

    identifier, unit = "SR-30", "N m"

    def __init__(self, boat: Boat) -> None:
        super().__init__(boat)
        self._serves: dict[int, bool] = {}
        """Whether a shaft is in service, as its contact says or said last; not there before it was heard."""

    def forget(self) -> None:
        self._serves.clear()

    def judge_shaft(self, tick: BoatTick, shaft: ShaftTick) -> None:
        if shaft.facts.in_service or shaft.facts.out_of_service:
            self._serves[shaft.number] = shaft.facts.in_service
        if shaft.facts.fault:
            self.note_zero(tick, shaft, "the drive reports a fault")
        elif shaft.facts.lost_input or not shaft.facts.rpm_known:
            self.note_zero(tick, shaft, "a required input of the shaft is lost")
        else:
            return
        live = tick.mode in (BoatMode.READY, BoatMode.NEUTRAL_WAIT)
        # a shaft taken out of service may have its boxes switched off; so may one whose records begin without a contact
        must = live and (shaft.facts.fault or self._serves.get(shaft.number, not tick.blind))
        if must and shaft.mode != ShaftMode.ISOLATED:
            self.note(tick, -1.0, lambda: f"{shaft.name}: {shaft.mode.name}, not ISOLATED")


class DriveDisobeys(Judge):
    """SR-32: zero ordered, yet torque or current: after its time the drive is isolated and its enable dropped."""

    identifier, unit = "SR-32", "s"

    def __init__(self, boat: Boat) -> None:
        super().__init__(boat)
        self._since_s: dict[int, float] = {}

    def forget(self) -> None:
        self._since_s.clear()

    def judge_shaft(self, tick: BoatTick, shaft: ShaftTick) -> None:
        inputs, lim = shaft.inputs, shaft.lim
        torque = has(inputs, SHAFT.TORQUE) and abs(inputs.torque_nm) > lim.disobey_torque_nm
        feeds_a, draws_a = inputs.current_a, -inputs.current_a - lim.no_load_a
        current = has(inputs, SHAFT.CURRENT) and max(feeds_a, draws_a) > lim.disobey_current_a
        zero = shaft.was is not None and shaft.was.torque_nm == 0.0
        if not (zero and (torque or current)):
            self._since_s.pop(shaft.number, None)
            return
        since_s = self._since_s.setdefault(shaft.number, tick.time_s)
        stopped = shaft.mode == ShaftMode.ISOLATED and not shaft.command.permits & ShaftPermit.DRIVE_ENABLE.value
        if not stopped:
            took_s = tick.time_s - since_s
            self.note(
                tick, lim.disobey_s + tick.tick_s - took_s,
                lambda: f"{shaft.name}: not ISOLATED {took_s:.2f} s after disobeying",
            )  # fmt: skip
        else:
            self.note(tick, 0.0, lambda: f"{shaft.name}: ISOLATED for disobeying")


class LinkPrecharged(Judge):
    """SR-33: READY needs each available drive's DC link within its tolerance of the bank voltage."""

    identifier, unit = "SR-33", "V"
    at_once = True

    def judge_shaft(self, tick: BoatTick, shaft: ShaftTick) -> None:
        entered = tick.was_mode is not None and tick.was_mode != BoatMode.READY and tick.mode == BoatMode.READY
        working = not shaft.facts.out_of_service and shaft.mode != ShaftMode.ISOLATED
        enabled = bool(shaft.command.permits & ShaftPermit.DRIVE_ENABLE.value)
        if shaft.was is None and not tick.power_up:
            return  # when it was enabled is not known: a link that was charged may stray for a while
        was_enabled = shaft.was is not None and bool(shaft.was.command.permits & ShaftPermit.DRIVE_ENABLE.value)
        if not ((entered and working) or (enabled and not was_enabled)):
            return
        known = has(tick.bank, BOAT.VOLTAGE) and has(shaft.inputs, SHAFT.LINK_VOLTAGE)
        off_v = abs(shaft.inputs.link_v - tick.bank.voltage_v)
        # a link that was charged may stray to twice the tolerance without a fresh precharge
        margin = 2.0 * shaft.lim.link_tolerance * tick.bank.voltage_v - off_v if known else -1.0
        self.note(tick, margin, lambda: f"{shaft.name}: enabled with its link {off_v:.1f} V from the bank")


class ContactorClosed(Judge):
    """SR-34: no torque while the bank's contactor is not confirmed closed."""

    identifier, unit = "SR-34", "N m"

    def judge_shaft(self, tick: BoatTick, shaft: ShaftTick) -> None:
        if not yes(tick.bank, BOAT.CONTACTOR_CLOSED):
            self.note_zero(tick, shaft, "the bank contactor is not confirmed closed")


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

    def judge_shaft(self, tick: BoatTick, shaft: ShaftTick) -> None:
        inputs, heard = shaft.inputs, has(shaft.inputs, SHAFT.TORQUE)
        was_dropped = shaft.was is not None and not shaft.was.command.permits & ShaftPermit.DRIVE_ENABLE.value
        silent_s = self._silent.look(tick, shaft, not heard and (was_dropped or shaft.was is None))
        if not shaft.command.permits & ShaftPermit.ENGINE_START.value:
            return
        margin = shaft.lim.disobey_torque_nm - abs(inputs.torque_nm)
        # a drive that is switched off, its shaft out of service, says nothing
        quiet = heard or not shaft.facts.in_service or silent_s >= self.SILENT_S - 1e-6 or not self._silent.sure(shaft)
        reports = bool(shaft.lim.react.mapped & inputs.known & SHAFT.GEAR_REPORT) and inputs.gear_report != 0.0
        engaged = yes(inputs, SHAFT.GEAR_AHEAD) or no(inputs, SHAFT.GEAR_NEUTRAL) or reports
        if engaged or not quiet or shaft.torque_nm != 0.0 or yes(tick.bank, BOAT.DIVER_LOCKOUT):
            margin = min(margin, -1.0)
        self.note(tick, margin, lambda: f"{shaft.name}: start permitted at {shaft.inputs.torque_nm:.1f} N m")


class CloseClutchPermit(Judge):
    """SR-38: closing the clutch is permitted only with gear and lever neutral and both sides at nearly one speed."""

    identifier, unit = "SR-38", "rpm"

    def judge_shaft(self, tick: BoatTick, shaft: ShaftTick) -> None:
        if not shaft.command.permits & ShaftPermit.CLUTCH_CLOSE.value:
            return
        apart_rpm = abs(shaft.inputs.machine_speed_rpm - shaft.inputs.propeller_speed_rpm)
        margin = shaft.lim.close_within_rpm - apart_rpm
        known = has(shaft.inputs, SHAFT.MACHINE_SPEED | SHAFT.PROPELLER_SPEED)
        if not (known and shaft.facts.gear_neutral and shaft.facts.lever_neutral and shaft.torque_nm == 0.0):
            margin = min(margin, -1.0)
        self.note(tick, margin, lambda: f"{shaft.name}: clutch may close with sides {apart_rpm:.1f} rpm apart")


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

    def judge_shaft(self, tick: BoatTick, shaft: ShaftTick) -> None:
        still_s = self._still.look(tick, shaft, shaft.facts.shaft_still)
        if not shaft.command.permits & ShaftPermit.LOCK_ENGAGE.value:
            return
        fresh = shaft.was is None or not shaft.was.command.permits & ShaftPermit.LOCK_ENGAGE.value
        if (shaft.torque_nm != 0.0 and not held(shaft)) or not shaft.facts.shaft_still:
            self.note(tick, -1.0, lambda: f"{shaft.name}: lock may engage on a shaft that turns or is driven")
        elif fresh and self._still.sure(shaft):
            self.note(
                tick, still_s - shaft.lim.lock_still_s, lambda: f"{shaft.name}: lock may engage after {still_s:.2f} s"
            )


class HarvestMachinery(Judge):
    """SR-41: harvest needs engine stopped, gearbox neutral, clutch closed, and a gearbox that may trail."""

    identifier, unit = "SR-41", "N m"

    def judge_shaft(self, tick: BoatTick, shaft: ShaftTick) -> None:
        if shaft.mode != ShaftMode.HARVEST:
            return
        for good, why in (
            (shaft.facts.engine_stopped, "the engine is not confirmed stopped"),
            (shaft.facts.gear_neutral, "the gearbox is not confirmed in neutral"),
            (shaft.facts.clutch_closed, "the clutch is not confirmed closed"),
            (shaft.lim.trailing_allowed == 1, "the gearbox may not trail"),
        ):
            if not good:
                self.note(
                    tick,
                    min(-1.0, -abs(shaft.torque_nm)),
                    lambda w=why: f"{shaft.name}: HARVEST while {w}",  # type: ignore[misc]
                )
        self.note(tick, 0.0, lambda: f"{shaft.name}: HARVEST only with its machinery in place")


class NoDriveIntoOverspeed(Judge):
    """SR-42: no driving torque at or above the drive's highest speed, where a machine rectifies uncontrolled."""

    identifier, unit = "SR-42", "rpm"

    def judge_shaft(self, tick: BoatTick, shaft: ShaftTick) -> None:
        if shaft.mode == ShaftMode.PROPEL and shaft.torque_nm * shaft.facts.rpm > 0.0:
            rpm = abs(shaft.facts.rpm)
            margin = shaft.lim.max_speed_rpm - rpm
            self.note(
                tick, margin if margin > 0.0 else min(margin, -1.0),
                lambda: f"{shaft.name}: {shaft.torque_nm:.1f} N m ordered with rotation at {rpm:.0f} rpm",
            )  # fmt: skip
