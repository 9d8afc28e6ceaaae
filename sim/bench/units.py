"""The unit at the end of a signal's name, and numbers written for people."""

import math

_UNITS = {
    "_w_m2": "W/m2",
    "_a_per_s": "A/s",
    "_pct": "%",
    "_rpm": "rpm",
    "_nm": "N m",
    "_kwh": "kWh",
    "_ah": "Ah",
    "_kn": "kn",
    "_kw": "kW",
    "_minutes": "min",
    "_a": "A",
    "_v": "V",
    "_c": "degC",
    "_w": "W",
    "_n": "N",
    "_s": "s",
    "_m": "m",
}


def unit_of(signal: str) -> str:
    """`port.torque_nm` -> `N m`; "" for a signal without unit (a mode, a contact)."""
    for ending, unit in _UNITS.items():
        if signal.endswith(ending):
            return unit
    return ""


def written(value: float | str, unit: str = "") -> str:
    """A value for a table: four figures, the unit behind; `unknown` for NaN."""
    if isinstance(value, str):
        return value or "(empty)"
    if math.isnan(value):
        return "unknown"
    number = f"{value:.0f}" if abs(value) >= 1000 else f"{value:.4g}"
    number = "0" if number == "-0" else number
    return f"{number} {unit}" if unit else number
