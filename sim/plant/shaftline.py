"""Shaft line: engine - gearbox - machine side - shaft clutch - propeller side, with lock and bearing friction.

Three inertias joined by two friction clutches. A clutch carries torque k * slip with k = capacity / max(|slip|, s0):
Coulomb friction made linear around zero slip (regularised Coulomb friction; D. C. Karnopp, "Computer simulation of
stick-slip friction in mechanical dynamic systems", ASME J. Dyn. Syst. Meas. Control 107(1), 1985, discusses why). The
three speeds are solved together, implicitly, so that the step is stable from 1 ms to 50 ms whatever the stiffness.
While a clutch slips, or something strikes the propeller, the line takes steps of 1 ms within a longer tick, so that
the shock on the belt and the heat of the clutch do not depend on the tick; the shock told is the greatest in it.
"""

from __future__ import annotations

from sim.plant.circuit import current_of
from sim.plant.drive import drive_step
from sim.plant.engine import RAD_S_PER_RPM, RPM_PER_RAD_S, engine_finish, engine_torque
from sim.plant.params import GearboxParams, ShaftParams
from sim.plant.propeller import propeller_load
from sim.plant.state import DriveState, GearboxState, LineState, PlantShaft, ShaftOrders

SLIP_LINEAR_RAD_S = 0.02
"""Slip below which a friction clutch is linear: 0.2 rpm at full capacity."""
SHOCK_STEP_S = 0.001
"""Longest step of the line while something slips or strikes, s."""
STEADY_RAD_S = 0.5
"""Slip, and speed of a struck propeller, below which it does neither."""


def travel(frac: float, order: int, travel_s: float, dt_s: float) -> float:
    """Position of an actuator, 0 to 1, moving towards `order` (0 or 1) in `travel_s` from end to end."""
    move = 1.0
    if travel_s > dt_s:
        move = dt_s / travel_s
    if order == 1:
        frac = frac + move
        if frac > 1.0:
            frac = 1.0
    else:
        frac = frac - move
        if frac < 0.0:
            frac = 0.0
    return frac


def position_of(frac: float) -> int:
    """1 at the closed end, 0 at the open end, -1 (in transit) between."""
    if frac >= 1.0:
        return 1
    if frac <= 0.0:
        return 0
    return -1


def gearbox_shift(p: GearboxParams, g: GearboxState, order: int, dt_s: float) -> tuple[int, int, int, float]:
    """(engaged, in_transit, order, timer_s): a new order opens the clutch at once and engages after ``shift_s``."""
    if order != g.order:
        if order == 0:
            return 0, 0, 0, 0.0
        return 0, 1, order, dt_s
    if g.in_transit == 1:
        timer = g.timer_s + dt_s
        if timer >= p.shift_s:
            return order, 0, order, 0.0
        return 0, 1, order, timer
    return g.engaged, 0, order, 0.0


def stiffness(capacity_nm: float, slip_rad_s: float) -> float:
    """Torque for each rad/s of slip of a friction clutch."""
    slip = abs(slip_rad_s)
    if slip < SLIP_LINEAR_RAD_S:
        slip = SLIP_LINEAR_RAD_S
    return capacity_nm / slip


def solve_three(
    h: float,
    we: float,
    wm: float,
    wp: float,
    ae: float,
    am: float,
    ap: float,
    te: float,
    tm: float,
    tp: float,
    g: float,
    kg: float,
    ks: float,
) -> tuple[float, float, float]:
    """New speeds of engine, machine side and propeller side after `h` seconds, implicit in both clutches.

    `ae`, `am`, `ap` inertias with h times damping added; `te`, `tm`, `tp` torques; `g` machine speed for each engine
    speed; `kg`, `ks` stiffness of gearbox clutch and shaft clutch.
    """
    slip_g = g * we - wm
    slip_s = wm - wp
    a11 = ae + h * kg * g * g
    a12 = -h * kg * g
    a22 = am + h * kg + h * ks
    a23 = -h * ks
    a33 = ap + h * ks
    r1 = h * (te - g * kg * slip_g)
    r2 = h * (tm + kg * slip_g - ks * slip_s)
    r3 = h * (tp + ks * slip_s)
    m = a12 / a11
    a22 = a22 - m * a12
    r2 = r2 - m * r1
    n = a23 / a22
    dp = (r3 - n * r2) / (a33 - n * a23)
    dm = (r2 - a23 * dp) / a22
    de = (r1 - a12 * dm) / a11
    return we + de, wm + dm, wp + dp


def belt_step(
    wd: float, wm: float, drive_nm: float, capacity_nm: float, inertia: float, dt_s: float
) -> tuple[float, float]:
    """A belt that slips or is broken: (new speed of the drive in rad/s, torque on the machine side in N m).

    The drive with its own `inertia` (kg m2, at the shaft) is joined to the machine side at `wm` by a friction clutch of
    this capacity, as those of the shaft line; `wm` moves little in a step beside a drive that has come loose.
    """
    if not capacity_nm > 0.0:
        return wd + dt_s * drive_nm / inertia, 0.0
    kb = stiffness(capacity_nm, wd - wm)
    wd1 = (inertia * wd + dt_s * (drive_nm + kb * wm)) / (inertia + dt_s * kb)
    belt_nm = kb * (wd1 - wm)
    if abs(belt_nm) > capacity_nm:
        belt_nm = capacity_nm * _sign(belt_nm)
        wd1 = wd + dt_s * (drive_nm - belt_nm) / inertia
    return wd1, belt_nm


def at_mean_speed(d: DriveState, less_w: float, bus_v: float, cable_ohm: float) -> DriveState:
    """The drive with the DC power of the work that it did: it was reckoned at the speed of the step's start, and the
    shaft took `less_w` less."""
    if d.relay_closed == 0 or d.rectifying == 1 or d.torque_nm == 0.0 or bus_v <= 1.0:
        return d
    at_drive_w = d.current_a * (bus_v + cable_ohm * d.current_a)
    current = current_of(at_drive_w + less_w, bus_v, cable_ohm)
    return DriveState(
        d.torque_nm, d.active_torque_nm, current, current * bus_v, d.loss_w, bus_v + cable_ohm * current,
        d.link_peak_v, d.relay_closed, d.enabled, d.fault, d.rectifying, d.motor_c, d.inverter_c, d.coolant_c,
        d.rectified_a, d.inrush_a, d.link_j,
    )  # fmt: skip


def _sign(x: float) -> float:
    if x < 0.0:
        return -1.0
    return 1.0


def shaft_step(
    p: ShaftParams,
    s: PlantShaft,
    c: ShaftOrders,
    bus_v: float,
    advance_ms: float,
    ambient_c: float,
    water_c: float,
    dt_s: float,
) -> PlantShaft:
    """One step of one shaft at `advance_ms` (speed of advance of the propeller, m/s) on a bus at `bus_v`."""
    line = p.line
    gear = p.gearbox
    old = s.line
    we = s.engine.speed_rpm * RAD_S_PER_RPM
    wm = old.machine_rpm * RAD_S_PER_RPM
    wp = old.propeller_rpm * RAD_S_PER_RPM
    loose = c.belt_nm >= 0.0
    wd = wm
    if loose:
        wd = old.drive_rpm * RAD_S_PER_RPM

    engaged, in_transit, gear_order, shift_timer = gearbox_shift(gear, s.gearbox, c.gear_order, dt_s)
    clutch_frac = 1.0
    if line.clutch_fitted == 1:
        clutch_frac = travel(old.clutch_frac, c.clutch_order, line.clutch_travel_s, dt_s)
    lock_frac = 0.0
    if line.lock_fitted == 1:
        lock_frac = travel(old.lock_frac, c.lock_order, line.lock_travel_s, dt_s)

    drive = drive_step(
        p.drive,
        s.drive,
        c.torque_order_nm,
        c.drive_enable,
        c.precharge,
        c.hard_enable,
        wd,
        bus_v,
        water_c,
        dt_s,
    )
    engine = engine_torque(p.engine, s.engine, c.engine_start, c.engine_stop, c.throttle_frac, dt_s, c.engine_frac)
    thrust, water_nm = propeller_load(p.propeller, advance_ms, wp)
    rotor = p.drive.rotor_inertia_kgm2 * p.drive.belt_ratio * p.drive.belt_ratio
    through_nm = drive.torque_nm
    machine_inertia = line.machine_inertia_kgm2
    wd1 = wd
    if loose:
        # the rotor turns by itself: the machine side is so much lighter, and feels what the belt passes
        wd1, through_nm = belt_step(wd, wm, drive.torque_nm, c.belt_nm, rotor, dt_s)
        machine_inertia = machine_inertia - rotor
        if machine_inertia < 0.1 * line.machine_inertia_kgm2:
            machine_inertia = 0.1 * line.machine_inertia_kgm2

    # gearbox: which ratio, how much torque it can pass
    g = 1.0 / gear.ratio_ahead
    gear_capacity = gear.drag_nm
    if engaged == 1:
        gear_capacity = gear.capacity_nm
    elif engaged == -1:
        g = -1.0 / gear.ratio_astern
        gear_capacity = gear.capacity_nm
    # shaft clutch: nothing in the first half of its travel, then rising to its capacity
    clutch_capacity = line.clutch_capacity_nm * (2.0 * clutch_frac - 1.0)
    if clutch_capacity < 0.0:
        clutch_capacity = 0.0

    propeller_drag = line.friction_nm + c.load_shock_nm + line.lock_capacity_nm * lock_frac
    # propeller torque goes with about the square of speed: used to keep long steps stable
    water_damping = 2.0 * abs(water_nm) / (abs(wp) + 1.0)
    slipping = engaged != 0 and abs(g * we - wm) > STEADY_RAD_S
    slipping = slipping or (clutch_capacity > 0.0 and abs(wm - wp) > STEADY_RAD_S)
    struck = (c.load_shock_nm > 0.0 or lock_frac > 0.0) and abs(wp) > STEADY_RAD_S
    parts = 1
    if (slipping or struck) and dt_s > SHOCK_STEP_S:
        parts = int(dt_s / SHOCK_STEP_S + 0.999999)
    h = dt_s / parts

    we0 = we
    wm0 = wm
    wp0 = wp
    gear_nm = 0.0
    clutch_nm = 0.0
    coupling_nm = 0.0
    heat_j = old.clutch_heat_j
    engine_j = old.engine_j
    drive_j = old.drive_j
    propeller_j = old.propeller_j
    slip_j = old.slip_j
    drag_j = old.drag_j
    gear_loss_nm = gear.loss_frac * abs(s.gearbox.torque_nm)
    for _ in range(parts):
        kg = stiffness(gear_capacity, g * we - wm)
        ks = stiffness(clutch_capacity, wm - wp)
        # losses of gearbox and belt oppose the machine side, those of bearings, lock, log or ground the propeller side
        machine_damping = (gear_loss_nm + p.drive.coupling_loss_frac * abs(through_nm)) / (abs(wm) + 0.5)
        propeller_damping = stiffness(propeller_drag, wp)
        ae = p.engine.inertia_kgm2 + h * engine.damping
        am = machine_inertia + h * machine_damping
        ap = line.propeller_inertia_kgm2 + h * (propeller_damping + water_damping)
        te = engine.torque_nm - engine.damping * (we - we0)
        tm = through_nm - machine_damping * wm
        tp = -water_nm - water_damping * (wp - wp0) - propeller_damping * wp

        we1, wm1, wp1 = solve_three(h, we, wm, wp, ae, am, ap, te, tm, tp, g, kg, ks)
        gear_nm = kg * (g * we1 - wm1)
        clutch_nm = ks * (wm1 - wp1)
        over_gear = abs(gear_nm) > 1.000001 * gear_capacity
        over_clutch = abs(clutch_nm) > 1.000001 * clutch_capacity
        if over_gear or over_clutch:
            # a stuck clutch breaks away within this step: it slips with its capacity
            if over_gear:
                gear_nm = gear_capacity * _sign(gear_nm)
                kg = 0.0
                te = te - g * gear_nm
                tm = tm + gear_nm
            if over_clutch:
                clutch_nm = clutch_capacity * _sign(clutch_nm)
                ks = 0.0
                tm = tm - clutch_nm
                tp = tp + clutch_nm
            we1, wm1, wp1 = solve_three(h, we, wm, wp, ae, am, ap, te, tm, tp, g, kg, ks)
            if not over_gear:
                gear_nm = kg * (g * we1 - wm1)
            if not over_clutch:
                clutch_nm = ks * (wm1 - wp1)
        # work at the mean of both speeds: with it the line's energy closes exactly
        mean_e = 0.5 * (we + we1)
        mean_m = 0.5 * (wm + wm1)
        mean_p = 0.5 * (wp + wp1)
        clutch_j = clutch_nm * (mean_m - mean_p) * h
        heat_j = heat_j + clutch_j
        engine_j = engine_j + (engine.torque_nm - engine.damping * (we1 - we0)) * mean_e * h
        drive_j = drive_j + through_nm * mean_m * h
        propeller_j = propeller_j + (water_nm + water_damping * (wp1 - wp0)) * mean_p * h
        slip_j = slip_j + clutch_j + gear_nm * (g * mean_e - mean_m) * h
        drag_j = drag_j + (machine_damping * wm1 * mean_m + propeller_damping * wp1 * mean_p) * h
        felt_nm = through_nm
        if not loose:
            # what the belt or coupling feels: the drive's torque less what its own rotor takes
            felt_nm = drive.torque_nm - rotor * (wm1 - wm) / h
        if abs(felt_nm) > abs(coupling_nm):
            coupling_nm = felt_nm
        we = we1
        wm = wm1
        wp = wp1

    if loose:
        mean_d = 0.5 * (wd + wd1)
        work_w = drive.torque_nm * mean_d
        slip_j = slip_j + through_nm * (mean_d - 0.5 * (wm0 + wm)) * dt_s
    else:
        wd1 = wm
        if old.drive_rpm != old.machine_rpm:
            # a belt put on again: the rotor comes to the shaft's speed at once
            apart = old.drive_rpm * RAD_S_PER_RPM
            slip_j = slip_j + 0.5 * rotor * (apart * apart - wm0 * wm0)
        work_w = (drive_j - old.drive_j) / dt_s
    return PlantShaft(
        engine_finish(p.engine, s.engine, engine, we, ambient_c, dt_s),
        GearboxState(engaged, in_transit, gear_order, shift_timer, gear_nm),
        at_mean_speed(drive, drive.torque_nm * wd - work_w, bus_v, p.drive.cable_ohm),
        LineState(
            wm * RPM_PER_RAD_S,
            wp * RPM_PER_RAD_S,
            position_of(clutch_frac),
            clutch_frac,
            position_of(lock_frac),
            lock_frac,
            clutch_nm,
            heat_j,
            water_nm,
            thrust,
            coupling_nm,
            wd1 * RPM_PER_RAD_S,
            engine_j,
            drive_j,
            propeller_j,
            slip_j,
            drag_j,
        ),
    )
