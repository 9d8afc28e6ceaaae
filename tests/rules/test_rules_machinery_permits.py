"""Permits of the machinery: engine start, clutch closing, lock engaging; contradictions and overspeed are told."""

from collections.abc import Callable

import pytest
from boatyard.rig import Rig
from boatyard.suites import PermissiveDwellSuite

from supervisor.signals import Alarm, ShaftPermit


@pytest.mark.sr("SR-37")
class TestEngineStart:
    """Engine start is permitted with gear neutral and drive torque zero."""

    def permitted(self, **signals: object) -> bool:
        rig = Rig().ready()
        for signal, value in signals.items():
            rig[signal.replace("__", ".")] = value
        rig.obey = False
        rig.tick()
        return bool(rig.permits("port") & ShaftPermit.ENGINE_START)

    def test_at_rest_in_neutral(self) -> None:
        assert self.permitted()

    @pytest.mark.parametrize("spoil", [
        {"port__gearbox__neutral": False}, {"port__gearbox__ahead": True},
        {"port__gearbox__gear_report": -1.0}, {"port__drive__torque_nm": 5.6}, {"port__drive__torque_nm": -5.6},
        {"port__drive__torque_nm": None}, {"helm__diver_lockout": True},
        {"port__gearbox__neutral": None, "port__gearbox__ahead": True},
        {"port__gearbox__neutral": None, "port__gearbox__gear_report": 1.0},
    ])  # fmt: skip
    def test_not_with(self, spoil: dict[str, object]) -> None:
        assert not self.permitted(**spoil)

    @pytest.mark.parametrize("lost", [
        {"port__gearbox__neutral": None}, {"port__gearbox__ahead": None}, {"port__gearbox__gear_report": None},
        {"helm__diver_lockout": None}, {"port__lever__lever_pct": None},
        {"port__gearbox__neutral": None, "port__gearbox__ahead": None, "port__gearbox__gear_report": None,
         "helm__diver_lockout": None, "port__engine__running": None},
    ])  # fmt: skip
    def test_what_is_not_known_withholds_no_start(self, lost: dict[str, object]) -> None:
        """A boat whose contacts are silent has no electric thrust, and is left its engine."""
        assert self.permitted(**lost)

    def test_a_drive_that_is_silent_with_its_enable_dropped_for_a_second(self) -> None:
        rig = Rig().ready()
        rig.obey = False
        rig["port.drive.torque_nm"] = None
        rig.run(0.98)
        rig.expect("a lost input isolates", "port", "ISOLATED")
        assert not rig.permits("port") & ShaftPermit.ENGINE_START
        rig.run(0.1)
        assert rig.permits("port") & ShaftPermit.ENGINE_START
        rig["port.drive.torque_nm"] = 20.0
        rig.tick()
        assert not rig.permits("port") & ShaftPermit.ENGINE_START, "it is heard, and pulls"

    def test_a_drive_that_is_silent_under_its_enable_is_not_quiet(self) -> None:
        """While READY and not ISOLATED its enable stands: here no loss isolates, for the input's reaction is lifted."""
        rig = Rig().ready()
        lim = rig.controller.boat
        free = tuple(one._replace(react=one.react._replace(trip_shaft=0)) for one in lim.shafts)
        rig.controller.boat = lim._replace(shafts=free)
        rig.obey = False
        rig["port.drive.torque_nm"] = None
        rig.run(5.0)
        rig.expect("nothing isolates", "port", "REST")
        assert not rig.permits("port") & ShaftPermit.ENGINE_START

    def test_torque_just_within_tolerance(self) -> None:
        assert self.permitted(port__drive__torque_nm=5.4)

    def test_not_in_propel_even_while_the_order_is_zero(self) -> None:
        rig = Rig().propel(60.0, 1.0, 500.0)
        rig.levers(-60)
        for _ in range(100):
            rig.tick()
            if rig.mode("port") in ("PROPEL", "UNLOAD"):
                assert not rig.permits("port") & (ShaftPermit.ENGINE_START | ShaftPermit.CLUTCH_CLOSE)

    def test_a_dead_drive_out_of_service_does_not_strand_the_boat(self) -> None:
        assert self.permitted(port__shaft__out_of_service=True, port__drive__torque_nm=None)

    def test_in_standby_too(self) -> None:
        rig = Rig()
        rig.run(0.1)
        assert rig.permits("port") & ShaftPermit.ENGINE_START


@pytest.mark.sr("SR-38")
class TestClutchClosing:
    """Closing is permitted only with gear and lever neutral and both sides within 30 rpm."""

    def permitted(self, spoil: Callable[[Rig], None]) -> bool:
        rig = Rig().ready()
        rig["port.clutch.closed"], rig["port.clutch.open"] = False, True
        spoil(rig)
        rig.run(0.1)
        return bool(rig.permits("port") & ShaftPermit.CLUTCH_CLOSE)

    @pytest.mark.parametrize(("machine", "propeller", "ok"), [
        (0.0, 0.0, True), (200.0, 170.0, True), (200.0, 169.9, False), (170.0, 200.0, True), (169.9, 200.0, False),
        (-15.0, 15.0, True), (-15.1, 15.0, False), (None, 0.0, False), (0.0, None, False),
    ])  # fmt: skip
    def test_speeds(self, machine: float | None, propeller: float | None, ok: bool) -> None:
        def spoil(rig: Rig) -> None:
            rig["port.drive.machine_speed_rpm"], rig["port.shaft.propeller_speed_rpm"] = machine, propeller

        assert self.permitted(spoil) == ok

    @pytest.mark.parametrize(("signal", "value"), [
        ("gearbox.neutral", False), ("gearbox.neutral", None), ("lever.neutral", False), ("lever.neutral", None),
        ("lever.lever_pct", 7.0), ("lever.lever_pct", None), ("drive.torque_nm", None),
    ])  # fmt: skip
    def test_not_with(self, signal: str, value: object) -> None:
        assert not self.permitted(lambda rig: rig.__setitem__(f"port.{signal}", value))

    def test_not_with_a_diver(self) -> None:
        assert not self.permitted(lambda rig: rig.__setitem__("helm.diver_lockout", True))


@pytest.mark.sr("SR-39")
class TestLockDwell(PermissiveDwellSuite):
    """The lock engages only after 2 s still."""

    DWELL_S = 2.0

    def begin(self) -> None:
        self.rig = Rig().ready()
        self.rig.speed("port", 5.0)
        self.rig.run(0.1)

    def hold(self, seconds: float, dt_s: float = 0.02) -> None:
        self.rig.speed("port", 4.9)
        if dt_s != 0.02:
            self.rig.tick(dt_s)
        for _ in range(round(seconds / 0.02)):
            self.rig.tick()

    def interrupt(self) -> None:
        self.rig["port.shaft.propeller_speed_rpm"] = 5.0
        self.rig.tick()

    def done(self) -> bool:
        return bool(self.rig.permits("port") & ShaftPermit.LOCK_ENGAGE)

    def test_not_in_propel(self) -> None:
        rig = Rig().propel(60.0, 0.5, 0.0)
        for _ in range(200):
            rig.tick()
            assert not rig.permits("port") & ShaftPermit.LOCK_ENGAGE


class TestContradictions:
    @pytest.mark.parametrize(("gear", "report", "told"), [("neutral", 1.0, True), ("neutral", 0.0, False),
                                                          ("ahead", 0.0, True), ("ahead", 1.0, False),
                                                          ("neutral", None, False)])  # fmt: skip
    def test_gearbox_frames_against_contacts_are_told(self, gear: str, report: float | None, told: bool) -> None:
        rig = Rig()
        rig.engine("port", 0, gear)
        rig["port.gearbox.gear_report"] = report
        rig.run(1.9)
        assert not rig.alarms() & Alarm.GEAR_CONTRADICTED, "contacts and frames change one after the other"
        rig.run(0.3)
        assert bool(rig.alarms() & Alarm.GEAR_CONTRADICTED) == told

    @pytest.mark.parametrize(("rpm", "told"), [(50.0, False), (50.1, True), (None, False)])
    def test_engine_speed_against_the_run_contact_is_told(self, rpm: float | None, told: bool) -> None:
        rig = Rig()
        rig["port.engine.engine_speed_rpm"] = rpm
        rig.run(2.2)
        assert bool(rig.alarms() & Alarm.ENGINE_CONTRADICTED) == told

    def test_a_boat_without_gearbox_frames_trusts_its_contacts(self) -> None:
        rig = Rig({"shaft/0/inputs/gearbox.gear_report": ..., "shaft/0/not_fitted": ["gearbox.gear_report"]}).ready()
        rig.engine("port", 2000, "ahead")
        rig["port.gearbox.gear_report"] = 0.0  # what is assumed for a part that is not fitted
        rig.speed("port", 800)
        rig["port.shaft.charge_under_way"] = True
        rig.run(0.5)
        rig.expect("contacts alone", "port", "GENERATE")

    @pytest.mark.parametrize(("rpm", "told"), [(1300.0, False), (1300.1, True), (-1300.1, True), (None, False)])
    def test_overspeed_is_told(self, rpm: float | None, told: bool) -> None:
        rig = Rig()
        rig["port.drive.machine_speed_rpm"] = rpm
        rig.tick()
        assert bool(rig.alarms() & Alarm.OVERSPEED) == told

    @pytest.mark.sr("SR-42")
    def test_a_shaft_is_not_driven_beyond_its_highest_speed(self) -> None:
        rig = Rig().propel(100.0, 1.0, 900.0)
        for rpm, most in ((1299.0, 2.0), (1300.0, 0.0), (1400.0, 0.0), (3000.0, 0.0)):
            rig.speed("port", rpm)
            rig.run(0.5)
            assert 0.0 <= rig.torque("port") <= most
