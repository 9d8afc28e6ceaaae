"""The pure functions at the ends of their domains, called directly: nothing that arrives there divides or raises."""

import math

import pytest
from boatyard.boats import frozen
from boatyard.states import FlatShaft, flat
from hypothesis import given
from hypothesis import strategies as st

from supervisor.rules import bank, initial_memory, shaft_word, state, torque
from supervisor.rules.bank import falling, rising, slewed
from supervisor.rules.own import NO_OWN
from supervisor.rules.readings import Lever
from supervisor.rules.torque import Ask, Shares
from supervisor.signals import BoatInput, BoatInputs, ShaftInput, ShaftInputs

BOAT = frozen(shafts=1)
LIM, SHAFT = BOAT.limits, BOAT.shafts[0]
REST = initial_memory(BOAT)
SHAFT_AT_REST = FlatShaft()
GOOD = BoatInputs(
    known=(1 << 28) - 1,
    on=int(BoatInput.CHARGE_PERMIT | BoatInput.DISCHARGE_PERMIT | BoatInput.CONTACTOR_CLOSED),
    soc_pct=60.0, voltage_v=52.0, cell_max_v=3.3, cell_min_v=3.3, cell_hot_c=20.0, cell_cold_c=20.0,
    charge_limit_a=300.0, discharge_limit_a=600.0,
)  # fmt: skip
VIEW = bank.bank_view(LIM, REST.boat, GOOD, 0.0, True, False, 0.02)
TURNING = ShaftInputs(known=(1 << 25) - 1, machine_speed_rpm=600.0, engine_speed_rpm=1500.0)
FLOATS = st.floats(allow_nan=True, allow_infinity=True)


class TestShapes:
    @pytest.mark.parametrize(
        ("value", "part"),
        [
            (-1e300, 1),
            (9.99, 1),
            (10, 1),
            (10.01, 0.999),
            (15, 0.5),
            (19.99, 0.001),
            (20, 0),
            (1e300, 0),
            (math.nan, 0),
            (math.inf, 0),
            (-math.inf, 1),
        ],
    )
    def test_falling(self, value: float, part: float) -> None:
        assert falling(value, 10.0, 20.0) == pytest.approx(part)

    @pytest.mark.parametrize(
        ("value", "part"),
        [
            (1e300, 1),
            (20, 1),
            (19.99, 0.999),
            (15, 0.5),
            (10.01, 0.001),
            (10, 0),
            (-1e300, 0),
            (math.nan, 0),
            (math.inf, 1),
            (-math.inf, 0),
        ],
    )
    def test_rising(self, value: float, part: float) -> None:
        assert rising(value, 10.0, 20.0) == pytest.approx(part)

    @given(FLOATS)
    def test_both_stay_between_0_and_1(self, value: float) -> None:
        assert 0.0 <= falling(value, 10.0, 20.0) <= 1.0
        assert 0.0 <= rising(value, 10.0, 20.0) <= 1.0

    @given(st.floats(-1e6, 1e6), st.floats(-1e6, 1e6), st.floats(0, 1e3))
    def test_slewed_moves_towards_its_target_by_a_step_at_most(self, value: float, target: float, step: float) -> None:
        got = slewed(value, target, step)
        assert min(value, target) - 1e-6 <= got <= max(value, target) + 1e-6
        assert abs(got - value) <= step + 1e-6


class TestTime:
    @pytest.mark.parametrize(
        ("dt_s", "length_s"),
        [
            (0.02, 0.02),
            (0.0, 0.0),
            (-1.0, 0.0),
            (math.nan, 0.0),
            (60.0, 60.0),
            (61.0, 60.0),
            (math.inf, 60.0),
            (-math.inf, 0.0),
        ],
    )
    def test_tick_length(self, dt_s: float, length_s: float) -> None:
        assert state.tick_length(dt_s) == length_s

    @pytest.mark.sr("SR-24")
    def test_ramps_credit_a_tenth_of_a_second_at_most(self) -> None:
        assert state.ramp_length(0.1) == 0.1
        assert state.ramp_length(0.11) == 0.1

    def test_a_timer_starts_at_its_first_sight_and_stops_growing(self) -> None:
        assert state.count(-1.0, True, 5.0) == 0.0
        assert state.count(0.0, True, 5.0) == 5.0
        assert state.count(5.0, False, 5.0) < 0.0
        assert state.count(1e9, True, 60.0) == 1e9


class TestEngineCurve:
    @pytest.mark.sr("SR-21")
    @pytest.mark.parametrize(
        ("rpm", "nm"),
        [
            (0, 0),
            (399, 0),
            (400, 0),
            (600, 47.5),
            (800, 95),
            (1000, 110),
            (1200, 125),
            (3000, 127),
            (3000.1, 0),
            (9000, 0),
            (-800, 0),
            (math.nan, 0),
        ],
    )
    def test_values(self, rpm: float, nm: float) -> None:
        assert torque.curve_nm(SHAFT, float(rpm)) == pytest.approx(nm)

    def test_a_curve_of_two_equal_points_divides_by_nothing(self) -> None:
        level = SHAFT._replace(curve_rpm=(800.0, 800.0, 900.0), curve_nm=(95.0, 96.0, 97.0))
        assert torque.curve_nm(level, 800.0) == 95.0


class TestNothingDivides:
    def test_a_shaft_that_stands_still_takes_no_charging_torque(self) -> None:
        assert torque.charge_torque_nm(SHAFT, 52.0, 100.0, 0.0) == 0.0
        assert torque.charge_torque_nm(SHAFT, 52.0, 100.0, math.nan) == 0.0

    def test_a_speed_that_is_unknown_opposes_nothing(self) -> None:
        assert not torque.opposes(SHAFT, ShaftInputs(machine_speed_rpm=500.0), -10.0)

    @pytest.mark.parametrize(
        ("budget", "asked", "part"),
        [
            (0, 0, 0),
            (0, 10, 0),
            (-5, 10, 0),
            (10, 0, 1),
            (10, 10, 1),
            (10, 20, 0.5),
            (math.nan, 10, 0),
            (10, math.nan, 1),
        ],
    )
    def test_share(self, budget: float, asked: float, part: float) -> None:
        assert torque.share(float(budget), float(asked)) == part

    @pytest.mark.parametrize("order_pct", [0.0, 5.0, 5.1, 100.0, 100.1, -300.0])
    def test_a_lever_beyond_its_end_is_at_its_end(self, order_pct: float) -> None:
        shaft = SHAFT_AT_REST._replace(order_pct=order_pct)
        got = flat(torque.wanted_nm)(LIM, SHAFT, shaft, TURNING, VIEW, 1.0, 0.0, False)
        assert got == pytest.approx(math.copysign(min(110.0, 110.0 * max(0.0, abs(order_pct) - 5) / 95), order_pct))

    def test_no_derate_left_is_no_torque_even_at_standstill(self) -> None:
        shaft = SHAFT_AT_REST._replace(order_pct=100.0)
        assert flat(torque.wanted_nm)(LIM, SHAFT, shaft, TURNING, VIEW._replace(derate_pct=0.0), 1.0, 0.0, False) == 0.0
        assert flat(torque.wanted_nm)(LIM, SHAFT, shaft, TURNING, VIEW, 0.0, 0.0, False) == 0.0


class TestSecondDoors:
    """What an earlier rule already sees to is seen to again where the order is made."""

    @pytest.mark.sr("SR-20")
    def test_a_share_larger_than_the_soft_start_is_cut_to_it(self) -> None:
        shaft = SHAFT_AT_REST._replace(mode=4, latches=1 << 9, torque_nm=-40.0, charge_a=5.0, last_sign=-1)
        asked = Ask(-40.0, 0.0, 100.0, 100.0, 0.0, 1.0)
        after = flat(torque.order)(SHAFT, shaft, TURNING, VIEW, asked, Shares(1.0, 1.0, 1.0), 0.02)
        assert 0.0 < after.charge_a <= 5.0 + 4.0 * 0.02

    def test_an_order_beyond_the_rating_is_cut_to_it(self) -> None:
        shaft = SHAFT_AT_REST._replace(mode=1, torque_nm=-500.0, charge_a=5000.0, last_sign=-1)
        asked = Ask(-500.0, 0.0, 5000.0, 5000.0, 0.0, 1.0)
        after = flat(torque.order)(SHAFT, shaft, TURNING, VIEW, asked, Shares(1.0, 1.0, 1.0), 0.02)
        assert after.torque_nm == -110.0

    def test_an_engine_speed_gone_while_charging_backs_off(self) -> None:
        shaft = SHAFT_AT_REST._replace(mode=2, charge_a=20.0, sag_ref_rpm=1500.0)
        assert flat(torque.sag)(SHAFT, shaft, ShaftInputs()) == 2
        assert flat(torque.sag)(SHAFT, shaft._replace(charge_a=0.0), ShaftInputs()) == 0

    def test_unloading_that_takes_too_long_is_told(self) -> None:
        """10 s, and the ramp of a lost lever (3 s) on top."""
        for unload_s, overdue in ((13.0, False), (13.1, True)):
            shaft = SHAFT_AT_REST._replace(mode=4, unload_s=unload_s, torque_nm=5.0)
            word = flat(shaft_word.shaft_word)(
                LIM, SHAFT, VIEW, shaft, GOOD, TURNING, Lever(0, 0, 0), NO_OWN, 0, False, False
            )
            assert bool(word >> 37 & 1) == overdue

    def test_an_unknown_soc_may_be_configured_to_derate_nothing(self) -> None:
        blind = GOOD._replace(known=GOOD.known & ~int(BoatInput.SOC), soc_pct=0.0)
        assert bank.derate_target_pct(LIM._replace(unknown_soc_pct=100.0), blind) == 100.0
        assert bank.derate_target_pct(LIM, blind) == 50.0

    def test_torque_of_either_sign_is_followed_by_a_positive_zero(self) -> None:
        """-0.0 in an order would be another bit pattern on the bus."""
        for was_nm in (5.0, -5.0):
            shaft = SHAFT_AT_REST._replace(mode=0, torque_nm=was_nm)
            after = flat(torque.order)(
                SHAFT, shaft, TURNING, VIEW, Ask(0.0, 0.0, 0.0, 0.0, 0.0, 1.0), Shares(1.0, 1.0, 1.0), 0.02
            )
            assert math.copysign(1.0, after.torque_nm) == 1.0


def test_bits_of_unknown_inputs_are_never_believed() -> None:
    """`on` without `known` is no contact."""
    everything = sum(int(bit) for bit in BoatInput)
    view = bank.bank_view(LIM, REST.boat, GOOD._replace(known=0, on=everything), 0.0, True, False, 0.02)
    assert (view.charge_permit, view.discharge_permit, view.source_budget_a, view.motor_budget_a) == (0, 0, 0.0, 0.0)
    assert int(ShaftInput.HARVEST) == 1 << 24
