"""What a shaft is ordered, called directly, every number worked out by hand: source, driving, braking, unloading.

The test shaft: 110 N m, 10 kW, charging 90 N m and 6 kW at 250 A, efficiency 0.93 (motoring 0.8), 250 N m/s, 0.5 s of
reversal dwell, engine 2.5 : 1 with headroom 0.8, propeller 205 and harvest 90 N m at 1000 rpm, charging rise 4 A/s and
fall 40 A/s, 1300 rpm at most, sag at 60 rpm.
"""

import math

import pytest
from boatyard.boats import frozen
from boatyard.states import FlatShaft, flat
from levels import ALL_SHAFT, hidden

from supervisor.config.limits import ShaftLimits
from supervisor.rules import torque
from supervisor.rules.bank import BankView
from supervisor.rules.torque import Ask, Shares
from supervisor.signals import ShaftInputs

BOAT = frozen(shafts=1)
BOAT_LIM, LIM = BOAT.limits, BOAT.shafts[0]
REST = FlatShaft()
VIEW = BankView(240.0, 600.0, 1, 1, 1, 1, 1, 50.0, 100.0, 0.0, 0.0, 0.0, 240.0, 600.0, 0, 0, 0, 240.0, 0.0)
"""A healthy bank at 50 V, no derate."""
RAD_S = math.pi / 30.0
PROPEL, GENERATE, HARVEST, UNLOAD, ISOLATED = 1, 2, 3, 4, 5
SLOW, SAGGING, SOURCE = 1 << 7, 1 << 8, 1 << 9
KNOWN = ShaftInputs(known=ALL_SHAFT, motor_c=20.0, inverter_c=20.0, coolant_c=20.0)
TICK_S = 0.02


def turning(rpm: float, engine_rpm: float = 0.0, **numbers: float) -> ShaftInputs:
    return KNOWN._replace(machine_speed_rpm=rpm, propeller_speed_rpm=rpm, engine_speed_rpm=engine_rpm, **numbers)


def near(value: float) -> object:
    return pytest.approx(value, rel=1e-9, abs=1e-12)


def order(
    state: FlatShaft, inputs: ShaftInputs, asked: Ask, charge: float = 1.0, brake: float = 1.0,
    motor: float = 1.0, view: BankView = VIEW, dt_s: float = TICK_S, lim: ShaftLimits = LIM,
) -> FlatShaft:  # fmt: skip
    return flat(torque.order)(lim, state, inputs, view, asked, Shares(charge, brake, motor), dt_s)


class TestOrderInGeneral:
    @pytest.mark.sr("SR-02")
    @pytest.mark.parametrize("mode", [0, ISOLATED])
    def test_rest_and_isolated_are_zero_at_once(self, mode: int) -> None:
        state = REST._replace(
            mode=mode, torque_nm=80.0, charge_a=30.0, latches=SAGGING | 1, sag_ref_rpm=900.0, zero_s=0.0
        )
        got = order(state, turning(600.0), Ask(80.0, 90.0, 90.0, 90.0, 90.0, 1.0))
        assert (got.torque_nm, got.charge_a, got.latches, got.sag_ref_rpm) == (0.0, 0.0, 1, 0.0)

    @pytest.mark.sr("SR-30")
    @pytest.mark.parametrize("mode", [PROPEL, GENERATE, HARVEST, UNLOAD])
    def test_an_unknown_speed_is_zero_at_once(self, mode: int) -> None:
        state = REST._replace(mode=mode, torque_nm=-40.0, charge_a=30.0, latches=SAGGING | 2)
        for blind in hidden(turning(600.0, 1500.0), "machine_speed_rpm"):
            got = order(state, blind, Ask(80.0, 90.0, 90.0, 90.0, 90.0, 1.0))
            assert (got.torque_nm, got.charge_a, got.latches) == (0.0, 0.0, 2)
            got = order(state._replace(torque_nm=0.0, charge_a=0.0), blind, Ask(80.0, 90.0, 90.0, 90.0, 90.0, 1.0))
            assert (got.torque_nm, got.charge_a) == (0.0, 0.0), "nor does it begin"

    def test_the_sign_that_is_remembered(self) -> None:
        for was, target, sign in ((10.0, 10.0, 1), (-10.0, -10.0, -1)):
            state = REST._replace(mode=PROPEL, torque_nm=was, last_sign=sign, zero_s=3.0)
            got = order(state, turning(0.0), Ask(target, 0.0, 0.0, 0.0, 100.0, 1.0))
            assert (got.torque_nm, got.last_sign) == (was, sign)
        for sign in (1, -1, 0):
            got = order(
                REST._replace(mode=PROPEL, last_sign=sign, zero_s=3.0), turning(0.0), Ask(0.0, 0.0, 0.0, 0.0, 9.0, 1.0)
            )
            assert (got.torque_nm, got.last_sign, got.zero_s) == (0.0, sign, 3.0), "the dwell at zero is the timers'"
            assert math.copysign(1.0, got.torque_nm) == 1.0

    def test_what_is_only_carried(self) -> None:
        state = FlatShaft(PROPEL, 0, *(float(n) for n in range(10, 19)), 0.0, 0, *(float(n) for n in range(20, 28)))
        got = order(state, turning(0.0), Ask(0.0, 0.0, 0.0, 0.0, 0.0, 1.0))
        assert got == state._replace(charge_a=0.0, sag_ref_rpm=0.0, torque_nm=0.0)


class TestSource:
    """At 600 rpm 10 A of 50 V is 500 W: 500 / (0.93 x 62.83) = 8.557 N m."""

    NM_PER_A = 50.0 / (0.93 * 600.0 * RAD_S)

    def source(self, charge_a: float, limit_a: float, rpm: float = 600.0, **changes: float | int) -> FlatShaft:
        sign = math.copysign(1.0, rpm)
        state = REST._replace(
            mode=GENERATE, charge_a=charge_a, torque_nm=-sign * charge_a * self.NM_PER_A, steady_s=0.0
        )
        return order(state._replace(**changes), turning(rpm, 1500.0), Ask(0.0, 0.0, limit_a, limit_a, 0.0, 1.0))

    @pytest.mark.sr("SR-23")
    @pytest.mark.parametrize("rpm", [600.0, -600.0])
    @pytest.mark.parametrize("mode", [GENERATE, HARVEST])
    def test_it_rises_softly_and_falls_at_once(self, rpm: float, mode: int) -> None:
        sign = math.copysign(1.0, rpm)
        steps = [
            (10.0, 100.0, 10.0744),
            (10.0, 10.01, 10.01),
            (10.0, 10.0, 10.0),
            (10.0, 4.0, 4.0),
            (0.0, 50.0, 0.0744),
        ]
        for was_a, limit_a, now_a in [*steps, (10.0, 0.0, 0.0)]:
            got = self.source(was_a, limit_a, rpm, mode=mode)
            assert got.charge_a == near(now_a)
            assert got.torque_nm == near(-sign * now_a * self.NM_PER_A)

    @pytest.mark.sr("SR-15")
    def test_its_share(self) -> None:
        state = REST._replace(mode=GENERATE, charge_a=40.0, torque_nm=-40.0 * self.NM_PER_A)
        got = order(state, turning(600.0, 1500.0), Ask(0.0, 0.0, 80.0, 80.0, 0.0, 1.0), charge=0.25)
        assert got.charge_a == near(20.0)

    @pytest.mark.sr("SR-23")
    @pytest.mark.parametrize("mode", [GENERATE, HARVEST])
    @pytest.mark.parametrize(("rpm", "works"), [(99.9, False), (100.0, True), (-99.9, False), (-100.0, True)])
    def test_zero_below_100_rpm(self, rpm: float, works: bool, mode: int) -> None:
        state = REST._replace(mode=mode, charge_a=5.0, torque_nm=-math.copysign(1.0, rpm), latches=SAGGING | 1)
        got = order(state, turning(rpm, 1500.0), Ask(0.0, 0.0, 5.0, 5.0, 0.0, 1.0))
        assert (got.torque_nm != 0.0) == works
        assert (got.charge_a > 0.0) == works
        assert got.latches == 1
        if not works:
            assert got.sag_ref_rpm == 0.0

    @pytest.mark.parametrize("rpm", [600.0, -600.0])
    def test_a_shaft_that_turned_round_starts_anew(self, rpm: float) -> None:
        state = REST._replace(mode=GENERATE, charge_a=20.0, torque_nm=math.copysign(15.0, rpm), latches=SAGGING | 1,
                              sag_ref_rpm=1500.0, steady_s=9.0)  # fmt: skip
        got = order(state, turning(rpm, 1500.0), Ask(0.0, 0.0, 100.0, 100.0, 0.0, 1.0))
        assert (got.torque_nm, got.charge_a, got.latches, got.sag_ref_rpm) == (0.0, 0.0, 1, 0.0)

    def test_never_beyond_its_torque(self) -> None:
        got = self.source(200.0, 200.0, torque_nm=-90.0)
        assert got.torque_nm == -90.0
        assert got.charge_a == near(200.0)

    @pytest.mark.sr("SR-24")
    def test_torque_grows_by_the_slew_only(self) -> None:
        """250 N m/s: 5 N m a tick of 20 ms."""
        got = self.source(50.0, 50.0, torque_nm=-20.0)
        assert got.torque_nm == near(-25.0)
        assert got.charge_a == near(25.0 / self.NM_PER_A)
        state = REST._replace(mode=GENERATE, charge_a=50.0, torque_nm=-20.0)
        late = order(state, turning(600.0, 1500.0), Ask(0.0, 0.0, 50.0, 50.0, 0.0, 1.0), dt_s=5.0)
        assert late.torque_nm == near(-50.0 * self.NM_PER_A)
        late = order(
            state._replace(torque_nm=-5.0), turning(600.0, 1500.0), Ask(0.0, 0.0, 50.0, 50.0, 0.0, 1.0), dt_s=5.0
        )
        assert late.torque_nm == near(-30.0), "a late tick is credited with 0.1 s"

    @pytest.mark.sr("SR-22")
    @pytest.mark.parametrize(("charge_a", "steady_s", "ref", "engine_known", "after"), [
        (0.0, 9.0, 1400.0, True, 1500.0), (0.0, 9.0, 1400.0, False, 0.0), (10.0, 9.0, 1400.0, True, 1400.0),
        (10.0, 2.99, 1400.0, True, 1500.0), (10.0, 3.0, 1400.0, True, 1400.0), (10.0, 2.99, 1400.0, False, 0.0),
        (0.5, 9.0, 1400.0, True, 1400.0), (10.0, 9.0, 1400.0, False, 1400.0),
    ])  # fmt: skip
    def test_the_speed_of_ramp_start(
        self, charge_a: float, steady_s: float, ref: float, engine_known: bool, after: float
    ) -> None:
        state = REST._replace(mode=GENERATE, charge_a=charge_a, steady_s=steady_s, sag_ref_rpm=ref,
                              torque_nm=-charge_a * self.NM_PER_A)  # fmt: skip
        one = turning(600.0, 1500.0)
        if not engine_known:
            one = one._replace(known=ALL_SHAFT & ~(1 << 2))
        assert order(state, one, Ask(0.0, 0.0, 100.0, 100.0, 0.0, 1.0)).sag_ref_rpm == after
        only = one._replace(known=1 << 3 | (1 << 2 if engine_known else 0))
        assert order(state, only, Ask(0.0, 0.0, 100.0, 100.0, 0.0, 1.0)).sag_ref_rpm == after

    @pytest.mark.sr("SR-22")
    @pytest.mark.parametrize(("ref", "mode", "steady_s", "now_a", "sagging"), [
        (1500.0, GENERATE, 9.0, 10.0744, False), (1560.0, GENERATE, 9.0, 10.0744, False),
        (1561.0, GENERATE, 9.0, 10.0, True),
        (1620.0, GENERATE, 9.0, 10.0, True), (1621.0, GENERATE, 9.0, 9.2, True), (1621.0, GENERATE, 3.0, 9.2, True),
        (1621.0, GENERATE, 2.9, 10.0744, False), (1621.0, HARVEST, 9.0, 10.0744, False),
    ])  # fmt: skip
    def test_sag_pauses_and_backs_off(
        self, ref: float, mode: int, steady_s: float, now_a: float, sagging: bool
    ) -> None:
        for latches in (0, SAGGING, SAGGING | 1):
            got = self.source(10.0, 100.0, mode=mode, steady_s=steady_s, sag_ref_rpm=ref, latches=latches)
            assert got.charge_a == near(now_a)
            assert got.latches == (latches & 1) | (SAGGING if sagging else 0)

    def test_backing_off_ends_at_zero(self) -> None:
        """40 A/s: 0.8 A a tick."""
        for was_a, now_a in ((0.5, 0.0), (0.8, 0.0), (1.3, 0.5)):
            got = self.source(was_a, 100.0, steady_s=9.0, sag_ref_rpm=1700.0)
            assert got.charge_a == near(now_a)
        got = self.source(10.0, 3.0, steady_s=9.0, sag_ref_rpm=1700.0)
        assert got.charge_a == near(3.0)
        got = self.source(10.0, 3.0, steady_s=9.0, sag_ref_rpm=1561.0)
        assert got.charge_a == near(3.0), "a pause is no excuse to exceed the limit"


class TestDriving:
    """At 600 rpm 100 A through 0.8 at 50 V is 4000 W: 63.66 N m."""

    ASKED = Ask(100.0, 0.0, 0.0, 0.0, 1000.0, 1.0)

    @pytest.mark.sr("SR-24")
    @pytest.mark.parametrize(("was", "target", "dt_s", "now"), [
        (0.0, 100.0, 0.02, 5.0), (50.0, 100.0, 0.02, 55.0), (98.0, 100.0, 0.02, 100.0), (50.0, 0.0, 0.02, 45.0),
        (3.0, 0.0, 0.02, 0.0), (0.0, 100.0, 5.0, 25.0), (0.0, -100.0, 0.02, -5.0), (-50.0, -100.0, 0.02, -55.0),
        (-50.0, 0.0, 0.02, -45.0), (0.0, 100.0, 0.0, 0.0),
    ])  # fmt: skip
    def test_slew(self, was: float, target: float, dt_s: float, now: float) -> None:
        state = REST._replace(mode=PROPEL, torque_nm=was)
        got = order(state, turning(0.0), self.ASKED._replace(target_nm=target), dt_s=dt_s)
        assert got.torque_nm == near(now)
        assert got.charge_a == 0.0
        if target == 0.0:
            got = order(state._replace(mode=UNLOAD), turning(0.0), self.ASKED._replace(target_nm=0.0), dt_s=dt_s)
            assert got.torque_nm == near(now)

    @pytest.mark.sr("SR-24", "SR-25")
    @pytest.mark.parametrize(("was", "target", "sign", "zero_s", "now"), [
        (20.0, -100.0, 1, 0.0, 15.0), (3.0, -100.0, 1, 0.0, 0.0), (0.0, -100.0, 1, 0.49, 0.0),
        (0.0, -100.0, 1, 0.5, -5.0),
        (0.0, -100.0, -1, 0.0, -5.0), (0.0, -100.0, 0, 0.0, -5.0), (-20.0, 100.0, -1, 9.0, -15.0),
        (-3.0, 100.0, -1, 9.0, 0.0), (0.0, 100.0, -1, 0.49, 0.0), (0.0, 100.0, -1, 0.5, 5.0), (0.0, 100.0, 1, 0.0, 5.0),
        (0.0, 100.0, 0, 0.0, 5.0), (0.5, -100.0, 1, 9.0, 0.0), (0.0, 0.5, -1, 0.2, 0.0), (0.0, -0.5, 1, 0.2, 0.0),
        (0.0, 0.0, 1, 0.2, 0.0), (0.0, 0.5, 1, 0.2, 0.5), (0.0, -0.5, -1, 0.2, -0.5), (0.0, -100.0, 1, 9.0, -5.0),
    ])  # fmt: skip
    def test_reversal_passes_through_zero_with_a_dwell(
        self, was: float, target: float, sign: int, zero_s: float, now: float
    ) -> None:
        state = REST._replace(mode=PROPEL, torque_nm=was, last_sign=sign, zero_s=zero_s)
        assert order(state, turning(0.0), self.ASKED._replace(target_nm=target)).torque_nm == near(now)

    @pytest.mark.sr("SR-14")
    @pytest.mark.parametrize("sign", [1.0, -1.0])
    def test_its_share_of_the_discharge_budget(self, sign: float) -> None:
        state = REST._replace(mode=PROPEL, torque_nm=90.0 * sign)
        for asked_a, share, nm in ((100.0, 1.0, 4000.0 / (600.0 * RAD_S)), (100.0, 0.5, 2000.0 / (600.0 * RAD_S)),
                                   (1000.0, 1.0, 90.0)):  # fmt: skip
            asked = Ask(90.0 * sign, 0.0, 0.0, 0.0, asked_a, 1.0)
            got = order(state, turning(600.0 * sign), asked, motor=share)
            assert got.torque_nm == near(sign * nm)
            assert got.charge_a == 0.0
        slow = order(state, turning(1.0 * sign), Ask(90.0 * sign, 0.0, 0.0, 0.0, 0.1, 1.0))
        assert slow.torque_nm == near(sign * 4.0 / RAD_S)
        crawls = order(state, turning(5.0 * sign), Ask(90.0 * sign, 0.0, 0.0, 0.0, 0.1, 1.0))
        assert crawls.torque_nm == near(sign * 4.0 / (5.0 * RAD_S))
        stands = order(state, turning(0.0), Ask(90.0 * sign, 0.0, 0.0, 0.0, 0.1, 1.0))
        assert stands.torque_nm == near(sign * 90.0), "at standstill power is nothing"

    @pytest.mark.sr("SR-14")
    def test_a_withdrawn_permit_or_an_empty_budget_is_zero_at_once(self) -> None:
        for mode in (PROPEL, UNLOAD):
            for rpm in (0.0, 600.0):
                state = REST._replace(mode=mode, torque_nm=90.0)
                asked = self.ASKED._replace(target_nm=90.0)
                barred = VIEW._replace(discharge_permit=0)
                assert order(state, turning(rpm), asked, view=barred).torque_nm == 0.0
                assert order(state, turning(rpm), asked, motor=0.0).torque_nm == 0.0
                assert order(state, turning(rpm), asked).torque_nm != 0.0

    @pytest.mark.sr("SR-42")
    @pytest.mark.parametrize(
        ("rpm", "nm"), [(1235.0, 110.0), (1267.5, 55.0), (1300.0, 0.0), (1400.0, 0.0), (-1267.5, 55.0)]
    )
    def test_no_thrust_into_the_back_emf(self, rpm: float, nm: float) -> None:
        """From 95 % of 1300 rpm falling to zero."""
        sign = math.copysign(1.0, rpm)
        state = REST._replace(mode=PROPEL, torque_nm=110.0 * sign)
        got = order(state, turning(rpm), Ask(110.0 * sign, 0.0, 0.0, 0.0, 1e6, 1.0))
        assert got.torque_nm == near(sign * nm)


class TestBraking:
    """Against rotation the order is cut to the budget of braking: at 600 rpm 10 A is 8.557 N m."""

    NM_PER_A = 50.0 / (0.93 * 600.0 * RAD_S)

    @pytest.mark.sr("SR-51", "SR-52")
    @pytest.mark.parametrize("sign", [1.0, -1.0])
    @pytest.mark.parametrize(("charge_a", "asked_a", "share", "now_a"), [
        (10.0, 10.03, 1.0, 10.03), (10.0, 8.0, 1.0, 8.0), (10.0, 8.0, 0.5, 4.0), (0.0, 50.0, 1.0, 50.0),
        (0.0, 50.0, 0.25, 12.5), (10.0, 0.0, 1.0, 0.0), (10.0, 8.0, 0.0, 0.0),
    ])  # fmt: skip
    def test_cut(self, sign: float, charge_a: float, asked_a: float, share: float, now_a: float) -> None:
        """At once to the share, with no soft start between."""
        state = REST._replace(mode=PROPEL, torque_nm=-60.0 * sign, last_sign=int(-sign), charge_a=charge_a)
        asked = Ask(-60.0 * sign, 0.0, 5000.0, asked_a, 0.0, 1.0)
        got = order(state, turning(600.0 * sign), asked, charge=0.0, brake=share, motor=0.0)
        assert got.torque_nm == near(-sign * now_a * self.NM_PER_A)
        assert got.charge_a == near(now_a)

    @pytest.mark.sr("SR-15", "SR-20")
    @pytest.mark.parametrize("sign", [1.0, -1.0])
    @pytest.mark.parametrize(("charge_a", "asked_a", "share", "now_a"), [
        (10.0, 100.0, 1.0, 10.0744), (10.0, 10.03, 1.0, 10.03), (10.0, 8.0, 1.0, 8.0), (10.0, 8.0, 0.5, 4.0),
        (0.0, 100.0, 1.0, 0.0744), (10.0, 0.0, 1.0, 0.0),
    ])  # fmt: skip
    def test_a_source_that_unloads_keeps_to_the_charge_budget(
        self, sign: float, charge_a: float, asked_a: float, share: float, now_a: float
    ) -> None:
        state = REST._replace(mode=UNLOAD, latches=SOURCE, torque_nm=-60.0 * sign, charge_a=charge_a)
        got = order(state, turning(600.0 * sign), Ask(0.0, 0.0, asked_a, 5000.0, 0.0, 1.0), charge=share, motor=0.0)
        assert got.torque_nm == near(-sign * now_a * self.NM_PER_A)
        assert got.charge_a == near(now_a)

    def test_less_than_the_budget_is_not_cut(self) -> None:
        state = REST._replace(mode=PROPEL, torque_nm=-8.0, last_sign=-1, charge_a=50.0)
        got = order(state, turning(600.0), Ask(-8.0, 0.0, 100.0, 100.0, 0.0, 1.0))
        assert got.torque_nm == near(-8.0)
        assert got.charge_a == near(8.0 / self.NM_PER_A)

    def test_never_beyond_the_rated_torque(self) -> None:
        state = REST._replace(mode=PROPEL, torque_nm=-500.0, last_sign=-1, charge_a=5000.0)
        got = order(state, turning(600.0), Ask(-500.0, 0.0, 5000.0, 5000.0, 0.0, 1.0))
        assert got.torque_nm == -110.0


class TestUnloading:
    def test_a_source_falls_by_its_current(self) -> None:
        """40 A/s: 0.8 A a tick, 0.8 x 50 / (0.93 x 62.83) N m at 600 rpm."""
        step_nm = 0.8 * 50.0 / (0.93 * 600.0 * RAD_S)
        for sign in (1.0, -1.0):
            for latches in (SOURCE, 0):
                state = REST._replace(mode=UNLOAD, torque_nm=-30.0 * sign, charge_a=100.0, latches=latches)
                got = order(state, turning(600.0 * sign), Ask(0.0, 0.0, 500.0, 500.0, 0.0, 1.0))
                assert got.torque_nm == near(-sign * (30.0 - step_nm))
            late = order(state, turning(600.0 * sign), Ask(0.0, 0.0, 500.0, 500.0, 0.0, 1.0), dt_s=5.0)
            assert late.torque_nm == near(-sign * (30.0 - 5.0 * step_nm))
            drives = REST._replace(mode=PROPEL, torque_nm=-30.0 * sign, charge_a=100.0, last_sign=int(-sign))
            got = order(drives, turning(600.0 * sign), Ask(0.0, 0.0, 500.0, 500.0, 0.0, 1.0))
            assert got.torque_nm == near(-sign * 25.0), "in PROPEL by the slew"

    @pytest.mark.sr("SR-23")
    def test_a_source_never_drives(self) -> None:
        for latches in (SOURCE | SAGGING, SOURCE | 1):
            state = REST._replace(mode=UNLOAD, torque_nm=-30.0, charge_a=100.0, latches=latches)
            for rpm, stays in ((99.9, False), (100.0, True), (-600.0, False), (0.0, False), (600.0, True)):
                got = order(state, turning(rpm), Ask(0.0, 0.0, 500.0, 500.0, 500.0, 1.0))
                assert (got.torque_nm != 0.0) == stays, rpm
                assert (got.charge_a > 0.0) == stays
                assert got.latches == latches & ~SAGGING
        for latches in (0, 1 << 10, 1):
            state = REST._replace(mode=UNLOAD, torque_nm=30.0, latches=latches)
            assert order(state, turning(50.0), Ask(0.0, 0.0, 0.0, 0.0, 500.0, 1.0)).torque_nm == near(25.0)
        state = REST._replace(mode=PROPEL, torque_nm=30.0, latches=SOURCE)
        assert order(state, turning(50.0), Ask(0.0, 0.0, 0.0, 0.0, 500.0, 1.0)).torque_nm == near(25.0)

    def test_a_lost_lever_ramps_slowly(self) -> None:
        for torque_nm in (30.0, -30.0):
            for latches in (SLOW, SLOW | 1):
                state = REST._replace(mode=UNLOAD, torque_nm=torque_nm, latches=latches, ramp_nm_per_s=20.0)
                asked = Ask(0.0, 0.0, 0.0, 0.0, 500.0, 1.0)
                got = order(state, turning(math.copysign(600.0, torque_nm)), asked)
                assert abs(got.torque_nm) == near(29.6)
                got = order(state, turning(math.copysign(600.0, torque_nm)), asked, dt_s=5.0)
                assert abs(got.torque_nm) == near(28.0)
                got = order(state._replace(mode=PROPEL), turning(math.copysign(600.0, torque_nm)), asked)
                assert abs(got.torque_nm) == near(25.0)
            for latches in (0, 1 << 10, 1):
                state = REST._replace(mode=UNLOAD, torque_nm=torque_nm, latches=latches, ramp_nm_per_s=20.0)
                got = order(state, turning(math.copysign(600.0, torque_nm)), asked)
                assert abs(got.torque_nm) == near(25.0)
        braking = REST._replace(mode=UNLOAD, torque_nm=-30.0, latches=SLOW, ramp_nm_per_s=20.0, charge_a=500.0)
        got = order(braking, turning(600.0), Ask(0.0, 0.0, 500.0, 500.0, 0.0, 1.0))
        assert got.torque_nm == near(-29.6)
