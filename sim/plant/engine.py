"""Diesel engine: full-load torque curve, droop governor, friction, cranking, stall, fuel, warm-up.

Brake torque = rack * (full-load + friction) - friction; the governor is proportional (droop) with a first-order rack
lag (L. Guzzella, C. Onder, "Introduction to Modeling and Control of Internal Combustion Engine Systems", 2010, ch. 2).
Fuel follows the Willans line: fuel power = indicated power / indicated efficiency (same source), so that the specific
consumption rises at part load by the friction share. Torque and speed at the flywheel.
"""

from __future__ import annotations

from typing import NamedTuple

from sim.plant.params import EngineParams
from sim.plant.starter import alternator_current, alternator_w, battery_resistance, cranking_a, rest_v, starter_step
from sim.plant.state import EngineState
from sim.plant.tables import interp_uniform

RAD_S_PER_RPM = 0.10471975511965977
RPM_PER_RAD_S = 9.549296585513721


class EngineDrive(NamedTuple):
    """Linearised engine torque for the shaft-line solver: torque = torque_nm - damping * (new speed - old speed)."""

    torque_nm: float
    damping: float
    rack_frac: float
    rack_slope: float
    running: int
    cranking: int
    fire_timer_s: float
    full_frac: float
    starter_a: float
    alternator_a: float


def full_load_torque(p: EngineParams, speed_rpm: float) -> float:
    """Full-load brake torque, N m, at `speed_rpm`; 0 below 0."""
    if speed_rpm <= 0.0:
        return 0.0
    return interp_uniform(p.torque_nm, speed_rpm / p.torque_step_rpm)


def friction_torque(p: EngineParams, speed_rpm: float, temperature_c: float) -> float:
    """Friction and pumping torque, N m, a positive number; a cold engine has more of it."""
    cold = (p.warm_c - temperature_c) / p.warm_c
    if cold < 0.0:
        cold = 0.0
    if cold > 1.5:
        cold = 1.5
    return (p.friction_nm + p.friction_nm_per_rpm * abs(speed_rpm)) * (1.0 + p.cold_friction_factor * cold)


def cold_start_factor(temperature_c: float) -> float:
    """How much longer than at 20 degC an engine cranks before it fires: three times at -10 degC (own choice)."""
    cold_k = 20.0 - temperature_c
    if cold_k < 0.0:
        cold_k = 0.0
    return 1.0 + cold_k / 15.0


def engine_torque(
    p: EngineParams, e: EngineState, start: int, stop: int, throttle_frac: float, dt_s: float, full_frac: float = 1.0
) -> EngineDrive:
    """Torque of the engine over the coming step, linear in its speed, and its start and stop logic. `full_frac` is
    the share of its full-load torque that it still has: less with a blocked filter or air intake.
    """
    rpm = e.speed_rpm
    running = e.running
    cranking = 0
    fire = 0.0
    rack = e.rack_frac
    if stop == 1:
        running = 0
    elif running == 0 and start == 1:
        cranking = 1
        if rpm > p.fire_rpm:
            fire = e.fire_timer_s + dt_s
            if fire >= p.fire_time_s * cold_start_factor(e.temperature_c):
                # it fires on the full starting fuel
                running = 1
                cranking = 0
                fire = 0.0
                rack = 1.0

    starter_a = 0.0
    giving_a = 0.0
    if running == 1:
        giving_a = alternator_current(p.starter, e.starter, rpm)
    friction = friction_torque(p, rpm, e.temperature_c)
    # Coulomb friction, made linear around zero speed so that a still engine stays still
    speed = abs(rpm) * RAD_S_PER_RPM
    if speed < 1.0:
        speed = 1.0
    damping = friction / speed
    torque = -damping * rpm * RAD_S_PER_RPM
    slope = 0.0
    if running == 1:
        no_load_rpm = p.idle_rpm + (p.high_idle_rpm - p.idle_rpm) * throttle_frac
        target = (no_load_rpm - rpm) / p.droop_rpm
        free = 1.0
        if target > 1.0:
            target = 1.0
            free = 0.0
        if target < 0.0:
            target = 0.0
            free = 0.0
        a = dt_s / (p.rack_lag_s + dt_s)
        rack = rack + a * (target - rack)
        gross = full_frac * full_load_torque(p, rpm) + friction
        torque = torque + rack * gross
        # the governor acts within the step too: a faster engine gets less fuel
        slope = free * a * RPM_PER_RAD_S / p.droop_rpm
        damping = damping + slope * gross
        if giving_a > 0.0:
            torque = torque - alternator_w(p.starter, giving_a) / (rpm * RAD_S_PER_RPM)
    elif cranking == 1 and p.starter.battery_as > 0.0:
        b = p.starter
        starter_a = cranking_a(b, e.starter, rpm, p.starter_no_load_rpm, e.temperature_c)
        torque = torque + p.starter_nm * starter_a / b.stall_a
        if starter_a > 0.0:
            # its current falls with speed: by what its back-EMF takes off, through both resistances
            ohm = b.starter_ohm + battery_resistance(b, e.starter.soc_pct, e.temperature_c)
            per_rpm_a = rest_v(b, 100.0) / p.starter_no_load_rpm / ohm
            damping = damping + p.starter_nm * per_rpm_a / b.stall_a * RPM_PER_RAD_S
    elif cranking == 1:
        starter = p.starter_nm * (1.0 - rpm / p.starter_no_load_rpm)
        if starter < 0.0:
            starter = 0.0
        torque = torque + starter
        damping = damping + p.starter_nm / p.starter_no_load_rpm * RPM_PER_RAD_S
    if running == 0:
        rack = 0.0
    return EngineDrive(torque, damping, rack, slope, running, cranking, fire, full_frac, starter_a, giving_a)


def engine_finish(
    p: EngineParams, e: EngineState, d: EngineDrive, omega_rad_s: float, ambient_c: float, dt_s: float
) -> EngineState:
    """New engine state once the solver has found the new speed `omega_rad_s`."""
    rpm = omega_rad_s * RPM_PER_RAD_S
    change = omega_rad_s - e.speed_rpm * RAD_S_PER_RPM
    torque = d.torque_nm - d.damping * change
    rack = d.rack_frac - d.rack_slope * change
    if rack < 0.0:
        rack = 0.0
    if rack > 1.0:
        rack = 1.0
    running = d.running
    stalled = e.stalled
    fuel_w = 0.0
    if running == 1:
        stalled = 0
        if rpm > 0.0:
            gross = d.full_frac * full_load_torque(p, rpm) + friction_torque(p, rpm, e.temperature_c)
            fuel_w = rack * gross * omega_rad_s / p.indicated_efficiency
        # dragged down below its stall speed; an engine that runs up from the starter is rising
        if rpm < p.stall_rpm and rpm < e.speed_rpm and e.running == 1:
            running = 0
            stalled = 1
    else:
        rack = 0.0
    litres_s = fuel_w / p.fuel_j_kg / p.fuel_kg_l
    # about a third of the fuel's heat goes to the coolant (J. B. Heywood, "Internal Combustion Engine Fundamentals",
    # 1988, ch. 12); the thermostat opens over 5 K around the warm temperature
    open_frac = (e.temperature_c - p.warm_c + 2.5) / 5.0
    if open_frac < 0.05:
        open_frac = 0.05
    if open_frac > 1.0:
        open_frac = 1.0
    temperature = (
        e.temperature_c + dt_s * (0.3 * fuel_w - open_frac * p.cool_w_k * (e.temperature_c - ambient_c)) / p.heat_j_k
    )
    return EngineState(
        rpm,
        running,
        d.cranking,
        stalled,
        torque,
        rack,
        d.fire_timer_s,
        e.fuel_l + litres_s * dt_s,
        litres_s * 3600.0,
        temperature,
        starter_step(p.starter, e.starter, d.starter_a, d.alternator_a, e.temperature_c, dt_s),
    )
