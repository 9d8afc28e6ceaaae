"""Belt and coupling: what a shock does to them, and the tensions of a belt.

Service factors of synchronous belts: 1.0 smooth, 1.5 to 2.0 shock or reversing (belt makers' design tables, as
collected in the project's fact sheet). Belt equations: Euler-Eytelwein, T1/T2 = exp(mu a / sin(b/2)) for a V-belt;
effective tension Te = 2 T / d.
"""

from __future__ import annotations

import math

from sim.plant.params import LineParams
from sim.plant.state import LineState

SERVICE_FACTOR_SMOOTH = 1.0
SERVICE_FACTOR_SHOCK = 2.0


def coupling_load_frac(p: LineParams, line: LineState, service_factor: float = SERVICE_FACTOR_SHOCK) -> float:
    """Load of belt or coupling as a fraction of its rating with `service_factor` (1.0 smooth to 2.0 shock); above 1
    is too much.
    """
    return abs(line.coupling_torque_nm) * service_factor / p.coupling_rated_nm


def v_belt_tension_ratio(friction: float, wrap_deg: float, groove_deg: float) -> float:
    """Largest ratio of tight to slack side tension of a V-belt before it slips."""
    return math.exp(friction * math.radians(wrap_deg) / math.sin(math.radians(groove_deg) / 2.0))


def effective_tension_n(torque_nm: float, pitch_diameter_m: float) -> float:
    """Effective tension of a belt, N: difference of its two sides."""
    return 2.0 * torque_nm / pitch_diameter_m
