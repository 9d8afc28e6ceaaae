"""Starter battery, starter and alternator of one engine.

Battery: lead-acid, open-circuit voltage of a cell = relative density of its acid + 0.84 V, density 1.12 empty to 1.28
full (battery handbooks, from memory); its resistance grows as it empties and in the cold (shape: own choice). Starter:
torque with current, back-EMF with speed, fed through the battery's resistance. Alternator: rated current from its full
speed on, linear from its cut-in; the battery takes no more amperes than it lacks ampere-hours (J. L. Woodbridge's
rule, 1935, from memory), and the engine turns it.
"""

from __future__ import annotations

from sim.plant.params import StarterParams
from sim.plant.state import StarterState

CELLS_V = 0.84
EMPTY_DENSITY = 1.12
FULL_DENSITY = 1.28
CHARGED_AH_PER_AH = 0.9
"""Charge that a lead-acid battery keeps of what it is given (0.85 to 0.95, from memory)."""


def rest_v(p: StarterParams, soc_pct: float) -> float:
    """Open-circuit voltage of the starter battery, V."""
    density = EMPTY_DENSITY + (FULL_DENSITY - EMPTY_DENSITY) * soc_pct * 0.01
    return p.cells * (density + CELLS_V)


def battery_resistance(p: StarterParams, soc_pct: float, temperature_c: float) -> float:
    """Resistance of the starter battery, ohm: fifty times as high when empty, and 1.2 % more for each kelvin below
    25."""
    cold = 25.0 - temperature_c
    if cold < 0.0:
        cold = 0.0
    return p.battery_ohm / (0.02 + 0.0098 * soc_pct) * (1.0 + 0.012 * cold)


def cranking_a(p: StarterParams, s: StarterState, rpm: float, no_load_rpm: float, temperature_c: float) -> float:
    """Current of the starter, A, at engine speed `rpm`: as much as the battery's voltage drives against its
    back-EMF."""
    full_v = rest_v(p, 100.0)
    volts = rest_v(p, s.soc_pct) - full_v * rpm / no_load_rpm
    if volts <= 0.0:
        return 0.0
    return volts / (p.starter_ohm + battery_resistance(p, s.soc_pct, temperature_c))


def alternator_current(p: StarterParams, s: StarterState, rpm: float) -> float:
    """Current the alternator of a running engine gives, A: its loads, and what the battery takes."""
    if rpm <= p.cut_in_rpm:
        return 0.0
    most = p.alternator_a
    if rpm < p.full_rpm:
        most = most * (rpm - p.cut_in_rpm) / (p.full_rpm - p.cut_in_rpm)
    wanted = p.loads_a + p.battery_as / 3600.0 * (1.0 - 0.01 * s.soc_pct)
    if wanted > most:
        return most
    return wanted


def alternator_w(p: StarterParams, current_a: float) -> float:
    """Power the alternator takes from the engine, W."""
    return current_a * p.alternator_v / p.alternator_eff


def full_battery(p: StarterParams) -> StarterState:
    """A starter battery that is full and at rest."""
    return StarterState(100.0, rest_v(p, 100.0), 0.0, 0.0)


def starter_step(
    p: StarterParams, s: StarterState, starter_a: float, alternator_now_a: float, temperature_c: float, dt_s: float
) -> StarterState:
    """Battery after `dt_s`, with `starter_a` drawn by the starter and `alternator_now_a` given by the alternator."""
    if p.battery_as <= 0.0:
        return s
    into_a = alternator_now_a - p.loads_a - starter_a
    if s.soc_pct <= 0.0 and into_a < 0.0:
        into_a = 0.0
    kept_a = into_a
    volts = rest_v(p, s.soc_pct) + into_a * battery_resistance(p, s.soc_pct, temperature_c)
    if into_a > 0.0:
        kept_a = into_a * CHARGED_AH_PER_AH
        if volts > p.alternator_v:
            volts = p.alternator_v
    soc = s.soc_pct + 100.0 * kept_a * dt_s / p.battery_as
    if soc > 100.0:
        soc = 100.0
    if soc < 0.0:
        soc = 0.0
    return StarterState(soc, volts, into_a, alternator_now_a)
