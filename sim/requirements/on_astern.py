"""Evaluators: braking, and stops. Restated from their sentences in docs/safety.md."""

from collections import deque

from sim.requirements.facts import BOAT, RAD_S_PER_RPM, SHAFT, falling, has, no, yes
from sim.requirements.judge import Judge
from sim.requirements.on_bank import charging_a, volts_of
from sim.requirements.on_pause import contact_away
from sim.requirements.tick import BoatTick, ShaftTick
from supervisor.config.limits import BoatLimits
from supervisor.modes import BoatMode, ShaftMode
from supervisor.rules import Boat
from supervisor.signals import STOPPED_ALARMS, Alarm, BoatInputs, OwnEffect

ASTERN_S = 2.0
"""Half of rated torque against rotation is there within this (s), or as soon after as slew and dwell allow."""

REGAINED = 0.1

FULL_PCT = 60.0
"""From this lever position on half of rated torque is less than what is asked."""


def braking_shaft(shaft: ShaftTick) -> bool:
    """This shaft's thrust opposes its rotation."""
    return shaft.opposing and shaft.propels


def doubtful(lim: BoatLimits, bank: BoatInputs) -> bool:
    """Cells that should not be charged: too cold, too hot, or one of the three readings unknown."""
    if not has(bank, BOAT.CELL_MAX | BOAT.CELL_COLD | BOAT.CELL_HOT):
        return True
    return bank.cell_cold_c <= lim.cold_zero_c or bank.cell_hot_c >= lim.hot_zero_c


def most_a(lim: BoatLimits, bank: BoatInputs, may_charge: bool) -> float:
    """The most that may be braked into the bank (A), other sources and the time in the cold apart."""
    if not may_charge:
        return 0.0
    limit = min(bank.charge_limit_a, lim.max_charge_a)
    if has(bank, BOAT.CELL_MAX):
        limit = min(limit, lim.max_charge_a * falling(bank.cell_max_v, lim.cell_taper_start_v, lim.cell_taper_end_v))
    if doubtful(lim, bank):
        return min(limit, lim.brake_cold_a)
    return min(limit, lim.cold_limit_a) if bank.cell_cold_c <= lim.cold_full_c else limit


class BrakingBudget(Judge):
    """SR-51: while a shaft brakes, all orders that feed the bank stay within the budget of braking.

    What other sources feed is known no better than from readings of different instants: the least of the last two
    seconds counts while the drives' current is steady, and half an ampere.
    """

    identifier, unit = "SR-51", "A"
    MEMORY_S, READING_A, STEADY_A = 2.0, 0.5, 5.0

    def __init__(self, boat: Boat) -> None:
        super().__init__(boat)
        self._others: deque[tuple[float, float, float]] = deque()
        self._spent_s = 0.0
        self._barred = False

    def forget(self) -> None:
        self._others.clear()
        self._spent_s, self._barred = 0.0, False

    def judge(self, tick: BoatTick) -> None:
        if not tick.whole:
            return
        lim, bank = tick.lim, tick.bank
        if has(bank, BOAT.CURRENT) and all(has(shaft.inputs, SHAFT.CURRENT) for shaft in tick.shafts):
            drives_a = sum(shaft.inputs.current_a for shaft in tick.shafts)
            self._others.append((tick.time_s, max(0.0, bank.current_a - drives_a), drives_a))
        else:
            self._others.clear()
        while self._others and self._others[0][0] < tick.time_s - self.MEMORY_S:
            self._others.popleft()
        self._count(tick)
        braking = [shaft for shaft in tick.shafts if braking_shaft(shaft)]
        if not braking:
            return
        bound_a = most_a(lim, bank, tick.facts.may_charge)
        if self._barred and doubtful(lim, bank):
            bound_a = 0.0
        others_a = min((fed for _, fed, _ in self._others), default=0.0)
        moved = [drives_a for _, _, drives_a in self._others]
        heard_s = tick.time_s - self._others[0][0] if self._others else 0.0
        if moved and (max(moved) - min(moved) > self.STEADY_A or heard_s < self.MEMORY_S - 2 * tick.tick_s):
            others_a = 0.0  # bank and drives may speak of different moments, or have not been heard for long
        slack_a = self.READING_A if bound_a > 0.0 else 0.0
        if tick.blind and tick.age_s < self.MEMORY_S:
            others_a = 0.0
        ordered_a = sum(charging_a(tick, shaft) for shaft in tick.shafts)
        self.note(
            tick,
            max(0.0, bound_a - others_a + slack_a) * (1 + 1e-9) - ordered_a,
            lambda: (
                f"{ordered_a:.1f} A ordered into the bank while braking, {bound_a:.1f} A allowed, others feed "
                f"{others_a:.1f} A"
            ),
        )

    def _count(self, tick: BoatTick) -> None:
        """The time braked into doubtful cells, by what was ordered a tick ago."""
        before = [shaft.was for shaft in tick.shafts if shaft.was is not None]
        spends = any(braking_shaft(shaft) for shaft in before) and doubtful(tick.lim, tick.bank)
        if self._barred:
            self._spent_s -= REGAINED * tick.dt_s
            if self._spent_s < tick.lim.brake_cold_s:
                self._spent_s, self._barred = 0.0, False
        elif spends:
            self._spent_s += tick.dt_s
            if self._spent_s > tick.lim.brake_cold_s + tick.tick_s:
                self._spent_s, self._barred = 2.0 * tick.lim.brake_cold_s, True
        else:
            self._spent_s = max(0.0, self._spent_s - REGAINED * tick.dt_s)


class AsternInTime(Judge):
    """SR-52: what is asked against rotation is there in time, or the alarm stands.

    Judged while the shaft turns the way it did when it was asked, its temperatures and the owner's interlocks hold
    nothing back, and the drive's own rating has room for half of rated torque.
    """

    identifier, unit = "SR-52", "s"

    def __init__(self, boat: Boat) -> None:
        super().__init__(boat)
        self._asked_s: dict[int, float] = {}
        self._own_astern = any(one.effect == OwnEffect.LIMIT_THRUST and one.astern for one in boat.limits.own)

    def forget(self) -> None:
        self._asked_s.clear()

    def judge_shaft(self, tick: BoatTick, shaft: ShaftTick) -> None:
        if not self._asks(tick, shaft) or tick.command.alarms & Alarm.ASTERN_SHORT.value:
            self._asked_s.pop(shaft.number, None)
            return
        since_s = self._asked_s.setdefault(shaft.number, tick.time_s)
        lim = shaft.lim
        reached = abs(shaft.torque_nm) >= 0.5 * lim.rated_torque_nm * (1 - 1e-9) and shaft.opposing
        took_s = tick.time_s - since_s
        slew_s = 1.5 * lim.rated_torque_nm / lim.torque_slew_nm_per_s + lim.reversal_dwell_s + 0.1
        allowed_s = max(ASTERN_S, slew_s)
        if reached:
            self.note(
                tick, allowed_s - min(took_s, allowed_s), lambda: f"{shaft.name}: half torque after {took_s:.2f} s"
            )
        elif took_s > allowed_s + tick.tick_s:
            self.note(
                tick, allowed_s - took_s,
                lambda: f"{shaft.name}: {shaft.torque_nm:.1f} N m {took_s:.2f} s after astern was asked, and no alarm",
            )  # fmt: skip

    def _asks(self, tick: BoatTick, shaft: ShaftTick) -> bool:
        """Full torque against rotation is asked, and nothing but the bank could hold it back."""
        if tick.mode != BoatMode.READY or shaft.mode != ShaftMode.PROPEL or shaft.handset or self._own_astern:
            return False
        if not shaft.facts.lever_asks or abs(shaft.inputs.lever_pct) < FULL_PCT or shaft.facts.temp_factor < 1.0:
            return False
        if not has(shaft.inputs, shaft.lim.react.derate) or tick.command.derate_pct <= 0.0:
            return False
        if not tick.facts.may_discharge or not has(shaft.inputs, SHAFT.MACHINE_SPEED):
            return False
        rpm = shaft.facts.rpm
        turns = abs(rpm) > shaft.lim.still_rpm and rpm * shaft.inputs.lever_pct < 0.0
        needed_w = 0.5 * shaft.lim.rated_torque_nm * abs(rpm) * RAD_S_PER_RPM * shaft.lim.efficiency
        return turns and needed_w <= shaft.lim.generate_power_w and needed_w <= shaft.lim.max_current_a * volts_of(tick)


class StopAnnounced(Judge):
    """SR-53: what ends although it is asked for is told by its shaft's alarm, until it is acknowledged."""

    identifier, unit = "SR-53", "ticks"

    def __init__(self, boat: Boat) -> None:
        super().__init__(boat)
        self._owed: set[int] = set()

    def forget(self) -> None:
        self._owed.clear()

    def judge_shaft(self, tick: BoatTick, shaft: ShaftTick) -> None:
        if shaft.was is None or tick.was_bank is None:
            self._owed.discard(shaft.number)
            return
        pressed = no(tick.was_bank, BOAT.ACKNOWLEDGE) and yes(tick.bank, BOAT.ACKNOWLEDGE)
        if pressed:
            self._owed.discard(shaft.number)
        if self._stops(tick, shaft, shaft.was):
            self._owed.add(shaft.number)
        if shaft.number in self._owed:
            told = bool(tick.command.alarms & STOPPED_ALARMS[shaft.number].value)
            self.note(
                tick, 0.0 if told else -1.0,
                lambda: f"{shaft.name}: stopped, {shaft.mode.name}, alarm {'on' if told else 'missing'}",
            )  # fmt: skip

    def _stops(self, tick: BoatTick, shaft: ShaftTick, was: ShaftTick) -> bool:
        """It worked a tick ago, does not now, and is still asked for, as far as the inputs alone can tell."""
        if shaft.mode == was.mode or tick.mode != BoatMode.READY or tick.was_mode != BoatMode.READY:
            return False
        if not no(tick.bank, BOAT.DISABLE):
            return False
        if was.mode == ShaftMode.PROPEL:
            asked = not was.handset and shaft.facts.lever_asks and was.facts.lever_asks
            return asked and not contact_away(shaft)  # what a contact interrupts is judged by SR-62
        inputs, before = shaft.inputs, was.inputs
        if was.mode == ShaftMode.HARVEST:
            selected = yes(inputs, SHAFT.HARVEST) and yes(before, SHAFT.HARVEST) and shaft.facts.lever_neutral
            return selected and not shaft.handset and not tick.facts.may_charge
        if was.mode != ShaftMode.GENERATE:
            return False
        selected = yes(inputs, SHAFT.CHARGE_UNDER_WAY) and yes(before, SHAFT.CHARGE_UNDER_WAY)
        selected = selected and no(inputs, SHAFT.CHARGE_AT_REST)
        return selected and not tick.facts.may_charge
