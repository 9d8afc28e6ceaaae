"""The electric drive: precharge, torque, limits, losses, protection, back-EMF."""

import math

import pytest

from sim.plant import (
    DRIVE_OVER_TEMPERATURE,
    DRIVE_OVER_VOLTAGE,
    DRIVE_UNDER_VOLTAGE,
    PlantInputs,
    ShaftOrders,
    initial_state,
    run,
    step,
)
from sim.plant.drive import drive_step, loss, torque_limit

BUS_V = 51.2


def still(tern, **fields):
    return initial_state(tern).shafts[0].drive._replace(**fields)


def live(tern, **fields):
    return still(tern, relay_closed=1, link_v=BUS_V, enabled=1, **fields)


def advance(p, d, seconds, order=0.0, enable=1, precharge=0, hard=1, omega=0.0, dt_s=0.001, bus_v=BUS_V):
    for _ in range(round(seconds / dt_s)):
        d = drive_step(p, d, order, enable, precharge, hard, omega, bus_v, 15.0, dt_s)
    return d


def test_precharge_check_values(tern):
    """10 mF through 20 ohm to 51.2 V: tau 0.2 s, 0.6 s to 5 %, 2.56 A peak, 13.1 J."""
    p = tern.shafts[0].drive._replace(bleed_ohm=1e12)
    d = advance(p, still(tern), 0.2, enable=0, precharge=1)
    assert d.link_v == pytest.approx(BUS_V * (1.0 - math.exp(-1.0)), rel=1e-3)
    first = advance(p, still(tern), 0.0001, enable=0, precharge=1, dt_s=0.0001)
    assert first.current_a == pytest.approx(-2.56, rel=0.01)
    d, t, joules = still(tern), 0.0, 0.0
    while d.relay_closed == 0:
        d = advance(p, d, 0.001, enable=0, precharge=1)
        joules -= d.current_a * BUS_V * 0.001
        t += 0.001
    assert t == pytest.approx(0.6, abs=0.01)
    # the bus gives C V^2 in all, the last 5 % through the closing relay: half for the capacitor, half is heat
    assert joules == pytest.approx(2 * 13.1, rel=0.002)
    assert d.link_j == pytest.approx(joules)
    assert d.link_v == BUS_V


def test_long_ticks_precharge_as_fast(tern):
    p = tern.shafts[0].drive
    slow = advance(p, still(tern), 0.5, enable=0, precharge=1, dt_s=0.05)
    fast = advance(p, still(tern), 0.5, enable=0, precharge=1, dt_s=0.001)
    assert slow.link_v == pytest.approx(fast.link_v, rel=1e-6)


def test_no_torque_without_relay_enable_and_hard_enable(tern):
    p = tern.shafts[0].drive
    assert advance(p, still(tern), 1.0, order=80.0, enable=1).torque_nm == 0.0, "no precharge, no relay"
    assert advance(p, live(tern), 0.5, order=80.0, enable=0).torque_nm == 0.0
    assert advance(p, live(tern), 0.5, order=80.0, hard=0).torque_nm == 0.0
    assert advance(p, live(tern), 0.5, order=80.0).torque_nm == pytest.approx(80.0)


def test_relay_drops_and_link_bleeds(tern):
    p = tern.shafts[0].drive
    d = advance(p, live(tern), 0.02, enable=0, precharge=0)
    assert d.relay_closed == 0
    # 10 mF with 1500 ohm: 15 s
    d = advance(p, d, 15.0, enable=0, precharge=0, dt_s=0.05)
    assert d.link_v == pytest.approx(BUS_V * math.exp(-1.0), rel=0.02)


@pytest.mark.parametrize("dt_s", [0.001, 0.01, 0.02])
def test_full_torque_to_zero_within_40_ms(tern, dt_s):
    p = tern.shafts[0].drive
    d = advance(p, live(tern, active_torque_nm=120.0, torque_nm=120.0), 0.04, order=0.0, dt_s=dt_s)
    assert d.torque_nm == 0.0
    d = advance(p, live(tern, active_torque_nm=120.0, torque_nm=120.0), 0.02, hard=0, dt_s=min(dt_s, 0.02))
    assert d.torque_nm == 0.0, "the hard-wired line is faster"


def test_torque_and_power_limits(tern):
    p = tern.shafts[0].drive
    assert torque_limit(p, 10.0, 0) == pytest.approx(120.0)
    # 8.5 kW at 1000 rpm: 81.2 N m, 5.7 kW of generating 54.4
    assert torque_limit(p, 1000.0 * math.pi / 30.0, 0) == pytest.approx(81.17, abs=0.01)
    assert torque_limit(p, -1000.0 * math.pi / 30.0, 1) == pytest.approx(54.43, abs=0.01)
    assert torque_limit(p, 1600.0 * math.pi / 30.0, 0) == 0.0
    d = advance(p, live(tern), 0.2, order=500.0, omega=1000.0 * math.pi / 30.0)
    assert d.torque_nm == pytest.approx(81.17, abs=0.01)


def test_dc_current_is_shaft_power_through_losses_and_voltage(tern):
    p = tern.shafts[0].drive._replace(cable_ohm=0.0)
    omega = 80.0
    motor = advance(p, live(tern), 0.2, order=60.0, omega=omega)
    # by hand: copper 0.055 x 3600, inverter 1.2 x 60 + 20, iron 0.55 x 80 + 0.006 x 6400
    lost = 198.0 + 72.0 + 20.0 + 44.0 + 38.4
    assert motor.loss_w == pytest.approx(lost, abs=1e-6)
    assert motor.current_a == pytest.approx(-(60.0 * 80.0 + lost) / BUS_V)
    generator = advance(p, live(tern), 0.2, order=-60.0, omega=omega)
    assert generator.current_a == pytest.approx((60.0 * 80.0 - lost) / BUS_V)
    astern = advance(p, live(tern), 0.2, order=60.0, omega=-omega)
    assert astern.current_a == pytest.approx(generator.current_a), "ahead torque on an astern shaft charges"


def test_efficiency_map_has_the_published_shape(tern):
    """Islands of a PM machine with inverter (I. Husain 2011): above 0.85 over the middle of the map, highest at high
    speed and middle torque, falling towards low speed and towards no load."""
    p = tern.shafts[0].drive

    def efficiency(torque, rpm):
        out = torque * rpm * math.pi / 30.0
        return out / (out + loss(p, torque, rpm * math.pi / 30.0))

    assert 0.90 < efficiency(60.0, 1000.0) < 0.95
    assert efficiency(60.0, 1000.0) > efficiency(120.0, 1000.0)
    assert efficiency(60.0, 1000.0) > efficiency(5.0, 1000.0)
    assert efficiency(60.0, 1000.0) > efficiency(60.0, 300.0) > efficiency(60.0, 100.0)
    # at one speed the best torque is where copper loss equals the loss that does not depend on torque (by calculus)
    fixed = 20.0 + 0.55 * 104.72 + 0.006 * 104.72**2
    at = math.sqrt(fixed / 0.055)
    assert efficiency(at, 1000.0) > max(efficiency(0.9 * at, 1000.0), efficiency(1.1 * at, 1000.0))
    best = max((efficiency(t, r), t, r) for t in range(5, 121, 5) for r in range(100, 1500, 50) if t * r < 95493)
    assert 0.91 < best[0] < 0.96
    assert 30 <= best[1] <= 90


def test_overvoltage_trips_and_latches_until_enable_goes_away(tern):
    p = tern.shafts[0].drive
    d = advance(p, live(tern), 0.002, order=50.0, bus_v=65.0)
    assert d.fault == DRIVE_OVER_VOLTAGE
    d = advance(p, d, 0.5, order=50.0)
    assert (d.fault, d.torque_nm, d.enabled) == (DRIVE_OVER_VOLTAGE, 0.0, 0)
    d = advance(p, d, 0.01, enable=0, precharge=1)
    d = advance(p, d, 0.5, order=50.0, precharge=1)
    assert (d.fault, d.torque_nm) == (0, pytest.approx(50.0))


def test_hot_motor_derates_then_trips(tern):
    p = tern.shafts[0].drive
    half = advance(p, live(tern, motor_c=120.0), 0.1, order=120.0)
    assert half.torque_nm == pytest.approx(60.0, rel=0.02)
    assert advance(p, live(tern, motor_c=136.0), 0.1, order=50.0).fault == DRIVE_OVER_TEMPERATURE


def test_over_speed_trips(tern):
    # 1600 rpm over-speed limit; 5 % beyond it the drive gives up
    p = tern.shafts[0].drive
    assert advance(p, live(tern), 0.01, order=20.0, omega=1650.0 * math.pi / 30.0).fault == 0
    d = advance(p, live(tern), 0.01, order=20.0, omega=1700.0 * math.pi / 30.0)
    assert (d.fault, d.enabled) == (4, 0)
    assert torque_limit(p, 2000.0 * math.pi / 30.0, 0) == 0.0


def test_temperatures_settle_where_heat_in_is_heat_out(tern):
    p = tern.shafts[0].drive
    d = advance(p, live(tern), 4 * 3600.0, order=80.0, omega=100.0, dt_s=0.05)
    # coolant: all heat through 60 W/K to sea water at 15 degC
    assert d.coolant_c == pytest.approx(15.0 + d.loss_w / 60.0, abs=0.5)
    assert d.motor_c == pytest.approx(d.coolant_c + 0.7 * d.loss_w / 14.0, abs=0.5)


def test_back_emf_above_the_bank_rectifies_at_zero_torque_order(tern):
    """29 V per 1000 rpm: 51.2 V and two diodes are reached at 1814 rpm."""
    p = tern.shafts[0].drive._replace(cable_ohm=0.0)
    below = advance(p, live(tern), 0.05, enable=0, precharge=1, omega=1780.0 * math.pi / 30.0)
    above = advance(p, live(tern), 0.05, enable=0, precharge=1, omega=2100.0 * math.pi / 30.0)
    assert (below.rectifying, below.current_a) == (0, 0.0)
    assert above.rectifying == 1
    assert above.current_a > 5.0
    assert above.torque_nm < 0.0, "it brakes the shaft"
    # energy: what the shaft gives is what the bus and the diodes take
    shaft_w = -above.torque_nm * 2100.0 * math.pi / 30.0
    assert shaft_w == pytest.approx(above.power_w + above.loss_w, rel=1e-9)
    backwards = advance(p, live(tern), 0.05, enable=0, precharge=1, omega=-2100.0 * math.pi / 30.0)
    assert backwards.torque_nm > 0.0


def test_open_link_follows_back_emf(tern):
    p = tern.shafts[0].drive
    d = advance(p, still(tern), 0.5, enable=0, omega=1000.0 * math.pi / 30.0)
    assert d.link_v == pytest.approx(29.0 - 1.4, rel=0.01)
    assert d.relay_closed == 0


def test_load_dump_overshoots_the_link(tern, order):
    """A source still feeding when the contactor opens raises the link at once; without current it does not."""
    start = run(tern, initial_state(tern), order(tern, engine_start=1), 2.5)
    start = run(tern, start, order(tern, throttle_frac=0.4, gear_order=1, precharge=1, hard_enable=1), 20.0)
    charging = order(
        tern, throttle_frac=0.4, gear_order=1, precharge=1, hard_enable=1, drive_enable=1, torque_order_nm=-60.0
    )
    state = run(tern, start, charging, 5.0)
    assert state.bank.current_a > 50.0
    before = state.bus.peak_v
    state = run(tern, state, charging._replace(contactor_switch=0), 0.1)
    assert state.bus.peak_v > before + 8.0
    assert state.shafts[0].drive.link_peak_v > 62.0
    assert state.shafts[0].drive.fault == DRIVE_OVER_VOLTAGE
    calm = run(tern, start, charging._replace(shafts=(start_command(),) * 2), 2.0)
    before = calm.bus.peak_v
    calm = run(tern, calm, charging._replace(shafts=(start_command(),) * 2, contactor_switch=0), 0.1)
    assert calm.bus.peak_v == before


def start_command():
    from sim.plant import ShaftOrders

    return ShaftOrders(throttle_frac=0.4, gear_order=1, precharge=1, hard_enable=1)


def test_motoring_bus_sinks_without_the_bank_until_the_drives_let_go(tern, order):
    live_order = order(tern, precharge=1, hard_enable=1, drive_enable=1, torque_order_nm=60.0)
    state = run(tern, initial_state(tern), order(tern, precharge=1, hard_enable=1), 1.0)
    state = run(tern, state, live_order, 3.0)
    state = run(tern, state, live_order._replace(contactor_switch=0), 0.2)
    assert 20.0 < state.bus.bus_v < 38.0
    assert state.shafts[0].drive.torque_nm == 0.0
    assert step(tern, state, live_order, 0.02).bank.current_a == 0.0


@pytest.mark.parametrize("tick_s", [0.001, 0.002, 0.005, 0.02, 0.05])
def test_after_a_blackout_under_thrust_nothing_returns_without_a_precharge(tern, order, tick_s):
    """The link was tied to the bus that fell: it is as empty, and the drive has tripped on it, whatever the tick."""
    live = order(tern, precharge=1, hard_enable=1, drive_enable=1, torque_order_nm=60.0)
    state = run(tern, initial_state(tern), order(tern, precharge=1, hard_enable=1), 1.0, tick_s)
    state = run(tern, state, live, 3.0, tick_s)
    assert state.shafts[0].drive.torque_nm == pytest.approx(60.0, abs=1.0)
    state = run(tern, state, live._replace(contactor_switch=0), 1.0, tick_s)
    drive = state.shafts[0].drive
    assert (drive.fault, drive.enabled, drive.torque_nm) == (DRIVE_UNDER_VOLTAGE, 0, 0.0)
    assert drive.link_v < 30.0
    back = run(tern, state, live, 1.0, tick_s)
    assert back.bank.contactor_closed == 1
    assert back.shafts[0].drive.torque_nm == 0.0
    assert back.shafts[0].drive.fault == DRIVE_UNDER_VOLTAGE


def rectifying(tern, emf_v_per_1000rpm, tick_s):
    """Gates off, the bank gone, the engine turning the machine: what the diodes make of it, and what that takes."""
    drives = [
        shaft.drive._replace(emf_v_s=emf_v_per_1000rpm / (1000.0 * math.pi / 30.0), over_voltage_v=500.0)
        for shaft in tern.shafts
    ]
    boat = tern._replace(shafts=tuple(
        shaft._replace(drive=drive) for shaft, drive in zip(tern.shafts, drives, strict=True)
    ))  # fmt: skip
    start = PlantInputs(tuple(ShaftOrders(engine_start=1, precharge=1) for _ in boat.shafts))
    turns = PlantInputs(tuple(ShaftOrders(throttle_frac=0.8, gear_order=1, precharge=1) for _ in boat.shafts))
    state = run(boat, initial_state(boat), start, 2.5, tick_s)
    state = run(boat, state, turns, 20.0, tick_s)
    return run(boat, state, turns._replace(contactor_switch=0, hotel_load_w=400.0), 3.0, tick_s)


@pytest.mark.parametrize("emf_v_per_1000rpm", [60.0, 70.0])
def test_diodes_hold_the_bus_at_the_back_emf_whatever_the_tick(tern, emf_v_per_1000rpm):
    """Behind a resistor of some milliohm the bus stands at the rectified back-EMF, and takes what the loads take: no
    more. A step of 0.5 ms is the reference; tests/plant/test_plant_circuit.py has an ODE solver."""
    fine = rectifying(tern, emf_v_per_1000rpm, 0.0005)
    rpm = fine.shafts[0].line.drive_rpm
    assert fine.bus.bus_v == pytest.approx(emf_v_per_1000rpm * rpm / 1000.0 - 1.4, rel=0.02)
    for tick_s in (0.001, 0.005, 0.02, 0.05):
        state = rectifying(tern, emf_v_per_1000rpm, tick_s)
        assert state.bus.bus_v == pytest.approx(fine.bus.bus_v, rel=0.02), tick_s
        fed_w = sum(shaft.drive.current_a for shaft in state.shafts) * state.bus.bus_v
        taken_w = state.bus.hotel_current_a * state.bus.bus_v + state.bus.bus_v**2 / tern.supply.bleed_ohm
        assert fed_w == pytest.approx(taken_w, rel=0.05, abs=2.0), tick_s
