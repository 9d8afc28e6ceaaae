"""What the bank allows as a whole, called directly: permits, budgets, the latched ends, the full charge, a low bank.

The test bank: 600 Ah, 44.8 to 57.6 V, full charge 240 A, taper 88 to 94 % and 3.45 to 3.55 V, end 10 A, restart 91 %;
derate 26 to 18 %, floor 15 %, return 21 %, 2 %/s.
"""

import pytest
from boatyard.boats import frozen
from boatyard.states import FlatBoat, flat
from levels import ALL_BOAT

from supervisor.config.limits import BoatLimits
from supervisor.rules import bank as rules
from supervisor.rules.bank import BankView
from supervisor.signals import BoatInputs

LIM = frozen(shafts=1).limits
START = FlatBoat()
READY = 2
ENDED, DERATE_ENDED, FULL_DONE = 32, 64, 128


def near(value: float) -> object:
    return pytest.approx(value, rel=1e-9, abs=1e-12)


CONTACTOR, OPENING, CHARGE, DISCHARGE, FULL, GET_HOME = 1 << 12, 1 << 14, 1 << 10, 1 << 11, 1 << 21, 1 << 20
HEALTHY = BoatInputs(
    known=ALL_BOAT, on=CONTACTOR | CHARGE | DISCHARGE, soc_pct=60.0, voltage_v=52.0, current_a=0.0, cell_max_v=3.3,
    cell_min_v=3.3, cell_hot_c=20.0, cell_cold_c=20.0, charge_limit_a=300.0, discharge_limit_a=500.0,
)  # fmt: skip


def view(
    inputs: BoatInputs = HEALTHY, state: FlatBoat = START, drives_a: float = 0.0, known: bool = True,
    dt_s: float = 0.1, lim: BoatLimits = LIM, braking: bool = False,
) -> BankView:  # fmt: skip
    return flat(rules.bank_view)(lim, state, inputs, drives_a, known, braking, dt_s)


class TestView:
    def test_a_healthy_bank(self) -> None:
        assert view() == BankView(
            240.0,
            500.0,
            1,
            1,
            1,
            1,
            1,
            52.0,
            100.0,
            0.0,
            0.0,
            0.0,
            240.0,
            500.0,
            0,
            0,
            0,
            300.0,
            0.0,
            -1.0,
            0,
            0.0,
            100.0,
            100.0,
            500.0,
        )

    @pytest.mark.sr("SR-13", "SR-14", "SR-34")
    def test_permits(self) -> None:
        """Contactor closed, no warning that it opens, the permit, and a limit above zero: all proven."""
        both = [HEALTHY._replace(on=HEALTHY.on & ~CONTACTOR), HEALTHY._replace(on=HEALTHY.on | OPENING)]
        both += [HEALTHY._replace(known=ALL_BOAT & ~bit) for bit in (CONTACTOR, OPENING)]
        for one in both:
            got = view(one)
            assert (got.charge_permit, got.discharge_permit, got.discharge_limit_a) == (0, 0, 0.0)
            assert (got.source_budget_a, got.motor_budget_a) == (0.0, 0.0)
        for one in (HEALTHY._replace(on=HEALTHY.on & ~CHARGE), HEALTHY._replace(known=ALL_BOAT & ~CHARGE),
                    HEALTHY._replace(known=ALL_BOAT & ~(1 << 7)), HEALTHY._replace(charge_limit_a=0.0),
                    HEALTHY._replace(charge_limit_a=-1.0)):  # fmt: skip
            got = view(one)
            assert (got.charge_permit, got.discharge_permit, got.source_budget_a) == (0, 1, 0.0)
        for one in (HEALTHY._replace(on=HEALTHY.on & ~DISCHARGE), HEALTHY._replace(known=ALL_BOAT & ~DISCHARGE),
                    HEALTHY._replace(known=ALL_BOAT & ~(1 << 8)), HEALTHY._replace(discharge_limit_a=0.0),
                    HEALTHY._replace(discharge_limit_a=-1.0)):  # fmt: skip
            got = view(one)
            assert (got.charge_permit, got.discharge_permit, got.discharge_limit_a, got.motor_budget_a) == (
                1,
                0,
                0.0,
                0.0,
            )
        small = view(HEALTHY._replace(charge_limit_a=0.5, discharge_limit_a=0.5))
        assert (small.charge_permit, small.discharge_permit) == (1, 1)
        assert (small.source_budget_a, small.motor_budget_a) == (0.5, 0.5)
        few = HEALTHY._replace(known=CONTACTOR | OPENING | CHARGE | DISCHARGE | 1 << 7 | 1 << 8)
        assert (view(few).charge_permit, view(few).discharge_permit) == (1, 1)

    @pytest.mark.parametrize(("volts", "known", "used"), [
        (52.0, True, 52.0), (900.0, True, 44.8), (52.0, False, 44.8), (23.0, True, 23.0), (0.0, True, 44.8),
    ])  # fmt: skip
    def test_an_unknown_voltage_counts_as_the_lowest(self, volts: float, known: bool, used: float) -> None:
        one = HEALTHY._replace(voltage_v=volts, known=ALL_BOAT if known else ALL_BOAT & ~2)
        assert view(one).voltage_v == used

    @pytest.mark.sr("SR-15")
    def test_budgets_count_the_hotel_load(self) -> None:
        """Hotel 20 A so far, 20 A seen: charging may be 260 A, and 480 A may be drawn."""
        state = START._replace(hotel_a=20.0, load_a=20.0)
        got = view(HEALTHY._replace(current_a=-20.0), state)
        assert (got.hotel_a, got.load_a) == (20.0, 20.0)
        assert (got.source_budget_a, got.motor_budget_a, got.discharge_limit_a) == (260.0, 480.0, 500.0)
        state = START._replace(hotel_a=-20.0, load_a=-20.0)
        got = view(HEALTHY._replace(current_a=20.0), state)
        assert (got.source_budget_a, got.motor_budget_a) == (220.0, 500.0), "other sources leave less room"
        state = START._replace(hotel_a=-300.0, load_a=0.5)
        got = view(HEALTHY._replace(current_a=300.0), state, dt_s=0.0)
        assert (got.source_budget_a, got.motor_budget_a) == (0.0, 499.5)
        state = START._replace(hotel_a=-240.5)
        assert view(HEALTHY._replace(current_a=240.5), state, dt_s=0.0).source_budget_a == 0.0
        state = START._replace(hotel_a=-239.5, load_a=500.0)
        got = view(HEALTHY._replace(current_a=-500.0), state, dt_s=0.0)
        assert (got.source_budget_a, got.motor_budget_a) == (0.5, 0.0)
        assert (got.discharge_permit, got.discharge_limit_a) == (1, 500.0), (
            "the hotel load takes all: no permit is gone"
        )
        got = view(HEALTHY._replace(current_a=-499.5), state._replace(load_a=499.5), dt_s=0.0)
        assert (got.motor_budget_a, got.discharge_permit, got.discharge_limit_a) == (0.5, 1, 500.0)
        ended = view(HEALTHY._replace(soc_pct=95.0), START._replace(hotel_a=20.0))
        assert ended.source_budget_a == 0.0, "no limit, no charging, hotel load or not"

    def test_the_boats_own_limit_on_discharge(self) -> None:
        for own_a, budget_a in ((600.0, 500.0), (500.0, 500.0), (400.0, 400.0)):
            assert view(lim=LIM._replace(max_discharge_a=own_a)).motor_budget_a == budget_a

    def test_currents(self) -> None:
        """Drives 100 A, bank 70 A: 30 A elsewhere; after 0.1 s of 0.3 s the smoothed current comes a quarter of it."""
        inputs = HEALTHY._replace(current_a=70.0)
        got = view(inputs, START._replace(drives_a=100.0), 100.0)
        assert got.drives_a == near(100.0)
        assert got.hotel_a == near(30.0 * 0.1 / 1.1)
        assert got.load_a == near(30.0 * 0.1 / 0.4)
        got = view(inputs, START._replace(drives_a=60.0), 100.0)
        assert got.drives_a == near(70.0)
        assert got.hotel_a == pytest.approx(0.0, abs=1e-6), "they move: no rise is believed"
        assert got.load_a == near(30.0 * 0.1 / 5.1)
        was = START._replace(drives_a=100.0, hotel_a=12.0, load_a=13.0)
        for blind in (view(inputs, was, 100.0, False), view(inputs._replace(known=ALL_BOAT & ~4), was, 100.0)):
            assert (blind.hotel_a, blind.load_a) == (0.0, 13.0)
        only = view(inputs._replace(known=4), was, 100.0)
        assert only.hotel_a != 0.0
        falls = view(inputs, START._replace(drives_a=140.0), 100.0)
        assert falls.drives_a == near(130.0)

    def test_charge_wanted_and_its_latch(self) -> None:
        for others in (0, FULL_DONE, 1, 512):
            ends = view(HEALTHY._replace(soc_pct=94.0, on=HEALTHY.on | FULL if others & FULL_DONE else HEALTHY.on),
                        START._replace(latches=others))  # fmt: skip
            assert (ends.charge_wanted, ends.latches) == (0, ENDED | others)
        for latches in (ENDED, ENDED | 1):
            stays = view(HEALTHY._replace(soc_pct=92.0), START._replace(latches=latches))
            assert (stays.charge_wanted, stays.latches) == (0, latches)
            again = view(HEALTHY._replace(soc_pct=90.0), START._replace(latches=latches))
            assert (again.charge_wanted, again.latches) == (1, latches & ~ENDED)
        for latches in (0, 1, 512):
            goes_on = view(HEALTHY._replace(soc_pct=92.0), START._replace(latches=latches))
            assert (goes_on.charge_wanted, goes_on.latches) == (1, latches)
        blind = view(HEALTHY._replace(known=ALL_BOAT & ~8))
        assert (blind.charge_wanted, blind.charge_limit_a, blind.latches) == (0, 0.0, 0)

    def test_full_charge(self) -> None:
        """Asked, it lifts the taper on SOC; full when the cell taper leaves less than 10 A of 240 A: from 3.5459 V."""
        asked = HEALTHY._replace(on=HEALTHY.on | FULL, soc_pct=97.0)
        got = view(asked)
        assert (got.full_active, got.full_reached, got.charge_limit_a, got.latches) == (1, 0, 240.0, 0)
        for others in (0, 1, 512):
            done = START._replace(latches=FULL_DONE | others)
            got = view(asked, done)
            assert (got.full_active, got.charge_limit_a) == (0, 0.0)
            assert got.latches & ~ENDED == FULL_DONE | others, "done while the switch stays on"
            for released in (HEALTHY, HEALTHY._replace(known=ALL_BOAT & ~FULL), asked._replace(known=ALL_BOAT & ~FULL)):
                got = view(released._replace(soc_pct=60.0), done)
                assert (got.full_active, got.latches) == (0, others)
            for cell_v, reached in ((3.545, 0), (3.547, 1), (3.56, 1), (3.45, 0)):
                full = asked._replace(cell_max_v=cell_v)
                got = view(full, START._replace(latches=others))
                assert got.full_reached == reached
                assert got.latches & ~ENDED == others | (FULL_DONE if reached else 0)
                unasked = view(HEALTHY._replace(cell_max_v=cell_v), START._replace(latches=others))
                assert unasked.full_reached == 0
                barred = view(full._replace(on=full.on & ~CHARGE), START._replace(latches=others))
                assert (barred.full_reached, barred.latches & FULL_DONE) == (0, 0)
                blind = view(full._replace(known=ALL_BOAT & ~8), START._replace(latches=others))
                assert (blind.full_reached, blind.latches & FULL_DONE) == (0, 0)
                again = view(full, START._replace(latches=others | FULL_DONE))
                assert (again.full_reached, again.latches & FULL_DONE) == (0, FULL_DONE)
        level = LIM._replace(cell_taper_end_v=3.65, cell_taper_start_v=3.45, charge_end_a=240.5)
        at_start = view(asked._replace(cell_max_v=3.45), lim=level)
        assert at_start.full_reached == 1, "from the start of the taper"
        assert view(asked._replace(cell_max_v=3.4499), lim=level).full_reached == 0


@pytest.mark.sr("SR-18", "SR-19")
class TestViewOfALowBank:
    LOW = HEALTHY._replace(soc_pct=18.0)

    @pytest.mark.parametrize(("was_pct", "target_soc", "dt_s", "pct"), [
        (100.0, 22.0, 0.1, 99.8), (57.6, 22.0, 0.1, 57.5), (50.0, 22.0, 0.1, 50.2), (100.0, 22.0, 5.0, 99.8),
        (100.0, 60.0, 0.1, 100.0), (100.0, 22.0, 0.02, 99.96),
    ])  # fmt: skip
    def test_in_ready_the_derate_moves_by_2_percent_a_second(
        self, was_pct: float, target_soc: float, dt_s: float, pct: float
    ) -> None:
        one = HEALTHY._replace(soc_pct=target_soc)
        state = START._replace(derate_pct=was_pct)
        assert view(one, state._replace(mode=READY), dt_s=dt_s).derate_pct == near(pct)
        target = 57.5 if target_soc == 22.0 else 100.0
        for mode in (0, 1, 3):
            assert view(one, state._replace(mode=mode), dt_s=dt_s).derate_pct == near(target)

    def test_the_end(self) -> None:
        for others in (0, 1, 512, DERATE_ENDED):
            got = view(self.LOW, START._replace(latches=others))
            assert (got.derate_pct, got.derate_open, got.derate_start) == (0.0, 0, 0)
            assert got.latches == others | DERATE_ENDED
            dips = view(self.LOW, START._replace(latches=others & 513, mode=READY, derate_pct=15.0, low_s=9.0))
            assert (dips.derate_pct, dips.derate_open, dips.derate_start) == (15.0, 1, 0), "none begins in a dip"
            assert (dips.latches & DERATE_ENDED, dips.low_s) == (0, near(9.1))
            low = START._replace(latches=others, mode=READY, low_s=10.0)
            runs = view(self.LOW, low._replace(derate_pct=15.0))
            assert (runs.derate_pct, runs.derate_open, runs.derate_start) == (near(14.8), 1, 0), "led down"
            last = view(self.LOW, low._replace(derate_pct=0.1))
            assert (last.derate_pct, last.derate_open, last.derate_start) == (0.0, 0, 0)
            some = view(self.LOW, low._replace(derate_pct=0.7))
            assert (some.derate_pct, some.derate_open) == (near(0.5), 1)
        stays = view(HEALTHY._replace(soc_pct=20.0), START._replace(latches=DERATE_ENDED | 1))
        assert (stays.derate_open, stays.derate_start, stays.latches) == (0, 0, DERATE_ENDED | 1)
        back = view(HEALTHY._replace(soc_pct=22.0), START._replace(latches=DERATE_ENDED | 1))
        assert (back.derate_open, back.derate_start, back.latches) == (1, 1, 1)
        never = view(HEALTHY._replace(soc_pct=20.0), START._replace(latches=1 | 512 | ENDED))
        assert (never.derate_open, never.derate_start, never.latches & DERATE_ENDED) == (1, 1, 0)

    def test_get_home(self) -> None:
        home = self.LOW._replace(on=HEALTHY.on | GET_HOME)
        got = view(home)
        assert (got.derate_pct, got.derate_open, got.derate_start, got.latches) == (15.0, 1, 1, DERATE_ENDED)
        got = view(home._replace(known=ALL_BOAT & ~GET_HOME))
        assert (got.derate_pct, got.derate_open, got.derate_start) == (0.0, 0, 0)
        got = view(HEALTHY._replace(on=HEALTHY.on | GET_HOME))
        assert (got.derate_pct, got.derate_open, got.derate_start) == (100.0, 1, 1)


class TestBraking:
    """600 Ah, 300 A into the bank at most; tapers 3.45 to 3.55 V; 120 A up to 10 degC; 30 A for 10 s in the cold."""

    @pytest.mark.sr("SR-51")
    @pytest.mark.parametrize(("changes", "amps"), [
        ({}, 300.0), ({"charge_limit_a": 5000.0}, 300.0), ({"charge_limit_a": 80.0}, 80.0),
        ({"charge_limit_a": 0.5}, 0.5),
        ({"cell_max_v": 3.45}, 300.0), ({"cell_max_v": 3.5}, 150.0), ({"cell_max_v": 3.55}, 0.0),
        ({"cell_max_v": 3.6}, 0.0),
        ({"cell_max_v": 3.5, "charge_limit_a": 40.0}, 40.0),
        ({"cell_cold_c": 10.1}, 300.0), ({"cell_cold_c": 10.0}, 120.0), ({"cell_cold_c": 0.1}, 120.0),
        ({"cell_cold_c": 0.0}, 30.0), ({"cell_cold_c": -20.0}, 30.0),
        ({"cell_cold_c": -1.0, "charge_limit_a": 12.0}, 12.0),
        ({"cell_hot_c": 44.9}, 300.0), ({"cell_hot_c": 45.0}, 30.0), ({"cell_hot_c": 60.0, "cell_max_v": 3.549}, 3.0),
        ({"cell_cold_c": 5.0, "charge_limit_a": 119.0}, 119.0),
    ])  # fmt: skip
    def test_what_the_cells_take(self, changes: dict[str, float], amps: float) -> None:
        assert view(HEALTHY._replace(**changes)).brake_budget_a == near(amps)

    @pytest.mark.sr("SR-52")
    @pytest.mark.parametrize("soc", [18.0, 60.0, 93.9, 94.0, 99.0, 100.0])
    def test_no_soc_takes_of_it(self, soc: float) -> None:
        assert view(HEALTHY._replace(soc_pct=soc)).brake_budget_a == near(300.0)
        assert view(HEALTHY._replace(soc_pct=soc, known=ALL_BOAT & ~1)).brake_budget_a == near(300.0)
        assert view(HEALTHY._replace(soc_pct=soc), START._replace(latches=ENDED)).brake_budget_a == near(300.0)

    @pytest.mark.sr("SR-51")
    @pytest.mark.parametrize("lost", ["cell_max_v", "cell_cold_c", "cell_hot_c"])
    def test_an_unknown_cell_is_a_cold_one(self, lost: str) -> None:
        bit = {"cell_max_v": 1 << 3, "cell_cold_c": 1 << 6, "cell_hot_c": 1 << 5}[lost]
        assert view(HEALTHY._replace(known=ALL_BOAT & ~bit)).brake_budget_a == near(30.0)

    @pytest.mark.sr("SR-13", "SR-51")
    def test_no_permit_no_braking(self) -> None:
        for one in (HEALTHY._replace(on=HEALTHY.on & ~CHARGE), HEALTHY._replace(known=ALL_BOAT & ~CHARGE),
                    HEALTHY._replace(on=HEALTHY.on & ~CONTACTOR), HEALTHY._replace(on=HEALTHY.on | OPENING),
                    HEALTHY._replace(known=ALL_BOAT & ~(1 << 7)), HEALTHY._replace(charge_limit_a=0.0)):  # fmt: skip
            assert view(one).brake_budget_a == 0.0

    @pytest.mark.sr("SR-51")
    def test_other_sources_take_of_it_and_a_hotel_load_adds_nothing(self) -> None:
        fed = HEALTHY._replace(current_a=40.0)
        assert view(fed, START._replace(hotel_a=-40.0)).brake_budget_a == near(260.0)
        assert view(fed._replace(charge_limit_a=30.0), START._replace(hotel_a=-40.0)).brake_budget_a == 0.0
        assert view(HEALTHY._replace(current_a=-40.0), START._replace(hotel_a=40.0)).brake_budget_a == near(300.0)

    @pytest.mark.sr("SR-51")
    def test_while_a_shaft_brakes_it_comes_back_slowly(self) -> None:
        """5 A/s: half an ampere in a tenth of a second, however late the tick."""
        for dt_s, rise_a in ((0.1, 0.5), (0.02, 0.1), (5.0, 0.5)):
            state = START._replace(brake_a=50.0)
            assert view(HEALTHY, state, dt_s=dt_s, braking=True).brake_budget_a == near(50.0 + rise_a)
            assert view(HEALTHY, state, dt_s=dt_s).brake_budget_a == near(300.0)
        assert (
            view(HEALTHY._replace(charge_limit_a=20.0), START._replace(brake_a=50.0), braking=True).brake_budget_a
            == 20.0
        )

    @pytest.mark.sr("SR-51")
    @pytest.mark.parametrize(("was_s", "braking", "dt_s", "now_s", "amps"), [
        (0.0, True, 0.5, 0.5, 30.0), (9.0, True, 0.5, 9.5, 30.0), (9.5, True, 0.5, 20.0, 30.0),
        (20.0, True, 0.5, 19.95, 0.0),
        (20.0, False, 1.0, 19.9, 0.0), (10.05, False, 1.0, 0.0, 0.0), (10.0, False, 0.0, 10.0, 0.0),
        (5.0, False, 1.0, 4.9, 30.0), (0.05, False, 1.0, 0.0, 30.0), (0.0, False, 1.0, 0.0, 30.0),
    ])  # fmt: skip
    def test_the_short_allowance(self, was_s: float, braking: bool, dt_s: float, now_s: float, amps: float) -> None:
        cold = HEALTHY._replace(cell_cold_c=-2.0)
        state = START._replace(brake_a=300.0, brake_spent_s=was_s)
        got = view(cold, state, dt_s=dt_s, braking=braking)
        assert (got.brake_spent_s, got.brake_budget_a) == (near(now_s), near(amps))

    @pytest.mark.sr("SR-51")
    def test_it_is_spent_in_the_cold_only(self) -> None:
        assert view(HEALTHY, START._replace(brake_a=300.0, brake_spent_s=4.0), braking=True).brake_spent_s == near(3.99)

    @pytest.mark.sr("SR-52")
    @pytest.mark.parametrize(("soc", "known", "full"), [
        (98.9, ALL_BOAT, False), (99.0, ALL_BOAT, True), (100.0, ALL_BOAT, True), (100.0, ALL_BOAT & ~1, False),
    ])  # fmt: skip
    def test_full_for_braking(self, soc: float, known: int, full: bool) -> None:
        assert rules.nearly_full(HEALTHY._replace(soc_pct=soc, known=known)) == full
