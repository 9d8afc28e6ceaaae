"""Hull: resistance as a table over speed, built once from the hull's form.

Friction: ITTC-1957 line, C_F = 0.075 / (log10 Re - 2)^2, with a form factor and a roughness allowance. Residuary
resistance: the Delft systematic yacht hull series in the form of J. A. Keuning, M. Katgert, "A bare hull resistance
prediction method derived from the results of the Delft Systematic Yacht Hull Series extended to higher speeds", 2008.
Wetted surface of the canoe body: J. A. Keuning, U. B. Sonnenberg, "Approximation of the hydrodynamic forces on a
sailing yacht based on the Delft Systematic Yacht Hull Series", 1998.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from sim.plant.params import HullParams

GRAVITY_M_S2 = 9.80665
VISCOSITY_M2_S = 1.19e-6
"""Kinematic viscosity of sea water at 15 degC (ITTC recommended procedure 7.5-02-01-03)."""

_FROUDE = (0.0, 0.15, 0.20, 0.25, 0.30, 0.35, 0.40, 0.45, 0.50, 0.55, 0.60, 0.65, 0.70, 0.75)
_A0 = (
    0.0,
    -0.0005,
    -0.0003,
    -0.0002,
    -0.0009,
    -0.0026,
    -0.0064,
    -0.0218,
    -0.0388,
    -0.0347,
    -0.0361,
    0.0008,
    0.0108,
    0.1023,
)
_A1 = (
    0.0,
    0.0023,
    0.0059,
    -0.0156,
    0.0016,
    -0.0567,
    -0.4034,
    -0.5261,
    -0.5986,
    -0.4764,
    0.0037,
    0.3728,
    -0.1238,
    0.7726,
)
_A2 = (
    0.0,
    -0.0086,
    -0.0064,
    0.0031,
    0.0337,
    0.0446,
    -0.1250,
    -0.2945,
    -0.3038,
    -0.2361,
    -0.2960,
    -0.3667,
    -0.2026,
    0.5040,
)
_A3 = (0.0, -0.0015, 0.0070, -0.0021, -0.0285, -0.1091, 0.0273, 0.2485, 0.6033, 0.8726, 0.9661, 1.3957, 1.1282, 1.7867)
_A4 = (
    0.0,
    0.0061,
    0.0014,
    -0.0070,
    -0.0367,
    -0.0707,
    -0.1341,
    -0.2428,
    -0.0430,
    0.4219,
    0.6123,
    1.0343,
    1.1836,
    2.1934,
)
_A5 = (0.0, 0.0010, 0.0013, 0.0148, 0.0218, 0.0914, 0.3578, 0.6293, 0.8332, 0.8990, 0.7534, 0.3230, 0.4973, -1.5479)
_A6 = (0.0, 0.0001, 0.0005, 0.0010, 0.0015, 0.0021, 0.0045, 0.0081, 0.0106, 0.0096, 0.0100, 0.0072, 0.0038, -0.0115)
_A7 = (
    0.0,
    0.0052,
    -0.0020,
    -0.0043,
    -0.0172,
    -0.0078,
    0.1115,
    0.2086,
    0.1336,
    -0.2272,
    -0.3352,
    -0.4632,
    -0.4477,
    -0.0977,
)


class HullForm(NamedTuple):
    """Form of the hull: lengths in m, areas in m2, volume in m3, coefficients and fractions dimensionless."""

    length_m: float
    beam_m: float
    draft_m: float
    volume_m3: float
    waterplane_m2: float
    prismatic: float
    midship: float
    lcb_frac: float
    lcf_frac: float
    appendage_m2: float
    form_factor: float
    roughness: float
    water_density_kg_m3: float


def froude_number(speed_ms: float, length_m: float) -> float:
    """Froude number of speed (m/s) and waterline length (m)."""
    return speed_ms / math.sqrt(GRAVITY_M_S2 * length_m)


def wetted_surface(f: HullForm) -> float:
    """Wetted surface of the canoe body, m2 (Keuning and Sonnenberg 1998)."""
    return (
        (1.97 + 0.171 * f.beam_m / f.draft_m)
        * math.pow(0.65 / f.midship, 1.0 / 3.0)
        * math.sqrt(f.volume_m3 * f.length_m)
    )


def friction_resistance(f: HullForm, speed_ms: float) -> float:
    """Frictional resistance of hull and appendages, N, at `speed_ms` > 0, on 0.7 of the waterline length (Delft
    practice).
    """
    reynolds = max(speed_ms * 0.7 * f.length_m / VISCOSITY_M2_S, 1e4)
    cf = 0.075 / (math.log10(reynolds) - 2.0) ** 2
    area = wetted_surface(f) * (1.0 + f.form_factor) + f.appendage_m2
    return 0.5 * f.water_density_kg_m3 * speed_ms**2 * area * (cf + f.roughness)


def residuary_resistance(f: HullForm, speed_ms: float) -> float:
    """Residuary resistance of the canoe body, N (Keuning and Katgert 2008), never below 0.

    Beyond Froude number 0.75 it rises with the last slope of the table.
    """
    v13 = math.pow(f.volume_m3, 1.0 / 3.0)
    slender = v13 / f.length_m
    points = []
    for i in range(len(_FROUDE)):
        terms = (
            _A1[i] * f.lcb_frac
            + _A2[i] * f.prismatic
            + _A3[i] * v13 * v13 / f.waterplane_m2
            + _A4[i] * f.beam_m / f.length_m
            + _A5[i] * f.lcb_frac / f.lcf_frac
            + _A6[i] * f.beam_m / f.draft_m
            + _A7[i] * f.midship
        )
        points.append(f.volume_m3 * f.water_density_kg_m3 * GRAVITY_M_S2 * (_A0[i] + terms * slender))
    fn = froude_number(speed_ms, f.length_m)
    if fn <= _FROUDE[1]:
        # below the first measured Froude number resistance starts with the square of speed
        return max(0.0, points[1] * (fn / _FROUDE[1]) ** 2)
    return max(0.0, monotone_cubic(_FROUDE[1:], tuple(points[1:]), fn))


def monotone_cubic(xs: tuple[float, ...], ys: tuple[float, ...], x: float) -> float:
    """Piecewise cubic through rising `xs` that never overshoots; straight with the last slope beyond the end.

    F. N. Fritsch, J. Butland, SIAM J. Sci. Stat. Comput. 5(2), 1984.
    """
    n = len(xs)
    steps = [xs[i + 1] - xs[i] for i in range(n - 1)]
    slopes = [(ys[i + 1] - ys[i]) / steps[i] for i in range(n - 1)]
    tangents = [slopes[0]]
    for i in range(1, n - 1):
        left, right = slopes[i - 1], slopes[i]
        if left * right <= 0.0:
            tangents.append(0.0)
            continue
        a = 2.0 * steps[i] + steps[i - 1]
        b = steps[i] + 2.0 * steps[i - 1]
        tangents.append((a + b) / (a / left + b / right))
    tangents.append(slopes[-1])
    if x >= xs[-1]:
        return ys[-1] + tangents[-1] * (x - xs[-1])
    i = 0
    while i < n - 2 and x > xs[i + 1]:
        i += 1
    t = (x - xs[i]) / steps[i]
    h = steps[i]
    return (
        ys[i] * (1.0 + 2.0 * t) * (1.0 - t) * (1.0 - t)
        + tangents[i] * h * t * (1.0 - t) * (1.0 - t)
        + ys[i + 1] * t * t * (3.0 - 2.0 * t)
        + tangents[i + 1] * h * t * t * (t - 1.0)
    )


def resistance(f: HullForm, speed_ms: float) -> float:
    """Calm-water resistance ahead, N, at `speed_ms` >= 0."""
    if speed_ms <= 0.0:
        return 0.0
    return friction_resistance(f, speed_ms) + residuary_resistance(f, speed_ms)


def resistance_force(p: HullParams, speed_ms: float) -> tuple[float, float]:
    """(force_n, slope_n_s_m): resistance, with the sign of speed, and its slope, from the table."""
    speed = abs(speed_ms)
    position = speed / p.speed_step_ms
    last = len(p.resistance_n) - 2
    i = int(position)
    if i > last:
        i = last
    r0 = p.resistance_n[i]
    per_step = p.resistance_n[i + 1] - r0
    force = r0 + (position - i) * per_step
    slope = per_step / p.speed_step_ms
    if speed_ms < 0.0:
        return -force * p.astern_factor, slope * p.astern_factor
    return force, slope


def hull_step(p: HullParams, speed_ms: float, thrust_n: float, sail_n: float, dt_s: float) -> float:
    """New boat speed, m/s: mass times acceleration = thrust less deduction + sails - resistance, implicit in
    resistance.
    """
    if thrust_n > 0.0:
        thrust_n = thrust_n * (1.0 - p.thrust_deduction)
    force, slope = resistance_force(p, speed_ms)
    return speed_ms + dt_s * (thrust_n + sail_n - force) / (p.mass_kg + dt_s * slope)
