"""Derate of propulsion: by SOC, by lowest cell, by temperature; its end, its return, get-home, warnings."""

import pytest
from boatyard.rig import Kept, Rig
from boatyard.suites import LinearLimitSuite
from hypothesis import given
from hypothesis import strategies as st

from supervisor.signals import Alarm

FRESH = Kept(Rig)
HARD_OVER = Kept(lambda: Rig().propel(100.0, 1.5, 0.0))
NAN = float("nan")


def derate(**signals: float | None) -> float:
    """The derate in force (percent of rated power) at power-up with these signals."""
    rig = FRESH()
    for name, value in signals.items():
        rig[f"bank.{name}"] = value
    return rig.tick().boat_command.derate_pct


@pytest.mark.sr("SR-18")
class TestSocDerate(LinearLimitSuite):
    FULL, FLOOR, FULL_AT, ZERO_AT, STEP, BEYOND = 100.0, 15.0, 26.0, 18.0, 0.01, (17.0, 5.0, 0.0)
    UNKNOWN = 50.0  # a fairway is no place to lose thrust

    def limit(self, value: float | None) -> float:
        return derate(soc_pct=value)


@pytest.mark.sr("SR-18")
class TestCellDerate(LinearLimitSuite):
    FULL, FLOOR, FULL_AT, ZERO_AT, STEP, BEYOND = 100.0, 15.0, 3.0, 2.8, 0.001, (2.7, 2.5, 0.5)
    UNKNOWN = 50.0

    def limit(self, value: float | None) -> float:
        return derate(cell_min_v=value)


class _TemperatureSuite(LinearLimitSuite):
    """Torque at standstill with the lever hard over (110 N m): heat follows torque, so torque is cut, not power."""

    FULL = 110.0
    UNKNOWN = 55.0  # reaction "derate": half
    SIGNAL: str
    STEP = 0.05
    BEYOND = (145.0, 150.0)

    def limit(self, value: float | None) -> float:
        rig = HARD_OVER()
        rig[f"port.drive.{self.SIGNAL}"] = value
        rig.run(0.6)  # 110 N m at 250 N m/s
        return rig.torque("port")


class TestMotorTemperature(_TemperatureSuite):
    SIGNAL, FULL_AT, ZERO_AT = "motor_c", 120.0, 140.0


class TestInverterTemperature(_TemperatureSuite):
    SIGNAL, FULL_AT, ZERO_AT = "inverter_c", 75.0, 85.0


class TestCoolantTemperature(_TemperatureSuite):
    SIGNAL, FULL_AT, ZERO_AT = "coolant_c", 60.0, 70.0


@given(st.floats(0, 100), st.floats(2.5, 3.4))
def test_the_lower_of_soc_and_cell_wins(soc: float, cell_v: float) -> None:
    by_soc = 100.0 if soc >= 26 else 0.0 if soc <= 18 else 15 + 85 * (soc - 18) / 8
    by_cell = 100.0 if cell_v >= 3 else 0.0 if cell_v <= 2.8 else 15 + 85 * (cell_v - 2.8) / 0.2
    assert derate(soc_pct=soc, cell_min_v=cell_v) == pytest.approx(min(by_soc, by_cell), rel=1e-9, abs=1e-9)


@pytest.mark.sr("SR-18")
class TestPower:
    """The derate is of power: 10 kW rated, at 900 rpm 106.1 N m."""

    def test_full_power(self) -> None:
        rig = Rig().propel(100.0, 2.0, 900.0)
        assert rig.torque() * 900 * 0.104719755 == pytest.approx(10000.0, rel=1e-6)

    def test_derated_power_after_the_slew(self) -> None:
        rig = Rig()
        rig["bank.soc_pct"] = 22.0
        rig.propel(100.0, 2.0, 900.0)
        assert rig.torque() * 900 * 0.104719755 == pytest.approx(5750.0, rel=1e-6)  # 57.5 %


@pytest.mark.sr("SR-18")
class TestRate:
    """The derate moves no faster than 2 % a second while thrust may be on."""

    def test_fall_and_rise(self) -> None:
        rig = Rig().propel(100.0, 1.0, 900.0)
        rig["bank.soc_pct"] = 19.0
        last = rig.tick().boat_command.derate_pct
        for soc, seconds in ((19.0, 20), (40.0, 20)):
            rig["bank.soc_pct"] = soc
            for _ in range(seconds * 50):
                now = rig.tick().boat_command.derate_pct
                assert abs(now - last) <= 2.0 * 0.02 + 1e-9
                last = now
        assert last == pytest.approx(100.0 - 40.0 + 40.0, abs=0.1)

    def test_a_late_tick_does_not_jump(self) -> None:
        rig = Rig().propel(100.0, 1.0, 900.0)
        rig["bank.soc_pct"] = 19.0
        was = rig.tick().boat_command.derate_pct
        assert was - rig.tick(30.0).boat_command.derate_pct <= 0.2 + 1e-9

    def test_a_low_bank_begins_low(self) -> None:
        """A boat that is switched on at 17 % gives no thrust at all, not full power on its way down."""
        rig = Rig()
        rig["bank.soc_pct"] = 17.0
        rig.ready()
        rig.levers(100)
        rig.run(2.0)
        rig.expect("derate ended: no propulsion", "port", "REST", signal="bank.soc_pct")
        rig.expect_zero("derate ended: no propulsion")


@pytest.mark.sr("SR-19")
class TestEndAndReturn:
    """It ends at 18 % and returns only above 21 % and REARMED."""

    def ended(self) -> Rig:
        rig = Rig().propel(60.0, 1.0, 500.0)
        rig["bank.soc_pct"] = 18.0
        rig.until(lambda: rig.mode("port") == "REST", 60.0)
        return rig

    @pytest.mark.sr("SR-18")
    def test_it_ends_after_the_slew_through_the_floor(self) -> None:
        rig = self.ended()
        rig.expect_zero("derate ended")
        assert rig.alarms() & Alarm.DERATE_ENDED
        assert not rig.controller.rearmed(0)

    @pytest.mark.parametrize(("soc", "again"), [(18.1, False), (20.9, False), (21.0, False), (21.1, True)])
    def test_it_returns_only_above_21(self, soc: float, again: bool) -> None:
        rig = self.ended()
        rig["bank.soc_pct"] = soc
        rig.run(3.0)
        rig.expect("no path into motion: the lever was never moved", "port", "REST", signal="bank.soc_pct")
        rig.levers(0)
        rig.run(0.7)
        rig.levers(60)
        rig.run(1.0)
        rig.expect("derate returns above 21 % and REARMED", "port", "PROPEL" if again else "REST")

    def test_the_lowest_cell_must_recover_too(self) -> None:
        rig = self.ended()
        rig["bank.soc_pct"], rig["bank.cell_min_v"] = 40.0, 3.0
        rig.levers(0)
        rig.run(0.7)
        rig.levers(60)
        rig.run(1.0)
        rig.expect("the cell is still in its band", "port", "REST", signal="bank.cell_min_v")

    @pytest.mark.sr("SR-18")
    def test_a_weak_cell_ends_it_as_well(self) -> None:
        rig = Rig().propel(60.0, 1.0, 500.0)
        rig["bank.cell_min_v"] = 2.8
        rig.run(5.0)
        rig["bank.cell_min_v"] = 2.9
        rig.run(1.0)
        rig.expect("a dip ends nothing", "port", "PROPEL")
        assert rig.alarms() == Alarm.CELL_DERATE
        rig["bank.cell_min_v"] = 2.8
        rig.until(lambda: rig.mode("port") == "REST", 65.0)
        rig["bank.cell_min_v"] = 2.99
        rig.run(1.0)
        assert rig.alarms() & Alarm.DERATE_ENDED

    def test_an_unknown_soc_neither_ends_nor_returns(self) -> None:
        rig = Rig().propel(60.0, 1.0, 500.0)
        rig["bank.soc_pct"] = None
        rig.run(30.0)
        rig.expect("stale SOC: propulsion at 50 %, no loss of thrust", "port", "PROPEL")
        assert rig.out is not None
        assert rig.out.boat_command.derate_pct == pytest.approx(50.0)
        assert rig.alarms() & Alarm.SOC_UNKNOWN
        rig = self.ended()
        rig["bank.soc_pct"] = None
        rig.run(1.0)
        assert rig.alarms() & Alarm.DERATE_ENDED


class TestTemperatureEnd:
    @pytest.mark.parametrize(("signal", "hot", "cool"), [("motor_c", 140.0, 130.0), ("inverter_c", 85.0, 70.0),
                                                         ("coolant_c", 70.0, 50.0)])  # fmt: skip
    def test_thrust_that_heat_ended_does_not_come_back_by_itself(self, signal: str, hot: float, cool: float) -> None:
        rig = Rig().propel(60.0, 1.0, 500.0)
        rig[f"port.drive.{signal}"] = hot
        rig.run(1.0)
        rig.expect_zero("derate reached zero", "port", signal=f"port.drive.{signal}")
        rig.expect("causes of one shaft stop that shaft only", "starboard", "PROPEL")
        rig[f"port.drive.{signal}"] = cool
        rig.run(2.0)
        rig.expect_zero("no path into motion", "port", signal=f"port.drive.{signal}")
        rig.lever("port", 0)
        rig.run(0.7)
        rig.lever("port", 60)
        rig.run(1.0)
        rig.expect("fresh neutral rearms", "port", "PROPEL")


@pytest.mark.sr("SR-19")
class TestGetHome:
    """Goes down to the monitor's discharge permit; shown and logged."""

    def test_it_gives_the_floor_below_the_limit(self) -> None:
        rig = Rig()
        rig["bank.soc_pct"], rig["helm.get_home"] = 5.0, True
        rig.propel(100.0, 3.0, 900.0)
        assert rig.torque() * 900 * 0.104719755 == pytest.approx(1500.0, rel=1e-6)
        assert rig.alarms() & Alarm.GET_HOME_ACTIVE
        assert not rig.alarms() & Alarm.DERATE_ENDED
        assert any(e.first_out == "GET_HOME_ACTIVE" for e in rig.events), "shown and logged"

    def test_it_does_not_go_past_the_monitors_permit(self) -> None:
        rig = Rig()
        rig["bank.soc_pct"], rig["helm.get_home"] = 5.0, True
        rig.propel(100.0, 3.0, 900.0)
        rig["bank.discharge_permit"] = False
        rig.tick()
        rig.expect_zero("the monitor's permit ends it", signal="bank.discharge_permit")

    def test_an_unknown_switch_is_off(self) -> None:
        rig = Rig()
        rig["bank.soc_pct"], rig["helm.get_home"] = 5.0, None
        rig.tick()
        assert rig.alarms() & Alarm.DERATE_ENDED


@pytest.mark.sr("SR-43")
class TestWarnings:
    @pytest.mark.parametrize(("soc", "shown"), [(26.0, False), (25.99, True), (18.0, True)])
    def test_entering_the_band_is_shown(self, soc: float, shown: bool) -> None:
        rig = Rig()
        rig["bank.soc_pct"] = soc
        rig.tick()
        assert bool(rig.alarms() & Alarm.DERATE_BAND) == shown

    @pytest.mark.parametrize(
        ("current_a", "shown"),
        # 12 points of 600 Ah are 72 Ah: 15 minutes at 288 A
        [(-287.9, False), (-288.1, True), (0.0, False), (100.0, False), (None, False)],
    )
    def test_time_to_limit_is_told_15_minutes_ahead(self, current_a: float | None, shown: bool) -> None:
        rig = Rig()
        rig.obey = False
        rig["bank.soc_pct"], rig["bank.current_a"] = 30.0, current_a
        rig.tick()
        assert bool(rig.alarms() & Alarm.TIME_TO_LIMIT) == shown
