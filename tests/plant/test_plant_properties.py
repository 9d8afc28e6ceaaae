"""Properties that hold for any input in range: no NaN, bounds, limits, energy, tick size."""

import math

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from sim.plant import PlantInputs, ShaftOrders, initial_state, run, step, with_soc, with_temperature

switch = st.integers(0, 1)
PROFILE = settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])


def number(low, high):
    return st.floats(low, high, allow_nan=False)


commands = st.builds(
    ShaftOrders,
    torque_order_nm=number(-400.0, 400.0),
    drive_enable=switch,
    precharge=switch,
    hard_enable=switch,
    engine_start=switch,
    engine_stop=switch,
    throttle_frac=number(0.0, 1.0),
    gear_order=st.integers(-1, 1),
    clutch_order=switch,
    lock_order=switch,
    load_shock_nm=number(0.0, 2000.0),
    belt_nm=st.sampled_from([-1.0, -1.0, 0.0, 15.0, 1000.0]),
    engine_frac=st.sampled_from([1.0, 1.0, 0.4, 0.0]),
)
inputs = st.builds(
    PlantInputs,
    shafts=st.tuples(commands, commands),
    hotel_load_w=number(0.0, 5000.0),
    irradiance_w_m2=number(0.0, 1200.0),
    shore_charge_a=number(0.0, 300.0),
    other_charge_stop=switch,
    contactor_switch=switch,
    sail_force_n=number(-3000.0, 8000.0),
    external_ambient_c=number(-20.0, 45.0),
    water_c=number(-2.0, 32.0),
    monitor_fault=st.sampled_from([0, 0, 0, 1, 64]),
    packs_out=st.sampled_from([0, 0, 0, 1, 5]),
)
ticks = st.sampled_from([0.001, 0.005, 0.01, 0.02, 0.05])
stretches = st.lists(st.tuples(inputs, st.integers(1, 60), ticks), min_size=1, max_size=6)
starts = st.tuples(number(0.0, 100.0), number(-20.0, 50.0), number(-6.0, 6.0), number(-1500.0, 1500.0))


def flatten(value):
    if isinstance(value, tuple):
        for item in value:
            yield from flatten(item)
    else:
        yield value


def started(params, start):
    soc_pct, temperature_c, speed_ms, rpm = start
    state = with_temperature(params, with_soc(params, initial_state(params), soc_pct), temperature_c)
    shafts = tuple(
        s._replace(
            line=s.line._replace(machine_rpm=rpm, propeller_rpm=rpm),
            engine=s.engine._replace(starter=s.engine.starter._replace(soc_pct=soc_pct)),
        )
        for s in state.shafts
    )
    return state._replace(boat_speed_ms=speed_ms, shafts=shafts)


@PROFILE
@given(start=starts, course=stretches)
def test_any_input_in_range_keeps_the_plant_sane(tern, start, course):
    """No NaN, SOC bounded, torque within its limit, temperatures and voltages finite, types unchanged."""
    state = started(tern, start)
    kinds = [type(x) for x in flatten(state)]
    for told, count, dt_s in course:
        for _ in range(count):
            state = step(tern, state, told, dt_s)
            bank = state.bank
            assert -1.0 <= bank.soc_pct <= 101.0
            assert 0.0 <= state.monitor.soc_pct <= 100.0
            assert bank.contactor_closed == 1 or bank.current_a == 0.0
            for shaft in state.shafts:
                assert abs(shaft.drive.active_torque_nm) <= 120.0 + 1e-9
                assert -1e-9 <= shaft.engine.rack_frac <= 1.0
                assert abs(shaft.line.propeller_rpm) < 5000.0
                assert shaft.drive.link_v >= 0.0
                assert 0.0 <= shaft.engine.starter.soc_pct <= 100.0
            assert -1.0 <= state.packs.others.soc_pct <= 101.0
        values = list(flatten(state))
        assert all(math.isfinite(v) for v in values)
        assert [type(x) for x in values] == kinds
    assert abs(state.boat_speed_ms) < 15.0


@PROFILE
@given(
    torque=number(-120.0, 120.0),
    rpm=number(-1500.0, 1500.0),
    speed_ms=number(-3.0, 5.0),
    dt_s=ticks,
)
def test_the_drive_never_creates_energy(tern, order, torque, rpm, speed_ms, dt_s):
    """DC power in = shaft power out + losses, and losses are never negative, in every quadrant."""
    state = started(tern, (60.0, 25.0, speed_ms, rpm))
    drive = state.shafts[0].drive._replace(relay_closed=1, link_v=state.bus.bus_v, enabled=1)
    state = state._replace(shafts=tuple(s._replace(drive=drive) for s in state.shafts))
    told = order(tern, precharge=1, hard_enable=1, drive_enable=1, torque_order_nm=torque)
    for _ in range(int(0.1 / dt_s)):
        before = state
        state = step(tern, state, told, dt_s)
        shaft = state.shafts[0]
        # what the shaft took in this step: at the mean of the speeds between which it went
        shaft_w = (shaft.line.drive_j - before.shafts[0].line.drive_j) / dt_s
        assert shaft.drive.loss_w >= 0.0
        took_w = shaft_w + shaft.drive.loss_w + shaft.drive.current_a**2 * tern.shafts[0].drive.cable_ohm
        assert -shaft.drive.power_w == pytest.approx(took_w, abs=1e-5 + 1e-9 * abs(shaft_w))


@PROFILE
@given(rpm=number(-1200.0, 1200.0), speed_ms=number(-3.0, 4.5), clutch=switch, lock=switch, gear=st.integers(-1, 1))
def test_a_boat_left_alone_only_loses_energy(tern, order, rpm, speed_ms, clutch, lock, gear):
    """Engines stopped, drives off, no sail: kinetic energy of boat and shafts falls at every step."""
    state = started(tern, (60.0, 25.0, speed_ms, rpm))

    def kinetic(s):
        total = 0.5 * tern.hull.mass_kg * s.boat_speed_ms**2
        for p, x in zip(tern.shafts, s.shafts, strict=True):
            total += 0.5 * p.engine.inertia_kgm2 * (x.engine.speed_rpm * math.pi / 30.0) ** 2
            total += 0.5 * p.line.machine_inertia_kgm2 * (x.line.machine_rpm * math.pi / 30.0) ** 2
            total += 0.5 * p.line.propeller_inertia_kgm2 * (x.line.propeller_rpm * math.pi / 30.0) ** 2
        return total

    told = order(tern, clutch_order=clutch, lock_order=lock, gear_order=gear, engine_stop=1)
    energy = kinetic(state)
    for _ in range(300):
        state = step(tern, state, told, 0.01)
        now = kinetic(state)
        # 0.1 % of slack: the propeller and the hull are stepped one after the other
        assert now <= energy * 1.001 + 1.0
        energy = now


@PROFILE
@given(current=number(-600.0, 300.0), soc_pct=number(5.0, 95.0), temperature_c=number(-10.0, 45.0), dt_s=ticks)
def test_the_bank_never_creates_energy(tern, current, soc_pct, temperature_c, dt_s):
    """Heat is never negative over a charge or a discharge of steady current."""
    from sim.plant.bank import bank_step, rested_bank

    b = rested_bank(tern.bank, soc_pct, temperature_c)
    for _ in range(200):
        b = bank_step(tern.bank, b, current, 1, 1, 20.0, dt_s)
    assert b.heat_wh >= 0.0


def drill(params, order, dt_s):
    """A short life: start, engage, sail on engines, charge, stop, motor, harvest. Returns what a bench would look
    at.
    """
    seen = {}
    live = {"precharge": 1, "hard_enable": 1}
    on = {**live, "drive_enable": 1}
    state = initial_state(params)
    state = run(params, state, order(params, engine_start=1, **live), 2.0, dt_s)
    state = run(params, state, order(params, **live), 2.0, dt_s)
    state = run(params, state, order(params, gear_order=1, throttle_frac=0.4, **live), 30.0, dt_s)
    seen["engine_rpm"] = state.shafts[0].engine.speed_rpm
    state = run(params, state, order(params, gear_order=1, throttle_frac=0.4, torque_order_nm=-50.0, **on), 20.0, dt_s)
    seen["charge_a"] = state.bank.current_a
    seen["speed_ms"] = state.boat_speed_ms
    state = run(params, state, order(params, engine_stop=1, **live), 5.0, dt_s)
    state = run(params, state, order(params, torque_order_nm=70.0, **on), 30.0, dt_s)
    seen["motor_a"] = state.bank.current_a
    seen["propeller_rpm"] = state.shafts[0].line.propeller_rpm
    seen["terminal_v"] = state.bank.terminal_v
    seen["fuel_l"] = state.shafts[0].engine.fuel_l
    seen["discharged_ah"] = state.bank.discharged_ah
    seen["motor_c"] = state.shafts[0].drive.motor_c
    state = run(params, state, order(params, gear_order=-1, load_shock_nm=30.0, **live), 5.0, dt_s)
    seen["distance_m"] = state.distance_m
    return seen


def test_results_do_not_depend_on_the_tick(tern, order):
    """20 ms against 1 ms: within 0.3 %; 50 ms within 0.6 %."""
    fine = drill(tern, order, 0.001)
    for dt_s, within in ((0.02, 0.003), (0.05, 0.006)):
        coarse = drill(tern, order, dt_s)
        for name, value in fine.items():
            assert coarse[name] == pytest.approx(value, rel=within), (name, dt_s)
