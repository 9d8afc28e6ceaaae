"""Propeller: open-water polynomials, four quadrants, and the lookup the step uses.

The 39 and 47 term polynomials and the Fourier series are evaluated once, at load time, into two tables over the
"diamond" advance angle (see :func:`diamond_position`); the step only interpolates.
"""

from __future__ import annotations

import math

from sim.plant.bseries_data import THRUST_TERMS, TORQUE_TERMS, Term
from sim.plant.four_quadrant_data import FOUR_QUADRANT_B4_40, FOUR_QUADRANT_B4_70, Harmonic
from sim.plant.params import PropellerParams

TABLE_SIZE = 720
"""Intervals of the advance-angle table over the full circle."""

_BLEND_FROM = 0.75
_BLEND_TO = 1.0


def _polynomial(terms: tuple[Term, ...], j: float, pitch_ratio: float, area_ratio: float, blades: int) -> float:
    total = 0.0
    for c, s, t, u, v in terms:
        total += c * j**s * pitch_ratio**t * area_ratio**u * float(blades) ** v
    return total


def open_water(j: float, pitch_ratio: float, area_ratio: float, blades: int) -> tuple[float, float]:
    """Thrust and torque coefficients (KT, KQ) of a Wageningen B-series propeller, ahead, J >= 0.

    J = V_A / (n D), KT = T / (rho n^2 D^4), KQ = Q / (rho n^2 D^5); source in :mod:`sim.plant.bseries_data`.
    """
    return (
        _polynomial(THRUST_TERMS, j, pitch_ratio, area_ratio, blades),
        _polynomial(TORQUE_TERMS, j, pitch_ratio, area_ratio, blades),
    )


def zero_thrust_advance(pitch_ratio: float, area_ratio: float, blades: int) -> float:
    """Advance coefficient J at which KT of the B-series polynomial falls to zero (bisection, 1e-9)."""
    low, high = 0.0, 2.0
    while high - low > 1e-9:
        middle = 0.5 * (low + high)
        if open_water(middle, pitch_ratio, area_ratio, blades)[0] > 0.0:
            low = middle
        else:
            high = middle
    return low


def _fourier(rows: tuple[Harmonic, ...], beta: float) -> tuple[float, float]:
    ct = 0.0
    cq = 0.0
    for k, (at, bt, aq, bq) in enumerate(rows):
        c = math.cos(k * beta)
        s = math.sin(k * beta)
        ct += at * c + bt * s
        cq += aq * c + bq * s
    return 0.01 * ct, -0.001 * cq


def four_quadrant(beta: float, pitch_ratio: float, area_ratio: float) -> tuple[float, float]:
    """(C_T*, C_Q*) of a four-bladed propeller at advance angle `beta` (rad), from measured propellers.

    Linear in pitch ratio between the B4-70 propellers of 0.6 to 1.2 (the nearest one outside). For another blade area
    the difference measured between B4-40 and B4-70 at pitch ratio 1.0 is added in proportion, an approximation: with a
    stopped propeller drag goes about with blade area. Source: :mod:`sim.plant.four_quadrant_data`.
    """
    ratios = sorted(FOUR_QUADRANT_B4_70)
    clipped = min(max(pitch_ratio, ratios[0]), ratios[-1])
    upper = next(r for r in ratios[1:] if clipped <= r)
    lower = ratios[ratios.index(upper) - 1]
    weight = (clipped - lower) / (upper - lower)
    t0, q0 = _fourier(FOUR_QUADRANT_B4_70[lower], beta)
    t1, q1 = _fourier(FOUR_QUADRANT_B4_70[upper], beta)
    t70, q70 = _fourier(FOUR_QUADRANT_B4_70[1.0], beta)
    t40, q40 = _fourier(FOUR_QUADRANT_B4_40, beta)
    area = (0.70 - area_ratio) / 0.30
    return t0 + weight * (t1 - t0) + area * (t40 - t70), q0 + weight * (q1 - q0) + area * (q40 - q70)


def _star_coefficients(
    beta: float, pitch_ratio: float, area_ratio: float, blades: int, j_zero: float
) -> tuple[float, float]:
    """(C_T*, C_Q*): polynomials of the very propeller while it drives the boat, measured four-quadrant data elsewhere.

    The two are blended linearly in J between 0.75 and 1.0 of the zero-thrust advance, and over 15 degrees below beta =
    0.
    """
    ct, cq = four_quadrant(beta, pitch_ratio, area_ratio)
    near = math.radians(15.0)
    if not -near < beta < math.pi / 2.0:
        return ct, cq
    c = math.cos(beta)
    j = max(0.0, 0.7 * math.pi * math.tan(beta))
    if j >= _BLEND_TO * j_zero:
        return ct, cq
    kt, kq = open_water(j, pitch_ratio, area_ratio, blades)
    # K = C* pi/8 (J^2 + (0.7 pi)^2) from the definitions of both
    factor = 8.0 / math.pi / (0.7 * math.pi) ** 2 * (c * c if beta > 0.0 else 1.0)
    weight = 1.0
    if j > _BLEND_FROM * j_zero:
        weight = (_BLEND_TO * j_zero - j) / ((_BLEND_TO - _BLEND_FROM) * j_zero)
    if beta < 0.0:
        weight = 1.0 + beta / near
    return ct + weight * (kt * factor - ct), cq + weight * (kq * factor - cq)


def build_tables(pitch_ratio: float, area_ratio: float, blades: int) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Tables of C_T* and C_Q* over the diamond angle, ``TABLE_SIZE + 1`` entries, the last equal to the first."""
    j_zero = zero_thrust_advance(pitch_ratio, area_ratio, blades)
    cts = []
    cqs = []
    for i in range(TABLE_SIZE):
        position = 4.0 * i / TABLE_SIZE - 1.0
        # inverse of diamond_position: a point on |va| + |ur| = 1
        va = position if position <= 1.0 else 2.0 - position
        ur = 1.0 - abs(va)
        if position > 1.0:
            ur = -ur
        ct, cq = _star_coefficients(math.atan2(va, ur), pitch_ratio, area_ratio, blades, j_zero)
        cts.append(ct)
        cqs.append(cq)
    return (*cts, cts[0]), (*cqs, cqs[0])


def diamond_position(va_ms: float, ur_ms: float) -> float:
    """Where (advance speed, rotational speed at 0.7 R) lies on the diamond |va| + |ur| = 1, as a number in [0, 4).

    It replaces atan2: plain arithmetic, the same bits interpreted and compiled. Zero stands for full astern advance
    with no rotation, 1 for bollard ahead, 2 for advance ahead with no rotation, 3 for bollard astern.
    """
    total = abs(va_ms) + abs(ur_ms)
    if total < 1e-9:
        return 1.0
    d = va_ms / total
    if ur_ms >= 0.0:
        return d + 1.0
    return 3.0 - d


def propeller_load(p: PropellerParams, va_ms: float, omega_rad_s: float) -> tuple[float, float]:
    """(thrust_n, torque_nm) of the propeller in open water.

    `va_ms` speed of advance in m/s (positive ahead), `omega_rad_s` shaft speed in rad/s (positive ahead). Torque is the
    torque the water takes from the shaft: positive resists ahead rotation, negative drives it.
    """
    ur_ms = 0.35 * p.diameter_m * omega_rad_s
    position = diamond_position(va_ms, ur_ms) * p.table_scale
    i = int(position)
    if i >= TABLE_SIZE:
        i = TABLE_SIZE - 1
    f = position - i
    q = p.half_rho_area * (va_ms * va_ms + ur_ms * ur_ms)
    ct_table = p.ct_table
    cq_table = p.cq_table
    ct0 = ct_table[i]
    cq0 = cq_table[i]
    ct = ct0 + f * (ct_table[i + 1] - ct0)
    cq = cq0 + f * (cq_table[i + 1] - cq0)
    return q * ct, q * p.diameter_m * cq
