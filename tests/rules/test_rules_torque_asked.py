"""What a shaft asks, called directly, every number worked out by hand: engine, propeller, lever, budgets.

The test shaft: 110 N m, 10 kW, charging 90 N m and 6 kW at 250 A, efficiency 0.93 (motoring 0.8), 250 N m/s, 0.5 s of
reversal dwell, engine 2.5 : 1 with headroom 0.8, propeller 205 and harvest 90 N m at 1000 rpm, charging rise 4 A/s and
fall 40 A/s, 1300 rpm at most, sag at 60 rpm.
"""

import math
from typing import Any

import pytest
from boatyard.boats import frozen
from boatyard.states import FlatShaft, flat
from levels import ALL_SHAFT, hidden, shaft

from supervisor.modes import ShaftCondition
from supervisor.rules import torque
from supervisor.rules.bank import BankView
from supervisor.rules.torque import Ask
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


class TestSmallOnes:
    def test_one_rpm(self) -> None:
        assert near(RAD_S) == torque.RAD_S_PER_RPM

    @pytest.mark.parametrize(("rpm", "nm", "opposes"), [
        (600.0, -1.0, True), (600.0, 1.0, False), (-600.0, 1.0, True), (-600.0, -1.0, False), (600.0, 0.0, False),
        (-600.0, 0.0, False), (5.0, -1.0, False), (5.01, -1.0, True), (-5.0, 1.0, False), (-5.01, 1.0, True),
        (0.0, -1.0, False), (0.0, 1.0, False), (600.0, -0.5, True), (600.0, 0.5, False), (-600.0, 0.5, True),
        (-600.0, -0.5, False),
    ])  # fmt: skip
    def test_opposes(self, rpm: float, nm: float, opposes: bool) -> None:
        one = shaft(machine_speed_rpm=rpm)
        assert torque.opposes(LIM, one, nm) == opposes
        assert torque.opposes(LIM, turning(rpm), nm) == opposes
        for blind in hidden(one, "machine_speed_rpm"):
            assert not torque.opposes(LIM, blind, nm)
        touchy = LIM._replace(still_rpm=-1.0)
        assert not torque.opposes(touchy, shaft(machine_speed_rpm=0.0), nm), "what stands is opposed by nothing"
        crawling = LIM._replace(still_rpm=0.1)
        assert torque.opposes(crawling, shaft(machine_speed_rpm=math.copysign(0.5, rpm)), nm) == (
            nm != 0.0 and (nm > 0.0) != (math.copysign(1.0, rpm) > 0.0)
        )

    def test_current_and_torque(self) -> None:
        assert torque.charge_torque_nm(LIM, 50.0, 100.0, 60.0) == near(5000.0 / (0.93 * 60.0))
        assert torque.charge_current_a(LIM, 50.0, 30.0, 60.0) == near(30.0 * 60.0 * 0.93 / 50.0)
        for omega in (0.5, 1.0):
            assert torque.charge_torque_nm(LIM, 50.0, 1.0, omega) == near(50.0 / (0.93 * omega))
        for omega in (0.0, -1.0):
            assert torque.charge_torque_nm(LIM, 50.0, 1.0, omega) == 0.0

    @pytest.mark.sr("SR-20")
    @pytest.mark.parametrize(("dt_s", "step_a"), [(0.02, 0.0744), (0.1, 0.372), (5.0, 0.372), (0.0, 0.0)])
    def test_soft_start(self, dt_s: float, step_a: float) -> None:
        assert torque.soft_start_a(LIM, dt_s) == near(step_a)

    @pytest.mark.parametrize(("volts", "factor", "amps"), [
        (50.0, 1.0, 120.0), (50.0, 0.5, 60.0), (24.0, 1.0, 250.0), (20.0, 1.0, 250.0), (50.0, 0.0, 0.0),
        (25.0, 1.0, 240.0),
    ])  # fmt: skip
    def test_ceiling(self, volts: float, factor: float, amps: float) -> None:
        assert torque.charge_ceiling_a(LIM, volts, factor) == near(amps)

    @pytest.mark.sr("SR-21")
    @pytest.mark.parametrize(("engine_rpm", "propeller_rpm", "nm"), [
        (2000.0, 0.0, 0.8 * 145.0 * 2.5), (2000.0, 800.0, 0.8 * (362.5 - 131.2)),
        (800.0, 320.0, 0.8 * (237.5 - 20.992)),
        (600.0, 0.0, 0.8 * 47.5 * 2.5), (0.0, 0.0, 0.0), (2000.0, 1400.0, 0.0), (2000.0, 1330.0, 0.0),
        (2000.0, -800.0, 0.8 * (362.5 - 131.2)),
        (3000.0, 1244.0, 0.8 * (317.5 - 0.000205 * 1244.0 * 1244.0)),
    ])  # fmt: skip
    def test_spare_engine_torque(self, engine_rpm: float, propeller_rpm: float, nm: float) -> None:
        one = shaft(engine_speed_rpm=engine_rpm, propeller_speed_rpm=propeller_rpm)
        assert torque.spare_engine_nm(LIM, one) == near(nm)
        assert torque.spare_engine_nm(LIM, one._replace(known=ALL_SHAFT)) == near(nm)
        for name in ("engine_speed_rpm", "propeller_speed_rpm"):
            for blind in hidden(one, name):
                assert torque.spare_engine_nm(LIM, blind) == 0.0

    @pytest.mark.sr("SR-21")
    @pytest.mark.parametrize(("rpm", "nm"), [
        (799.0, 94.7625), (400.0, 0.0), (500.0, 23.75), (799.9, 94.97625), (800.0, 95.0), (1100.0, 117.5),
        (1200.0, 125.0),
        (1400.0, 132.5), (1600.0, 140.0), (1800.0, 142.5), (2000.0, 145.0), (2500.0, 136.0), (3000.0, 127.0),
        (3001.0, 0.0),
    ])  # fmt: skip
    def test_curve(self, rpm: float, nm: float) -> None:
        assert torque.curve_nm(LIM, rpm) == near(nm)

    def test_a_curve_with_two_points_at_one_speed(self) -> None:
        steep = LIM._replace(curve_rpm=(800.0, 1000.0, 1000.0, 2000.0), curve_nm=(100.0, 110.0, 150.0, 160.0))
        assert torque.curve_nm(steep, 1000.0) == 110.0
        assert torque.curve_nm(steep, 1500.0) == near(155.0)
        two = LIM._replace(curve_rpm=(800.0, 1000.0), curve_nm=(100.0, 110.0))
        assert torque.curve_nm(two, 1000.0) == 110.0
        assert torque.curve_nm(two, 1000.1) == 0.0

    @pytest.mark.sr("SR-22")
    @pytest.mark.parametrize(("charge_a", "ref", "rpm", "level"), [
        (20.0, 1500.0, 1500.0, 0), (20.0, 1500.0, 1440.0, 0), (20.0, 1500.0, 1439.9, 1), (20.0, 1500.0, 1380.0, 1),
        (20.0, 1500.0, 1379.9, 2), (20.0, 1500.0, 0.0, 2), (0.0, 1500.0, 0.0, 2), (20.0, 0.0, 0.0, 2),
        (0.0, 1500.0, 740.0, 0), (0.0, 1500.0, 739.9, 2),
        (0.5, 1500.0, 0.0, 2), (20.0, 0.0, 800.0, 0), (20.0, 0.0, 770.0, 0), (20.0, 0.0, 769.9, 1), (20.0, 0.0, 740.0,
        1),
        (20.0, 0.0, 739.9, 2), (20.0, 800.0, 739.9, 2), (20.0, 800.0, 740.0, 0), (20.0, 800.0, 760.0, 0),
        (20.0, 0.5, 0.0, 2), (20.0, 1500.0, 1600.0, 0), (-1.0, 1500.0, 0.0, 2), (-1.0, 1500.0, 740.0, 0),
        (20.0, -1.0, -200.0, 2),
        (20.0, 1.0, -200.0, 2),
    ])  # fmt: skip
    def test_sag(self, charge_a: float, ref: float, rpm: float, level: int) -> None:
        state = REST._replace(charge_a=charge_a, sag_ref_rpm=ref, steady_s=3.0)
        one = shaft(engine_speed_rpm=rpm)
        assert flat(torque.sag)(LIM, state, one) == level
        assert flat(torque.sag)(LIM, state, one._replace(known=ALL_SHAFT)) == level
        for blind in hidden(one, "engine_speed_rpm"):
            assert flat(torque.sag)(LIM, state, blind) == (2 if charge_a > 0.0 else 0)


@pytest.mark.sr("SR-18", "SR-28", "SR-50")
class TestWanted:
    """Neutral band 5 %: 52.5 % is half of the way."""

    @pytest.mark.sr("SR-22")
    @pytest.mark.parametrize(("rpm", "level"), [(800.0, 0), (770.0, 0), (769.9, 1), (740.0, 1), (739.9, 2), (0.0, 2)])
    def test_sag_below_idle_speed_whatever_the_lever_does(self, rpm: float, level: int) -> None:
        """Idle at 800 rpm, sag_rpm 60: the speed of ramp start says nothing while the lever has just moved."""
        for ref in (0.0, 800.0, 1500.0):
            state = REST._replace(charge_a=20.0, sag_ref_rpm=ref, steady_s=2.98)
            assert flat(torque.sag)(LIM, state, shaft(engine_speed_rpm=rpm)) == level

    @pytest.mark.parametrize(("order", "derate", "temp", "omega", "handset", "nm"), [
        (52.5, 100.0, 1.0, 0.0, False, 55.0), (-52.5, 100.0, 1.0, 0.0, False, -55.0),
        (100.0, 100.0, 1.0, 0.0, False, 110.0),
        (250.0, 100.0, 1.0, 0.0, False, 110.0), (250.0, 100.0, 1.0, 10.0, True, 55.0),
        (99.5, 100.0, 1.0, 0.0, False, 110.0 * 94.5 / 95.0), (100.0, 100.0, 1.0, 100.0, False, 100.0),
        (100.0, 50.0, 1.0, 100.0, False, 50.0),
        (100.0, 100.0, 0.5, 10.0, False, 55.0), (100.0, 100.0, 0.5, 100.0, False, 50.0),
        (100.0, 50.0, 0.5, 100.0, False, 25.0),
        (100.0, 100.0, 1.0, 10.0, True, 55.0), (100.0, 100.0, 1.0, 200.0, True, 25.0),
        (52.5, 100.0, 1.0, 10.0, True, 27.5),
        (100.0, 0.5, 1.0, 100.0, False, 0.5), (100.0, 100.0, 0.5, 0.0, True, 55.0), (5.0, 100.0, 1.0, 10.0, False, 0.0),
        (0.0, 100.0, 1.0, 10.0, False, 0.0), (-5.0, 100.0, 1.0, 10.0, False, 0.0),
        (-100.0, 50.0, 1.0, 100.0, False, -50.0),
        (100.0, 0.0, 1.0, 100.0, False, 0.0), (100.0, 100.0, 0.0, 0.0, False, 0.0),
        (14.5, 100.0, 1.0, 0.0, False, 11.0),
        (100.0, 100.0, 1.0, 90.9, False, 110.0), (100.0, 0.0, 1.0, 0.0, False, 0.0),
        (100.0, 100.0, 0.25, 0.5, False, 27.5),
        (100.0, 80.0, 0.25, 1.0, False, 27.5), (5.5, 100.0, 0.5, 0.0, False, 110.0 * 0.5 / 95.0),
    ])  # fmt: skip
    def test_values(self, order: float, derate: float, temp: float, omega: float, handset: bool, nm: float) -> None:
        state, view = REST._replace(order_pct=order), VIEW._replace(derate_pct=derate)
        assert flat(torque.wanted_nm)(BOAT_LIM, LIM, state, KNOWN, view, temp, omega, handset) == near(nm)


class TestAsk:
    def ask(
        self, state: FlatShaft, inputs: ShaftInputs, view: BankView = VIEW, handset: bool = False, dt_s: float = TICK_S
    ) -> Ask:
        return flat(torque.ask)(BOAT_LIM, LIM, state, inputs, view, handset, dt_s)

    def test_an_unknown_speed_asks_nothing(self) -> None:
        state = REST._replace(mode=PROPEL, order_pct=100.0, torque_nm=50.0)
        for blind in hidden(turning(600.0), "machine_speed_rpm"):
            got = self.ask(state, blind)
            assert got[:4] == (0.0, 0.0, 0.0, 0.0)

    @pytest.mark.parametrize("mode", [0, PROPEL, GENERATE, HARVEST, UNLOAD, ISOLATED])
    def test_only_propel_has_a_target(self, mode: int) -> None:
        state = REST._replace(mode=mode, order_pct=52.5)
        assert self.ask(state, turning(100.0)).target_nm == near(55.0 if mode == PROPEL else 0.0)

    @pytest.mark.sr("SR-28")
    def test_the_handset_halves_it(self) -> None:
        state = REST._replace(mode=PROPEL, order_pct=52.5)
        assert self.ask(state, turning(100.0), handset=True).target_nm == near(27.5)

    def test_temperature(self) -> None:
        got = self.ask(REST, turning(100.0, motor_c=130.0))
        assert got.temp_factor == near(0.5)
        unknown = turning(100.0)._replace(known=ALL_SHAFT & ~(1 << 8))
        assert self.ask(REST, unknown).temp_factor == 0.5
        assert self.ask(REST, unknown._replace(known=ALL_SHAFT & ~(1 << 8 | 1 << 3))).temp_factor == 0.5

    @pytest.mark.sr("SR-21")
    def test_what_an_engine_can_give(self) -> None:
        """800 rpm at the shaft, 2000 rpm at the engine: 0.8 x (362.5 - 131.2) N m is more than 90 N m; 90 N m at
        800 rpm is 140.2 A at 50 V, more than 6 kW gives: 120 A."""
        state = REST._replace(mode=GENERATE, charge_a=200.0)
        assert self.ask(state, turning(800.0, 2000.0))[1:4] == (near(120.0), near(120.0), 0.0)
        state = REST._replace(mode=GENERATE, charge_a=10.0)
        assert self.ask(state, turning(800.0, 2000.0))[1:4] == (near(120.0), near(10.0 + 0.0744), 0.0)
        assert self.ask(state, turning(800.0, 2000.0), dt_s=5.0).charge_a == near(10.372)
        hot = self.ask(state._replace(charge_a=500.0), turning(800.0, 2000.0, motor_c=130.0))
        assert hot.charge_cap_a == near(60.0)
        hot = self.ask(state._replace(charge_a=500.0), turning(200.0, 2000.0, motor_c=130.0))
        assert hot.charge_cap_a == near(45.0 * 200.0 * RAD_S * 0.93 / 50.0)

    @pytest.mark.sr("SR-21")
    def test_what_a_weak_engine_can_give(self) -> None:
        """520 rpm at the engine: 28.5 N m x 2.5, less 205 x 0.208^2 = 8.86912 N m, times 0.8."""
        nm = 0.8 * (71.25 - 8.86912)
        got = self.ask(REST._replace(mode=GENERATE, charge_a=500.0), turning(208.0, 520.0))
        assert got.charge_cap_a == near(nm * 208.0 * RAD_S * 0.93 / 50.0)
        assert got.charge_a == got.charge_cap_a

    def test_what_a_trailing_propeller_can_give(self) -> None:
        """90 N m at 1000 rpm, falling with the square: 22.5 N m at 500 rpm."""
        for rpm in (500.0, -500.0):
            got = self.ask(REST._replace(mode=HARVEST, charge_a=500.0), turning(rpm))
            assert got.charge_cap_a == near(22.5 * 500.0 * RAD_S * 0.93 / 50.0)
        strong = flat(torque.ask)(BOAT_LIM, LIM._replace(harvest_k=1.0), REST._replace(mode=HARVEST, charge_a=500.0),
                            turning(200.0), VIEW, False, TICK_S)  # fmt: skip
        assert strong.charge_cap_a == near(90.0 * 200.0 * RAD_S * 0.93 / 50.0)

    @pytest.mark.parametrize(
        ("rpm", "gives"), [(99.9, False), (100.0, True), (-100.0, True), (-99.9, False), (150.0, True)]
    )
    def test_nothing_below_100_rpm(self, rpm: float, gives: bool) -> None:
        for mode in (GENERATE, HARVEST):
            got = self.ask(REST._replace(mode=mode, charge_a=500.0), turning(rpm, 2000.0))
            assert (got.charge_cap_a > 0.0) == gives
            assert (got.charge_a > 0.0) == gives

    @pytest.mark.parametrize("mode", [0, PROPEL, UNLOAD, ISOLATED])
    def test_no_other_mode_is_a_source(self, mode: int) -> None:
        got = self.ask(REST._replace(mode=mode, charge_a=50.0), turning(500.0, 2000.0))
        assert got.charge_cap_a == got.charge_a == 0.0

    @pytest.mark.parametrize("sign", [1.0, -1.0])
    def test_driving_asks_current(self, sign: float) -> None:
        """55 N m at 600 rpm over 0.8 x 50 V; what still stands counts if it is more."""
        state = REST._replace(mode=PROPEL, order_pct=52.5 * sign)
        amps = 55.0 * 600.0 * RAD_S / 40.0
        assert self.ask(state, turning(600.0 * sign)).motor_a == near(amps)
        more = self.ask(state._replace(torque_nm=80.0 * sign), turning(600.0 * sign))
        assert more.motor_a == near(80.0 * 600.0 * RAD_S / 40.0)
        assert more.charge_a == 0.0
        less = self.ask(state._replace(torque_nm=20.0 * sign), turning(600.0 * sign))
        assert less.motor_a == near(amps)
        lots = self.ask(state._replace(torque_nm=900.0 * sign), turning(1200.0 * sign))
        assert lots.motor_a == 250.0
        for mode in (UNLOAD, GENERATE, HARVEST):
            got = self.ask(REST._replace(mode=mode, torque_nm=20.0 * sign), turning(600.0 * sign))
            assert got.motor_a == near(20.0 * 600.0 * RAD_S / 40.0)

    @pytest.mark.parametrize("sign", [1.0, -1.0])
    def test_an_unloading_source_asks_the_charge_budget(self, sign: float) -> None:
        """30 N m against 600 rpm: 35.06 A, no more than the soft start's next step, no more than 120 A."""
        amps = 30.0 * 600.0 * RAD_S * 0.93 / 50.0
        inputs = turning(600.0 * sign)
        state = REST._replace(mode=UNLOAD, latches=1 << 9, torque_nm=-30.0 * sign, charge_a=100.0)
        got = self.ask(state, inputs)
        assert (got.charge_a, got.brake_a, got.motor_a) == (near(amps), 0.0, 0.0)
        assert self.ask(state._replace(charge_a=10.0), inputs).charge_a == near(10.0744)
        much = self.ask(state._replace(torque_nm=-110.0 * sign, charge_a=500.0), inputs)
        assert much.charge_a == near(120.0)

    @pytest.mark.sr("SR-52")
    @pytest.mark.parametrize("sign", [1.0, -1.0])
    def test_braking_asks_its_own_budget(self, sign: float) -> None:
        """30 N m against 600 rpm: 35.06 A at once, no more than 120 A."""
        amps = 30.0 * 600.0 * RAD_S * 0.93 / 50.0
        inputs = turning(600.0 * sign)
        for mode in (PROPEL, UNLOAD):
            for charge_a in (0.0, 100.0):
                got = self.ask(REST._replace(mode=mode, torque_nm=-30.0 * sign, charge_a=charge_a), inputs)
                assert (got.charge_a, got.brake_a, got.motor_a) == (0.0, near(amps), 0.0)
            much = self.ask(REST._replace(mode=mode, torque_nm=-110.0 * sign), inputs)
            assert much.brake_a == near(120.0)
        wants = REST._replace(mode=PROPEL, order_pct=-52.5 * sign, charge_a=500.0)
        got = self.ask(wants, inputs)
        assert (got.brake_a, got.motor_a) == (near(55.0 * 600.0 * RAD_S * 0.93 / 50.0), 0.0)
        both = self.ask(wants._replace(torque_nm=20.0 * sign), inputs)
        assert both.motor_a == near(20.0 * 600.0 * RAD_S / 40.0), "what drives still, and what will brake"
        assert both.brake_a == near(55.0 * 600.0 * RAD_S * 0.93 / 50.0)
        most = self.ask(wants._replace(torque_nm=-40.0 * sign), inputs)
        assert most.brake_a == near(55.0 * 600.0 * RAD_S * 0.93 / 50.0)
        for mode in (GENERATE, HARVEST):
            source = self.ask(REST._replace(mode=mode, torque_nm=-30.0 * sign, charge_a=100.0), turning(50.0 * sign))
            assert source.charge_a == 0.0, "a source asks what it can give, not what stands"
            assert source.brake_a == 0.0

    @pytest.mark.sr("SR-52")
    @pytest.mark.parametrize("sign", [1.0, -1.0])
    def test_no_derate_of_power_holds_braking_back(self, sign: float) -> None:
        """At 15 % of 10 kW and 800 rpm thrust may have 17.9 N m; braking is asked for as the lever stands."""
        low = VIEW._replace(derate_pct=15.0)
        state = REST._replace(mode=PROPEL, order_pct=-52.5 * sign)
        assert self.ask(state, turning(800.0 * sign), low).target_nm == near(-55.0 * sign)
        assert self.ask(state, turning(-800.0 * sign), low).target_nm == near(-sign * 1500.0 / (800.0 * RAD_S))
        assert self.ask(state, turning(800.0 * sign), VIEW._replace(derate_pct=0.0)).target_nm == 0.0


class TestShares:
    """Braking comes first; sources have what it leaves."""

    @pytest.mark.sr("SR-51")
    @pytest.mark.parametrize(("source_a", "brake_budget_a", "asks", "shares"), [
        (240.0, 300.0, (100.0, 0.0, 0.0), (1.0, 1.0, 1.0)),
        (240.0, 0.0, (120.0, 0.0, 0.0), (1.0, 0.0, 1.0)),
        (50.0, 300.0, (100.0, 0.0, 0.0), (0.5, 1.0, 1.0)),
        (240.0, 300.0, (100.0, 100.0, 0.0), (1.0, 1.0, 1.0)),
        (240.0, 120.0, (100.0, 100.0, 0.0), (0.2, 1.0, 1.0)),
        (240.0, 50.0, (100.0, 100.0, 0.0), (0.0, 0.5, 1.0)),
        (240.0, 0.0, (100.0, 100.0, 0.0), (0.0, 0.0, 1.0)),
        (240.0, 300.0, (0.0, 0.0, 1200.0), (1.0, 1.0, 0.5)),
    ])  # fmt: skip
    def test_shares(
        self, source_a: float, brake_budget_a: float, asks: tuple[float, float, float], shares: tuple[float, ...]
    ) -> None:
        view = VIEW._replace(source_budget_a=source_a, brake_budget_a=brake_budget_a)
        assert tuple(torque.shares_of(view, *asks)) == pytest.approx(shares)


class TestAsternShort:
    """Half of 110 N m at 0.7 of the speed: at 600 rpm 43.98 rad/s, 2.419 kW, 44.99 A at 50 V and 0.93."""

    def needed(self, rpm: float = 600.0, missing: int = 0, temp: float = 1.0, **changes: Any) -> float:
        word = sum(int(ShaftCondition[name]) for name in ("IN_SERVICE", "ENGINE_CLEAR", "CLUTCH_CLOSED",
                                                          "LOCK_RELEASED")) & ~missing  # fmt: skip
        return torque.astern_needed_a(LIM, turning(rpm)._replace(**changes), VIEW, word, temp)

    @pytest.mark.sr("SR-52")
    def test_what_is_needed(self) -> None:
        for rpm in (600.0, -600.0):
            assert self.needed(rpm) == near(55.0 * 420.0 * RAD_S * 0.93 / 50.0)
        assert self.needed(7.0) == 0.0, "0.7 x 7 rpm is still"
        assert self.needed(7.2) > 0.0
        assert self.needed(1300.0, temp=0.5) == near(60.0), "no more than the drive's own rating"
        for name in ("IN_SERVICE", "ENGINE_CLEAR", "CLUTCH_CLOSED", "LOCK_RELEASED"):
            assert self.needed(missing=int(ShaftCondition[name])) == 0.0
        for blind in hidden(turning(600.0), "machine_speed_rpm"):
            assert self.needed(known=blind.known) == 0.0

    @pytest.mark.sr("SR-52")
    @pytest.mark.parametrize(("was", "full", "budget", "needed", "short"), [
        (False, False, 45.0, 45.0, False), (False, False, 44.9, 45.0, True), (False, False, 0.0, 0.0, False),
        (True, False, 56.2, 45.0, True), (True, False, 56.25, 45.0, False), (True, False, 0.0, 0.0, False),
        (False, True, 300.0, 45.0, True), (True, True, 300.0, 45.0, True), (True, True, 300.0, 0.0, False),
    ])  # fmt: skip
    def test_short(self, was: bool, full: bool, budget: float, needed: float, short: bool) -> None:
        assert torque.astern_short(was, full, budget, needed) == short

    @pytest.mark.sr("SR-51")
    def test_who_brakes(self) -> None:
        for mode in range(6):
            for latches in (0, 1 << 9):
                for charge_a in (0.0, 0.1):
                    state = REST._replace(mode=mode, latches=latches, charge_a=charge_a)
                    expected = charge_a > 0.0 and (mode == PROPEL or (mode == UNLOAD and latches == 0))
                    assert flat(torque.brakes)(state) == expected, state


@pytest.mark.parametrize(("budget", "asked", "part"), [
    (10.0, 5.0, 1.0), (10.0, 10.0, 1.0), (10.0, 40.0, 0.25), (0.5, 1.0, 0.5), (0.0, 1.0, 0.0), (-1.0, 1.0, 0.0),
    (10.0, 0.0, 1.0), (0.0, 0.0, 0.0), (1.0, 3.0, 1.0 / 3.0),
])  # fmt: skip
def test_share(budget: float, asked: float, part: float) -> None:
    assert torque.share(budget, asked) == near(part)
