"""Evaluators: what the bank allows. Restated from their sentences in docs/safety.md."""

from collections import deque

from sim.requirements.facts import BOAT, RAD_S_PER_RPM, SHAFT, has, yes
from sim.requirements.judge import Judge
from sim.requirements.tick import FIRST_FRAMES_S, BoatTick, ShaftTick
from supervisor.modes import BoatMode, ShaftMode
from supervisor.rules import Boat
from supervisor.signals import Alarm

PERMIT_ZERO_S = 0.2
"""Design default: every source's own current is zero within this (s) of a withdrawn permit."""

RAMP_TICK_S = 0.1


def charging_a(tick: BoatTick, shaft: ShaftTick) -> float:
    """The DC current (A) that the order charges with at best efficiency and the bank's present voltage."""
    if not shaft.opposing:
        return 0.0
    return abs(shaft.torque_nm * shaft.facts.rpm) * RAD_S_PER_RPM * shaft.lim.efficiency / volts_of(tick)


def volts_of(tick: BoatTick) -> float:
    """The bank's voltage (V), its lowest working voltage at least and while it is not known."""
    if has(tick.bank, BOAT.VOLTAGE):
        return max(tick.lim.min_voltage_v, tick.bank.voltage_v)
    return tick.lim.min_voltage_v


class _Permit(Judge):
    """The order that draws on a permit is zero in the tick of its withdrawal; measured current follows in time.

    The time counts from the withdrawal, or from when a current began that nobody ordered: that one is SR-32's business.
    """

    unit = "s"
    sign = 1.0
    words = ""

    def __init__(self, boat: Boat) -> None:
        super().__init__(boat)
        self._since_s: float | None = None
        self._flow_s: dict[int, float] = {}

    def forget(self) -> None:
        self._since_s = None
        self._flow_s.clear()

    def permitted(self, tick: BoatTick) -> bool:
        """The monitor's permit at this tick."""
        raise NotImplementedError

    def draws(self, shaft: ShaftTick) -> bool:
        """The order draws on this permit."""
        raise NotImplementedError

    def judge(self, tick: BoatTick) -> None:
        for shaft in tick.shafts:
            if self._flows(shaft):
                self._flow_s.setdefault(shaft.number, tick.time_s)
            else:
                self._flow_s.pop(shaft.number, None)
        if self.permitted(tick):
            self._since_s = None
            return
        if self._since_s is None:
            self._since_s = tick.time_s
        for shaft in tick.shafts:
            if self.draws(shaft):
                self.note(
                    tick,
                    -1.0,
                    lambda s=shaft: f"{s.name}: {s.torque_nm:.1f} N m ordered {self.words}",  # type: ignore[misc]
                )
                continue
            if shaft.number in self._flow_s:
                took_s = tick.time_s - max(self._since_s, self._flow_s[shaft.number])
                self.note_measured(
                    tick, PERMIT_ZERO_S + tick.tick_s - took_s,
                    lambda s=shaft, t=took_s: f"{s.name}: {s.inputs.current_a:.1f} A flow {t:.2f} s {self.words}",  # type: ignore[misc]
                )  # fmt: skip
            else:
                self.note(tick, PERMIT_ZERO_S, lambda s=shaft: f"{s.name}: no current {self.words}")  # type: ignore[misc]

    def _flows(self, shaft: ShaftTick) -> bool:
        return has(shaft.inputs, SHAFT.CURRENT) and self.sign * shaft.inputs.current_a > shaft.lim.disobey_current_a


class ChargePermit(_Permit):
    """SR-13: charge permit withdrawn or stale, or its limit 0: no source's own current."""

    identifier, sign, words = "SR-13", 1.0, "after the charge permit was withdrawn"

    def permitted(self, tick: BoatTick) -> bool:
        return tick.facts.may_charge

    def draws(self, shaft: ShaftTick) -> bool:
        return shaft.opposing


class DischargePermit(_Permit):
    """SR-14: discharge permit withdrawn or stale, or its limit 0: no thrust."""

    identifier, sign, words = "SR-14", -1.0, "after the discharge permit was withdrawn"

    def permitted(self, tick: BoatTick) -> bool:
        return tick.facts.may_discharge

    def draws(self, shaft: ShaftTick) -> bool:
        return shaft.driving


class ChargeBudget(Judge):
    """SR-15: all sources together stay within taper, temperature and monitor limit, plus the hotel load.

    Bank and drive currents are not of one instant, so that a hotel load counts as long as it was seen within
    `HOTEL_MEMORY_S`; and their difference is known no better than to `READING_A`.
    """

    identifier, unit = "SR-15", "A"
    HOTEL_MEMORY_S = 2.0
    READING_A = 0.5

    def __init__(self, boat: Boat) -> None:
        super().__init__(boat)
        self._seen: deque[tuple[float, float]] = deque()

    def forget(self) -> None:
        self._seen.clear()

    def judge(self, tick: BoatTick) -> None:
        if not tick.whole:
            return
        if has(tick.bank, BOAT.CURRENT) and all(has(shaft.inputs, SHAFT.CURRENT) for shaft in tick.shafts):
            now_a = sum(shaft.inputs.current_a for shaft in tick.shafts) - tick.bank.current_a
            while self._seen and self._seen[-1][1] <= now_a:
                self._seen.pop()  # an older, smaller load is never the largest again
            self._seen.append((tick.time_s, now_a))
        else:
            self._seen.clear()
        while self._seen and self._seen[0][0] < tick.time_s - self.HOTEL_MEMORY_S:
            self._seen.popleft()
        ordered_a = sum(charging_a(tick, shaft) for shaft in tick.shafts if shaft.source)
        if ordered_a <= 0.0:
            return
        hotel_a = self._seen[0][1] if self._seen else 0.0
        most_a = tick.facts.charge_limit_a + hotel_a + self.READING_A if tick.facts.charge_limit_a > 0.0 else 0.0
        if most_a > 0.0 and tick.blind and tick.age_s < self.HOTEL_MEMORY_S:
            return  # the hotel load of the last seconds is not known
        self.note(
            tick,
            max(0.0, most_a) * (1 + 1e-9) - ordered_a,
            lambda: (
                f"sources ordered to {ordered_a:.1f} A, limit {tick.facts.charge_limit_a:.1f} A, "
                f"hotel load {hotel_a:.1f} A"
            ),
        )


class ColdOrHotBank(Judge):
    """SR-16: no source charges at or below the cold limit or at or above the hot limit, nor with either unknown."""

    identifier, unit = "SR-16", "degC"

    def judge(self, tick: BoatTick) -> None:
        if not any(shaft.opposing and shaft.source for shaft in tick.shafts):
            return
        bank, lim = tick.bank, tick.lim
        if not has(bank, BOAT.CELL_COLD | BOAT.CELL_HOT):
            self.note(tick, -1.0, lambda: "charging with a cell temperature unknown")
            return
        margin = min(bank.cell_cold_c - lim.cold_zero_c, lim.hot_zero_c - bank.cell_hot_c)
        if bank.cell_cold_c <= lim.cold_zero_c or bank.cell_hot_c >= lim.hot_zero_c:
            margin = min(margin, -1.0)
        self.note(tick, margin, lambda: f"charging with cells at {bank.cell_cold_c:.1f} to {bank.cell_hot_c:.1f} degC")


class ChargeEndLatched(Judge):
    """SR-17: charging that ended restarts only below the restart SOC (or for a requested full charge)."""

    identifier, unit = "SR-17", "%"
    at_once = True

    def __init__(self, boat: Boat) -> None:
        super().__init__(boat)
        self._ended = False

    def forget(self) -> None:
        self._ended = False

    def judge(self, tick: BoatTick) -> None:
        bank, lim = tick.bank, tick.lim
        if yes(bank, BOAT.FULL_CHARGE):
            self._ended = False
            return
        known = has(bank, BOAT.SOC)
        for shaft in tick.shafts:
            starts = shaft.was is not None and shaft.was.mode == ShaftMode.REST and shaft.mode in _SOURCES
            if starts and self._ended:
                margin = lim.charge_restart_pct - bank.soc_pct if known else -1.0
                self.note(tick, margin, lambda n=shaft.name: f"{n}: charging restarted at {bank.soc_pct:.1f} %")  # type: ignore[misc]
        told = has(bank, _CHARGE_NEEDS | lim.react.inhibit_charge)  # a limit that is merely unknown is no end
        if told and tick.facts.charge_limit_a < lim.charge_end_a:
            self._ended = True
        elif known and bank.soc_pct < lim.charge_restart_pct:
            self._ended = False


_CHARGE_NEEDS = BOAT.SOC | BOAT.CELL_MAX | BOAT.CELL_HOT | BOAT.CELL_COLD | BOAT.CHARGE_LIMIT
_SOURCES = (ShaftMode.GENERATE, ShaftMode.HARVEST)


class LowSoc:
    """Whether the SOC, or the lowest cell where that counts as well, has read at or below its lower limit for long
    enough to end thrust; in READY a dip does not."""

    def __init__(self, with_cell: bool = False) -> None:
        self._with_cell = with_cell
        self._since_s: float | None = None

    def forget(self) -> None:
        self._since_s = None

    def look(self, tick: BoatTick) -> bool:
        bank, lim = tick.bank, tick.lim
        cell = self._with_cell and has(bank, BOAT.CELL_MIN)
        cell_low = cell and bank.cell_min_v <= lim.cell_derate_end_v
        if not has(bank, BOAT.SOC) and not cell_low:
            return False
        low = has(bank, BOAT.SOC) and bank.soc_pct <= lim.derate_end_pct
        if not low and not cell_low:
            self._since_s = None
            return False
        if self._since_s is None:
            self._since_s = tick.time_s
        return tick.mode != BoatMode.READY or tick.time_s - self._since_s >= lim.derate_dip_s + 2 * tick.tick_s


class DerateBand(Judge):
    """SR-18: propulsion power stays within the derate by SOC, lowest cell and lost inputs, and ends at the limit."""

    identifier, unit = "SR-18", "W"

    def __init__(self, boat: Boat) -> None:
        super().__init__(boat)
        self._allowed_pct: float | None = None
        self._ended = False
        self._low = LowSoc(with_cell=True)
        self._by_cell = 100.0

    def forget(self) -> None:
        self._allowed_pct, self._ended, self._by_cell = None, False, 100.0
        self._low.forget()

    def judge(self, tick: BoatTick) -> None:
        target = self._target_pct(tick)
        was = self._allowed_pct
        if was is None:
            was = 100.0 if tick.blind else target  # how far it has come down is not known
        step = tick.lim.derate_rate_pct_per_s * min(tick.dt_s, RAMP_TICK_S)
        self._allowed_pct = max(target, was - step)
        by_cell = self._cell_pct(tick)
        fallen = self._by_cell - tick.lim.cell_derate_fall_pct_per_s * min(tick.dt_s, RAMP_TICK_S)
        self._by_cell = max(by_cell, fallen) if tick.mode == BoatMode.READY else by_cell
        allowed_pct = min(self._allowed_pct, self._by_cell)
        for shaft in tick.shafts:
            if shaft.mode != ShaftMode.PROPEL or not shaft.torque_nm * shaft.facts.rpm > 0.0:
                continue
            if shaft.lessens:
                continue
            power_w = shaft.torque_nm * shaft.facts.rpm * RAD_S_PER_RPM
            most_w = shaft.lim.rated_power_w * allowed_pct / 100.0
            self.note(
                tick, most_w * (1 + 1e-9) - power_w,
                lambda n=shaft.name, p=power_w, m=most_w: f"{n}: {p:.0f} W ordered, derate allows {m:.0f} W",  # type: ignore[misc]
            )  # fmt: skip
        if tick.mode != BoatMode.READY:
            self._allowed_pct = target  # there is no thrust to lead down: a low bank begins low

    def _cell_pct(self, tick: BoatTick) -> float:
        bank, lim = tick.bank, tick.lim
        if not has(bank, BOAT.CELL_MIN):
            return 100.0
        return _band(bank.cell_min_v, lim.cell_derate_end_v, lim.cell_derate_start_v, lim.derate_floor_pct)

    def _target_pct(self, tick: BoatTick) -> float:
        bank, lim = tick.bank, tick.lim
        pct = 100.0
        soc, cell = has(bank, BOAT.SOC), has(bank, BOAT.CELL_MIN)
        if soc:
            pct = min(pct, _band(bank.soc_pct, lim.derate_end_pct, lim.derate_start_pct, lim.derate_floor_pct))
        if not soc or not has(bank, lim.react.derate):
            pct = min(pct, lim.unknown_soc_pct)
        low = self._low.look(tick)
        if low:
            self._ended = True
        elif soc and cell and bank.soc_pct > lim.derate_return_pct and bank.cell_min_v > lim.cell_derate_start_v:
            self._ended = False
        return 0.0 if self._ended and not tick.facts.get_home else pct


def _band(value: float, end: float, start: float, floor_pct: float) -> float:
    part = min(1.0, max(0.0, (value - end) / (start - end)))
    return floor_pct + (100.0 - floor_pct) * part


class DerateReturns(Judge):
    """SR-19: thrust that ended at the lower limit returns only above the return SOC, or by get-home."""

    identifier, unit = "SR-19", "%"
    at_once = True

    def __init__(self, boat: Boat) -> None:
        super().__init__(boat)
        self._best_pct: list[float | None] = [None] * len(boat.shafts)
        """Highest SOC since thrust ended at the lower limit, None where it did not."""
        self._low = LowSoc()
        self._is_low = False

    def forget(self) -> None:
        self._best_pct = [None] * len(self.boat.shafts)
        self._low.forget()

    def judge(self, tick: BoatTick) -> None:
        self._is_low = self._low.look(tick)
        super().judge(tick)

    def judge_shaft(self, tick: BoatTick, shaft: ShaftTick) -> None:
        bank, lim = tick.bank, tick.lim
        if not has(bank, BOAT.SOC):
            return
        best_pct = self._best_pct[shaft.number]
        if best_pct is not None:
            best_pct = max(best_pct, bank.soc_pct)
        elif self._is_low and shaft.mode != ShaftMode.PROPEL:
            best_pct = bank.soc_pct
        if best_pct is not None and shaft.mode == ShaftMode.PROPEL:
            if not tick.facts.get_home:
                self.note(
                    tick,
                    best_pct - lim.derate_return_pct,
                    lambda: f"{shaft.name}: thrust returned after {best_pct:.1f} %",
                )
            best_pct = None
        self._best_pct[shaft.number] = best_pct


class SoftStart(Judge):
    """SR-20: charging current of a source rises no faster than the soft start."""

    identifier, unit = "SR-20", "A/s"

    def judge_shaft(self, tick: BoatTick, shaft: ShaftTick) -> None:
        if shaft.was is None or tick.dt_s <= 0.0 or shaft.command.current_a <= 0.0 or not shaft.source:
            return
        rate = (shaft.command.current_a - shaft.was.command.current_a) / min(tick.dt_s, RAMP_TICK_S)
        self.note(
            tick, shaft.lim.charge_rise_a_per_s * (1 + 1e-9) + 1e-6 - rate,
            lambda: f"{shaft.name}: charging current rose at {rate:.2f} A/s",
        )  # fmt: skip


class UnknownSoc(Judge):
    """SR-40: with the SOC unknown no source charges, and the crew is told."""

    identifier, unit = "SR-40", "A"

    def judge(self, tick: BoatTick) -> None:
        if has(tick.bank, BOAT.SOC):
            return
        ordered_a = sum(charging_a(tick, shaft) for shaft in tick.shafts if shaft.source)
        self.note(tick, 0.0 - ordered_a, lambda: f"{ordered_a:.1f} A of charging ordered with the SOC unknown")
        if tick.age_s > FIRST_FRAMES_S and not tick.command.alarms & Alarm.SOC_UNKNOWN.value:
            self.note(tick, -1.0, lambda: "no alarm for the unknown SOC")


class WarnsBefore(Judge):
    """SR-43: the crew is warned on entering the derate band, and ahead of the lower limit."""

    identifier, unit = "SR-43", "%"

    def judge(self, tick: BoatTick) -> None:
        bank, lim, alarms = tick.bank, tick.lim, tick.command.alarms
        if not has(bank, BOAT.SOC):
            return
        if bank.soc_pct < lim.derate_start_pct:
            told = bool(alarms & Alarm.DERATE_BAND.value)
            margin = 0.0 if told else bank.soc_pct - lim.derate_start_pct
            self.note(tick, margin, lambda: f"SOC {bank.soc_pct:.1f} %, derate alarm {'on' if told else 'missing'}")
        if has(bank, BOAT.CURRENT) and bank.current_a < 0.0:
            left_s = (bank.soc_pct - lim.derate_end_pct) / 100.0 * lim.capacity_ah * 3600.0 / -bank.current_a
            if left_s < lim.time_to_limit_s * (1 - 1e-9):
                told = bool(alarms & Alarm.TIME_TO_LIMIT.value)
                self.note(
                    tick, 0.0 if told else -1.0, lambda: f"{left_s:.0f} s to the lower limit, alarm "
                    f"{'on' if told else 'missing'}",
                )  # fmt: skip
