"""DC bus, hotel load, solar array and shore charger.

Solar: power = STC power * G / 1000 * (1 + gamma (T_cell - 25)), the PVWatts form (A. P. Dobos, "PVWatts version 5
manual", NREL TP-6A20-62641, 2014), with T_cell = T_ambient + (NOCT - 20) / 800 * G (R. G. Ross, 1980). Bus with the
contactor open: the capacitors take the balance of power, 1/2 C V^2.
"""

from __future__ import annotations

import math

from sim.plant.params import SupplyParams
from sim.plant.state import BusState


def solar_power(p: SupplyParams, irradiance_w_m2: float, ambient_c: float) -> float:
    """DC power the array can give, W, at plane-of-array irradiance `irradiance_w_m2` (0 or more)."""
    if irradiance_w_m2 <= 0.0:
        return 0.0
    cell_c = ambient_c + p.solar_noct_k_per_w_m2 * irradiance_w_m2
    power = (
        p.solar_stc_w * irradiance_w_m2 / 1000.0 * (1.0 + p.solar_gamma_per_k * (cell_c - 25.0)) * p.solar_system_eff
    )
    if power < 0.0:
        return 0.0
    return power


def sources_step(
    p: SupplyParams,
    u: BusState,
    hotel_load_w: float,
    irradiance_w_m2: float,
    shore_charge_a: float,
    charge_stop: int,
    contactor_closed: int,
    ambient_c: float,
    dt_s: float,
) -> BusState:
    """Currents of hotel load, solar and shore charger on a bus that stood at ``u.bus_v``; bus voltage is left as it
    was.

    Solar and shore taper to zero around the absorption voltage and follow with a lag; both stop with `charge_stop` and
    when the bank is gone.
    """
    available = solar_power(p, irradiance_w_m2, ambient_c)
    solar_a = 0.0
    shore_a = 0.0
    if contactor_closed == 1 and charge_stop == 0 and u.bus_v > 1.0:
        taper = (p.absorb_v + 0.25 - u.bus_v) / 0.5
        if taper < 0.0:
            taper = 0.0
        if taper > 1.0:
            taper = 1.0
        solar_a = available / u.bus_v * taper
        if shore_charge_a > 0.0:
            shore_a = shore_charge_a
            if shore_a > p.shore_max_a:
                shore_a = p.shore_max_a
            shore_a = shore_a * taper
    a = dt_s / (p.source_lag_s + dt_s)
    hotel_a = 0.0
    if u.bus_v > p.hotel_min_v and hotel_load_w > 0.0:
        hotel_a = hotel_load_w / u.bus_v
    return BusState(
        u.bus_v,
        u.peak_v,
        hotel_a,
        u.solar_current_a + a * (solar_a - u.solar_current_a),
        u.shore_current_a + a * (shore_a - u.shore_current_a),
        available,
        u.inrush_a,
    )


def open_bus_voltage(
    p: SupplyParams,
    bus_v: float,
    current_a: float,
    link_f: float,
    trip_v: float,
    diodes_s: float,
    diodes_v: float,
    dt_s: float,
) -> float:
    """Bus voltage after a step with the contactor open, `current_a` left over (positive raises the voltage).

    `link_f` capacitance of the drive links on the bus; `trip_v` voltage at which the drives stop themselves: what they
    feed in the 0.5 ms until their gates are off still comes on top. What diodes feed no gate stops: `diodes_s` is their
    conductance together (S), `diodes_v` the rectified back-EMF behind it (V); their current is not in `current_a`. A
    capacitor behind a resistor, solved exactly over the step. Where the bus would come to rest above what is behind the
    diodes, they block, and it goes as without them.
    """
    c = p.bus_capacitance_f + link_f
    if diodes_s > 0.0:
        g = diodes_s + 1.0 / p.bleed_ohm
        rest_v = (current_a + diodes_s * diodes_v) / g
        if rest_v <= diodes_v:
            if rest_v < 0.0:
                rest_v = 0.0
            return rest_v + (bus_v - rest_v) * math.exp(-dt_s * g / c)
    energy = bus_v * bus_v + 2.0 * bus_v * current_a * dt_s / c
    v = 0.0
    if energy > 0.0:
        v = math.sqrt(energy)
    if current_a > 0.0:
        top = trip_v + 0.0005 * current_a / c
        if top < bus_v:
            top = bus_v
        if v > top:
            v = top
    return v * math.exp(-dt_s / (p.bleed_ohm * c))
