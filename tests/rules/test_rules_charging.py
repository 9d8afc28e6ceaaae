"""GENERATE and HARVEST: sign of torque, soft start, headroom of the engine, sag, sharing, hotel load, check values."""

from itertools import pairwise

import pytest
from boatyard.rig import RAD_S_PER_RPM, Kept, Rig
from boatyard.suites import RateSuite
from hypothesis import given
from hypothesis import strategies as st

from supervisor.signals import Alarm

UNDER_WAY = Kept(lambda: Rig().generate(1.0))
GENERATING = Kept(lambda: Rig().generate(40.0))
HARVESTING = Kept(lambda: Rig().harvest(20.0))

SPEEDS = st.one_of(st.floats(-1500, 1500), st.sampled_from([0.0, 99.9, 100.0, -99.9, -100.0, 5.0, -5.0, 4.9, 0.01]))


@pytest.mark.sr("SR-23")
class TestSign:
    """Torque only opposes measured rotation and is zero below 100 rpm: a stalled engine is not turned backwards."""

    @given(first=SPEEDS, then=st.lists(SPEEDS, min_size=1, max_size=6), engine=st.sampled_from([0.0, 350, 700, 2000]))
    def test_in_generate_and_while_unloading(self, first: float, then: list[float], engine: float) -> None:
        self.walk(GENERATING(), first, then, "port.shaft.charge_under_way", engine)

    @given(first=SPEEDS, then=st.lists(SPEEDS, min_size=1, max_size=6))
    def test_in_harvest_and_while_unloading(self, first: float, then: list[float]) -> None:
        self.walk(HARVESTING(), first, then, "port.shaft.harvest", 0.0)

    def walk(self, rig: Rig, first: float, then: list[float], selector: str, engine: float) -> None:
        for number, rpm in enumerate([first, *then]):
            if number == 1:
                rig[selector] = False
            if number == 2 and engine:
                rig["port.engine.engine_speed_rpm"] = engine
                rig["port.engine.running"] = engine > 400
            rig.speed("port", rpm)
            rig.tick()
            torque = rig.torque("port")
            rig.expect_that("torque only opposes rotation", torque * rpm <= 0, "opposing", (rpm, torque), "port")
            if abs(rpm) < 100.0:
                rig.expect_zero("no charging torque below 100 rpm", "port")

    @pytest.mark.parametrize(
        ("rpm", "on"), [(99.99, False), (100.0, True), (100.01, True), (-99.99, False), (-100.0, True)]
    )
    def test_edge_of_100_rpm_in_harvest(self, rpm: float, on: bool) -> None:
        rig = Rig().ready()
        rig.speed("port", rpm)
        rig["port.shaft.harvest"] = True
        rig.run(2.0)
        assert (rig.torque("port") != 0.0) == on, rig.report("zero below 100 rpm", str(on), str(rig.torque()), "port")

    @pytest.mark.parametrize("select_off", [False, True])
    def test_an_engine_that_stalls_is_let_go_in_the_same_tick(self, select_off: bool) -> None:
        rig = GENERATING()
        if select_off:
            rig["port.shaft.charge_under_way"] = False
            rig.tick()
            rig.expect("unloading", "port", "UNLOAD")
        rig.engine("port", 100, "ahead")
        rig.speed("port", 40.0)
        rig.tick()
        rig.expect_zero("an engine is never stalled by its generator", "port")

    def test_speed_unknown_is_no_torque(self) -> None:
        rig = GENERATING()
        rig["port.drive.machine_speed_rpm"] = None
        rig.tick()
        rig.expect_zero("unknown rotation", "port")


@pytest.mark.sr("SR-20")
class TestSoftStartUnderWay(RateSuite):
    """Charging current rises no faster than 4 A/s a shaft."""

    RISE = 4.0

    def start(self) -> None:
        self.rig = Rig().ready()
        for name in self.rig.names:
            self.rig.engine(name, 2000, "ahead")
            self.rig.speed(name, 800)
            self.rig[f"{name}.shaft.charge_under_way"] = True

    def step(self, dt_s: float) -> float:
        self.rig.tick(dt_s)
        return self.rig.current("port")


@pytest.mark.sr("SR-20")
class TestSoftStartAtRest(TestSoftStartUnderWay):
    def start(self) -> None:
        self.rig = Rig().generate_at_rest(0.02)


@pytest.mark.sr("SR-20")
class TestSoftStartInHarvest(TestSoftStartUnderWay):
    def start(self) -> None:
        self.rig = Rig().harvest(0.02, 700.0)


class TestFall:
    """Charging falls at 40 A/s when it is deselected."""

    @pytest.mark.parametrize("rig_back", [(GENERATING, "charge_under_way"), (HARVESTING, "harvest")])
    def test_deselected(self, rig_back: tuple[Kept, str]) -> None:
        kept, selector = rig_back
        rig = kept()
        last = rig.current("port")
        assert last > 15.0
        rig[f"port.shaft.{selector}"] = False
        ticks = 0
        while rig.torque("port") != 0.0:
            rig.tick()
            assert last - rig.current("port") <= 40.0 * 0.02 + 1e-6
            last = rig.current("port")
            ticks += 1
            assert ticks < 400
        rig.tick()
        rig.expect("torque zero, then REST", "port", "REST")


@pytest.mark.sr("SR-21")
class TestHeadroom:
    """Charging torque stays below 0.8 x (engine torque curve at this speed - propeller torque)."""

    @given(engine=st.floats(380, 3100), propeller=st.floats(0, 1300))
    def test_at_every_speed(self, engine: float, propeller: float) -> None:
        rig = UNDER_WAY()
        rig.engine("port", engine, "ahead")
        rig["port.drive.machine_speed_rpm"] = max(150.0, engine / 2.5)
        rig["port.shaft.propeller_speed_rpm"] = propeller
        points = [(400.0, 0.0), (800.0, 95.0), (1200.0, 125.0), (1600.0, 140.0), (2000.0, 145.0), (3000.0, 127.0)]
        curve = 0.0
        for (low, low_nm), (high, high_nm) in pairwise(points):
            if low <= engine <= high:
                curve = low_nm + (high_nm - low_nm) * (engine - low) / (high - low)
        spare = max(0.0, 0.8 * (curve * 2.5 - 205.0 * (propeller / 1000) * (propeller / 1000)))
        for _ in range(30):
            rig.tick(0.1)
            assert abs(rig.torque("port")) <= spare * (1 + 1e-9) + 1e-9

    def test_near_idle_torque_is_limited_not_power(self) -> None:
        """6 kW at 320 rpm would be 179 N m; the drive may charge with 90, the engine spares 0.8 x 217 = 173."""
        rig = Rig().generate_at_rest(120.0, 800.0)
        assert abs(rig.torque("port")) == pytest.approx(90.0)

    def test_an_engine_that_droops_from_idle_sheds_its_load(self) -> None:
        rig = Rig().generate_at_rest(60.0, 800.0)
        seen = []
        for rpm in (799.0, 760.0, 700.0, 600.0, 500.0, 420.0):
            rig.engine("port", rpm, "ahead")
            rig.speed("port", rpm / 2.5)
            rig["port.shaft.propeller_speed_rpm"] = 0.0
            rig.tick()
            seen.append(abs(rig.torque("port")))
        assert seen == sorted(seen, reverse=True)
        assert seen[0] > 80.0, "one revolution of droop is no reason to drop the load"
        assert seen[-1] < 20.0

    @pytest.mark.parametrize("signal", ["engine.engine_speed_rpm", "shaft.propeller_speed_rpm"])
    def test_an_unknown_speed_spares_nothing(self, signal: str) -> None:
        rig = UNDER_WAY()
        rig[f"port.{signal}"] = None
        rig.tick()
        rig.expect_zero("unknown speed", "port", signal=f"port.{signal}")


@pytest.mark.sr("SR-22")
class TestSag:
    """The rise pauses when engine speed sags by 60 rpm from its speed at ramp start, and backs off at twice that."""

    @pytest.fixture
    def ramp(self) -> Rig:
        rig = Rig().generate_at_rest(5.0)
        assert 15.0 < rig.current("port") < 25.0
        return rig

    def sagged(self, rig: Rig, rpm: float, seconds: float = 1.0) -> float:
        was = rig.out.shaft_commands[0].current_a
        rig["port.engine.engine_speed_rpm"] = rpm
        rig.run(seconds)
        return rig.out.shaft_commands[0].current_a - was

    def test_59_rpm_is_no_sag(self, ramp: Rig) -> None:
        assert 3.5 < self.sagged(ramp, 1941.0) <= 4.0
        assert not ramp.alarms() & Alarm.ENGINE_SAG

    def test_61_rpm_pauses(self, ramp: Rig) -> None:
        assert self.sagged(ramp, 1939.0) == pytest.approx(0.0, abs=0.1)
        assert ramp.alarms() & Alarm.ENGINE_SAG

    def test_119_rpm_pauses(self, ramp: Rig) -> None:
        assert self.sagged(ramp, 1881.0) == pytest.approx(0.0, abs=0.1)

    def test_121_rpm_backs_off_at_40_a_per_second(self, ramp: Rig) -> None:
        assert self.sagged(ramp, 1879.0, 0.2) == pytest.approx(-8.0, abs=0.5)

    def test_it_goes_on_when_the_engine_recovers(self, ramp: Rig) -> None:
        self.sagged(ramp, 1879.0, 0.1)
        assert 3.5 < self.sagged(ramp, 1960.0) <= 4.0
        assert not ramp.alarms() & Alarm.ENGINE_SAG

    def test_a_throttle_pulled_back_is_no_sag(self, ramp: Rig) -> None:
        ramp["port.lever.lever_pct"] = 10.0
        ramp["port.lever.neutral"] = False
        for rpm in (1950, 1900, 1850, 1800):
            assert self.sagged(ramp, rpm, 0.3) > 0.0

    def test_under_way_with_the_throttle_ahead_it_works_from_the_start(self) -> None:
        """The throttle was steady long before charging was selected."""
        rig = Rig().ready()
        for name in rig.names:
            rig.engine(name, 2000, "ahead")
            rig.speed(name, 800)
            rig.lever(name, 60)
        rig.run(10.0)
        rig["port.shaft.charge_under_way"] = True
        rig.run(0.5)
        assert self.sagged(rig, 1930.0, 1.0) == pytest.approx(0.0, abs=0.1)


@pytest.mark.sr("SR-15")
class TestSharing:
    """All sources together stay within the limit on bank current plus the hotel load; shared by what each can give."""

    @given(
        monitor_a=st.floats(0, 400), hotel_a=st.floats(0, 60), soc=st.floats(85, 95),
        steps=st.lists(st.tuples(st.sampled_from(["soc", "limit", "sel", "rpm", "wait"]), st.floats(0, 1)), max_size=8),
    )  # fmt: skip
    def test_the_bank_never_gets_more_than_its_limit(
        self, monitor_a: float, hotel_a: float, soc: float, steps: list[tuple[str, float]]
    ) -> None:
        rig = GENERATING()
        rig.hotel_a = hotel_a
        rig["bank.soc_pct"], rig["bank.charge_limit_a"] = soc, monitor_a
        for what, how in [("wait", 0.0), *steps]:
            if what == "soc":
                soc = 80 + 20 * how
                rig["bank.soc_pct"] = soc
            elif what == "limit":
                monitor_a = 400 * how
                rig["bank.charge_limit_a"] = monitor_a
            elif what == "sel":
                rig["starboard.shaft.charge_under_way"] = how > 0.5
            elif what == "rpm":
                rig.engine("port", 900 + 2000 * how, "ahead")
                rig.speed("port", 360 + 800 * how)
            for _ in range(5):
                rig.tick()
                limit_a = min(monitor_a, max(0.0, min(240.0, 240.0 * (94 - soc) / 6)))
                total = rig.current("port") + rig.current("starboard")
                assert total <= limit_a + (hotel_a if limit_a > 0 else 0.0) + 1e-6

    def test_each_gets_its_part(self) -> None:
        rig = Rig()
        rig["bank.charge_limit_a"] = 100.0
        rig.generate(60.0)
        assert rig.current("port") + rig.current("starboard") == pytest.approx(100.0, rel=1e-3)
        assert rig.current("port") == pytest.approx(rig.current("starboard"), rel=0.05)

    def test_what_one_cannot_give_the_other_does(self) -> None:
        rig = Rig()
        rig["bank.charge_limit_a"] = 100.0
        rig.ready()
        rig.engine("port", 2000, "ahead")
        rig.speed("port", 800)
        rig["port.shaft.charge_under_way"] = True
        rig.speed("starboard", 300)  # under sail: 8.1 N m, 4.6 A
        rig["starboard.shaft.harvest"] = True
        rig.run(60.0)
        assert 3.0 < rig.current("starboard") < 5.0
        assert rig.current("port") + rig.current("starboard") == pytest.approx(100.0, abs=0.5)

    def test_a_shaft_that_joins_does_not_jolt_the_other(self) -> None:
        rig = Rig()
        rig["bank.charge_limit_a"] = 100.0
        rig.ready()
        for name in rig.names:
            rig.engine(name, 2000, "ahead")
            rig.speed(name, 800)
        rig["port.shaft.charge_under_way"] = True
        rig.run(40.0)
        assert rig.current("port") == pytest.approx(100.0, rel=1e-3)
        rig["starboard.shaft.charge_under_way"] = True
        last = rig.current("port")
        for _ in range(1500):
            rig.tick()
            assert last - rig.current("port") <= 40.0 * 0.02 + 1e-6
            assert rig.current("port") + rig.current("starboard") <= 100.0 + 1e-6
            last = rig.current("port")
        assert rig.current("starboard") > 40.0

    def test_a_stale_bank_current_counts_no_hotel_load(self) -> None:
        rig = Rig(hotel_a=40.0)
        rig["bank.charge_limit_a"] = 60.0
        rig.generate(40.0)
        assert rig.current("port") + rig.current("starboard") == pytest.approx(100.0, rel=1e-2)
        rig["bank.current_a"] = None
        rig.tick()
        assert rig.current("port") + rig.current("starboard") <= 60.0 + 1e-6

    def test_other_sources_leave_less_room(self) -> None:
        rig = Rig(hotel_a=-50.0)  # solar and a shore charger feed 50 A
        rig["bank.charge_limit_a"] = 100.0
        rig.generate(60.0)
        assert rig.current("port") + rig.current("starboard") == pytest.approx(50.0, rel=1e-2)

    def test_a_hotel_load_that_ends_is_believed_quickly(self) -> None:
        rig = Rig(hotel_a=40.0)
        rig["bank.charge_limit_a"] = 60.0
        rig.generate(40.0)
        rig.hotel_a = 0.0
        rig.run(1.5)
        assert rig.current("port") + rig.current("starboard") <= 60.0 * 1.05

    def test_a_hotel_load_that_begins_is_believed_slowly(self) -> None:
        rig = Rig()
        rig["bank.charge_limit_a"] = 60.0
        rig.generate(40.0)
        rig.hotel_a = 40.0
        rig.run(0.2)
        assert rig.current("port") + rig.current("starboard") <= 60.0 + 40.0 * 0.25


class TestCheckValues:
    """Common practice, no source: two generators of about 6 kW on a 48 V bank give about 100 to 120 A each, about
    200 A together, and the bank sees that less the hotel load."""

    def test_two_generators_of_6_kw_on_a_48_v_bank(self) -> None:
        rig = Rig(hotel_a=20.0).generate(60.0)
        each = [rig.current(name) for name in rig.names]
        assert all(100.0 <= amps <= 120.0 for amps in each), each
        assert sum(each) == pytest.approx(200.0, rel=0.16)
        rig.tick()
        assert rig["bank.current_a"] == pytest.approx(sum(each) - 20.0, rel=1e-3)

    def test_10_kw_shaft_power_is_64_n_m_at_1500_and_119_at_800_rpm(self) -> None:
        """Physics, computed: P = T n 2 pi / 60."""
        assert pytest.approx(63.7, abs=0.05) == 10000 / (1500 * RAD_S_PER_RPM)
        assert pytest.approx(119.4, abs=0.05) == 10000 / (800 * RAD_S_PER_RPM)
