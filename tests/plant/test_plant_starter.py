"""Starter battery and alternator: rest voltages, cranking, and an engine that does not start."""

import pytest

from sim.plant import PlantInputs, ShaftOrders, initial_state, run
from sim.plant.starter import alternator_current, alternator_w, battery_resistance, cranking_a, rest_v


def with_battery(state, soc_pct, temperature_c=None):
    shafts = []
    for shaft in state.shafts:
        engine = shaft.engine._replace(starter=shaft.engine.starter._replace(soc_pct=soc_pct))
        if temperature_c is not None:
            engine = engine._replace(temperature_c=temperature_c)
        shafts.append(shaft._replace(engine=engine))
    return state._replace(shafts=tuple(shafts))


def cranked(params, soc_pct, seconds=4.0, temperature_c=None):
    start = PlantInputs(tuple(ShaftOrders(engine_start=1) for _ in params.shafts))
    state = initial_state(params, temperature_c=20.0 if temperature_c is None else temperature_c)
    return run(params, with_battery(state, soc_pct, temperature_c), start, seconds)


def test_rest_voltages_of_lead_acid(tern):
    """Common practice, no source: a 12 V battery rests at about 12.7 V full, 12.2 V half full and 11.8 V empty; rule of
    battery handbooks, from memory: relative density + 0.84 V a cell, 1.28 full."""
    p = tern.shafts[0].engine.starter
    assert rest_v(p, 100.0) == pytest.approx(6 * (1.28 + 0.84))
    assert rest_v(p, 100.0) == pytest.approx(12.7, abs=0.05)
    assert rest_v(p, 50.0) == pytest.approx(12.2, abs=0.1)
    assert rest_v(p, 0.0) == pytest.approx(11.8, abs=0.1)


def test_full_battery_cranks_as_the_data_sheet_says(tern):
    """Stall current at standstill, nothing at the no-load speed, a straight line between."""
    engine = tern.shafts[0].engine
    s = initial_state(tern).shafts[0].engine.starter
    assert cranking_a(engine.starter, s, 0.0, engine.starter_no_load_rpm, 25.0) == pytest.approx(700.0)
    half = cranking_a(engine.starter, s, 0.5 * engine.starter_no_load_rpm, engine.starter_no_load_rpm, 25.0)
    assert half == pytest.approx(350.0)
    assert cranking_a(engine.starter, s, 400.0, engine.starter_no_load_rpm, 25.0) == 0.0


def test_a_full_battery_starts_the_engine_and_the_alternator_fills_it(tern):
    state = cranked(tern, 100.0)
    engine = state.shafts[0].engine
    assert engine.running == 1
    assert engine.starter.soc_pct < 100.0
    runs = PlantInputs(tuple(ShaftOrders(throttle_frac=0.5) for _ in tern.shafts))
    later = run(tern, state, runs, 1800.0, 0.05)
    refilled = later.shafts[0].engine.starter
    assert refilled.soc_pct > engine.starter.soc_pct
    assert 12.5 < refilled.battery_v <= 14.2
    assert later.shafts[1].engine.running == 1


def test_voltage_under_the_starter(tern):
    """Common practice, no source: a sound battery stays above about 9.6 V while it cranks, a flat one does not."""
    sound, flat = cranked(tern, 100.0, 0.5), cranked(tern, 10.0, 0.5)
    assert sound.shafts[0].engine.cranking == flat.shafts[0].engine.cranking == 1
    assert sound.shafts[0].engine.starter.battery_v > 9.6 > flat.shafts[0].engine.starter.battery_v
    p = tern.shafts[0].engine.starter
    by_hand = rest_v(p, 100.0) - battery_resistance(p, 100.0, 20.0) * -sound.shafts[0].engine.starter.current_a
    assert sound.shafts[0].engine.starter.battery_v == pytest.approx(by_hand, abs=0.02)
    assert flat.shafts[0].engine.starter.battery_v < sound.shafts[0].engine.starter.battery_v - 2.0


@pytest.mark.parametrize("boat", ["tern", "warbler"])
def test_a_flat_battery_does_not_start_it(boat, request):
    params = request.getfixturevalue(boat)
    flat = cranked(params, 2.0, 20.0)
    assert flat.shafts[0].engine.running == 0
    assert flat.shafts[0].engine.speed_rpm < params.shafts[0].engine.fire_rpm


def test_what_starts_an_engine_in_the_warm_does_not_in_the_cold(tern):
    assert cranked(tern, 50.0, 6.0).shafts[0].engine.running == 1
    assert cranked(tern, 10.0, 10.0).shafts[0].engine.running == 1
    assert cranked(tern, 10.0, 10.0, -15.0).shafts[0].engine.running == 0, "cold: more friction, less current"


def test_woodbridge(tern):
    """No more amperes than ampere-hours lacking (J. L. Woodbridge 1935, from memory), and no more than the machine
    gives at its speed."""
    p = tern.shafts[0].engine.starter
    s = initial_state(tern).shafts[0].engine.starter
    assert alternator_current(p, s._replace(soc_pct=80.0), 3000.0) == pytest.approx(0.2 * 90.0 + 0.5)
    assert alternator_current(p, s._replace(soc_pct=0.0), 3000.0) == pytest.approx(80.0)
    assert alternator_current(p, s._replace(soc_pct=0.0), 1400.0) == pytest.approx(40.0)
    assert alternator_current(p, s._replace(soc_pct=0.0), 600.0) == 0.0
    assert cranked(tern, 50.0, 0.1).shafts[0].engine.starter.alternator_a == 0.0, "not before the engine runs"
    assert alternator_w(p, 80.0) == pytest.approx(80.0 * 14.2 / 0.55)


def test_the_engine_pays_for_its_alternator(tern):
    """An empty battery costs the fuel of its alternator's power: by the engine's own Willans line."""
    runs = PlantInputs(tuple(ShaftOrders(throttle_frac=0.6) for _ in tern.shafts))
    state = run(tern, cranked(tern, 100.0), runs, 5.0)
    light = run(tern, state, runs, 5.0).shafts[0].engine
    heavy = run(tern, with_battery(state, 20.0), runs, 5.0).shafts[0].engine
    given = alternator_w(tern.shafts[0].engine.starter, heavy.starter.alternator_a)
    given -= alternator_w(tern.shafts[0].engine.starter, light.starter.alternator_a)
    p = tern.shafts[0].engine
    expected_l_h = given / p.indicated_efficiency / p.fuel_j_kg / p.fuel_kg_l * 3600.0
    assert heavy.fuel_l_h - light.fuel_l_h == pytest.approx(expected_l_h, rel=0.1)
    assert heavy.speed_rpm < light.speed_rpm, "the droop governor gives a little"


def test_loads_empty_it_and_no_further(tern):
    idle = PlantInputs(tuple(ShaftOrders() for _ in tern.shafts))
    state = run(tern, with_battery(initial_state(tern), 0.001), idle, 60.0, 0.05)
    assert state.shafts[0].engine.starter.soc_pct == 0.0


def test_without_its_table_it_is_always_full(tern):
    def bare(shaft):
        return shaft._replace(engine=shaft.engine._replace(starter=shaft.engine.starter._replace(battery_as=0.0)))

    boat = tern._replace(shafts=tuple(bare(shaft) for shaft in tern.shafts))
    assert cranked(boat, 0.0).shafts[0].engine.running == 1
