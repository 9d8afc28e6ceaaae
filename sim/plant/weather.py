"""Sun, clearness and sail shading: irradiance on a horizontal array on deck.

Sun: the Astronomical Almanac's low-precision formulas, J. J. Michalsky, Solar Energy 40(3), 1988. Clear sky: P.
Ineichen, R. Perez, "A new airmass independent formulation for the Linke turbidity coefficient", Solar Energy 73(3),
2002, at sea level; air mass by F. Kasten, A. T. Young, Applied Optics 28(22), 1989. Day-to-day clearness: first-order
autoregressive process, T. E. Huget et al., "A time series model for Kt with application to
global synthetic weather generation", Solar Energy 40(2), 1988 (they find a lag-one correlation of about 0.29). Diffuse
part: D. G. Erbs, S. A. Klein, J. A. Duffie, Solar Energy 28(4), 1982.
"""

from __future__ import annotations

import math
import random

SOLAR_CONSTANT_W_M2 = 1361.0


def cos_zenith(latitude_deg: float, longitude_deg: float, day_of_year: int, utc_h: float, year: int = 2025) -> float:
    """Cosine of the sun's zenith angle; negative below the horizon.

    `latitude_deg` north positive, `longitude_deg` east positive, `day_of_year` 1 to 366, `utc_h` 0 to 24, `year` 1950
    to 2050.
    """
    # days since noon of 1 January 2000
    leaps = (year - 1) // 4 - 499
    n = 365.0 * (year - 2000) + leaps + day_of_year - 1.5 + utc_h / 24.0
    anomaly = math.radians(357.528 + 0.9856003 * n)
    mean = 280.460 + 0.9856474 * n
    ecliptic = math.radians(mean + 1.915 * math.sin(anomaly) + 0.020 * math.sin(2.0 * anomaly))
    tilt = math.radians(23.439 - 0.0000004 * n)
    right_ascension = math.atan2(math.cos(tilt) * math.sin(ecliptic), math.cos(ecliptic))
    sine = math.sin(tilt) * math.sin(ecliptic)
    sidereal_h = 6.697375 + 0.0657098242 * n + utc_h
    hour_angle = math.radians(15.0 * sidereal_h + longitude_deg) - right_ascension
    lat = math.radians(latitude_deg)
    return math.sin(lat) * sine + math.cos(lat) * math.sqrt(1.0 - sine * sine) * math.cos(hour_angle)


def air_mass(cosine: float) -> float:
    """Relative optical air mass from the cosine of the zenith angle, above 0 (Kasten and Young)."""
    zenith_deg = math.degrees(math.acos(min(cosine, 1.0)))
    return 1.0 / (cosine + 0.50572 * math.pow(96.07995 - zenith_deg, -1.6364))


def clear_sky_irradiance(cosine: float, day_of_year: int = 80, linke_turbidity: float = 3.0) -> float:
    """Clear-sky global horizontal irradiance at sea level, W/m2 (Ineichen and Perez).

    `cosine` of the zenith angle, `linke_turbidity` 2 (very clean) to 6 (hazy).
    """
    if cosine <= 0.0:
        return 0.0
    distance = 1.0 + 0.033 * math.cos(2.0 * math.pi * day_of_year / 365.0)
    depth = 0.0387 * air_mass(cosine) * linke_turbidity
    return 0.868 * SOLAR_CONSTANT_W_M2 * distance * cosine * math.exp(-depth)


def diffuse_fraction(irradiance_w_m2: float, cosine: float) -> float:
    """Diffuse share of global horizontal irradiance, 0 to 1, from the clearness index (Erbs)."""
    if cosine <= 0.0 or irradiance_w_m2 <= 0.0:
        return 1.0
    kt = min(irradiance_w_m2 / (SOLAR_CONSTANT_W_M2 * cosine), 1.0)
    if kt <= 0.22:
        return 1.0 - 0.09 * kt
    if kt <= 0.80:
        return 0.9511 - 0.1604 * kt + 4.388 * kt**2 - 16.638 * kt**3 + 12.336 * kt**4
    return 0.165


def shaded_irradiance(irradiance_w_m2: float, cosine: float, shaded_frac: float) -> float:
    """Irradiance the array makes use of when sails and rigging shade `shaded_frac` (0 to 1) of it, W/m2.

    The shaded share loses its beam and keeps its diffuse part; power goes with what is left. A string with few bypass
    diodes loses more: take a larger `shaded_frac`.
    """
    diffuse = irradiance_w_m2 * diffuse_fraction(irradiance_w_m2, cosine)
    return diffuse + (irradiance_w_m2 - diffuse) * (1.0 - shaded_frac)


def clearness_days(
    seed: int, days: int, mean: float = 0.7, deviation: float = 0.22, persistence: float = 0.29
) -> tuple[float, ...]:
    """Clearness of each of `days` days: share of the clear-sky irradiance, 0.08 to 1.0; the same for the same seed.

    A first-order autoregressive process with lag-one correlation `persistence` (0 to below 1) about `mean`, clipped.
    """
    source = random.Random(seed)  # noqa: S311  # weather, not secrets
    spread = math.sqrt(1.0 - persistence * persistence)
    z = source.gauss(0.0, 1.0)
    result = []
    for _ in range(days):
        result.append(min(max(mean + deviation * z, 0.08), 1.0))
        z = persistence * z + spread * source.gauss(0.0, 1.0)
    return tuple(result)


def hotel_load(schedule: tuple[tuple[float, float], ...], hour: float) -> float:
    """Hotel load, W, at `hour` (0 to 24) from a schedule of (from hour, watts) in rising order; the last one wraps
    round.
    """
    load = schedule[-1][1]
    for from_h, watts in schedule:
        if hour >= from_h:
            load = watts
    return load
