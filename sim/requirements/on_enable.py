"""Evaluators: enabling, resetting, tripping. Restated from their sentences in docs/safety.md."""

from sim.requirements.facts import BOAT, SHAFT, has, no, yes
from sim.requirements.judge import Judge, Lasting
from sim.requirements.tick import BoatTick, ShaftTick
from supervisor.modes import BoatMode, ShaftMode
from supervisor.rules import Boat
from supervisor.signals import ShaftPermit

_MACHINERY = ShaftPermit.DRIVE_ENABLE.value


class NeutralBeforeReady(Judge):
    """SR-01: READY needs every lever that is not out of service in neutral for the dwell."""

    identifier, unit = "SR-01", "s"
    at_once = True

    def __init__(self, boat: Boat) -> None:
        super().__init__(boat)
        self._neutral = Lasting()

    def forget(self) -> None:
        self._neutral.forget()

    def judge(self, tick: BoatTick) -> None:
        entered = tick.was_mode is not None and tick.was_mode != BoatMode.READY and tick.mode == BoatMode.READY
        for shaft in tick.shafts:
            held_s = self._neutral.look(tick, shaft, shaft.facts.lever_neutral)
            if entered and not shaft.facts.out_of_service and self._neutral.sure(shaft):
                self.note(
                    tick, held_s - tick.lim.neutral_s,
                    lambda held=held_s, name=shaft.name: f"{name}: READY after {held:.2f} s of lever neutral",  # type: ignore[misc]
                )  # fmt: skip


class OffMeansOff(Judge):
    """SR-02: no torque order and no drive enable unless the boat is READY; none for a shaft at REST or ISOLATED."""

    identifier, unit = "SR-02", "N m"

    def judge_shaft(self, tick: BoatTick, shaft: ShaftTick) -> None:
        if shaft.mode in (ShaftMode.REST, ShaftMode.ISOLATED):
            self.note_zero(tick, shaft, f"the shaft is {shaft.mode.name}")
        if tick.mode != BoatMode.READY:
            self.note_zero(tick, shaft, f"the boat is {tick.mode.name}")
            if shaft.command.permits & _MACHINERY:
                self.note(tick, -1.0, lambda: f"{shaft.name}: drive enabled while the boat is {tick.mode.name}")


class TripInItsTick(Judge):
    """SR-03: a cause of a boat trip stops all torque in the tick in which it is seen, and the boat is TRIPPED."""

    identifier, unit = "SR-03", "N m"

    def judge(self, tick: BoatTick) -> None:
        cause = tick.facts.trip_cause
        if not cause:
            return
        for shaft in tick.shafts:
            self.note_zero(tick, shaft, cause)
        live = tick.was_mode in (BoatMode.READY, BoatMode.NEUTRAL_WAIT)
        if live and tick.mode != BoatMode.TRIPPED:
            self.note(tick, -1.0, lambda: f"boat is {tick.mode.name}, not TRIPPED, while {cause}")


class LatchedTrip(Judge):
    """SR-04: TRIPPED ends only by a press of reset with every cause gone, and in STANDBY; READY is entered only from
    NEUTRAL_WAIT, NEUTRAL_WAIT only from STANDBY by a press of enable."""

    identifier, unit = "SR-04", "changes"
    at_once = True
    ALLOWED = frozenset(
        {
            (BoatMode.STANDBY, BoatMode.NEUTRAL_WAIT),
            (BoatMode.STANDBY, BoatMode.TRIPPED),
            (BoatMode.NEUTRAL_WAIT, BoatMode.READY),
            (BoatMode.NEUTRAL_WAIT, BoatMode.STANDBY),
            (BoatMode.NEUTRAL_WAIT, BoatMode.TRIPPED),
            (BoatMode.READY, BoatMode.STANDBY),
            (BoatMode.READY, BoatMode.TRIPPED),
            (BoatMode.TRIPPED, BoatMode.STANDBY),
        }
    )

    def judge(self, tick: BoatTick) -> None:
        if tick.was_mode is None or tick.was_bank is None:
            return
        was, mode = tick.was_mode, tick.mode
        if was == mode:
            self.note(tick, 0.0, lambda: "no change of the boat's mode but the permitted ones")
            return
        complaint = ""
        if (was, mode) not in self.ALLOWED:
            complaint = f"{was.name} -> {mode.name} is no way"
        elif was == BoatMode.TRIPPED:
            if not (no(tick.was_bank, BOAT.RESET) and yes(tick.bank, BOAT.RESET)):
                complaint = "TRIPPED ended without a press of reset"
            elif tick.facts.trip_cause:
                complaint = f"TRIPPED ended while {tick.facts.trip_cause}"
        elif mode == BoatMode.NEUTRAL_WAIT and not (no(tick.was_bank, BOAT.ENABLE) and yes(tick.bank, BOAT.ENABLE)):
            complaint = "enabled without a press of enable"
        if complaint:
            self.note(tick, -1.0, lambda: complaint)
        else:
            self.note(tick, 0.0, lambda: f"{was.name} -> {mode.name}, as permitted")


class IsolatedUntilReset(Judge):
    """SR-06: ISOLATED ends only by a press of reset, cause gone, lever in neutral, torque zero; after disobedience only
    once the drive was seen to obey, and after the second within ten minutes only on a still shaft."""

    identifier, unit = "SR-06", "N m"
    at_once = True
    OBEYED_S, AGAIN_S = 2.0, 600.0

    def __init__(self, boat: Boat) -> None:
        super().__init__(boat)
        self._wrong = Lasting()
        self._last_wrong_s: dict[int, float] = {}
        self._found_s: dict[int, list[float]] = {}

    def forget(self) -> None:
        self._wrong.forget()
        self._last_wrong_s.clear()
        self._found_s.clear()

    def judge_shaft(self, tick: BoatTick, shaft: ShaftTick) -> None:
        self._watch(tick, shaft)
        self._judge(tick, shaft)

    def _watch(self, tick: BoatTick, shaft: ShaftTick) -> None:
        """When the drive last gave what was not ordered, and when that isolated its shaft."""
        inputs, lim = shaft.inputs, shaft.lim
        ordered = 0.0 if shaft.was is None else shaft.was.torque_nm
        pulls = has(inputs, SHAFT.TORQUE) and abs(inputs.torque_nm) > lim.disobey_torque_nm
        most_a = max(inputs.current_a, -inputs.current_a - lim.no_load_a)
        feeds = has(inputs, SHAFT.CURRENT) and most_a > lim.disobey_current_a
        wrong = (pulls or feeds) if ordered == 0.0 else pulls and inputs.torque_nm * ordered < 0.0
        if shaft.was is None:
            wrong = False
        lasts_s = self._wrong.look(tick, shaft, wrong)
        if wrong or not has(inputs, SHAFT.TORQUE):
            self._last_wrong_s[shaft.number] = tick.time_s
        isolated = shaft.mode == ShaftMode.ISOLATED and shaft.was is not None and shaft.was.mode != ShaftMode.ISOLATED
        if isolated and lasts_s >= lim.disobey_s - 1e-6:
            self._found_s.setdefault(shaft.number, []).append(tick.time_s)

    def _judge(self, tick: BoatTick, shaft: ShaftTick) -> None:
        if shaft.was is None or tick.was_bank is None or shaft.was.mode != ShaftMode.ISOLATED:
            return
        if shaft.mode == ShaftMode.ISOLATED:
            self.note_zero(tick, shaft, "the shaft is ISOLATED")
            return
        reset = no(tick.was_bank, BOAT.RESET) and yes(tick.bank, BOAT.RESET)
        margin = shaft.lim.disobey_torque_nm - abs(shaft.inputs.torque_nm)
        sound = reset and shaft.mode == ShaftMode.REST and shaft.facts.lever_neutral and has(shaft.inputs, SHAFT.TORQUE)
        if not sound or shaft.facts.fault or shaft.facts.lost_input or shaft.torque_nm != 0.0:
            margin = min(margin, -1.0)
        found = [at_s for at_s in self._found_s.get(shaft.number, []) if tick.time_s - at_s < self.AGAIN_S]
        if found:
            good_s = tick.time_s - max(self._last_wrong_s.get(shaft.number, -1e9), found[-1])
            if good_s < self.OBEYED_S - 1e-6:
                margin = min(margin, -1.0)
            if self._twice(shaft, found[-1]) and not shaft.facts.shaft_still:
                margin = min(margin, -1.0)
        self.note(
            tick, margin, lambda: f"{shaft.name}: ISOLATED -> {shaft.mode.name} with {shaft.inputs.torque_nm:.1f} N m, "
            f"reset {'pressed' if reset else 'not pressed'}, disobeyed {len(found)} times of late",
        )  # fmt: skip

    def _twice(self, shaft: ShaftTick, last_s: float) -> bool:
        """The last isolation by disobedience came within the time of the one before it."""
        before = [at_s for at_s in self._found_s[shaft.number] if at_s < last_s]
        return bool(before) and last_s - before[-1] < self.AGAIN_S


class OneShaftAlone(Judge):
    """SR-31: a cause of one shaft stops that shaft only. A boat trip needs a cause of the boat."""

    identifier, unit = "SR-31", "shafts"
    at_once = True

    def judge(self, tick: BoatTick) -> None:
        isolated = [s for s in tick.shafts if s.was and s.was.mode != s.mode == ShaftMode.ISOLATED]
        if not isolated or tick.was_mode != BoatMode.READY or tick.facts.trip_cause or not tick.whole:
            return
        if not yes(tick.bank, BOAT.CONTACTOR_CLOSED):
            return
        names = ", ".join(shaft.name for shaft in isolated)
        if any(not has(s.inputs, s.lim.react.trip_boat) for s in tick.shafts):
            return
        lost = 0 if tick.mode != BoatMode.TRIPPED else len(tick.shafts) - len(isolated)
        self.note(tick, 0.0 - lost, lambda: f"{names} ISOLATED, boat {tick.mode.name}")


class GivesUp(Judge):
    """SR-44: NEUTRAL_WAIT gives up after its time."""

    identifier, unit = "SR-44", "s"

    def __init__(self, boat: Boat) -> None:
        super().__init__(boat)
        self._since_s: float | None = None

    def forget(self) -> None:
        self._since_s = None

    def judge(self, tick: BoatTick) -> None:
        if tick.mode != BoatMode.NEUTRAL_WAIT:
            self._since_s = None
            return
        if self._since_s is None:
            self._since_s = tick.time_s
        waited_s = tick.time_s - self._since_s
        self.note(
            tick, tick.lim.neutral_wait_s + tick.tick_s - waited_s, lambda: f"waited {waited_s:.1f} s for neutral"
        )


class OffInTime(Judge):
    """SR-45: off brings the boat to STANDBY at the latest after its time, whatever a shaft does."""

    identifier, unit = "SR-45", "s"

    def __init__(self, boat: Boat) -> None:
        super().__init__(boat)
        self._since_s: float | None = None

    def forget(self) -> None:
        self._since_s = None

    def judge(self, tick: BoatTick) -> None:
        if tick.mode != BoatMode.READY:
            self._since_s = None
            return
        if yes(tick.bank, BOAT.DISABLE) and self._since_s is None and tick.was_mode == BoatMode.READY:
            self._since_s = tick.time_s
        if self._since_s is not None:
            took_s = tick.time_s - self._since_s
            self.note(
                tick, tick.lim.disable_s + 2 * tick.tick_s - took_s, lambda: f"still READY {took_s:.2f} s after off"
            )


class IdleEnds(Judge):
    """SR-35: READY with every shaft at REST and no order ends after reminder and grace."""

    identifier, unit = "SR-35", "s"

    def __init__(self, boat: Boat) -> None:
        super().__init__(boat)
        self._since_s: float | None = None

    def forget(self) -> None:
        self._since_s = None

    def judge(self, tick: BoatTick) -> None:
        still = tick.whole and all(
            shaft.mode in (ShaftMode.REST, ShaftMode.ISOLATED)
            and shaft.facts.lever_neutral
            and not shaft.inputs.on & shaft.inputs.known & _SELECTORS
            and not (shaft.handset and shaft.facts.handset_asks)
            for shaft in tick.shafts
        )
        if tick.mode != BoatMode.READY or not still or yes(tick.bank, BOAT.ACKNOWLEDGE):
            self._since_s = None
            return
        if self._since_s is None:
            self._since_s = tick.time_s
        idle_s = tick.time_s - self._since_s
        allowed_s = tick.lim.idle_reminder_s + tick.lim.idle_off_s + 2 * tick.tick_s
        self.note(tick, allowed_s - idle_s, lambda: f"READY and idle for {idle_s:.0f} s")


_SELECTORS = SHAFT.CHARGE_UNDER_WAY | SHAFT.CHARGE_AT_REST | SHAFT.HARVEST
