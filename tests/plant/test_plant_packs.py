"""Parallel packs: one drops out under load, and is put back."""

import pytest

from sim.plant import initial_state, run, step, with_soc
from sim.plant.bank import stored_wh

THIRDS = 3.0


def drawn(order, params, watts=5000.0, out=0, **boat):
    return order(params, {"hotel_load_w": watts, "packs_out": out, **boat})


def test_half_a_bank_has_twice_the_resistance_and_half_the_charge(tern, order):
    """By hand: the step of voltage at a steady load is I R / 2 more, and SOC falls twice as fast."""
    state = run(tern, initial_state(tern), drawn(order, tern), 60.0)
    whole_slope = state.bank.soc_pct - run(tern, state, drawn(order, tern), 60.0).bank.soc_pct
    half = step(tern, state, drawn(order, tern, out=1), 0.02)
    lost_v = state.bank.terminal_v - half.bank.terminal_v
    # the series resistance at once; the slow part follows
    assert lost_v == pytest.approx(-state.bank.current_a * state.bank.resistance_ohm, rel=0.05)
    later = run(tern, half, drawn(order, tern, out=1), 60.0)
    assert half.bank.soc_pct - later.bank.soc_pct == pytest.approx(2.0 * whole_slope, rel=0.02)
    assert later.packs.others.soc_pct == pytest.approx(state.bank.soc_pct, abs=1e-3)
    assert (later.packs.share, later.packs.joined) == (0.5, 0)


def test_the_monitors_limits_fall_with_the_packs(tern, order):
    state = run(tern, initial_state(tern), drawn(order, tern, out=1), 1.0)
    assert state.monitor.discharge_limit_a == pytest.approx(260.0)
    assert state.monitor.charge_limit_a == pytest.approx(130.0)
    three = tern._replace(bank=tern.bank._replace(packs=3.0))
    state = run(three, initial_state(three), drawn(order, three, out=2), 1.0)
    assert state.monitor.discharge_limit_a == pytest.approx(520.0 / THIRDS)
    # a load that the whole bank carries is too much for what is left: the monitor's flag, by its own delay
    state = run(tern, initial_state(tern), drawn(order, tern, 17500.0), 1.0)
    assert state.monitor.flags == 0
    state = run(tern, state, drawn(order, tern, 17500.0, out=1), 1.2)
    assert state.monitor.flags != 0


def test_the_last_pack_stays(tern, order):
    state = run(tern, initial_state(tern), drawn(order, tern, out=7), 1.0)
    assert state.packs.share == 0.5
    single = tern._replace(bank=tern.bank._replace(packs=1.0))
    state = run(single, initial_state(single), drawn(order, single, out=1), 1.0)
    assert (state.packs.share, state.packs.joined) == (1.0, 1)


def test_another_number_may_drop_out_once_all_are_alike_again(tern, order):
    four = tern._replace(bank=tern.bank._replace(packs=4.0))
    state = run(four, initial_state(four), drawn(order, four, 500.0, out=1), 1.0)
    assert state.packs.share == 0.75
    state = run(four, state, drawn(order, four, 500.0), 1.0)
    state = run(four, state, drawn(order, four, 500.0, out=2), 1.0)
    assert (state.packs.share, state.packs.joined) == (0.5, 0)
    # those that worked are now far below the others: put back, it is these two that would drop out again
    state = run(four, state, drawn(order, four, 5000.0, out=2), 600.0, 0.05)
    state = run(four, state, drawn(order, four, 5000.0), 1.0)
    state = run(four, state, drawn(order, four, 5000.0, out=1), 1.0)
    assert (state.packs.share, state.packs.joined) == (0.5, 0)


def test_the_count_is_of_what_is_connected(tern, order):
    """The half that worked is put back beside the half that rested: the mean of both, at once."""
    state = run(tern, initial_state(tern), drawn(order, tern, out=1), 1200.0, 0.05)
    worked, rested = state.bank.soc_pct, state.packs.others.soc_pct
    assert state.monitor.soc_pct == pytest.approx(worked, abs=0.6)
    back = step(tern, state, drawn(order, tern), 0.02)
    assert back.monitor.soc_pct == pytest.approx(0.5 * (worked + rested), abs=0.6)


def test_equalising_current_by_kirchhoff(tern, order):
    """A pack at 40 % put back beside one at 95 %, with nothing else on the bus: the difference of their voltages over
    the resistances of both, and no current at the terminals."""
    quiet = drawn(order, tern, 0.0)
    state = run(tern, initial_state(tern, 40.0), drawn(order, tern, 0.0, out=1), 1.0)
    full = with_soc(tern, initial_state(tern), 95.0).bank
    state = state._replace(packs=state.packs._replace(others=full))
    back = step(tern, state, quiet, 0.02)
    ohm = 2.0 * state.bank.resistance_ohm + 2.0 * full.resistance_ohm
    assert back.packs.current_a == pytest.approx(-(full.emf_v - state.bank.emf_v) / ohm, rel=0.01)
    assert back.bank.current_a == 0.0
    assert back.packs.peak_a == pytest.approx(abs(back.packs.current_a))
    later = run(tern, back, quiet, 1800.0, 0.05)
    assert abs(later.packs.current_a) < 0.5 * abs(back.packs.current_a), "it dies away"
    assert later.bank.soc_pct > 41.0
    assert later.packs.others.soc_pct < 94.5


def test_charge_and_energy_are_kept_whatever_the_packs_do(tern, order):
    """What left the terminals, and what became heat, is what the cells lost."""
    p = tern.bank
    state = initial_state(tern)

    def stored(s):
        return s.packs.share * stored_wh(p, s.bank) + (1.0 - s.packs.share) * stored_wh(p, s.packs.others)

    began = stored(state)
    for out, seconds in ((0, 60.0), (1, 600.0), (0, 900.0), (1, 60.0), (0, 300.0)):
        before = stored(state)
        switched = step(tern, state, drawn(order, tern, out=out), 0.001)
        assert stored(switched) == pytest.approx(before, abs=0.01), "nothing appears where packs come and go"
        state = run(tern, switched, drawn(order, tern, out=out), seconds)
    taken = state.bank.discharged_wh - state.bank.charged_wh + state.bank.heat_wh
    assert began - stored(state) == pytest.approx(taken, rel=0.001)


def test_together_they_are_the_bank_that_was(tern, order):
    """A bank that nothing ever dropped out of is, to the last bit, one bank: with one pack or with eight."""
    one = tern._replace(bank=tern.bank._replace(packs=1.0))
    eight = tern._replace(bank=tern.bank._replace(packs=8.0))
    a = run(one, initial_state(one), drawn(order, one), 30.0)
    b = run(eight, initial_state(eight), drawn(order, eight), 30.0)
    assert a.bank == b.bank
