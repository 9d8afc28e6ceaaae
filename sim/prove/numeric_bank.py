"""Part (d): what the bank allows, over the whole range of its signals."""

from collections.abc import Iterator
from itertools import product

from sim.prove.flat import boat_state
from sim.prove.grid import ROUNDING, Grid, Numbers, steps, three_ways
from sim.prove.result import Shown
from sim.requirements.facts import charge_limit_a as bound_a
from supervisor.rules import bank as rules
from supervisor.rules import outputs, torque
from supervisor.rules.orders import Orders
from supervisor.rules.state import BoatLatch, BoatState
from supervisor.signals import Alarm, BoatInput, BoatInputs

_B = BoatInput
_READY = 2
_NUMBER = {"soc_pct": _B.SOC, "cell_max_v": _B.CELL_MAX, "cell_hot_c": _B.CELL_HOT, "cell_cold_c": _B.CELL_COLD,
           "charge_limit_a": _B.CHARGE_LIMIT}  # fmt: skip

_NO_ORDERS = Orders._make([0] * len(Orders._fields))

_OTHERS = "the other inputs stand at sound, mid-taper and unknown in turn, not at every value"

SOC_STEP, CELL_STEP, TEMP_STEP, LIMIT_STEP = 0.5, 0.001, 1.0, 0.1
"""Resolutions of the shipped DBC files: RV-C state of charge, MONITOR_CELLS, MONITOR_GUARD."""


def prove_bank(n: Numbers) -> list[Shown]:
    """All numeric claims on the bank."""
    return [
        *_limit(n), *_ended(n), *_derate(n), *_permits(n), *_share(), *_unknown(n), *_alarms(n),
    ]  # fmt: skip


def _axes(n: Numbers) -> dict[str, list[float]]:
    return {
        "soc_pct": steps(0.0, 125.0, SOC_STEP),
        "cell_max_v": steps(0.0, 6.0, CELL_STEP),
        "cell_hot_c": steps(-40.0, 125.0, TEMP_STEP),
        "cell_cold_c": steps(-40.0, 125.0, TEMP_STEP),
        "charge_limit_a": steps(0.0, 5000.0, LIMIT_STEP),
    }


def _others(n: Numbers, axis: str) -> Iterator[dict[str, float | None]]:
    """Combinations of the other inputs: sound, in the middle of the taper, at its end, unknown (None)."""
    lim = n.lim
    values: dict[str, tuple[float | None, ...]] = {
        "soc_pct": (50.0, (lim.taper_start_pct + lim.taper_end_pct) / 2, None),
        "cell_max_v": (3.3, (lim.cell_taper_start_v + lim.cell_taper_end_v) / 2, None),
        "cell_hot_c": (20.0, (lim.hot_start_c + lim.hot_zero_c) / 2, None),
        "cell_cold_c": (20.0, (lim.cold_zero_c + lim.cold_full_c) / 2, None),
        "charge_limit_a": (5000.0, lim.full_charge_a / 3, None),
    }
    if axis == "charge_limit_a":  # its 50,001 steps against what is known; unknown is in the other axes
        values = {name: tuple(v for v in choices if v is not None) for name, choices in values.items()}
    names = [name for name in values if name != axis]
    for combination in product(*(values[name] for name in names)):
        yield dict(zip(names, combination, strict=True))


def _bank_with(n: Numbers, values: dict[str, float | None], *, on: int = 0) -> BoatInputs:
    unknown = sum(int(_NUMBER[name]) for name, value in values.items() if value is None)
    numbers: dict[str, float] = {name: value for name, value in values.items() if value is not None}
    return n.bank(on=on, unknown=unknown)._replace(**numbers)  # type: ignore[arg-type]


def _limit(n: Numbers, only: str = "") -> list[Shown]:
    shown = []
    cold = Grid("SR-16", "no charging when cold or hot", "the charge limit is zero at or below the cold limit and at "
        "or "
                "above the hot limit, or with either unknown")  # fmt: skip
    for axis, values in _axes(n).items():
        if only and axis != only:
            continue
        grid = Grid("SR-15", f"charge limit over {axis}", f"at each value of {axis} that its signal can carry, the "
                    "charge limit is at most taper, temperature and monitor allow")  # fmt: skip
        tight = Grid("SR-49", f"charge limit is given over {axis}", "nor is it less: charging that is allowed is given")
        for others in _others(n, axis):
            base = _bank_with(n, {**others, axis: values[0]})
            place = BoatInputs._fields.index(axis)
            head, tail = base[:place], base[place + 1 :]
            for value in values:
                one = BoatInputs._make((*head, value, *tail))
                limit_a = rules.charge_limit_a(n.lim, one, 0)
                most_a = bound_a(n.lim, one)
                grid.check(
                    0.0 <= limit_a <= most_a * (1 + ROUNDING),
                    lambda o=one, a=limit_a, m=most_a: f"{a:.2f} A where {m:.2f} A are allowed: {_say(o)}",  # type: ignore[misc]
                )  # fmt: skip
                tight.check(
                    limit_a >= most_a * (1 - ROUNDING),
                    lambda o=one, a=limit_a, m=most_a: f"{a:.2f} A where {m:.2f} A are allowed: {_say(o)}",  # type: ignore[misc]
                )  # fmt: skip
                if axis in ("cell_hot_c", "cell_cold_c"):
                    bad = one.cell_cold_c <= n.config.limits.cold_zero_c or one.cell_hot_c >= n.config.limits.hot_zero_c
                    cold.check(not bad or limit_a == 0.0, lambda o=one: f"charging at {_say(o)}")  # type: ignore[misc]
        shown += [grid.shown(_OTHERS), tight.shown(_OTHERS)]
    full = Grid("SR-15", "full charge lifts only the SOC limit", "with a requested full charge the limit stays within "
                "cell taper, temperature and monitor")  # fmt: skip
    for soc in steps(0.0, 100.0, SOC_STEP):
        for cell in steps(3.3, 3.7, 0.01):
            one = n.bank(on=_B.FULL_CHARGE, soc_pct=soc, cell_max_v=cell)
            full.check(
                rules.charge_limit_a(n.lim, one, 1) <= bound_a(n.lim, one) * (1 + ROUNDING),
                lambda o=one: _say(o),  # type: ignore[misc]
            )
    return [*shown, *(grid.shown() for grid in (cold, full) if grid.cases or not only)]


def _say(one: BoatInputs) -> str:
    parts = []
    for name, bit in _NUMBER.items():
        parts.append(f"{name} {getattr(one, name):g}" if one.known & bit else f"{name} unknown")
    return ", ".join(parts)


def _ended(n: Numbers) -> list[Shown]:
    own = n.config.limits
    grid = Grid("SR-17", "charging ends and stays ended", "below the end of charging the latch is set; it holds "
        "until SOC "
                "is below the restart, or a full charge is asked")  # fmt: skip
    for soc in steps(0.0, 100.0, SOC_STEP):
        one = n.bank(soc_pct=soc)
        for limit_a in (0.0, own.charge_end_a / 2, own.charge_end_a - 0.1, own.charge_end_a, own.charge_end_a + 0.1,
                        own.charge_end_a * 2, own.full_charge_a):  # fmt: skip
            for was, full in product((False, True), (0, 1)):
                after = rules.charge_ended(n.lim, one, limit_a, full, was)
                good = after or limit_a >= own.charge_end_a
                good = good and (after or not was or soc < own.charge_restart_pct or full == 1)
                good = good and (was or not after or limit_a < own.charge_end_a)
                grid.check(
                    good,
                    lambda s=soc, a=limit_a, w=was: f"SOC {s:g} %, limit {a:g} A, ended before: {w}",  # type: ignore[misc]
                )
    restart = Grid("SR-49", "charging restarts", "below the restart SOC with the full limit, charging is wanted again")
    for soc in steps(0.0, own.charge_restart_pct - SOC_STEP, SOC_STEP):
        one = n.bank(soc_pct=soc)
        restart.check(
            not rules.charge_ended(n.lim, one, own.full_charge_a, 0, True),
            lambda s=soc: f"SOC {s:g} %",  # type: ignore[misc]
        )
    return [grid.shown(), restart.shown()]


def _band(value: float, end: float, start: float, floor: float) -> float:
    return floor + (100.0 - floor) * min(1.0, max(0.0, (value - end) / (start - end)))


def _derate(n: Numbers) -> list[Shown]:
    own = n.config.limits
    target = Grid("SR-18", "derate by SOC and cell", "the derate is at most its band at each SOC and each lowest cell")
    slope = Grid("SR-18", "derate moves by its rate", "the derate in force falls to its target no slower and no "
        "faster than "
                 "its rate, is zero at the lower limit, and closes there")  # fmt: skip
    latch = Grid("SR-19", "derate returns with a distance", "propulsion ends at the lower limit and returns only "
        "above the "
                 "return limit with the lowest cell above its band")  # fmt: skip
    cells = [*steps(2.0, 4.0, CELL_STEP * 5), own.cell_derate_end_v, own.cell_derate_start_v]
    for soc in [*steps(0.0, 100.0, SOC_STEP), None]:
        for cell in [*cells[:: (1 if soc in (20.0, 60.0, None) else 40)], None]:
            unknown = (int(_B.SOC) if soc is None else 0) | (int(_B.CELL_MIN) if cell is None else 0)
            one = n.bank(unknown=unknown, soc_pct=soc or 0.0, cell_min_v=cell or 0.0)
            most = 100.0
            if soc is None or cell is None:
                most = own.unknown_soc_pct
            if soc is not None:
                most = min(most, _band(soc, own.derate_end_pct, own.derate_start_pct, own.derate_floor_pct))
            if cell is not None:
                most = min(most, _band(cell, own.cell_derate_end_v, own.cell_derate_start_v, own.derate_floor_pct))
            got = rules.derate_target_pct(n.lim, one)
            target.check(
                0.0 <= got <= most * (1 + ROUNDING) and got >= most * (1 - 1e-6),
                lambda s=soc, c=cell, g=got, m=most: f"SOC {s} %, lowest cell {c} V: {g:.3f} %, not {m:.3f} %",  # type: ignore[misc]
            )  # fmt: skip
            low = (soc is not None and soc <= own.derate_end_pct) or (
                cell is not None and cell <= own.cell_derate_end_v
            )
            back = (
                soc is not None and soc > own.derate_return_pct and cell is not None and cell > own.cell_derate_start_v
            )
            for was in (False, True):
                ended = rules.derate_ended(n.lim, one, was)
                good = ended if low else (ended == (was and not back))
                latch.check(good, lambda s=soc, c=cell, w=was: f"SOC {s} %, cell {c} V, ended before: {w}")  # type: ignore[misc]
            if cell is not None and cell not in (cells[-1], cells[0]) and cell != 3.2:
                continue
            _derate_step(n, slope, one, low, most)
    return [target.shown(), slope.shown(), latch.shown()]


def _derate_step(n: Numbers, grid: Grid, one: BoatInputs, low: bool, most: float) -> None:
    own = n.config.limits
    for was_pct, was_ended, home in product((0.0, 10.0, 15.0, 50.0, 99.99, 100.0), (False, True), (False, True)):
        bank = one._replace(on=one.on | int(_B.GET_HOME)) if home else one
        latches = int(BoatLatch.DERATE_ENDED) if was_ended else 0
        state = boat_state(mode=_READY, latches=latches, derate_pct=was_pct)
        view = rules.bank_view(n.lim, state, bank, 0.0, True, n.tick_s)
        ended = bool(view.latches & BoatLatch.DERATE_ENDED)
        aim = 0.0 if ended and not home else most
        step = own.derate_rate_pct_per_s * n.tick_s
        want = max(aim, was_pct - step) if aim < was_pct else min(aim, was_pct + step)
        good = abs(view.derate_pct - want) <= 1e-6 and (not low or ended)
        good = good and (view.derate_open == 0) == (ended and not home and view.derate_pct <= 0.0)
        grid.check(
            good, lambda w=was_pct, v=view, a=want, b=bank: f"SOC {b.soc_pct:g} %, derate {w:g} -> {v.derate_pct:g} %, "  # type: ignore[misc]
            f"not {a:g} %; open {v.derate_open}",
        )  # fmt: skip


def _permits(n: Numbers) -> list[Shown]:
    charge = Grid("SR-13", "no permit, no budget", "unless permit, contactor, no opening and a limit above zero are "
        "proven, "
                  "no source has a budget, whatever the hotel load")  # fmt: skip
    discharge = Grid("SR-14", "no permit, no thrust budget", "likewise for discharging, whatever the hotel load")
    budget = Grid("SR-15", "budget is limit plus hotel", "the budget of the sources is at most limit plus hotel "
        "load; an "
                  "unknown bank or drive current counts as no hotel load")  # fmt: skip
    bits = (int(_B.CHARGE_PERMIT), int(_B.DISCHARGE_PERMIT), int(_B.CONTACTOR_CLOSED), int(_B.MONITOR_OPENING))
    every = sum(bits)
    for (known, on), limits, limit_a, hotel_a, drives in product(
        list(three_ways(bits)), (0, 1, 2, 3), (0.0, 0.1, 100.0), (None, -30.0, 0.0, 60.0, 400.0), (True, False)
    ):
        unknown = (0 if limits & 1 else int(_B.CHARGE_LIMIT)) | (0 if limits & 2 else int(_B.DISCHARGE_LIMIT))
        unknown |= int(_B.CURRENT) if hotel_a is None else 0
        one = n.bank(
            unknown=unknown | (every & ~known), on=on, off=every & ~on, charge_limit_a=limit_a if limits & 1 else 0.0,
            discharge_limit_a=limit_a if limits & 2 else 0.0, current_a=20.0 - (hotel_a or 0.0),
        )  # fmt: skip
        state = boat_state(mode=_READY, hotel_a=_WAS_A, load_a=_WAS_A, drives_a=20.0 if drives else 0.0)
        view = rules.bank_view(n.lim, state, one, 20.0 if drives else 0.0, drives, n.tick_s)
        closed = on & _B.CONTACTOR_CLOSED and known & ~on & _B.MONITOR_OPENING
        may_charge = bool(closed and on & _B.CHARGE_PERMIT and limits & 1 and limit_a > 0.0)
        may_discharge = bool(closed and on & _B.DISCHARGE_PERMIT and limits & 2 and limit_a > 0.0)
        say = _permit_words(known, on, limits, limit_a, hotel_a)
        charge.check((may_charge or view.source_budget_a == 0.0) and (view.charge_permit == 1) == may_charge, say)
        good = (may_discharge or view.motor_budget_a == 0.0) and (view.discharge_permit == 0 or may_discharge)
        discharge.check(good and (view.discharge_permit == 1 or view.motor_budget_a == 0.0), say)
        believed_a = max(_WAS_A, hotel_a) if hotel_a is not None and drives else 0.0
        most_a = max(0.0, bound_a(n.lim, one) + believed_a) if may_charge else 0.0
        budget.check(view.source_budget_a <= most_a * (1 + ROUNDING) + 1e-9, say)
        light_a = min(_WAS_A, hotel_a) if hotel_a is not None and drives else _WAS_A
        discharge.check(view.motor_budget_a <= max(0.0, limit_a - max(0.0, light_a)) + 1e-9, say)
    return [charge.shown(), discharge.shown(), budget.shown(), _hotel_follows(n).shown()]


_WAS_A = 30.0
"""The hotel load believed a tick earlier, in these grids."""


def _hotel_follows(n: Numbers) -> Grid:
    """A steady hotel load is believed within two seconds, both ways, in both budgets."""
    grid = Grid("SR-15", "hotel load is followed", "a hotel load that has been steady for two seconds counts, in the "
        "charge "
                "budget at most and in the discharge budget at least as it is, within a tenth and 2 A")  # fmt: skip
    for was_a, now_a, drives_a in product((0.0, 40.0, 150.0), (0.0, 10.0, 80.0), (-100.0, 0.0, 60.0)):
        state = boat_state(mode=_READY, hotel_a=was_a, load_a=was_a, drives_a=drives_a)
        one = n.bank(current_a=drives_a - now_a, charge_limit_a=100.0, discharge_limit_a=400.0)
        for _ in range(round(2.0 / n.tick_s)):
            view = rules.bank_view(n.lim, state, one, drives_a, True, n.tick_s)
            state = boat_state(mode=_READY, hotel_a=view.hotel_a, load_a=view.load_a, drives_a=view.drives_a)
        slack_a = 2.0 + 0.1 * now_a
        good = view.hotel_a <= now_a + slack_a and view.load_a >= now_a - slack_a
        grid.check(
            good, lambda w=was_a, h=now_a, v=view: f"{w:g} -> {h:g} A of hotel load: believed {v.hotel_a:.1f} A for "  # type: ignore[misc]
            f"charging, {v.load_a:.1f} A for discharging",
        )  # fmt: skip
    return grid


def _permit_words(known: int, on: int, limits: int, limit_a: float, hotel_a: float | None):  # type: ignore[no-untyped-def]
    def say() -> str:
        ways = [
            f"{bit.name} {'on' if on & bit else 'off' if known & bit else 'unknown'}"
            for bit in (_B.CHARGE_PERMIT, _B.DISCHARGE_PERMIT, _B.CONTACTOR_CLOSED, _B.MONITOR_OPENING)
        ]
        return f"{', '.join(ways)}; limits known {limits:02b}, {limit_a:g} A; hotel load {hotel_a} A"

    return say


def _share() -> list[Shown]:
    grid = Grid("SR-15", "shares add up", "what shafts ask, times their share, never exceeds the budget")
    for budget_a in steps(0.0, 600.0, 1.0):
        for asked_a in steps(0.0, 1200.0, 4.0):
            part = torque.share(budget_a, asked_a)
            grid.check(
                0.0 <= part <= 1.0 and part * asked_a <= budget_a * (1 + ROUNDING),
                lambda b=budget_a, a=asked_a: f"budget {b:g} A, asked {a:g} A",  # type: ignore[misc]
            )  # fmt: skip
    return [grid.shown()]


def _unknown(n: Numbers) -> list[Shown]:
    grid = Grid("SR-40", "SOC unknown", "no charge limit and no more than half thrust while the SOC is unknown, with "
        "the "
                "alarm")  # fmt: skip
    alone = Grid("SR-15", "anything unknown is zero", "each input that charging needs, unknown by itself, gives zero")
    for volts in steps(n.config.bank.min_voltage_v, n.config.bank.max_voltage_v, 0.05):
        one = n.bank(unknown=_B.SOC, voltage_v=volts)
        state = boat_state(mode=0)
        view = rules.bank_view(n.lim, state, one, 0.0, True, n.tick_s)
        orders = _NO_ORDERS
        alarms = outputs.boat_alarms(n.lim, state, one, view, orders, _READY)
        good = view.source_budget_a == 0.0 and view.derate_pct <= n.config.limits.unknown_soc_pct
        grid.check(good and bool(alarms & Alarm.SOC_UNKNOWN), lambda v=volts: f"at {v:g} V")  # type: ignore[misc]
    for bit in (_B.SOC, _B.CELL_MAX, _B.CELL_HOT, _B.CELL_COLD, _B.CHARGE_LIMIT):
        one = n.bank(unknown=bit)
        alone.check(rules.charge_limit_a(n.lim, one, 0) == 0.0, lambda b=bit: f"{b.name} unknown")  # type: ignore[misc]
        alone.check(rules.charge_limit_a(n.lim, one, 1) == 0.0, lambda b=bit: f"{b.name} unknown, full charge")  # type: ignore[misc]
    return [grid.shown(), alone.shown()]


def _alarms(n: Numbers) -> list[Shown]:
    own = n.config.limits
    grid = Grid("SR-43", "warned before", "the band alarm holds at each SOC below the start of the derate, the time "
        "alarm at "
                "each current that leaves less than its time")  # fmt: skip
    view = rules.bank_view(n.lim, BoatState(), n.bank(), 0.0, True, n.tick_s)
    for soc in steps(0.0, 100.0, SOC_STEP):
        for amps in steps(0.0, 600.0, 5.0):
            one = n.bank(soc_pct=soc, current_a=-amps)
            alarms = outputs.boat_alarms(n.lim, BoatState(), one, view, _NO_ORDERS, _READY)
            left_ah = max(0.0, soc - own.derate_end_pct) / 100.0 * n.config.bank.capacity_ah
            near = amps > 0.0 and left_ah / amps * 3600.0 < own.time_to_limit_s * (1 - ROUNDING)
            good = (soc >= own.derate_start_pct or bool(alarms & Alarm.DERATE_BAND)) and (
                not near or bool(alarms & Alarm.TIME_TO_LIMIT)
            )
            grid.check(good, lambda s=soc, a=amps: f"SOC {s:g} %, {a:g} A drawn")  # type: ignore[misc]
    return [grid.shown()]
