"""Shaft line: engine - gearbox - machine side - shaft clutch - propeller side, with lock and bearing friction.

Three inertias joined by two friction clutches. A clutch carries torque k * slip with k = capacity / max(|slip|, s0):
Coulomb friction made linear around zero slip (regularised Coulomb friction; D. C. Karnopp, "Computer simulation of
stick-slip friction in mechanical dynamic systems", ASME J. Dyn. Syst. Meas. Control 107(1), 1985, discusses why). The
three speeds are solved together, implicitly, so that the step is stable from 1 ms to 50 ms whatever the stiffness.
"""

from __future__ import annotations

from sim.plant.drive import drive_step
from sim.plant.engine import RAD_S_PER_RPM, RPM_PER_RAD_S, engine_finish, engine_torque
from sim.plant.params import GearboxParams, ShaftParams
from sim.plant.propeller import propeller_load
from sim.plant.state import GearboxState, LineState, PlantShaft, ShaftOrders

SLIP_LINEAR_RAD_S = 0.02
"""Slip below which a friction clutch is linear: 0.2 rpm at full capacity."""


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
    engine = engine_torque(p.engine, s.engine, c.engine_start, c.engine_stop, c.throttle_frac, dt_s)
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
    kg = stiffness(gear_capacity, g * we - wm)
    # shaft clutch: nothing in the first half of its travel, then rising to its capacity
    clutch_capacity = line.clutch_capacity_nm * (2.0 * clutch_frac - 1.0)
    if clutch_capacity < 0.0:
        clutch_capacity = 0.0
    ks = stiffness(clutch_capacity, wm - wp)

    # losses of gearbox and belt oppose the machine side, those of bearings, lock, log or ground the propeller side
    machine_drag = gear.loss_frac * abs(s.gearbox.torque_nm) + p.drive.coupling_loss_frac * abs(through_nm)
    machine_damping = machine_drag / (abs(wm) + 0.5)
    propeller_drag = line.friction_nm + c.load_shock_nm + line.lock_capacity_nm * lock_frac
    propeller_damping = stiffness(propeller_drag, wp)
    # propeller torque goes with about the square of speed: used to keep long steps stable
    water_damping = 2.0 * abs(water_nm) / (abs(wp) + 1.0)

    ae = p.engine.inertia_kgm2 + dt_s * engine.damping
    am = machine_inertia + dt_s * machine_damping
    ap = line.propeller_inertia_kgm2 + dt_s * (propeller_damping + water_damping)
    te = engine.torque_nm
    tm = through_nm - machine_damping * wm
    tp = -water_nm - propeller_damping * wp

    we1, wm1, wp1 = solve_three(dt_s, we, wm, wp, ae, am, ap, te, tm, tp, g, kg, ks)
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
        we1, wm1, wp1 = solve_three(dt_s, we, wm, wp, ae, am, ap, te, tm, tp, g, kg, ks)
        if not over_gear:
            gear_nm = kg * (g * we1 - wm1)
        if not over_clutch:
            clutch_nm = ks * (wm1 - wp1)

    slip = wm1 - wp1
    coupling_nm = through_nm
    if not loose:
        # what the belt or coupling feels: the drive's torque less what its own rotor takes
        coupling_nm = drive.torque_nm - rotor * (wm1 - wm) / dt_s
        wd1 = wm1
    return PlantShaft(
        engine_finish(p.engine, s.engine, engine, we1, ambient_c, dt_s),
        GearboxState(engaged, in_transit, gear_order, shift_timer, gear_nm),
        drive,
        LineState(
            wm1 * RPM_PER_RAD_S,
            wp1 * RPM_PER_RAD_S,
            position_of(clutch_frac),
            clutch_frac,
            position_of(lock_frac),
            lock_frac,
            clutch_nm,
            old.clutch_heat_j + clutch_nm * slip * dt_s,
            water_nm,
            thrust,
            coupling_nm,
            wd1 * RPM_PER_RAD_S,
        ),
    )
