"""Bank monitor: coulomb count with gain and offset error, quantised readings, permits with hysteresis, limits, flags,
and the contactor, opened after a warning.

The thresholds are configuration; the order of events is our own choice: withdraw the permit, announce,
open.
"""

from __future__ import annotations

from sim.plant.params import MonitorParams
from sim.plant.state import (
    FLAG_CELL_OVER_VOLTAGE,
    FLAG_CELL_UNDER_VOLTAGE,
    FLAG_OVER_CURRENT_CHARGE,
    FLAG_OVER_CURRENT_DISCHARGE,
    FLAG_OVER_TEMPERATURE,
    FLAG_UNDER_TEMPERATURE,
    BankState,
    MonitorState,
)


def quantise(value: float, step: float) -> float:
    """`value` rounded to the nearest multiple of `step` (half away from zero); `step` 0 or less leaves it alone."""
    if step <= 0.0:
        return value
    if value >= 0.0:
        return int(value / step + 0.5) * step
    return -(int(-value / step + 0.5) * step)


def fraction(x: float, zero_at: float, one_at: float) -> float:
    """0 at `zero_at`, 1 at `one_at`, linear between, held beyond; the two may lie either way round."""
    f = (x - zero_at) / (one_at - zero_at)
    if f < 0.0:
        return 0.0
    if f > 1.0:
        return 1.0
    return f


def charge_limit(p: MonitorParams, soc_pct: float, cell_max_v: float, hot_c: float, cold_c: float) -> float:
    """Charging current limit, A: by cold cell, hot cell, highest cell voltage and SOC; the smallest counts."""
    limit = p.charge_limit_a
    if cold_c <= p.cold_zero_c:
        return 0.0
    if cold_c < p.cold_full_c and p.cold_limit_a < limit:
        limit = p.cold_limit_a
    limit = limit * fraction(hot_c, p.hot_zero_c, p.hot_taper_c)
    limit = limit * fraction(cell_max_v, p.charge_off_v, p.charge_taper_v)
    if soc_pct >= p.charge_off_soc_pct:
        return 0.0
    return limit


def discharge_limit(p: MonitorParams, soc_pct: float, cell_min_v: float, hot_c: float) -> float:
    """Discharging current limit, A, a positive number: by lowest cell voltage, hot cell and SOC."""
    limit = p.discharge_limit_a * fraction(cell_min_v, p.discharge_off_v, p.discharge_taper_v)
    limit = limit * fraction(hot_c, p.over_temp_c, p.hot_zero_c)
    if soc_pct <= p.discharge_off_soc_pct:
        return 0.0
    return limit


def _condition_flags(
    p: MonitorParams, cell_max_v: float, cell_min_v: float, hot_c: float, cold_c: float, current_a: float
) -> int:
    flags = 0
    if cell_max_v > p.over_voltage_v:
        flags |= FLAG_CELL_OVER_VOLTAGE
    if cell_min_v < p.under_voltage_v:
        flags |= FLAG_CELL_UNDER_VOLTAGE
    if hot_c > p.over_temp_c:
        flags |= FLAG_OVER_TEMPERATURE
    if cold_c < p.under_temp_c:
        flags |= FLAG_UNDER_TEMPERATURE
    if current_a > p.over_current_charge_a:
        flags |= FLAG_OVER_CURRENT_CHARGE
    if -current_a > p.over_current_discharge_a:
        flags |= FLAG_OVER_CURRENT_DISCHARGE
    return flags


def monitor_step(
    p: MonitorParams,
    m: MonitorState,
    bank: BankState,
    dt_s: float,
    injected_flags: int = 0,
    connected: float = 1.0,
    count_step_pct: float = 0.0,
) -> MonitorState:
    """One step of the monitor: it sees `bank` (the true state) through its own errors.

    A condition must last ``flag_delay_s`` before its flag shows (late flags are that setting); a flag withdraws the
    permits, starts the warning, and opens the contactor ``warning_s`` later. `injected_flags` are FLAG_... bits shown
    at once. Of parallel packs the share `connected` (0 to 1) is on the bus: limits and over-currents fall with it,
    and the count, of what is connected, moves the faster; `count_step_pct` is by how much it jumps where packs come or
    go.
    """
    measured_a = bank.current_a * p.current_gain + p.current_offset_a
    current = quantise(measured_a, p.current_step_a)
    cell_max = quantise(bank.cell_max_v, p.cell_step_v)
    cell_min = quantise(bank.cell_min_v, p.cell_step_v)
    hot = quantise(bank.core_c, p.temp_step_c)
    cold = quantise(bank.edge_c, p.temp_step_c)
    if cold > hot:
        hot, cold = cold, hot

    counted = m.counted_as + current * dt_s / connected + 0.01 * count_step_pct * p.capacity_as
    if counted > p.capacity_as:
        counted = p.capacity_as
    if counted < 0.0:
        counted = 0.0
    # full charge seen: the count is put right
    if cell_max >= p.full_cell_v and current >= 0.0 and current <= p.full_current_a:
        counted = p.capacity_as
    soc = quantise(100.0 * counted / p.capacity_as, p.soc_step_pct)

    conditions = _condition_flags(p, cell_max, cell_min, hot, cold, measured_a / connected)
    flag_timer = 0.0
    flags = injected_flags
    if conditions != 0:
        flag_timer = m.flag_timer_s + dt_s
        if flag_timer >= p.flag_delay_s:
            flags |= conditions

    tripped = m.tripped
    warning = 0
    warning_timer = 0.0
    if flags != 0 and tripped == 0 and m.contactor_order == 1:
        warning = 1
        warning_timer = m.warning_timer_s + dt_s
        if warning_timer >= p.warning_s:
            tripped = 1
    if tripped == 1 and flags == 0 and bank.isolator_on == 0:
        tripped = 0

    close_timer = 0.0
    order = 0
    if tripped == 0 and bank.isolator_on == 1:
        if m.contactor_order == 1:
            order = 1
        elif flags == 0:
            close_timer = m.close_timer_s + dt_s
            if close_timer >= p.close_delay_s:
                order = 1

    charge_a = connected * charge_limit(p, soc, cell_max, hot, cold)
    discharge_a = connected * discharge_limit(p, soc, cell_min, hot)
    charge_permit = m.charge_permit
    if charge_a <= 0.0:
        charge_permit = 0
    elif (
        cell_max <= p.charge_on_v
        and soc <= p.charge_on_soc_pct
        and cold >= p.cold_zero_c + p.permit_back_k
        and hot <= p.hot_zero_c - p.permit_back_k
    ):
        charge_permit = 1
    discharge_permit = m.discharge_permit
    if discharge_a <= 0.0:
        discharge_permit = 0
    elif cell_min >= p.discharge_on_v and soc >= p.discharge_on_soc_pct and hot <= p.over_temp_c - p.permit_back_k:
        discharge_permit = 1
    if flags != 0 or order == 0:
        charge_permit = 0
        discharge_permit = 0
    if charge_permit == 0:
        charge_a = 0.0
    if discharge_permit == 0:
        discharge_a = 0.0
    return MonitorState(
        soc,
        counted,
        current,
        quantise(bank.terminal_v, p.voltage_step_v),
        cell_max,
        cell_min,
        hot,
        cold,
        charge_permit,
        discharge_permit,
        charge_a,
        discharge_a,
        flags,
        flag_timer,
        warning,
        warning_timer,
        order,
        tripped,
        close_timer,
    )


def rested_monitor(p: MonitorParams, bank: BankState) -> MonitorState:
    """A monitor that has just counted right, with the contactor closed."""
    blank = MonitorState(
        0.0,
        bank.soc_pct * 0.01 * p.capacity_as,
        0.0,
        0.0,
        0.0,
        0.0,
        0.0,
        0.0,
        1,
        1,
        0.0,
        0.0,
        0,
        0.0,
        0,
        0.0,
        1,
        0,
        0.0,
    )
    return monitor_step(p, blank, bank, 0.0)
