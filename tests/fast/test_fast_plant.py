"""The plant's step compiled gives the same bits as plain Python."""

import random
from collections.abc import Iterator
from typing import Any

import pytest

from sim.plant import PlantInputs, ShaftOrders, bank_step, idle_inputs, initial_state, make_step, step

pytest.importorskip("numba")

from sim.fast import built
from sim.fast.packed import packed


def voyage(shafts: int, seed: int) -> Iterator[tuple[PlantInputs, float, int]]:
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
            packs_out=source.choice([0, 0, 0, 1]),
        )
        yield told, source.choice([0.001, 0.02, 0.05]), source.randrange(5, 60)


@pytest.mark.parametrize("boat", [pytest.param("tern", marks=pytest.mark.campaign), "warbler"])
def test_compiled_is_plain_in_every_bit(request: pytest.FixtureRequest, boat: str) -> None:
    params = request.getfixturevalue(boat)
    fast, record = built(len(params.shafts)).step, packed(params)
    plain_state = fast_state = initial_state(params)
    steps = 0
    for told, dt_s, count in voyage(len(params.shafts), 11):
        for _ in range(count):
            plain_state = step(params, plain_state, told, dt_s)
            fast_state = fast(record, fast_state, told, dt_s)
            steps += 1
        # repr of a float is exact and tells -0.0 from 0.0
        assert repr(fast_state) == repr(plain_state), steps
    assert steps > 1000


def stiff_bank(
    p: Any, b: Any, current_a: Any, contactor_closed: Any, isolator_on: Any, ambient_c: Any, dt_s: Any
) -> Any:
    """A bank of one's own: ours at half the current."""
    return bank_step(p, b, 0.5 * current_a, contactor_closed, isolator_on, ambient_c, dt_s)


@pytest.mark.campaign
def test_a_model_of_ones_own_compiles_too(warbler: Any) -> None:
    plain = make_step(1, bank_model=stiff_bank)
    fast = built(1, bank_model=stiff_bank, own_modules=(__name__,)).step
    load = idle_inputs(warbler)._replace(hotel_load_w=900.0)
    plain_state = fast_state = initial_state(warbler)
    record = packed(warbler)
    for _ in range(50):
        plain_state, fast_state = plain(warbler, plain_state, load, 0.02), fast(record, fast_state, load, 0.02)
    assert repr(fast_state) == repr(plain_state)
    assert plain_state != step(warbler, plain_state, load, 0.02)
