"""A model of your own in place of one of ours, in a few lines."""

import pytest

from sim.plant import bank_step, idle_inputs, initial_state, make_step, run


def test_a_lead_acid_bank_in_place_of_ours(tern):
    """Swap the bank: any function with the signature of bank_step that fills a BankState."""

    def sagging_bank(p, b, current_a, contactor_closed, isolator_on, ambient_c, dt_s):
        """12 lead cells of 2 V in series twice over: a straight open-circuit line and a plain resistance."""
        after = bank_step(p, b, current_a, contactor_closed, isolator_on, ambient_c, dt_s)
        emf = 24 * (1.95 + 0.0018 * after.soc_pct)
        return after._replace(emf_v=emf, resistance_ohm=0.02, terminal_v=emf + 0.02 * current_a)

    step = make_step(2, bank_model=sagging_bank)
    state = initial_state(tern, soc_pct=50.0)
    load = idle_inputs(tern)._replace(hotel_load_w=2000.0)
    for _ in range(50):
        state = step(tern, state, load, 0.02)
    assert state.bank.emf_v == pytest.approx(24 * 2.04, abs=0.01)
    assert state.bus.bus_v == pytest.approx(
        state.bank.emf_v + (0.02 + tern.supply.bank_cable_ohm) * state.bank.current_a
    )
    assert state.bank.current_a == pytest.approx(-2000.0 / state.bus.bus_v, rel=1e-3)


def test_a_shaft_model_can_be_swapped_too(warbler):
    """A shaft that never moves: the boat stays where it is whatever is ordered."""

    def frozen(p, s, c, bus_v, advance_ms, ambient_c, water_c, dt_s):
        return s

    step = make_step(1, shaft_model=frozen)
    state = initial_state(warbler)
    after = step(warbler, state, idle_inputs(warbler), 0.02)
    assert after.shafts == state.shafts
    assert after.time_s == 0.02


@pytest.mark.parametrize("shafts", [1, 3, 4])
def test_one_to_four_shafts_share_one_bank(tern, shafts):
    """The same order on every shaft: every shaft does the same, and the bank feeds them all."""
    params = tern._replace(shafts=(tern.shafts[0],) * shafts)
    idle = idle_inputs(params)
    ready = idle.shafts[0]._replace(precharge=1, hard_enable=1)
    state = run(params, initial_state(params), idle._replace(shafts=(ready,) * shafts), 1.0)
    pull = ready._replace(drive_enable=1, torque_order_nm=50.0)
    state = run(params, state, idle._replace(shafts=(pull,) * shafts), 2.0)
    assert len(state.shafts) == shafts
    assert len(set(state.shafts)) == 1
    assert state.bank.current_a == pytest.approx(shafts * state.shafts[0].drive.current_a)
