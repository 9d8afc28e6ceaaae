"""Cables and fuses between bank, bus bar and drives, and what rushes through them when a switch closes.

A cable is a resistance: `R = 2 L rho / A (1 + alpha (T - 20))`, out and back, with what its terminals and its fuse add.
A load of constant power behind it draws the smaller of two currents that give this power: `i^2 R + i V = P`. A switch
that closes onto an empty capacitor moves the charge `C dV`; the current begins at `dV / R`.
"""

from __future__ import annotations

import math

COPPER_OHM_MM2_M = 0.0193
"""Resistivity of stranded copper at 20 degC by nominal section: the largest resistances that IEC 60228 allows flexible
conductors (class 5) of 16 to 120 mm2 lie within 2 % of it (from memory); solid copper has 1/58 (IEC 60028)."""
COPPER_PER_K = 0.00393
"""Rise of it, IEC 60028 (from memory)."""


def cable_ohm(length_m: float, section_mm2: float, conductor_c: float) -> float:
    """Resistance, ohm, of a copper cable of `length_m` (one way; the way back is counted) and `section_mm2`."""
    warm = 1.0 + COPPER_PER_K * (conductor_c - 20.0)
    return 2.0 * length_m * COPPER_OHM_MM2_M / section_mm2 * warm


def fuse_ohm(rated_a: float, loss_w: float) -> float:
    """Resistance, ohm, of a fuse that turns `loss_w` into heat at its rated current (both from its data sheet)."""
    return loss_w / (rated_a * rated_a)


def current_of(power_w: float, bus_v: float, ohm: float) -> float:
    """Current into the bus at `bus_v`, A, of what gives `power_w` (negative: takes it) behind a cable of `ohm`.

    What takes more than any current through this cable can bring draws the current that brings the most. 0 on a bus
    that is dead.
    """
    if bus_v <= 1.0:
        return 0.0
    under = bus_v * bus_v + 4.0 * ohm * power_w
    if under <= 0.0:
        return -bus_v / (2.0 * ohm)
    return 2.0 * power_w / (bus_v + math.sqrt(under))


def peak_a(step_v: float, ohm: float) -> float:
    """Current at which a capacitor begins to charge when a switch puts `step_v` across it and `ohm`, A."""
    if ohm <= 0.0:
        return 0.0
    return abs(step_v) / ohm
