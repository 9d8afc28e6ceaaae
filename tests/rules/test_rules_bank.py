"""What the bank allows, called directly: each rule at its limit, alone, and with each of its inputs unknown.

The test bank: 600 Ah, 44.8 to 57.6 V, full charge 240 A, taper 88 to 94 % and 3.45 to 3.55 V, cold 120 A from 0 to
10 degC, hot 40 to 45 degC, end 10 A, restart 91 %; derate 26 to 18 %, floor 15 %, return 21 %, 3.0 to 2.8 V, 2 %/s.
"""

import pytest
from boatyard.boats import frozen
from levels import ALL_BOAT, boat, crowded, hidden

from supervisor.rules import bank as rules
from supervisor.signals import BoatInputs

BOAT = frozen(shafts=1)
LIM = BOAT.limits
NEEDED = {"soc_pct": 60.0, "voltage_v": 52.0, "cell_max_v": 3.3, "cell_hot_c": 20.0, "cell_cold_c": 20.0,
          "charge_limit_a": 300.0, "bank.charge_permit": 1.0}  # fmt: skip


def charging(**changes: float) -> BoatInputs:
    """Exactly what charging needs to know."""
    numbers = {**NEEDED, **changes}
    del numbers["bank.charge_permit"]
    return boat(on=("bank.charge_permit",), **numbers)


def near(value: float) -> object:
    return pytest.approx(value, rel=1e-9, abs=1e-12)


@pytest.mark.sr("SR-15")
class TestKnown:
    @pytest.mark.parametrize(("volts", "believed"), [
        (20.0, True), (19.99, False), (66.0, True), (66.01, False), (40.0, True), (0.0, False), (50.0, True),
        (20.5, True),
    ])  # fmt: skip
    def test_a_voltage_that_a_40_to_60_v_bank_can_have(self, volts: float, believed: bool) -> None:
        lim = LIM._replace(min_voltage_v=40.0, max_voltage_v=60.0)
        for one in crowded(boat(voltage_v=volts)):
            assert rules.voltage_believed(lim, one) == believed
        for one in hidden(boat(voltage_v=volts), "voltage_v"):
            assert not rules.voltage_believed(lim, one)

    @pytest.mark.sr("SR-16")
    def test_all_that_charging_needs(self) -> None:
        for one in crowded(charging()):
            assert rules.charge_inputs_known(LIM, one)
        for name in NEEDED:
            for one in hidden(charging(), name):
                assert not rules.charge_inputs_known(LIM, one), name
        assert not rules.charge_inputs_known(LIM, charging(voltage_v=900.0))
        lim = LIM._replace(react=LIM.react._replace(inhibit_charge=0))
        for name in set(NEEDED) - {"bank.charge_permit"}:
            for one in hidden(charging(), name):
                assert not rules.charge_inputs_known(lim, one), name
        other = LIM._replace(react=LIM.react._replace(inhibit_charge=1 << 20))
        assert not rules.charge_inputs_known(other, charging())
        assert rules.charge_inputs_known(other, charging()._replace(known=ALL_BOAT))


class TestChargeLimit:
    @pytest.mark.sr("SR-16")
    @pytest.mark.parametrize(("changes", "full", "limit_a"), [
        ({}, 0, 240.0), ({"soc_pct": 88.0}, 0, 240.0), ({"soc_pct": 91.0}, 0, 120.0), ({"soc_pct": 94.0}, 0, 0.0),
        ({"soc_pct": 99.0}, 0, 0.0), ({"soc_pct": 99.0}, 1, 240.0), ({"soc_pct": 100.0}, 1, 240.0),
        ({"soc_pct": 100.01}, 1, 0.0), ({"soc_pct": 101.5}, 1, 0.0), ({"soc_pct": 10.0}, 1, 240.0),
        ({"cell_max_v": 3.5}, 0, 120.0), ({"cell_max_v": 3.5}, 1, 120.0), ({"cell_max_v": 3.55}, 0, 0.0),
        ({"cell_hot_c": 42.5}, 0, 120.0), ({"cell_hot_c": 45.0}, 0, 0.0), ({"cell_cold_c": 0.0}, 0, 0.0),
        ({"cell_cold_c": 0.01}, 0, 120.0), ({"cell_cold_c": 0.5}, 0, 120.0), ({"cell_cold_c": 10.0}, 0, 120.0),
        ({"cell_cold_c": 10.01}, 0, 240.0), ({"cell_cold_c": 5.0, "soc_pct": 93.0}, 0, 40.0),
        ({"cell_cold_c": -5.0}, 0, 0.0),
        ({"charge_limit_a": 0.0}, 0, 0.0), ({"charge_limit_a": 0.5}, 0, 0.5), ({"charge_limit_a": 100.0}, 0, 100.0),
        ({"charge_limit_a": 240.5}, 0, 240.0), ({"charge_limit_a": -0.5}, 0, 0.0),
        ({"soc_pct": 91.0, "cell_max_v": 3.525, "cell_hot_c": 41.0}, 0, 60.0),
        ({"soc_pct": 92.5, "cell_max_v": 3.5, "cell_hot_c": 41.0}, 0, 60.0),
        ({"soc_pct": 89.0, "cell_max_v": 3.46, "cell_hot_c": 43.75}, 0, 60.0),
    ])  # fmt: skip
    def test_values(self, changes: dict[str, float], full: int, limit_a: float) -> None:
        for one in crowded(charging(**changes)):
            assert rules.charge_limit_a(LIM, one, full) == near(limit_a)
        for name in NEEDED:
            for one in hidden(charging(**changes), name):
                assert rules.charge_limit_a(LIM, one, full) == 0.0


@pytest.mark.sr("SR-17")
class TestChargeEnded:
    @pytest.mark.parametrize(("changes", "limit_a", "full", "was", "ended"), [
        ({}, 10.0, 0, False, False), ({}, 9.99, 0, False, True), ({}, 9.99, 0, True, True), ({}, 0.0, 0, False, True),
        ({}, 14.99, 0, True, True), ({}, 15.0, 0, True, False), ({}, 240.0, 0, True, False),
        ({}, 14.99, 0, False, False),
        ({"soc_pct": 91.0}, 240.0, 0, True, True), ({"soc_pct": 90.99}, 240.0, 0, True, False),
        ({"soc_pct": 99.0}, 240.0, 1, True, False), ({"soc_pct": 99.0}, 240.0, 1, False, False),
        ({"cell_max_v": 3.45}, 240.0, 0, True, False), ({"cell_max_v": 3.4501}, 240.0, 0, True, True),
        ({"cell_max_v": 3.4501}, 240.0, 1, True, True), ({"cell_max_v": 3.4501}, 240.0, 0, False, False),
        ({"cell_hot_c": 40.0}, 240.0, 0, True, False), ({"cell_hot_c": 40.01}, 240.0, 0, True, True),
        ({"cell_cold_c": 1.0}, 240.0, 0, True, True), ({"cell_cold_c": 1.01}, 240.0, 0, True, False),
        ({"cell_cold_c": 1.0}, 240.0, 0, False, False), ({"cell_cold_c": 0.5}, 240.0, 0, True, True),
    ])  # fmt: skip
    def test_values(self, changes: dict[str, float], limit_a: float, full: int, was: bool, ended: bool) -> None:
        for one in crowded(charging(**changes)):
            assert rules.charge_ended(LIM, one, limit_a, full, was) == ended
        for name in NEEDED:
            for one in hidden(charging(**changes), name):
                assert rules.charge_ended(LIM, one, limit_a, full, was) == was

    def test_the_margin_above_freezing_is_on_top_of_the_limit(self) -> None:
        lim = LIM._replace(cold_zero_c=3.0)
        assert rules.charge_ended(lim, charging(cell_cold_c=4.0), 240.0, 0, True)
        assert not rules.charge_ended(lim, charging(cell_cold_c=4.01), 240.0, 0, True)


@pytest.mark.sr("SR-18")
class TestDerate:
    def level(self, soc: float = 60.0, cell: float = 3.3) -> BoatInputs:
        """Exactly what the derate needs to know: SOC, lowest cell, the monitor's limit and permit."""
        return boat(on=("bank.discharge_permit",), soc_pct=soc, cell_min_v=cell, discharge_limit_a=600.0)

    @pytest.mark.parametrize(("soc", "pct"), [
        (60.0, 100.0), (26.0, 100.0), (22.0, 57.5), (18.0, 15.0), (5.0, 15.0), (20.0, 36.25),
    ])  # fmt: skip
    def test_target(self, soc: float, pct: float) -> None:
        for cell in (3.3, 2.9, 2.5):
            for one in crowded(self.level(soc, cell)):
                assert rules.derate_target_pct(LIM, one) == near(pct)

    @pytest.mark.parametrize(("cell", "was", "pct"), [
        (3.3, 100.0, 100.0), (3.0, 100.0, 100.0), (2.9, 100.0, 98.0), (2.8, 98.0, 96.0), (2.5, 16.0, 15.0),
        (2.9, 58.0, 57.5), (2.9, 57.5, 57.5), (2.9, 47.6, 47.6), (2.9, 47.5, 47.6), (2.9, 15.0, 15.1),
        (3.3, 95.0, 95.1), (3.3, 99.95, 100.0), (2.999, 95.0, 95.0),
    ])  # fmt: skip
    def test_by_the_lowest_cell_quick_to_fall_slow_to_rise(self, cell: float, was: float, pct: float) -> None:
        """100 %/s down, 5 %/s up, in a tick of 0.02 s; up only where it would give 10 % more, or all."""
        for one in crowded(self.level(cell=cell)):
            assert rules.by_cell_pct(LIM, one, was, True, True, 0.02) == near(pct)
            for permitted in (True, False):
                begins = 15.0 + 425.0 * min(0.2, max(0.0, cell - 2.8))
                assert rules.by_cell_pct(LIM, one, was, permitted, False, 0.02) == near(begins)
            without = rules.by_cell_pct(LIM, one, was, False, True, 0.02)
            assert without == near(15.0 if cell < 3.0 else pct), "the sag was quicker: the next try begins at the floor"
        for one in hidden(self.level(cell=cell), "cell_min_v"):
            assert rules.by_cell_pct(LIM, one, 40.0, True, False, 0.02) == 100.0

    @pytest.mark.parametrize(("limit", "was", "a"), [
        (600.0, 600.0, 600.0), (200.0, 600.0, 200.0), (5000.0, 300.0, 300.6), (5000.0, 599.9, 600.0), (0.1, 600.0, 0.1),
        (250.0, 200.0, 200.0), (260.0, 200.0, 200.6), (201.0, 200.0, 200.0), (600.0, 590.0, 590.6),
    ])  # fmt: skip
    def test_what_the_bank_may_give(self, limit: float, was: float, a: float) -> None:
        """At once down, 5 % of 600 A a second up, and only where it gives 60 A more, or all."""
        one = self.level()._replace(discharge_limit_a=limit)
        assert rules.given_current_a(LIM, one, was, True, True, 0.02) == near(a)
        assert rules.given_current_a(LIM, one, was, True, False, 0.02) == near(min(600.0, limit))
        assert rules.given_current_a(LIM, one, was, False, True, 0.02) == 0.0

    @pytest.mark.sr("SR-40")
    def test_an_unknown_input_is_half_at_most(self) -> None:
        for name in ("soc_pct", "cell_min_v", "discharge_limit_a", "bank.discharge_permit"):
            for one in hidden(self.level(), name):
                assert rules.derate_target_pct(LIM, one) == 50.0, name
            if name != "soc_pct":
                for one in hidden(self.level(soc=20.0), name):
                    assert rules.derate_target_pct(LIM, one) == near(36.25), name
            nothing = LIM._replace(unknown_soc_pct=100.0)
            for one in hidden(self.level(), name):
                assert rules.derate_target_pct(nothing, one) == 100.0
        only_soc = LIM._replace(react=LIM.react._replace(derate=0))
        for one in hidden(self.level(), "soc_pct"):
            assert rules.derate_target_pct(only_soc, one) == 50.0
        for one in hidden(self.level(cell=2.5), "cell_min_v"):
            assert rules.derate_target_pct(only_soc, one) == 100.0
        assert rules.derate_target_pct(only_soc, self.level(soc=22.0)) == near(57.5)

    @pytest.mark.sr("SR-19")
    @pytest.mark.parametrize(("soc", "cell", "was", "ended"), [
        (60.0, 3.3, False, False), (18.01, 3.3, False, False), (18.0, 3.3, False, True), (5.0, 3.3, False, True),
        (60.0, 2.8, False, True), (60.0, 2.801, False, False), (60.0, 2.5, False, True), (18.0, 3.3, True, True),
        (21.0, 3.3, True, True), (21.01, 3.3, True, False), (19.0, 3.3, True, True), (60.0, 3.0, True, True),
        (60.0, 3.01, True, False), (60.0, 2.9, True, True), (60.0, 2.8, True, True), (21.0, 3.3, False, False),
    ])  # fmt: skip
    def test_end_and_return(self, soc: float, cell: float, was: bool, ended: bool) -> None:
        level = boat(soc_pct=soc, cell_min_v=cell)
        for one in crowded(level):
            assert rules.derate_ended(LIM, one, self.low_s(one), was) == ended
        for one in hidden(level, "soc_pct"):
            assert rules.derate_ended(LIM, one, 10.0, was) == (cell <= 2.8 or was)
        for one in hidden(level, "cell_min_v"):
            assert rules.derate_ended(LIM, one, 10.0 if soc <= 18.0 else -1.0, was) == (soc <= 18.0 or was)
        if soc <= 18.0 or cell <= 2.8:
            assert rules.derate_ended(LIM, level, 9.98, was) == was, "a dip ends nothing, and brings nothing back"

    def low_s(self, one: BoatInputs) -> float:
        return 10.0 if one.soc_pct <= 18.0 or one.cell_min_v <= 2.8 else -1.0

    @pytest.mark.sr("SR-19")
    def test_how_long_it_has_been_low(self) -> None:
        low, fine = boat(soc_pct=18.0, cell_min_v=3.3), boat(soc_pct=18.01, cell_min_v=2.801)
        sagging = boat(soc_pct=60.0, cell_min_v=2.8)
        for was_s, now_s in ((-1.0, 0.0), (0.0, 0.5), (9.4, 9.9), (9.6, 10.0), (10.0, 10.0)):
            for one in crowded(low):
                assert rules.low_dwell_s(LIM, one, was_s, True, 0.5) == near(now_s)
                assert rules.low_dwell_s(LIM, one, was_s, False, 0.5) == 10.0, "no thrust to spare outside READY"
            for one in crowded(fine):
                for ready in (True, False):
                    assert rules.low_dwell_s(LIM, one, was_s, ready, 0.5) == -1.0
            for one in hidden(low, "soc_pct"):
                assert rules.low_dwell_s(LIM, one, was_s, False, 0.5) == was_s
            for one in (*crowded(sagging), *hidden(sagging, "soc_pct")):
                assert rules.low_dwell_s(LIM, one, was_s, True, 0.5) == near(now_s)
            for one in hidden(sagging, "cell_min_v"):
                assert rules.low_dwell_s(LIM, one, was_s, True, 0.5) == -1.0


class TestFilters:
    @pytest.mark.parametrize(("value", "target", "step", "result"), [
        (10.0, 20.0, 3.0, 13.0), (10.0, 13.0, 3.0, 13.0), (10.0, 12.0, 3.0, 12.0), (10.0, 0.0, 3.0, 7.0),
        (10.0, 7.0, 3.0, 7.0),
        (10.0, 8.0, 3.0, 8.0), (10.0, 10.0, 0.0, 10.0), (-10.0, -20.0, 3.0, -13.0), (-1.0, 5.0, 3.0, 2.0),
        (10.0, 20.0, 0.0, 10.0),
    ])  # fmt: skip
    def test_slewed(self, value: float, target: float, step: float, result: float) -> None:
        assert rules.slewed(value, target, step) == result

    @pytest.mark.parametrize(("smooth", "drives", "settled"), [
        (0.0, 0.0, True), (5.0, 0.0, True), (5.01, 0.0, False), (-5.0, 0.0, True), (-5.01, 0.0, False),
        (90.0, 100.0, True),
        (89.99, 100.0, False), (110.0, 100.0, True), (110.01, 100.0, False), (-90.0, -100.0, True),
        (-89.99, -100.0, False),
        (100.0, -100.0, False),
    ])  # fmt: skip
    def test_settled_within_5_a_and_5_percent(self, smooth: float, drives: float, settled: bool) -> None:
        assert rules.settled(smooth, drives) == settled

    @pytest.mark.parametrize(("was", "seen", "rise_s", "fall_s", "dt_s", "result"), [
        (0.0, 10.0, 0.5, 9.5, 0.5, 5.0), (10.0, 0.0, 0.5, 9.5, 0.5, 9.5), (0.0, 10.0, 0.5, 9.5, 0.0, 0.0),
        (4.0, 4.0, 1.0, 2.0, 0.5, 4.0),
        (-4.0, 4.0, 1.5, 9.0, 0.5, -2.0), (4.0, -4.0, 9.0, 1.5, 0.5, 2.0), (0.0, 10.0, 1.0, 9.0, 3.0, 7.5),
    ])  # fmt: skip
    def test_towards(self, was: float, seen: float, rise_s: float, fall_s: float, dt_s: float, result: float) -> None:
        assert rules.towards(was, seen, rise_s, fall_s, dt_s) == near(result)

    @pytest.mark.sr("SR-15")
    @pytest.mark.parametrize(("was", "drives", "bank_a", "comparable", "known", "hotel", "load"), [
        # seen 30 A: a rise of 20 A. Hotel slowly (1 s), load quickly (0.3 s); 0.1 s of either
        (10.0, 100.0, 70.0, True, True, 10.0 + 20.0 * 0.1 / 1.1, 10.0 + 20.0 * 0.1 / 0.4),
        # seen 10 A: a fall of 20 A. Hotel quickly, load slowly
        (30.0, 100.0, 90.0, True, True, 30.0 - 20.0 * 0.1 / 0.4, 30.0 - 20.0 * 0.1 / 1.1),
        # while the drives' current moves: a rise only for the load, a fall only for the hotel, in 5 s
        (10.0, 100.0, 70.0, False, True, 10.0, 10.0 + 20.0 * 0.1 / 5.1),
        (30.0, 100.0, 90.0, False, True, 30.0 - 20.0 * 0.1 / 5.1, 30.0),
        (30.0, 100.0, 90.0, True, False, 0.0, 30.0), (30.0, 100.0, 90.0, False, False, 0.0, 30.0),
        (0.0, -100.0, -130.0, True, True, 30.0 * 0.1 / 1.1, 30.0 * 0.1 / 0.4),
        (0.0, 100.0, 130.0, True, True, -30.0 * 0.1 / 0.4, -30.0 * 0.1 / 1.1),
    ])  # fmt: skip
    def test_hotel_and_load(
        self, was: float, drives: float, bank_a: float, comparable: bool, known: bool, hotel: float, load: float
    ) -> None:
        level = boat(current_a=bank_a)
        assert rules.hotel_current_a(was, level, drives, comparable, known, 0.1) == pytest.approx(hotel, abs=1e-6)
        assert rules.load_current_a(was, level, drives, comparable, known, 0.1) == pytest.approx(load, abs=1e-6)


def test_the_shapes() -> None:
    assert (rules.falling(10.0, 10.0, 20.0), rules.falling(12.0, 10.0, 20.0), rules.falling(20.0, 10.0, 20.0)) == (
        1.0,
        0.8,
        0.0,
    )
    assert (rules.rising(10.0, 10.0, 20.0), rules.rising(12.0, 10.0, 20.0), rules.rising(20.0, 10.0, 20.0)) == (
        0.0,
        0.2,
        1.0,
    )
    assert rules.falling(3.0, 0.0, 20.0) == 0.85
    assert rules.rising(25.0, 10.0, 20.0) == 1.0
    assert rules.falling(25.0, 10.0, 20.0) == 0.0
    assert rules.rising(17.0, 7.0, 27.0) == 0.5
