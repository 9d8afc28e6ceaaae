"""The step compiled by numba gives the same bits as plain Python."""

import random

import pytest

from sim.plant import PlantInputs, ShaftOrders, initial_state, step

pytest.importorskip("numba")

from sim.plant.compiled import compiled_params, compiled_step


def voyage(shafts, seed):
    """A random but reproducible course of inputs that visits most branches."""
    source = random.Random(seed)
    for _ in range(60):
        command = ShaftOrders(
            torque_order_nm=source.uniform(-150.0, 150.0),
            drive_enable=source.choice([0, 1, 1]),
            precharge=source.choice([0, 1, 1]),
            hard_enable=source.choice([0, 1, 1, 1]),
            engine_start=source.choice([0, 1]),
            engine_stop=source.choice([0, 0, 0, 1]),
            throttle_frac=source.random(),
            gear_order=source.choice([-1, 0, 1]),
            clutch_order=source.choice([0, 1, 1]),
            lock_order=source.choice([0, 0, 1]),
            load_shock_nm=source.choice([0.0, 0.0, 300.0]),
            belt_nm=source.choice([-1.0, -1.0, 0.0, 15.0]),
        )
        told = PlantInputs(
            shafts=(command,) * shafts,
            hotel_load_w=source.uniform(0.0, 800.0),
            irradiance_w_m2=source.uniform(0.0, 1000.0),
            shore_charge_a=source.uniform(0.0, 60.0),
            other_charge_stop=source.choice([0, 1]),
            contactor_switch=source.choice([1, 1, 1, 1, 0]),
            sail_force_n=source.uniform(0.0, 4000.0),
            external_ambient_c=source.uniform(-10.0, 40.0),
            water_c=source.uniform(0.0, 30.0),
            monitor_fault=source.choice([0, 0, 0, 0, 64]),
        )
        yield told, source.choice([0.001, 0.02, 0.05]), source.randrange(5, 60)


@pytest.mark.parametrize("boat", ["tern", "warbler"])
def test_compiled_equals_interpreted_bit_for_bit(request, boat):
    params = request.getfixturevalue(boat)
    fast = compiled_step(len(params.shafts))
    arrays = compiled_params(params)
    plain_state = fast_state = initial_state(params)
    steps = 0
    for told, dt_s, count in voyage(len(params.shafts), 11):
        for _ in range(count):
            plain_state = step(params, plain_state, told, dt_s)
            fast_state = fast(arrays, fast_state, told, dt_s)
            steps += 1
        # repr of a float is exact and tells -0.0 from 0.0
        assert repr(fast_state) == repr(plain_state), steps
    assert steps > 1000
