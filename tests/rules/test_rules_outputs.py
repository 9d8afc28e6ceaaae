"""Permits and alarms, called directly: each by its own cause, alone and at its limit."""

import pytest
from boatyard.boats import frozen
from boatyard.states import FlatBoat, FlatShaft, flat
from levels import ALL_BOAT, ALL_SHAFT, boat, crowded, hidden

from supervisor.config.limits import BoatLimits
from supervisor.modes import given_permits
from supervisor.rules import outputs
from supervisor.rules.bank import BankView
from supervisor.rules.orders import Orders
from supervisor.rules.own import NO_OWN
from supervisor.rules.permits import permit_word
from supervisor.rules.readings import Lever
from supervisor.signals import BoatInputs, ShaftInput, ShaftInputs, alarm_list

BOAT = frozen(shafts=1)
BOAT_LIM, LIM = BOAT.limits, BOAT.shafts[0]
START, REST = FlatBoat(), FlatShaft()
DRIVE, PRECHARGE, START_ENGINE, CLUTCH, LOCK = 1, 2, 4, 8, 16
READY_BIT, LIVE, IN_SERVICE, NEUTRAL, STILL, TORQUE_ZERO, NO_DIVER = (1 << n for n in (5, 6, 17, 27, 30, 36, 38))
LINK, FAILED, OUT = 4, 8, 1 << 11
NEUTRAL_LEVER = Lever(1, 0, 0)
MODES = (0, 1, 2, 3, 4, 5)
STANDS = ShaftInputs(known=ALL_SHAFT)


def permits(
    word: int, state: FlatShaft = REST, inputs: ShaftInputs = STANDS, lever: Lever = NEUTRAL_LEVER, closed: bool = True,
    diver: bool = False,
) -> int:  # fmt: skip
    """STANDS and what is made of it are said to be in gear: no start."""
    return given_permits(flat(permit_word)(LIM, state, inputs, word, lever, NO_OWN, closed, diver))


@pytest.mark.sr("SR-02", "SR-32", "SR-33")
class TestDriveAndPrecharge:
    WORD = READY_BIT | LIVE | IN_SERVICE
    LINKED = REST._replace(latches=LINK)

    def test_with_everything_there(self) -> None:
        for mode in (0, 1, 2, 3, 4):
            for latches in (LINK, LINK | 1 | 1 << 9):
                assert permits(self.WORD, REST._replace(mode=mode, latches=latches)) == DRIVE | PRECHARGE

    def test_with_one_thing_missing(self) -> None:
        assert permits(self.WORD & ~READY_BIT, self.LINKED) == PRECHARGE
        for latches in (0, 1, 1 << 9):
            assert permits(self.WORD, REST._replace(latches=latches)) == PRECHARGE
        assert permits(self.WORD & ~LIVE, self.LINKED) == 0
        assert permits(self.WORD & ~IN_SERVICE, self.LINKED) == 0
        assert permits(self.WORD, self.LINKED, closed=False) == 0
        assert permits(self.WORD, self.LINKED._replace(mode=5)) == 0
        for others in (0, 1 << 9):
            assert permits(self.WORD, self.LINKED._replace(latches=LINK | FAILED | others)) == 0
        assert permits(READY_BIT | LIVE | STILL, self.LINKED) == 0, "another bit is no service"
        for bit in set(range(39)) - {5, 6, 17}:
            assert permits(1 << bit, self.LINKED) == 0, bit


@pytest.mark.sr("SR-37", "SR-50")
class TestEngineStart:
    FREE = ShaftInputs()
    """Nothing known: not said to be in gear."""

    def test_torque_zero(self) -> None:
        for mode in MODES:
            got = permits(TORQUE_ZERO, REST._replace(mode=mode), self.FREE, Lever(0, 0, 0))
            assert got == (START_ENGINE if mode in (0, 5) else 0)
        assert permits(0, inputs=self.FREE) == 0
        assert permits(TORQUE_ZERO, inputs=self.FREE, diver=True) == 0
        for torque_nm in (0.1, -0.1):
            assert permits(TORQUE_ZERO, REST._replace(torque_nm=torque_nm), self.FREE) == 0

    @pytest.mark.parametrize(("known", "on", "report", "free"), [
        (0, 0, 0.0, True), (1 << 13, 1 << 13, 0.0, True), (1 << 13, 0, 0.0, False), (1 << 14, 1 << 14, 0.0, False),
        (1 << 14, 0, 0.0, True), (1 << 11, 0, 0.0, True), (1 << 11, 0, 1.0, False), (1 << 11, 0, -1.0, False),
        (0, 1 << 14, 1.0, True),
    ])  # fmt: skip
    def test_what_says_that_it_is_in_gear(self, known: int, on: int, report: float, free: bool) -> None:
        says = ShaftInputs(known=known, on=on, gear_report=report)
        assert [int(bit) for bit in (ShaftInput.GEAR_REPORT, ShaftInput.GEAR_NEUTRAL, ShaftInput.GEAR_AHEAD)] == [
            1 << 11, 1 << 13, 1 << 14
        ]  # fmt: skip
        assert permits(TORQUE_ZERO, inputs=says) == (START_ENGINE if free else 0)

    def test_a_dead_drive_out_of_service(self) -> None:
        out = REST._replace(latches=OUT)
        for mode in MODES:
            assert permits(0, out._replace(mode=mode), self.FREE) == START_ENGINE
        assert permits(0, REST, self.FREE) == 0
        assert permits(0, out._replace(torque_nm=1.0), self.FREE) == 0
        assert permits(0, out._replace(torque_nm=-1.0), self.FREE) == 0
        assert permits(0, out, self.FREE, diver=True) == 0
        for torque_nm, dead in ((5.5, True), (-5.5, True), (5.51, False), (-5.51, False), (3.0, True)):
            says = ShaftInputs(known=1 << 5, torque_nm=torque_nm)
            assert permits(0, out, says) == (START_ENGINE if dead else 0)
            for known in (0, 1 << 4, 1 << 6):
                assert permits(0, out, says._replace(known=known)) == START_ENGINE

    @pytest.mark.parametrize(
        ("silent_s", "quiet"), [(-1.0, False), (0.0, False), (0.99, False), (1.0, True), (90.0, True)]
    )
    def test_a_silent_drive(self, silent_s: float, quiet: bool) -> None:
        state = REST._replace(silent_s=silent_s)
        assert permits(0, state, self.FREE) == (START_ENGINE if quiet else 0)
        assert permits(0, state._replace(torque_nm=0.1), self.FREE) == 0


@pytest.mark.sr("SR-38")
class TestClutch:
    WORD = NEUTRAL | TORQUE_ZERO | NO_DIVER

    @pytest.mark.parametrize(("machine", "propeller", "ok"), [
        (0.0, 0.0, True), (30.0, 0.0, True), (0.0, 30.0, True), (30.1, 0.0, False), (0.0, 30.1, False),
        (300.0, 290.0, True), (-300.0, 300.0, False), (-300.0, -290.0, True), (15.0, -15.0, True), (16.0, -15.0, False),
    ])  # fmt: skip
    def test_speeds(self, machine: float, propeller: float, ok: bool) -> None:
        both = ShaftInputs(known=1 << 3 | 1 << 4, on=1 << 13, machine_speed_rpm=machine, propeller_speed_rpm=propeller)
        for one in (both, both._replace(known=ALL_SHAFT)):
            assert permits(self.WORD, inputs=one) == START_ENGINE | (CLUTCH if ok else 0)
            for lever in (Lever(0, 0, 0), Lever(0, 1, 0), Lever(0, 0, 1)):
                assert permits(self.WORD, inputs=one, lever=lever) == START_ENGINE
            for bit in (NEUTRAL, TORQUE_ZERO, NO_DIVER):
                assert not permits(self.WORD & ~bit, inputs=one) & CLUTCH
            assert permits(self.WORD, REST._replace(latches=OUT), one._replace(known=one.known & ~(1 << 21))) == (
                START_ENGINE | (CLUTCH if ok else 0)
            )
        for known in (1 << 3, 1 << 4, ALL_SHAFT & ~(1 << 3), ALL_SHAFT & ~(1 << 4), 0):
            assert permits(self.WORD, inputs=both._replace(known=known)) == START_ENGINE


@pytest.mark.sr("SR-39")
class TestLock:
    @pytest.mark.parametrize(("still_s", "ok"), [(-1.0, False), (1.99, False), (2.0, True), (9.0, True)])
    def test_still_for_2_s_and_torque_zero(self, still_s: float, ok: bool) -> None:
        state = REST._replace(still_s=still_s)
        for mode in MODES:
            got = permits(STILL | TORQUE_ZERO, state._replace(mode=mode))
            assert got == (LOCK if ok and mode in (0, 5) else 0)
        assert permits(STILL, state) == 0
        assert permits(TORQUE_ZERO, state) == 0
        assert permits(STILL | TORQUE_ZERO, state._replace(torque_nm=0.1)) == 0


class TestShaftAlarms:
    def alarms(self, inputs: ShaftInputs = STANDS, state: FlatShaft = REST, lever: Lever = NEUTRAL_LEVER) -> int:
        return flat(outputs.shaft_alarms)(BOAT_LIM, LIM, state, inputs, lever)

    @pytest.mark.sr("SR-26")
    def test_by_lever_mode_latch_and_heat(self) -> None:
        assert self.alarms() == 0
        assert self.alarms(lever=Lever(0, 0, 1)) == 1 << 1
        assert self.alarms(lever=Lever(0, 1, 0)) == 0
        for mode in MODES:
            assert self.alarms(state=REST._replace(mode=mode)) == (1 << 19 if mode == 5 else 0)
        for others in (0, 1, 1 << 9):
            assert self.alarms(state=REST._replace(latches=1 << 8 | others)) == 1 << 21
            assert self.alarms(state=REST._replace(latches=others)) == 0
        assert self.alarms(STANDS._replace(motor_c=120.0)) == 0
        assert self.alarms(STANDS._replace(motor_c=120.1)) == 1 << 17
        assert self.alarms(STANDS._replace(motor_c=500.0)) == 1 << 17

    def test_a_lost_input(self) -> None:
        for number in range(25):
            expected = 0 if number in (1, 11) else 1 << 13
            gone = STANDS._replace(known=ALL_SHAFT & ~(1 << number), on=1 << 15)
            if number == 15:
                gone = gone._replace(on=0)
            assert self.alarms(gone) == expected, number
            assert self.alarms(gone, REST._replace(latches=OUT)) == (expected if number != 21 else 0)
            out = gone._replace(on=gone.on | 1 << 21)
            assert self.alarms(out) == (0 if number != 21 else expected), "out of service it may be silent"
        only = STANDS._replace(known=ALL_SHAFT & ~(1 << 1 | 1 << 11), on=1 << 15)
        assert self.alarms(only) == 0

    def test_a_silent_engine_gateway_is_none_with_the_engine_stopped(self) -> None:
        silent = ALL_SHAFT & ~(1 << 2)
        assert self.alarms(STANDS._replace(known=silent)) == 0
        assert self.alarms(STANDS._replace(known=silent, on=1 << 15)) == 1 << 13
        for number in (0, 3):
            assert self.alarms(STANDS._replace(known=silent & ~(1 << number))) == 1 << 13

    def test_what_is_not_fitted_is_not_missed(self) -> None:
        few = LIM._replace(react=LIM.react._replace(mapped=1 << 3 | 1 << 2))
        for known, missing in ((1 << 3 | 1 << 2, False), (ALL_SHAFT, False), (1 << 2, True), (1 << 3, True), (0, True)):
            got = flat(outputs.shaft_alarms)(BOAT_LIM, few, REST, ShaftInputs(known=known), NEUTRAL_LEVER)
            assert got & 1 << 13 == (1 << 13 if missing else 0)

    @pytest.mark.parametrize(
        ("rpm", "told"), [(1300.0, False), (1300.1, True), (-1300.0, False), (-1300.1, True), (5.0, False)]
    )
    def test_overspeed(self, rpm: float, told: bool) -> None:
        one = STANDS._replace(machine_speed_rpm=rpm)
        assert self.alarms(one) == (1 << 18 if told else 0)
        assert self.alarms(one._replace(known=1 << 3, on=0), REST._replace(latches=OUT)) == (1 << 18 if told else 0)
        assert self.alarms(one._replace(known=ALL_SHAFT & ~(1 << 3))) == 1 << 13

    @pytest.mark.parametrize(
        ("seconds", "told"), [(-1.0, False), (1.5, False), (2.0, False), (2.01, True), (30.0, True)]
    )
    def test_contradictions(self, seconds: float, told: bool) -> None:
        assert self.alarms(state=REST._replace(gear_contradicts_s=seconds)) == (1 << 15 if told else 0)
        assert self.alarms(state=REST._replace(engine_contradicts_s=seconds)) == (1 << 16 if told else 0)


@pytest.mark.sr("SR-43")
class TestTimeToLimit:
    """600 Ah, lower limit 18 %."""

    @pytest.mark.parametrize(("soc", "current_a", "seconds"), [
        (28.0, -60.0, 3600.0), (28.0, -30.0, 7200.0), (19.0, -0.5, 43200.0), (18.0, -60.0, 0.0), (10.0, -60.0, 0.0),
        (28.0, 0.0, 1e9), (28.0, 60.0, 1e9), (17.9, -60.0, 0.0), (18.1, -600.0, 3.6), (68.0, -0.5, 2160000.0),
    ])  # fmt: skip
    def test_values(self, soc: float, current_a: float, seconds: float) -> None:
        level = boat(soc_pct=soc, current_a=current_a)
        for one in crowded(level):
            assert outputs.time_to_limit_s(BOAT_LIM, one) == pytest.approx(seconds)
        for name in ("soc_pct", "current_a"):
            for one in hidden(level, name):
                assert outputs.time_to_limit_s(BOAT_LIM, one) == 1e9


GOOD_VIEW = BankView(240.0, 600.0, 1, 1, 1, 1, 1, 52.0, 100.0, 0.0, 0.0, 0.0, 240.0, 600.0, 0, 0, 0, 240.0, 0.0)
GOOD = BoatInputs(known=ALL_BOAT, soc_pct=60.0, current_a=0.0, handset_minutes=120.0)
NO_ORDERS = Orders(0, 0, 0, 0, 0, 0, 0)


class TestBoatAlarms:
    def alarms(
        self, inputs: BoatInputs = GOOD, state: FlatBoat = START, view: BankView = GOOD_VIEW,
        orders: Orders = NO_ORDERS, mode: int = 0, lim: BoatLimits = BOAT_LIM,
    ) -> int:  # fmt: skip
        return flat(outputs.boat_alarms)(lim, state, inputs, view, orders, mode)

    def test_nothing_is_nothing(self) -> None:
        for mode in (0, 1, 2):
            assert self.alarms(mode=mode) == 0
        assert self.alarms(mode=3) == 1 << 20

    @pytest.mark.sr("SR-40", "SR-43")
    @pytest.mark.parametrize(("soc", "told"), [(60.0, False), (26.0, False), (25.99, True), (5.0, True)])
    def test_soc(self, soc: float, told: bool) -> None:
        assert self.alarms(GOOD._replace(soc_pct=soc)) == (1 << 5 if told else 0)
        assert self.alarms(GOOD._replace(known=ALL_BOAT & ~1, soc_pct=soc)) == 1 << 0 | 1 << 13
        assert self.alarms(GOOD._replace(known=1, soc_pct=soc)) == (1 << 5 if told else 0) | 1 << 13

    @pytest.mark.sr("SR-43")
    @pytest.mark.parametrize(("current_a", "told"), [(-671.0, False), (-672.0, False), (-673.0, True)])
    def test_time_to_limit(self, current_a: float, told: bool) -> None:
        """(46 - 18) % of 600 Ah is 168 Ah, gone in 900 s at 672 A."""
        assert self.alarms(GOOD._replace(soc_pct=46.0, current_a=current_a)) == (1 << 4 if told else 0)

    def test_exactly_900_s_is_not_yet_soon(self) -> None:
        """(43 - 18) % of 600 Ah is 150 Ah, gone in 900 s at 600 A."""
        assert self.alarms(GOOD._replace(soc_pct=43.0, current_a=-600.0)) == 0

    @pytest.mark.sr("SR-35")
    def test_by_view_contact_and_timer(self) -> None:
        assert self.alarms(view=GOOD_VIEW._replace(derate_open=0)) == 1 << 6
        assert self.alarms(view=GOOD_VIEW._replace(derate_start=0)) == 0
        assert self.alarms(view=GOOD_VIEW._replace(full_active=1)) == 1 << 11
        assert self.alarms(GOOD._replace(on=1 << 20)) == 1 << 7
        assert self.alarms(GOOD._replace(on=1 << 20, known=ALL_BOAT & ~(1 << 20))) == 1 << 13
        for mode in (0, 1, 2, 3):
            live, tripped = mode == 2, 1 << 20 if mode == 3 else 0
            got = self.alarms(view=GOOD_VIEW._replace(charge_permit=0), mode=mode)
            assert got == tripped | (1 << 8 if live else 0)
            got = self.alarms(view=GOOD_VIEW._replace(discharge_permit=0), mode=mode)
            assert got == tripped | (1 << 9 if live else 0)
        for seconds, told in ((2592000.0, 0), (2592000.1, 1 << 10), (1.0, 0), (9e9, 1 << 10)):
            assert self.alarms(state=START._replace(since_full_s=seconds)) == told
        for seconds, told in ((599.9, 0), (600.0, 1 << 12), (800.0, 1 << 12), (-1.0, 0)):
            assert self.alarms(state=START._replace(idle_s=seconds)) == told
        assert self.alarms(orders=NO_ORDERS._replace(handset_conflict=1)) == 1 << 14
        for others in (0, 1, 512):
            assert self.alarms(orders=NO_ORDERS._replace(latches=256 | others)) == 1 << 2
            assert self.alarms(orders=NO_ORDERS._replace(latches=others)) == 0

    @pytest.mark.sr("SR-52")
    def test_astern_short_is_told_in_ready(self) -> None:
        for mode in (0, 1, 2, 3):
            short = self.alarms(state=START._replace(latches=1 << 11), mode=mode)
            assert short == (1 << 23 if mode == 2 else 0) | (1 << 20 if mode == 3 else 0)

    def test_a_lost_input(self) -> None:
        for number in range(26):
            gone = GOOD._replace(known=ALL_BOAT & ~(1 << number))
            away = number in (9, 24, 25)
            also = 1 if number == 0 else 0
            assert self.alarms(gone) == also | (0 if away else 1 << 13), number
            assert self.alarms(gone, orders=NO_ORDERS._replace(latches=1023 & ~(16 | 256))) == also | (
                0 if away else 1 << 13
            )
            for latches in (16, 1023 & ~256):
                assert self.alarms(gone, orders=NO_ORDERS._replace(latches=latches)) == also | 1 << 13, number
        few = BOAT_LIM._replace(react=BOAT_LIM.react._replace(mapped=3))
        for known, missing in ((3, False), (ALL_BOAT, False), (1, True)):
            got = self.alarms(GOOD._replace(known=known), lim=few)
            assert got & 1 << 13 == (1 << 13 if missing else 0)

    @pytest.mark.parametrize(("minutes", "told"), [(14.99, True), (15.0, False), (120.0, False), (0.0, True)])
    def test_a_low_handset_of_ours(self, minutes: float, told: bool) -> None:
        ours = GOOD._replace(on=1 << 25, handset_minutes=minutes)
        low = 1 << 3 if told else 0
        assert self.alarms(ours) == low
        assert self.alarms(ours._replace(on=1 << 25 | 1 << 24)) == low
        assert self.alarms(ours._replace(on=ALL_BOAT & ~(1 << 25 | 1 << 20))) == 0, "a neighbour's"
        assert self.alarms(ours._replace(known=1 | 1 << 9 | 1 << 24 | 1 << 25)) == low | 1 << 13
        for number in (9, 24, 25):
            assert self.alarms(ours._replace(known=ALL_BOAT & ~(1 << number))) == 0


@pytest.mark.sr("SR-35", "SR-43")
def test_what_sounds() -> None:
    """Lever lost, handset lost, time to limit, derate ended, discharge withdrawn, idle, conflict, isolated, tripped,
    handset low, an own interlock, astern short, a shore cable under way, a shaft stopped, other
    sources stopped, thrust cut, SOC unknown, derate band, heat, slip, jam,
    a hold that failed, a cell that sags."""
    sounded = sum(
        1 << n for n in (1, 2, 4, 6, 9, 12, 14, 19, 20, 3, 22, 23, 24, 25, 26, 27, 28, 32, 33, 0, 5, 17, 34, 35, 37, 39)
    )
    assert sounded == alarm_list.SOUNDED
    assert sum(1 << n for n in (0, 1, 13, 22)) == outputs.FIRST_FRAME_ALARMS
