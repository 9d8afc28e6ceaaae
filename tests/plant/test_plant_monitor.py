"""The bank monitor: its errors, permits, limits, flags and contactor."""

import pytest

from sim.plant import FLAG_CELL_OVER_VOLTAGE, FLAG_INTERNAL, FLAG_OVER_CURRENT_DISCHARGE, initial_state, run, step
from sim.plant.bank import rested_bank
from sim.plant.monitor import charge_limit, discharge_limit, monitor_step, quantise, rested_monitor


def perfect(p):
    return p._replace(current_gain=1.0, current_offset_a=0.0, current_step_a=0.0, cell_step_v=0.0, soc_step_pct=0.0)


def at(params, soc_pct=70.0, temperature_c=20.0, **fields):
    bank = rested_bank(params.bank, soc_pct, temperature_c)._replace(**fields)
    return rested_monitor(params.monitor, bank), bank


@pytest.mark.parametrize(
    ("value", "grid", "shown"),
    [(1.24, 0.1, 1.2), (1.26, 0.1, 1.3), (-1.26, 0.1, -1.3), (0.04, 0.1, 0.0), (7.7, 0.0, 7.7), (-0.05, 0.1, -0.1)],
)
def test_quantise(value, grid, shown):
    assert quantise(value, grid) == pytest.approx(shown)


def test_count_is_right_without_errors_and_drifts_with_them(tern):
    clean = perfect(tern.monitor)
    wrong = clean._replace(current_gain=1.01, current_offset_a=0.3)
    _, bank = at(tern, 50.0)
    bank = bank._replace(current_a=60.0)
    a, b = rested_monitor(clean, bank), rested_monitor(wrong, bank)
    for _ in range(3600):
        a, b = monitor_step(clean, a, bank, 1.0), monitor_step(wrong, b, bank, 1.0)
    # 60 A h into 520 A h is 11.538 %; 1 % gain adds 0.6 A h, 0.3 A adds 0.3 A h: 0.173 % more
    assert a.soc_pct == pytest.approx(50.0 + 6000.0 / 520.0, abs=1e-6)
    assert b.soc_pct == pytest.approx(50.0 + 6090.0 / 520.0, abs=1e-3)


def test_full_charge_puts_the_count_right(tern):
    monitor, bank = at(tern, 99.9)
    monitor = monitor._replace(counted_as=0.9 * 520.0 * 3600.0)
    # 3.5 V and below 0.05C (26 A): full
    monitor = monitor_step(tern.monitor, monitor, bank._replace(cell_max_v=3.52, current_a=25.0), 0.02)
    assert monitor.soc_pct == 100.0


@pytest.mark.parametrize(
    ("cell_max_v", "hot_c", "cold_c", "expected_a"),
    [
        (3.30, 20.0, 20.0, 260.0),
        (3.30, 20.0, 0.0, 0.0),  # none at or below 0 degC
        (3.30, 20.0, -5.0, 0.0),
        (3.30, 20.0, 5.0, 104.0),  # 0.2C of 520 A h below 10 degC
        (3.30, 42.5, 20.0, 130.0),  # half way between 40 and 45 degC
        (3.30, 45.0, 20.0, 0.0),
        (3.55, 20.0, 20.0, 130.0),  # half way between 3.50 and 3.60 V
        (3.60, 20.0, 20.0, 0.0),
    ],
)
def test_charge_limit(tern, cell_max_v, hot_c, cold_c, expected_a):
    assert charge_limit(tern.monitor, 70.0, cell_max_v, hot_c, cold_c) == pytest.approx(expected_a, abs=1e-6)


@pytest.mark.parametrize(
    ("soc_pct", "cell_min_v", "hot_c", "expected_a"),
    [(70.0, 3.2, 20.0, 520.0), (70.0, 2.85, 20.0, 260.0), (70.0, 2.7, 20.0, 0.0), (4.9, 3.2, 20.0, 0.0)],
)
def test_discharge_limit(tern, soc_pct, cell_min_v, hot_c, expected_a):
    assert discharge_limit(tern.monitor, soc_pct, cell_min_v, hot_c) == pytest.approx(expected_a, abs=1e-6)


def test_charge_permit_has_hysteresis(tern):
    monitor, bank = at(tern)
    seen = []
    for volts in (3.45, 3.59, 3.61, 3.59, 3.46, 3.44, 3.59):
        monitor = monitor_step(tern.monitor, monitor, bank._replace(cell_max_v=volts), 0.02)
        seen.append(monitor.charge_permit)
    # lost at 3.60 V, back only at 3.45 V
    assert seen == [1, 1, 0, 0, 0, 1, 1]


@pytest.mark.parametrize(("away_c", "between_c", "back_c"), [(0.0, 1.0, 2.0), (45.0, 44.0, 43.0)], ids=["cold", "hot"])
def test_charge_permit_has_hysteresis_in_temperature(tern, away_c, between_c, back_c):
    """A cell at its limit does not let the permit chatter: it comes back 2 K away from it."""
    m, bank = at(tern, 50.0)
    seen = []
    for cells_c in (20.0, away_c, between_c, back_c):
        m = monitor_step(tern.monitor, m, bank._replace(core_c=cells_c, edge_c=cells_c), 0.02)
        seen.append(m.charge_permit)
    assert seen == [1, 0, 0, 1]


def test_discharge_permit_has_hysteresis(tern):
    monitor, bank = at(tern)
    seen = []
    for volts in (2.95, 2.71, 2.69, 2.95, 3.01):
        monitor = monitor_step(tern.monitor, monitor, bank._replace(cell_min_v=volts), 0.02)
        seen.append(monitor.discharge_permit)
    assert seen == [1, 1, 0, 0, 1]


def test_flag_is_late_by_its_delay_then_warns_then_opens(tern):
    """flag_delay_s 1 s, warning_s 2 s: a late flag is that setting."""
    monitor, bank = at(tern)
    bank = bank._replace(cell_max_v=3.75)
    t = 0.0
    first = {}
    while t < 8.0:
        monitor = monitor_step(tern.monitor, monitor, bank, 0.02)
        t += 0.02
        for name, hit in (
            ("flag", monitor.flags == FLAG_CELL_OVER_VOLTAGE),
            ("warning", monitor.warning == 1),
            ("open", monitor.contactor_order == 0),
        ):
            if hit and name not in first:
                first[name] = t
    assert first["flag"] == pytest.approx(1.0, abs=0.03)
    assert first["warning"] == pytest.approx(1.0, abs=0.03)
    assert first["open"] == pytest.approx(3.0, abs=0.06)
    assert (monitor.charge_permit, monitor.discharge_permit, monitor.charge_limit_a) == (0, 0, 0.0)


def test_over_current_flag(tern):
    monitor, bank = at(tern)
    for _ in range(120):
        monitor = monitor_step(tern.monitor, monitor, bank._replace(current_a=-760.0), 0.02)
    # 520 A x 1.25 = 650 A
    assert monitor.flags == FLAG_OVER_CURRENT_DISCHARGE


@pytest.mark.parametrize(
    ("fields", "flag"),
    [
        ({"cell_max_v": 3.71}, 1),
        ({"cell_min_v": 2.49}, 2),
        ({"core_c": 61.0}, 4),
        ({"edge_c": -21.0}, 8),
        ({"current_a": 380.0}, 16),
    ],
)
def test_every_condition_has_its_flag(tern, fields, flag):
    monitor, bank = at(tern)
    for _ in range(60):
        monitor = monitor_step(tern.monitor, monitor, bank._replace(**fields), 0.02)
    assert monitor.flags == flag


def test_no_charging_beyond_a_configured_soc(tern):
    p = tern.monitor._replace(charge_off_soc_pct=95.0, charge_on_soc_pct=90.0)
    assert charge_limit(p, 95.0, 3.3, 20.0, 20.0) == 0.0
    assert charge_limit(p, 94.5, 3.3, 20.0, 20.0) > 0.0


def test_count_stays_between_empty_and_full(tern):
    monitor, bank = at(tern, 0.1)
    for _ in range(100):
        monitor = monitor_step(tern.monitor, monitor, bank._replace(current_a=-300.0), 1.0)
    assert monitor.soc_pct == 0.0
    monitor, bank = at(tern, 99.9)
    for _ in range(100):
        monitor = monitor_step(tern.monitor, monitor, bank._replace(current_a=290.0, cell_max_v=3.4), 1.0)
    assert monitor.soc_pct == 100.0


def test_a_passing_condition_leaves_no_flag(tern):
    monitor, bank = at(tern)
    for k in range(300):
        over = bank._replace(cell_max_v=3.75 if k % 40 < 30 else 3.4)
        monitor = monitor_step(tern.monitor, monitor, over, 0.02)
        assert monitor.flags == 0


def test_injected_fault_opens_the_contactor_and_resets_by_the_isolator(tern, order):
    state = initial_state(tern)
    fault = order(tern, {"monitor_fault": FLAG_INTERNAL})
    state = step(tern, state, fault, 0.02)
    assert (state.monitor.flags, state.monitor.warning, state.bank.contactor_closed) == (FLAG_INTERNAL, 1, 1)
    state = run(tern, state, fault, 5.2)
    assert (state.bank.contactor_closed, state.monitor.tripped) == (0, 1)
    # fault gone: still open until the crew cycles the isolator
    state = run(tern, state, order(tern), 2.0)
    assert state.bank.contactor_closed == 0
    state = run(tern, state, order(tern, {"contactor_switch": 0}), 0.1)
    state = run(tern, state, order(tern), 0.3)
    assert state.bank.contactor_closed == 0, "it closes only after its delay"
    state = run(tern, state, order(tern), 0.5)
    assert state.bank.contactor_closed == 1


def test_isolator_opens_at_once(tern, order):
    state = step(tern, initial_state(tern), order(tern, {"contactor_switch": 0}), 0.02)
    assert state.bank.contactor_closed == 0
    assert state.bank.current_a == 0.0
