"""Bank: open-circuit table, R0 and two RC pairs by temperature and SOC, coulomb count, cell spread, heat balance.

Each cell: v = ocv(soc) + i R0 + v1 + v2, with the RC pairs solved exactly for a constant current over the step (first-
order Thevenin circuits; G. L. Plett, "Battery Management Systems", vol. 1, 2015, ch. 2; the same circuit as PyBaMM's
equivalent- circuit model, which the tests compare with). Three kinds of cell stand for the string: one weak cell
(smaller and more resistive), one strong cell (ahead in SOC), and the average of all others. Hysteresis and ageing are
not modelled.
"""

from __future__ import annotations

import math

from sim.plant.params import BankParams
from sim.plant.state import BankState
from sim.plant.tables import interp_points, interp_uniform

TEMP_TABLE_FROM_C = -40.0
TEMP_TABLE_STEP_C = 5.0
SOC_TABLE_STEP_PCT = 5.0
SOC_MAX_PCT = 101.0
"""A cell charged beyond full is followed this far: enough for its voltage to leave every limit. What comes then is
heat."""
SOC_MIN_PCT = -1.0
"""A cell driven below empty is followed this far, where its voltage is zero: it has no more to give."""


def ocv(p: BankParams, soc_pct: float) -> float:
    """Open-circuit voltage of one cell, V, at `soc_pct`; above 100 it rises on with the last slope of the table,
    below 0 it falls to nothing at SOC_MIN_PCT."""
    x = soc_pct * 0.01
    if x < 0.0:
        left = 1.0 - soc_pct / SOC_MIN_PCT
        if left < 0.0:
            left = 0.0
        return p.ocv_v[0] * left
    if x > 1.0:
        last = len(p.ocv_v) - 1
        slope = (p.ocv_v[last] - p.ocv_v[last - 1]) / (p.ocv_soc[last] - p.ocv_soc[last - 1])
        return p.ocv_v[last] + (x - 1.0) * slope
    return interp_points(p.ocv_soc, p.ocv_v, x)


def resistance_factor(p: BankParams, temperature_c: float, soc_pct: float) -> float:
    """Factor on R0, R1 and R2: 1 at 25 degC and 50 percent."""
    return interp_uniform(p.temp_factor, (temperature_c - TEMP_TABLE_FROM_C) / TEMP_TABLE_STEP_C) * interp_uniform(
        p.soc_factor, soc_pct / SOC_TABLE_STEP_PCT
    )


def _bounded(soc_pct: float) -> float:
    if soc_pct < SOC_MIN_PCT:
        return SOC_MIN_PCT
    if soc_pct > SOC_MAX_PCT:
        return SOC_MAX_PCT
    return soc_pct


def counted(b: BankState, current_a: float, terminal_v: float, hours: float) -> tuple[float, float, float, float]:
    """The bank's counters, A h in and out and W h in and out at its terminals, `hours` later."""
    if current_a > 0.0:
        ah = current_a * hours
        return b.charged_ah + ah, b.discharged_ah, b.charged_wh + ah * terminal_v, b.discharged_wh
    ah = -current_a * hours
    return b.charged_ah, b.discharged_ah + ah, b.charged_wh, b.discharged_wh + ah * terminal_v


def bank_step(
    p: BankParams,
    b: BankState,
    current_a: float,
    contactor_closed: int,
    isolator_on: int,
    ambient_c: float,
    dt_s: float,
) -> BankState:
    """One step of the bank.

    `current_a` (positive into the bank) is what the bus settled on with ``b.emf_v`` and ``b.resistance_ohm``; it must
    be 0 with the contactor open. A model of your own needs this signature and must fill every field of BankState.
    """
    f = resistance_factor(p, 0.5 * (b.core_c + b.edge_c), b.soc_pct)
    r1 = p.r1_ohm * f
    r2 = p.r2_ohm * f
    a1 = math.exp(-dt_s / (r1 * p.c1_f))
    a2 = math.exp(-dt_s / (r2 * p.c2_f))
    v1 = b.rc1_v * a1 + current_a * r1 * (1.0 - a1)
    v2 = b.rc2_v * a2 + current_a * r2 * (1.0 - a2)

    # coulomb count; a little of the charging current is lost
    into_a = current_a
    if current_a > 0.0:
        into_a = current_a * p.coulombic_efficiency
    gain_pct = 100.0 * into_a * dt_s / p.capacity_as
    soc = _bounded(b.soc_pct + gain_pct)
    weak = _bounded(b.weak_soc_pct + gain_pct / p.weak_capacity_frac)
    strong = _bounded(b.strong_soc_pct + gain_pct)

    r0 = p.r0_ohm * f
    wr = p.weak_resistance_factor
    polar = v1 + v2
    drop = current_a * r0
    ocv_mean = ocv(p, soc)
    ocv_weak = ocv(p, weak)
    ocv_strong = ocv(p, strong)
    v_mean = ocv_mean + polar + drop
    v_weak = ocv_weak + wr * (polar + drop)
    v_strong = ocv_strong + polar + drop
    high = v_mean
    low = v_mean
    if v_weak > high:
        high = v_weak
    if v_weak < low:
        low = v_weak
    if v_strong > high:
        high = v_strong
    if v_strong < low:
        low = v_strong

    others = p.cells - 2.0
    ocv_all = others * ocv_mean + ocv_weak + ocv_strong
    emf = ocv_all + (others + wr + 1.0) * polar
    resistance = r0 * (others + wr + 1.0)
    terminal = emf + current_a * resistance

    # all power that is not stored is heat: i (v - ocv), and the coulombic loss while charging
    heat_w = current_a * (terminal - ocv_all)
    if current_a > 0.0:
        heat_w = heat_w + current_a * (1.0 - p.coulombic_efficiency) * ocv_all
        # what a cell that is beyond full no longer takes, percent of its capacity times V
        spilt = (b.soc_pct + gain_pct - soc) * others * ocv_mean
        spilt = spilt + (b.weak_soc_pct + gain_pct / p.weak_capacity_frac - weak) * p.weak_capacity_frac * ocv_weak
        spilt = spilt + (b.strong_soc_pct + gain_pct - strong) * ocv_strong
        heat_w = heat_w + spilt * 0.01 * p.capacity_as / dt_s
    # passive balancing: a resistor across every cell above the start voltage
    bleed_pct = 100.0 * p.balance_a * dt_s / p.capacity_as
    if v_mean > p.balance_start_v:
        soc = _bounded(soc - bleed_pct)
        heat_w = heat_w + others * p.balance_a * v_mean
    if v_weak > p.balance_start_v:
        weak = _bounded(weak - bleed_pct / p.weak_capacity_frac)
        heat_w = heat_w + p.balance_a * v_weak
    if v_strong > p.balance_start_v:
        strong = _bounded(strong - bleed_pct)
        heat_w = heat_w + p.balance_a * v_strong
    between_w = p.core_edge_w_k * (b.core_c - b.edge_c)
    lost_w = p.edge_ambient_w_k * (b.edge_c - ambient_c)
    core = b.core_c + dt_s * (0.5 * heat_w - between_w) / p.core_heat_j_k
    edge = b.edge_c + dt_s * (0.5 * heat_w + between_w - lost_w) / p.edge_heat_j_k

    hours = dt_s / 3600.0
    charged_ah, discharged_ah, charged_wh, discharged_wh = counted(b, current_a, terminal, hours)
    return BankState(
        soc,
        weak,
        strong,
        terminal,
        current_a,
        emf,
        resistance,
        v1,
        v2,
        high,
        low,
        core,
        edge,
        contactor_closed,
        isolator_on,
        charged_ah,
        discharged_ah,
        charged_wh,
        discharged_wh,
        b.heat_wh + heat_w * hours,
    )


def _stored_wh(p: BankParams, soc_pct: float, capacity_frac: float) -> float:
    """Energy of one cell above empty, Wh: the integral of its open-circuit voltage, a chain of straight lines."""
    x = soc_pct * 0.01
    if x < 0.0:
        return 0.5 * (p.ocv_v[0] + ocv(p, soc_pct)) * x * p.capacity_as * capacity_frac / 3600.0
    total = 0.0
    for i in range(len(p.ocv_soc) - 1):
        start, end = p.ocv_soc[i], p.ocv_soc[i + 1]
        if x > start:
            top = min(x, end)
            total += 0.5 * (p.ocv_v[i] + ocv(p, 100.0 * top)) * (top - start)
    if x > 1.0:
        total += 0.5 * (p.ocv_v[len(p.ocv_v) - 1] + ocv(p, soc_pct)) * (x - 1.0)
    return total * p.capacity_as * capacity_frac / 3600.0


def stored_wh(p: BankParams, b: BankState) -> float:
    """Energy stored in all cells above empty, Wh. What the RC pairs hold counts as heat already."""
    mean = (p.cells - 2.0) * _stored_wh(p, b.soc_pct, 1.0)
    return mean + _stored_wh(p, b.weak_soc_pct, p.weak_capacity_frac) + _stored_wh(p, b.strong_soc_pct, 1.0)


def rested_bank(p: BankParams, soc_pct: float, temperature_c: float) -> BankState:
    """A bank at rest, contactor closed, with the configured spread between its cells."""
    soc = soc_pct
    if soc > 100.0:
        soc = 100.0
    if soc < 0.0:
        soc = 0.0
    # the weak cell has delivered the same ampere-hours out of less capacity, counted from full
    weak = _bounded(100.0 - (100.0 - soc) / p.weak_capacity_frac)
    strong = soc + p.strong_soc_offset_pct
    if strong > 100.0:
        strong = 100.0
    blank = BankState(
        soc,
        weak,
        strong,
        0.0,
        0.0,
        0.0,
        0.0,
        0.0,
        0.0,
        0.0,
        0.0,
        temperature_c,
        temperature_c,
        1,
        1,
        0.0,
        0.0,
        0.0,
        0.0,
        0.0,
    )
    return bank_step(p, blank, 0.0, 1, 1, temperature_c, 0.0)
