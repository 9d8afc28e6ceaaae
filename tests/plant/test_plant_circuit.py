"""Cables, fuses, falling voltage, inrush, and a bank that goes while drives work: against closed forms, published
conductor values and an ODE solver."""

import math

import pytest
from scipy.integrate import solve_ivp

from sim.plant import idle_inputs, initial_state, run, step
from sim.plant.boat import with_soc, with_temperature
from sim.plant.circuit import cable_ohm, current_of, fuse_ohm
from sim.plant.drive import drive_step, loss, torque_limit, torque_of_dc_power

# IEC 60228, flexible conductors (class 5) of plain copper, largest resistance at 20 degC, ohm/km (from memory)
IEC_60228 = {16: 1.21, 25: 0.780, 35: 0.554, 50: 0.386, 70: 0.272, 95: 0.206, 120: 0.161}


@pytest.mark.parametrize("section", IEC_60228)
def test_copper_as_published(section):
    per_km = cable_ohm(500.0, section, 20.0)  # 500 m out, 500 m back
    assert per_km == pytest.approx(IEC_60228[section], rel=0.02)
    # IEC 60028: solid copper has 1/58 ohm mm2/m, and no strand has less
    assert per_km > 1000.0 / 58.0 / section


def test_copper_warms():
    # IEC 60028 (from memory): 0.00393 for each kelvin at 20 degC; 70 degC makes a fifth more
    assert cable_ohm(1.0, 50.0, 70.0) / cable_ohm(1.0, 50.0, 20.0) == pytest.approx(1.1965)


def test_fuse_from_its_power_loss():
    assert fuse_ohm(250.0, 25.0) == pytest.approx(0.0004)


@pytest.mark.parametrize("power_w", [-9000.0, -50.0, 0.0, 50.0, 6000.0])
def test_current_through_a_cable_gives_the_power(power_w):
    current = current_of(power_w, 48.0, 0.005)
    assert current * (48.0 + 0.005 * current) == pytest.approx(power_w)
    assert current_of(power_w, 48.0, 0.0) == pytest.approx(power_w / 48.0)


def test_no_cable_passes_more_than_its_most():
    """Greatest power through R is V^2 / 4R, at half the voltage."""
    assert current_of(-1.0e6, 48.0, 0.1) == pytest.approx(-240.0)
    assert current_of(-(48.0**2) / 0.4, 48.0, 0.1) == pytest.approx(-240.0)
    assert current_of(500.0, 0.5, 0.1) == 0.0


def test_voltages_from_bank_to_drive_by_hand(tern, order):
    """60 N m ahead on both shafts: each voltage is the one before less current times its own resistance."""
    state = run(tern, initial_state(tern), order(tern, precharge=1, hard_enable=1), 1.0)
    state = run(tern, state, order(tern, precharge=1, hard_enable=1, drive_enable=1, torque_order_nm=60.0), 20.0)
    supply, drive = tern.supply, state.shafts[0].drive
    # 2 x 1.5 m x 0.0193 / 185 mm2 at 40 degC, 0.1 mohm of terminals, 55 W at 630 A; likewise 4 m of 95 mm2, 24 W at 300
    assert supply.bank_cable_ohm == pytest.approx(2 * 1.5 * 0.0193 / 185 * 1.0786 + 0.1e-3 + 55 / 630**2)
    assert tern.shafts[0].drive.cable_ohm == pytest.approx(2 * 4 * 0.0193 / 95 * 1.0786 + 0.1e-3 + 24 / 300**2)
    assert state.bank.current_a < -100.0
    assert state.bus.bus_v == pytest.approx(state.bank.terminal_v + state.bank.current_a * supply.bank_cable_ohm)
    assert drive.link_v == pytest.approx(state.bus.bus_v + drive.current_a * tern.shafts[0].drive.cable_ohm, abs=0.01)
    assert drive.link_v < state.bus.bus_v - 0.1
    assert state.bus.bus_v < state.bank.terminal_v - 0.05
    # what the drive takes at its own terminals is shaft power and losses
    omega = state.shafts[0].line.drive_rpm * math.pi / 30.0
    assert -drive.current_a * drive.link_v == pytest.approx(60.0 * omega + drive.loss_w, rel=0.002)


def test_power_falls_with_the_voltage_of_the_link(tern):
    p = tern.shafts[0].drive
    fast = 1000.0 * math.pi / 30.0
    assert torque_limit(p, fast, 0, 52.0) == torque_limit(p, fast, 0) == pytest.approx(8500.0 / fast)
    assert torque_limit(p, fast, 0, 40.0) == pytest.approx(8500.0 / fast * 40.0 / 46.0)
    assert torque_limit(p, fast, 1, 40.0) == pytest.approx(5700.0 / fast * 40.0 / 46.0)
    assert torque_limit(p, 10.0, 0, 40.0) == p.max_torque_nm, "peak torque is a matter of current, not of voltage"
    without = p._replace(full_power_v=0.0, max_dc_a=0.0)
    assert torque_limit(without, fast, 0, 40.0) == pytest.approx(8500.0 / fast)


@pytest.mark.parametrize("link_v", [40.0, 46.0, 52.0])
@pytest.mark.parametrize("rpm", [300.0, 800.0, 1200.0])
def test_dc_current_is_bounded(tern, link_v, rpm):
    p = tern.shafts[0].drive._replace(max_dc_a=100.0)
    omega = rpm * math.pi / 30.0
    torque = torque_limit(p, omega, 0, link_v)
    drawn_a = (torque * omega + loss(p, torque, omega)) / link_v
    assert drawn_a <= 100.0 + 1e-9
    if rpm > 300.0:
        assert drawn_a == pytest.approx(100.0)
    giving = torque_limit(p, omega, 1, link_v)
    assert (giving * omega - loss(p, giving, omega)) / link_v <= 100.0
    assert torque_of_dc_power(p, 1.0, omega) == 0.0, "its losses alone take more"


def test_weak_bus_takes_thrust_from_a_drive_under_way(tern, order):
    """At 41 V the drive has 41/46 of its power, and what it draws stays under what it drew at full voltage."""
    p = tern.shafts[0].drive
    still = initial_state(tern).shafts[0].drive._replace(relay_closed=1, link_v=41.0, enabled=1)
    d = still
    for _ in range(200):
        d = drive_step(p, d, 120.0, 1, 1, 1, 1000.0 * math.pi / 30.0, 41.0, 15.0, 0.001)
    assert d.torque_nm == pytest.approx(8500.0 / (1000.0 * math.pi / 30.0) * d.link_v / 46.0, rel=1e-3)


def test_relay_inrush_and_its_charge(tern):
    """The relay closes within 5 % of 51.2 V: the rest begins at dV over cable and capacitor resistance, and what it
    brings is C dV whatever the tick."""
    p = tern.shafts[0].drive._replace(bleed_ohm=1e12)
    for dt_s in (0.001, 0.005, 0.02):
        d, charge = initial_state(tern).shafts[0].drive, 0.0
        while d.relay_closed == 0:
            d = drive_step(p, d, 0.0, 0, 1, 0, 0.0, 51.2, 15.0, dt_s)
            charge -= d.current_a * dt_s
        assert charge == pytest.approx(p.link_f * 51.2), dt_s
        assert 0.0 < d.inrush_a <= 0.05 * 51.2 / (p.cable_ohm + p.link_esr_ohm) + 1e-9
    fine = initial_state(tern).shafts[0].drive
    while fine.relay_closed == 0:
        fine = drive_step(p, fine, 0.0, 0, 1, 0, 0.0, 51.2, 15.0, 0.0001)
    # 2.56 V on 5 mohm and the cable: the greatest that this relay sees
    assert fine.inrush_a == pytest.approx(2.56 / (p.cable_ohm + 0.005), rel=0.01)


def test_contactor_inrush_on_a_dead_bus(tern, order):
    state = run(tern, initial_state(tern), order(tern, {"contactor_switch": 0, "hotel_load_w": 500.0}), 3.0)
    dead_v = state.bus.bus_v
    before_as = state.bank.discharged_ah * 3600.0
    back = run(tern, state, order(tern), 2.0, 0.001)
    assert back.bank.contactor_closed == 1
    ohm = state.bank.resistance_ohm + tern.supply.bank_cable_ohm
    assert back.bus.inrush_a == pytest.approx((state.bank.emf_v - dead_v) / ohm, rel=0.01)
    moved_as = back.bank.discharged_ah * 3600.0 - before_as
    assert moved_as == pytest.approx(tern.supply.bus_capacitance_f * (state.bank.emf_v - dead_v), rel=0.02)


def motoring(tern, order):
    live = order(tern, precharge=1, hard_enable=1, drive_enable=1, torque_order_nm=60.0)
    state = run(tern, initial_state(tern), order(tern, precharge=1, hard_enable=1), 1.0)
    return run(tern, state, live, 3.0), live


@pytest.mark.parametrize("tick_s", [0.001, 0.005, 0.02, 0.05])
def test_blackout_under_thrust_as_in_steps_of_50_us(tern, order, tick_s):
    """What is left on bus and links when the bank is put back, and with it the inrush, are those of the fine steps."""
    state, live = motoring(tern, order)
    gone = live._replace(contactor_switch=0)
    fine = run(tern, state, gone, 1.0, 5e-5)
    assert 20.0 < fine.bus.bus_v < 38.0, "the drives let go at 38 V, with something left"
    coarse = run(tern, state, gone, 1.0, tick_s)
    assert coarse.bus.bus_v == pytest.approx(fine.bus.bus_v, rel=0.02)
    assert coarse.shafts[0].drive.link_v == pytest.approx(fine.shafts[0].drive.link_v, rel=0.02)
    again, again_fine = run(tern, coarse, live, 1.0, tick_s), run(tern, fine, live, 1.0, 0.001)
    assert again.bus.inrush_a == pytest.approx(again_fine.bus.inrush_a, rel=0.02)
    assert again.shafts[0].drive.torque_nm == again_fine.shafts[0].drive.torque_nm == 0.0


def test_blackout_against_an_ode_solver(tern, order):
    """Capacitors feed two drives of constant power until they fall to 38 V: when, by SciPy, and in our steps."""
    state, live = motoring(tern, order)
    supply = tern.supply
    farad = supply.bus_capacitance_f + sum(shaft.drive.link_f for shaft in tern.shafts)
    taken_w = -sum(shaft.drive.current_a * shaft.drive.link_v for shaft in state.shafts)

    def falls(_t, v):
        return [-(taken_w / v[0] + v[0] / supply.bleed_ohm) / farad]

    def tripped(_t, v):
        return v[0] - 38.0

    tripped.terminal = True
    solved = solve_ivp(falls, (0.0, 0.1), [state.bus.bus_v], events=tripped, rtol=1e-8, atol=1e-9)
    expected_s = float(solved.t_events[0][0])
    assert 0.001 < expected_s < 0.02
    now, spent_s = state, 0.0
    while now.bus.bus_v > 38.0:
        now = run(tern, now, live._replace(contactor_switch=0), 5e-5, 5e-5)
        spent_s += 5e-5
    assert spent_s == pytest.approx(expected_s, rel=0.02, abs=1e-4)


@pytest.mark.parametrize("emf", [60.0, 70.0])
@pytest.mark.parametrize("tick_s", [0.001, 0.005, 0.02, 0.05])
def test_rectification_without_a_bank_against_an_ode_solver(tern, emf, tick_s):
    """The bus on its way to the rectified back-EMF of machines turned at a steady speed, 0.1 s after the bank went."""
    from sim.plant.supply import open_bus_voltage

    supply, drive = tern.supply, tern.shafts[0].drive
    diodes_v = emf * 1.1
    siemens = 2.0 / (drive.rectifier_ohm + drive.cable_ohm)
    farad = supply.bus_capacitance_f + 2.0 * drive.link_f
    hotel_a = 8.0

    def rises(_t, v):
        return [((diodes_v - v[0]) * siemens * (v[0] < diodes_v) - hotel_a - v[0] / supply.bleed_ohm) / farad]

    solved = solve_ivp(rises, (0.0, 0.1), [51.0], method="LSODA", rtol=1e-8, atol=1e-9)
    bus_v = 51.0
    for _ in range(round(0.1 / tick_s)):
        bus_v = open_bus_voltage(supply, bus_v, -hotel_a, 2.0 * drive.link_f, 1e9, siemens, diodes_v, tick_s)
    assert bus_v == pytest.approx(float(solved.y[0][-1]), rel=0.02)


def test_a_cable_is_never_a_source(tern):
    """Gates off above the bus: what the diodes give at the shaft is more than what comes out at the bus."""
    p = tern.shafts[0].drive._replace(emf_v_s=0.6)
    d = initial_state(tern).shafts[0].drive._replace(relay_closed=1, link_v=51.2)
    for _ in range(50):
        d = drive_step(p, d, 0.0, 0, 1, 0, 110.0, 51.2, 15.0, 0.001)
    assert d.rectifying == 1
    given_w = -d.torque_nm * 110.0
    assert given_w == pytest.approx(d.power_w + d.loss_w + d.current_a**2 * p.cable_ohm, rel=1e-6)


def test_no_link_goes_below_zero_when_the_bus_dies_under_a_drive_that_has_just_closed_its_relay(tern):
    """Found by the property test of random courses: an empty cold bank, shore current, the isolator off, and a drive
    that is enabled on what is left of the bus: the cable's drop at the old current stood against a bus at zero."""
    state = with_temperature(tern, with_soc(tern, initial_state(tern), 0.0), 0.0)
    rest = idle_inputs(tern)
    state = run(tern, state, rest._replace(shore_charge_a=59.0), 0.012, 0.001)
    state = step(tern, state, rest._replace(contactor_switch=0), 0.001)
    works = rest.shafts[1]._replace(torque_order_nm=48.0, drive_enable=1, precharge=1, hard_enable=1)
    seen = []
    for _ in range(10):
        state = step(tern, state, rest._replace(contactor_switch=0, shafts=(rest.shafts[0], works)), 0.05)
        seen.append(state.shafts[1].drive)
    assert max(drive.link_v for drive in seen) > 38.0
    assert any(drive.relay_closed for drive in seen)
    assert min(drive.link_v for drive in seen) >= 0.0
