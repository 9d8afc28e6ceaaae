"""Electric drive: torque and power limits, losses, torque response, DC link and precharge, back-EMF, temperatures.

Losses: copper with torque squared, iron with speed and speed squared, inverter with current (here torque) plus a
constant (the usual loss separation; I. Husain, "Electric and Hybrid Vehicles", 2nd ed., 2011, ch. 6 to 8). Precharge: a
resistor from the bus to the link capacitor, tau = R C. Uncontrolled rectification: with the gates off, back-EMF above
the link voltage drives a current through the diodes (T. M. Jahns, V. Caliskan, "Uncontrolled generator operation of
interior PM synchronous machines following high-speed inverter shutdown", IEEE Trans. Ind. Appl. 35(6), 1999).
"""

from __future__ import annotations

import math

from sim.plant.circuit import current_of, peak_a
from sim.plant.params import DriveParams
from sim.plant.state import (
    DRIVE_OK,
    DRIVE_OVER_SPEED,
    DRIVE_OVER_TEMPERATURE,
    DRIVE_OVER_VOLTAGE,
    DRIVE_UNDER_VOLTAGE,
    DriveState,
)

DIODE_DROP_V = 1.4
"""Two silicon diodes in series, from memory."""


def torque_limit(p: DriveParams, omega_rad_s: float, generating: int, link_v: float = 1.0e9) -> float:
    """Torque limit, N m, a positive number, by peak torque and by power, at shaft speed `omega_rad_s`, with `link_v` on
    the DC link.

    Below ``full_power_v`` the power falls with the voltage: at the limit of its phase current a machine in field
    weakening has the power that its voltage gives it (Husain 2011, from memory). ``max_dc_a`` bounds the DC current.
    """
    speed = abs(omega_rad_s)
    limit = p.max_torque_nm
    power = p.motor_power_w
    if generating == 1:
        power = p.generator_power_w
    if link_v < p.full_power_v:
        power = power * link_v / p.full_power_v
    if limit * speed > power:
        limit = power / speed
    if p.max_dc_a > 0.0:
        dc_w = p.max_dc_a * link_v
        if generating == 1:
            if limit * speed > dc_w:
                limit = dc_w / speed
        elif limit * speed + loss(p, limit, omega_rad_s) > dc_w:
            limit = torque_of_dc_power(p, dc_w, speed)
    # no torque left at the over-speed limit: field weakening ends
    left = (p.over_speed_rad_s - speed) / (0.1 * p.over_speed_rad_s)
    if left < 0.0:
        left = 0.0
    if left < 1.0:
        limit = limit * left
    return limit


def torque_of_dc_power(p: DriveParams, dc_w: float, speed_rad_s: float) -> float:
    """Torque, N m, with which a motoring drive draws `dc_w` from its link at `speed_rad_s` (0 or more); 0 where its
    losses alone draw more."""
    left_w = dc_w - p.inverter_idle_w - p.iron_w_rad_s * speed_rad_s - p.iron_w_rad2_s2 * speed_rad_s * speed_rad_s
    if left_w <= 0.0:
        return 0.0
    each_w = speed_rad_s + p.inverter_w_nm
    # copper T^2 + each T = left, in the form that stands without copper losses
    root = math.sqrt(each_w * each_w + 4.0 * p.copper_w_nm2 * left_w)
    if each_w + root <= 0.0:
        return p.max_torque_nm
    return 2.0 * left_w / (each_w + root)


def loss(p: DriveParams, torque_nm: float, omega_rad_s: float) -> float:
    """Loss of machine and inverter with the gates on, W."""
    speed = abs(omega_rad_s)
    return (
        p.inverter_idle_w
        + p.copper_w_nm2 * torque_nm * torque_nm
        + p.inverter_w_nm * abs(torque_nm)
        + p.iron_w_rad_s * speed
        + p.iron_w_rad2_s2 * speed * speed
    )


def rectified_v(p: DriveParams, omega_rad_s: float) -> float:
    """Voltage that the diodes make of the back-EMF at shaft speed `omega_rad_s`, V; below 0.0 near standstill."""
    return p.emf_v_s * abs(omega_rad_s) - DIODE_DROP_V


def _derate(x: float, from_c: float, to_c: float) -> float:
    f = (to_c - x) / (to_c - from_c)
    if f < 0.0:
        return 0.0
    if f > 1.0:
        return 1.0
    return f


def drive_step(
    p: DriveParams,
    d: DriveState,
    torque_order_nm: float,
    drive_enable: int,
    precharge: int,
    hard_enable: int,
    omega_rad_s: float,
    bus_v: float,
    water_c: float,
    dt_s: float,
) -> DriveState:
    """One step of the drive at shaft speed `omega_rad_s`, on a bus that stood at `bus_v` when the step began.

    The link joins the bus through the precharge resistor while `precharge` is 1; when it comes within
    ``relay_close_frac`` of the bus the relay closes, and it stays closed while `precharge` or `drive_enable` is 1.
    Torque needs relay, `drive_enable`, `hard_enable` and no fault. `hard_enable` 0 turns the gates off within
    ``gate_off_s``.
    """
    wanted = 0
    if precharge == 1 or drive_enable == 1:
        wanted = 1
    relay = d.relay_closed
    link = d.link_v
    if relay == 1:
        # tied to the bus until now, and with it where a bus without a bank fell within the last step
        link = bus_v + p.cable_ohm * d.current_a
        if link < 0.0:
            link = 0.0  # the current was that of a bus that has since gone; diodes let no link go below zero
    if wanted == 0 or bus_v < 0.5 * p.under_voltage_v:
        relay = 0
    into_link_a = 0.0
    inrush = d.inrush_a
    if relay == 0:
        # exact charge and discharge over the step: resistor to the bus, bleed resistor to ground
        g_bus = 0.0
        if precharge == 1 and bus_v > link:
            g_bus = 1.0 / p.precharge_ohm
        g = g_bus + 1.0 / p.bleed_ohm
        settle = g_bus * bus_v / g
        before = link
        link = settle + (link - settle) * math.exp(-dt_s * g / p.link_f)
        if g_bus > 0.0:
            into_link_a = p.link_f * (link - before) / dt_s + 0.5 * (link + before) / p.bleed_ohm
        if wanted == 1 and bus_v >= p.under_voltage_v and abs(bus_v - link) <= p.relay_close_frac * bus_v:
            relay = 1
            # what precharge left open comes at once, through cable and capacitors alone
            into_link_a = into_link_a + p.link_f * (bus_v - link) / dt_s
            rush = peak_a(bus_v - link, p.cable_ohm + p.link_esr_ohm)
            if rush > inrush:
                inrush = rush
            link = bus_v

    # the drive's own protection, latched until the enable order goes away
    fault = d.fault
    if drive_enable == 0:
        fault = DRIVE_OK
    speed = abs(omega_rad_s)
    if link > p.over_voltage_v:
        fault = DRIVE_OVER_VOLTAGE
    elif d.enabled == 1 and link < p.under_voltage_v:
        fault = DRIVE_UNDER_VOLTAGE
    elif d.motor_c > p.motor_max_c + 5.0 or d.inverter_c > p.inverter_max_c + 5.0:
        fault = DRIVE_OVER_TEMPERATURE
    elif speed > 1.05 * p.over_speed_rad_s:
        fault = DRIVE_OVER_SPEED
    enabled = 0
    if drive_enable == 1 and hard_enable == 1 and relay == 1 and fault == DRIVE_OK:
        enabled = 1

    # torque order, limited, then followed at the slew of the drive
    order = 0.0
    if enabled == 1:
        order = torque_order_nm
        generating = 0
        if order * omega_rad_s < 0.0:
            generating = 1
        limit = torque_limit(p, omega_rad_s, generating, link)
        limit = limit * _derate(d.motor_c, p.motor_derate_c, p.motor_max_c)
        limit = limit * _derate(d.inverter_c, p.inverter_derate_c, p.inverter_max_c)
        if order > limit:
            order = limit
        if order < -limit:
            order = -limit
    response = p.torque_response_s
    if enabled == 0:
        response = p.gate_off_s
    most = p.max_torque_nm / response * dt_s
    active = d.active_torque_nm
    if order > active + most:
        active = active + most
    elif order < active - most:
        active = active - most
    else:
        active = order

    if enabled == 1 or active != 0.0:
        losses = loss(p, active, omega_rad_s)
        dc_w = -(active * omega_rad_s + losses)
    else:
        losses = 0.0
        dc_w = 0.0

    # gates off and turning fast: the diodes conduct
    rectifying = 0
    rectified_a = 0.0
    braking_w = 0.0
    emf = rectified_v(p, omega_rad_s)
    behind_v = link
    if relay == 1:
        behind_v = bus_v  # the cable is part of their resistance
    if enabled == 0 and emf > behind_v:
        rectifying = 1
        if relay == 1:
            rectified_a = (emf - bus_v) / (p.rectifier_ohm + p.cable_ohm)
            at_diodes_v = bus_v + rectified_a * p.cable_ohm
            dc_w = dc_w + rectified_a * at_diodes_v
            losses = losses + rectified_a * (emf + DIODE_DROP_V - at_diodes_v)
            braking_w = rectified_a * (emf + DIODE_DROP_V)
        else:
            # nothing but the capacitor to feed: it follows the back-EMF
            braking_w = 0.5 * p.link_f * (emf * emf - link * link) / dt_s
            if braking_w > p.motor_power_w:
                braking_w = p.motor_power_w
            link = math.sqrt(link * link + 2.0 * braking_w * dt_s / p.link_f)
    torque = active
    if braking_w > 0.0:
        brake = braking_w / speed
        if brake > 2.0 * p.max_torque_nm:
            brake = 2.0 * p.max_torque_nm
        if omega_rad_s > 0.0:
            torque = torque - brake
        else:
            torque = torque + brake

    current = -into_link_a
    if relay == 1:
        drawn_a = current_of(dc_w, bus_v, p.cable_ohm)
        current = drawn_a - into_link_a
        link = bus_v + p.cable_ohm * drawn_a
        if link < 0.0:
            link = 0.0
    peak = d.link_peak_v
    if link > peak:
        peak = link

    # heat: about 70 percent of the loss in the machine, the rest in the inverter
    motor_w = 0.7 * losses
    inverter_w = 0.3 * losses
    motor_out = p.motor_coolant_w_k * (d.motor_c - d.coolant_c)
    inverter_out = p.inverter_coolant_w_k * (d.inverter_c - d.coolant_c)
    sea_out = p.coolant_sea_w_k * (d.coolant_c - water_c)
    return DriveState(
        torque,
        active,
        current,
        current * bus_v,
        losses,
        link,
        peak,
        relay,
        enabled,
        fault,
        rectifying,
        d.motor_c + dt_s * (motor_w - motor_out) / p.motor_heat_j_k,
        d.inverter_c + dt_s * (inverter_w - inverter_out) / p.inverter_heat_j_k,
        d.coolant_c + dt_s * (motor_out + inverter_out - sea_out) / p.coolant_heat_j_k,
        rectified_a,
        inrush,
        d.link_j + into_link_a * bus_v * dt_s,
    )
