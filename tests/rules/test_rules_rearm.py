"""No path into motion: whatever ends thrust other than the lever itself clears REARMED; only fresh neutral sets it."""

from collections.abc import Callable

import pytest
from boatyard.rig import Kept, Rig
from boatyard.suites import PermissiveDwellSuite

Change = Callable[[Rig], None]


def _set(**signals: object) -> Change:
    def change(rig: Rig) -> None:
        for name, value in signals.items():
            rig[name.replace("__", ".")] = value

    return change


AT_ONCE: dict[str, tuple[Change, Change]] = {
    # what ends thrust at once, and what mends it: design, section 5
    "discharge permit": (_set(bank__discharge_permit=False), _set(bank__discharge_permit=True)),
    "discharge limit": (_set(bank__discharge_limit_a=0.0), _set(bank__discharge_limit_a=600.0)),
    "diver": (_set(helm__diver_lockout=True), _set(helm__diver_lockout=False)),
    "diver unknown": (_set(helm__diver_lockout=None), _set(helm__diver_lockout=False)),
    "out of service": (_set(port__shaft__out_of_service=True), _set(port__shaft__out_of_service=False)),
    "monitor will open": (_set(bank__opening=True), _set(bank__opening=False)),
}
PAUSES: dict[str, tuple[Change, Change]] = {
    # contacts that may bounce: thrust ends at once as well, and is over once they have been away for 0.2 s
    "shaft lock in transit": (_set(port__lock__released=False), _set(port__lock__released=True)),
    "shaft lock unknown": (_set(port__lock__released=None), _set(port__lock__released=True)),
    "shaft lock engaged as well": (_set(port__lock__engaged=True), _set(port__lock__engaged=False)),
    "clutch in transit": (_set(port__clutch__closed=False), _set(port__clutch__closed=True)),
    "clutch unknown": (_set(port__clutch__closed=None), _set(port__clutch__closed=True)),
    "clutch open as well": (_set(port__clutch__open=True), _set(port__clutch__open=False)),
    "clutch open unknown": (_set(port__clutch__open=None), _set(port__clutch__open=False)),
    "engine in gear": (lambda rig: rig.engine("port", 900, "ahead"), lambda rig: rig.engine("port", 0, "neutral")),
    "gear unknown, engine running": (
        lambda rig: (rig.engine("port", 900, "neutral"), rig.__setitem__("port.gearbox.neutral", None))[0],
        lambda rig: rig.engine("port", 900, "neutral"),
    ),
}
BY_RAMP: dict[str, tuple[Change, Change]] = {
    "lever lost": (_set(port__lever__lever_pct=None), _set(port__lever__lever_pct=60.0)),
    "neutral contact lost": (_set(port__lever__neutral=None), _set(port__lever__neutral=False)),
    "motor hot": (_set(port__drive__motor_c=141.0), _set(port__drive__motor_c=60.0)),
}
PROPELLING = Kept(lambda: Rig().propel(60.0, 1.0, 500.0))


@pytest.fixture
def rig() -> Rig:
    return PROPELLING()


@pytest.mark.sr("SR-10")
@pytest.mark.parametrize("cause", AT_ONCE)
def test_thrust_ends_at_once(rig: Rig, cause: str) -> None:
    AT_ONCE[cause][0](rig)
    rig.tick()
    rig.expect_zero(f"PROPEL ends at once: {cause}", "port")
    assert not rig.controller.rearmed(0)


@pytest.mark.sr("SR-07", "SR-08", "SR-09", "SR-62")
@pytest.mark.parametrize("cause", PAUSES)
def test_thrust_pauses_at_once_and_ends_after_its_time(rig: Rig, cause: str) -> None:
    PAUSES[cause][0](rig)
    for _ in range(10):  # the tick that sees it, and nine more: 0.18 s
        rig.tick()
        rig.expect_zero(f"PROPEL pauses at once: {cause}", "port")
        assert rig.controller.rearmed(0)
    rig.tick()
    rig.tick()
    rig.expect_zero(f"a pause ends after 0.2 s: {cause}", "port")
    assert not rig.controller.rearmed(0)


@pytest.mark.sr("SR-09")
@pytest.mark.parametrize("cause", BY_RAMP)
def test_thrust_ends_by_ramp(rig: Rig, cause: str) -> None:
    BY_RAMP[cause][0](rig)
    last = rig.torque("port")
    rig.tick()
    rig.expect(f"PROPEL unloads: {cause}", "port", "UNLOAD")
    assert not rig.controller.rearmed(0)
    for _ in range(170):
        assert rig.torque("port") <= last
        last = rig.torque("port")
        rig.tick()
    rig.expect_zero(f"PROPEL unloads: {cause}", "port")


@pytest.mark.sr("SR-05")
@pytest.mark.parametrize("cause", [*AT_ONCE, *PAUSES, *BY_RAMP])
class TestComingBack:
    def ended(self, rig: Rig, cause: str, ticks: int) -> None:
        breaks, mends = (AT_ONCE | PAUSES | BY_RAMP)[cause]
        breaks(rig)
        if cause in PAUSES:
            rig.run(0.24)  # for less it may be a bounce: test_rules_pause
        for _ in range(ticks):
            rig.tick()
        mends(rig)

    @pytest.mark.parametrize("ticks", [1, 2, 60])
    def test_the_cause_going_away_brings_no_thrust(self, rig: Rig, cause: str, ticks: int) -> None:
        self.ended(rig, cause, ticks)
        rig.run(3.5)
        for _ in range(50):
            rig.tick()
            rig.expect_zero(f"no path into motion: {cause}", "port")

    def test_a_flick_through_neutral_is_not_fresh_neutral(self, rig: Rig, cause: str) -> None:
        self.ended(rig, cause, 2)
        rig.run(3.5)
        rig.lever("port", 0)
        rig.run(0.4)
        rig.lever("port", 60)
        rig.run(0.5)
        rig.expect_zero(f"neutral for 0.4 s rearms nothing: {cause}", "port")

    def test_the_dead_zone_without_its_contact_is_not_neutral(self, rig: Rig, cause: str) -> None:
        self.ended(rig, cause, 2)
        rig.run(3.5)
        rig["port.lever.lever_pct"] = 2.0
        rig.run(1.0)
        rig["port.lever.lever_pct"] = 60.0
        rig.run(0.5)
        rig.expect_zero(f"neutral is its contact: {cause}", "port")

    def test_fresh_neutral_then_an_order_brings_it_back(self, rig: Rig, cause: str) -> None:
        self.ended(rig, cause, 2)
        rig.run(3.5)
        rig.lever("port", 0)
        rig.run(0.6)
        rig.lever("port", 60)
        rig.run(0.6)
        rig.expect(f"fresh neutral rearms: {cause}", "port", "PROPEL")


@pytest.mark.sr("SR-05")
class TestNeutralDwellBeforeRearmed(PermissiveDwellSuite):
    """Only fresh neutral of 0.5 s sets REARMED."""

    DWELL_S = 0.5

    def begin(self) -> None:
        self.rig = PROPELLING()
        self.rig["bank.discharge_permit"] = False
        self.rig.tick()
        self.rig["bank.discharge_permit"] = True
        self.rig.tick()

    def hold(self, seconds: float, dt_s: float = 0.02) -> None:
        self.rig.lever("port", 0)
        if dt_s != 0.02:
            self.rig.tick(dt_s)
        for _ in range(round(seconds / 0.02)):
            self.rig.tick()

    def interrupt(self) -> None:
        self.rig["port.lever.neutral"] = False
        self.rig.tick()

    def done(self) -> bool:
        return self.rig.controller.rearmed(0)


def test_a_silent_out_of_service_switch_is_no_order_to_take_a_shaft_out(rig: Rig) -> None:
    rig["port.shaft.out_of_service"] = None
    rig.run(1.0)
    rig.expect("as the switch said last", "port", "PROPEL")


@pytest.mark.sr("SR-05")
class TestLeverItself:
    def test_the_lever_to_neutral_and_ahead_again_needs_no_dwell(self, rig: Rig) -> None:
        rig.lever("port", 0)
        rig.run(0.1)
        rig.lever("port", 60)
        rig.run(1.0)
        rig.expect("the lever itself does not disarm", "port", "PROPEL")

    def test_an_order_given_while_thrust_is_barred_is_not_kept(self, rig: Rig) -> None:
        """Lever moved ahead in REST with a permissive missing: when that comes, the shaft stays still."""
        rig.lever("port", 0)
        rig.run(1.0)
        rig["helm.diver_lockout"] = True
        rig.run(0.1)
        rig.lever("port", 60)
        rig.run(0.1)
        rig["helm.diver_lockout"] = False
        rig.run(1.0)
        rig.expect_zero("an old order passes nothing", "port", signal="helm.diver_lockout")

    def test_the_crash_stop_stops_being_one_when_a_permissive_goes(self, rig: Rig) -> None:
        """Ahead, neutral, astern; a diver seen meanwhile; gone again: no thrust until neutral."""
        rig.lever("port", 0)
        rig.tick()
        rig.lever("port", -60)
        rig.tick()
        rig.expect("on the way to astern", "port", "UNLOAD")
        rig["helm.diver_lockout"] = True
        rig.tick()
        rig["helm.diver_lockout"] = False
        rig.run(2.0)
        rig.expect_zero("no path into motion", "port", signal="helm.diver_lockout")


@pytest.mark.sr("SR-05")
class TestLostAtRest:
    """An order that was given while nobody could see it is an old order."""

    @pytest.mark.parametrize("signal", ["lever.lever_pct", "lever.neutral"])
    def test_a_lever_lost_in_neutral_and_found_ahead_moves_nothing(self, rig: Rig, signal: str) -> None:
        rig.lever("port", 0)
        rig.run(1.0)
        rig.expect("at rest, rearmed", "port", "REST")
        assert rig.controller.rearmed(0)
        rig[f"port.{signal}"] = None
        rig.run(0.5)
        rig.lever("port", 60)
        rig.run(1.0)
        rig.expect_zero("control signal lost: only fresh neutral rearms", "port", signal=f"port.{signal}")

    def test_a_permit_lost_while_the_lever_crosses_the_dead_zone_disarms(self, rig: Rig) -> None:
        """In that very tick no thrust is asked, and neutral is not proven either."""
        rig["port.lever.lever_pct"] = 2.0
        rig["bank.discharge_permit"] = False
        rig.tick()
        rig["bank.discharge_permit"] = True
        rig["port.lever.lever_pct"] = 60.0
        rig.run(1.0)
        rig.expect_zero("a permit withdrawn disarms whatever the lever does", "port", signal="bank.discharge_permit")


@pytest.mark.sr("SR-06")
class TestIsolated:
    """ISOLATED leaves by reset, cause gone, lever neutral, torque zero, then REARMED."""

    @pytest.fixture
    def isolated(self, rig: Rig) -> Rig:
        rig["port.drive.fault"] = True
        rig.tick()
        rig.expect("a drive's fault isolates its shaft", "port", "ISOLATED")
        rig.expect_zero("a drive's fault isolates its shaft", "port")
        rig.expect("causes of one shaft stop that shaft only", "starboard", "PROPEL")
        assert not rig.permits("port") & 3, "no enable, no precharge"
        return rig

    def test_not_while_the_cause_is_there(self, isolated: Rig) -> None:
        isolated.speed("port", 0)
        isolated.press("helm.reset")
        isolated.expect("cause gone", "port", "ISOLATED")

    def test_not_with_the_lever_ahead(self, isolated: Rig) -> None:
        isolated["port.drive.fault"] = False
        isolated.press("helm.reset")
        isolated.expect("lever in neutral", "port", "ISOLATED")

    @pytest.mark.parametrize("torque_nm", [5.6, -5.6, None])
    def test_not_with_torque_or_torque_unknown(self, isolated: Rig, torque_nm: float | None) -> None:
        """5 % of 110 N m counts as zero."""
        isolated["port.drive.fault"] = False
        isolated.lever("port", 0)
        isolated.obey = False
        isolated["port.drive.torque_nm"] = torque_nm
        isolated.press("helm.reset")
        isolated.expect("torque zero", "port", "ISOLATED")

    def test_a_shaft_that_turns_is_no_bar(self, isolated: Rig) -> None:
        """A boat under way never has a still shaft."""
        isolated["port.drive.fault"] = False
        isolated.lever("port", 0)
        isolated.speed("port", 500)
        isolated.run(0.1)
        isolated.press("helm.reset")
        isolated.expect("reset under way", "port", "REST")
        isolated.run(0.7)
        isolated.lever("port", 40)
        isolated.run(0.7)
        isolated.expect("fresh neutral rearms", "port", "PROPEL")

    def test_reset_leads_to_motion_by_fresh_neutral_only(self, isolated: Rig) -> None:
        isolated["port.drive.fault"] = False
        isolated.lever("port", 0)
        isolated.run(0.1)
        isolated.press("helm.reset")
        isolated.expect("reset", "port", "REST")
        isolated.lever("port", 40)
        isolated.run(2.0)
        isolated.expect_zero("neutral was too short", "port")
        isolated.lever("port", 0)
        isolated.run(0.7)
        isolated.lever("port", 40)
        isolated.run(0.7)
        isolated.expect("fresh neutral rearms", "port", "PROPEL")

    @pytest.mark.sr("SR-31")
    def test_the_other_shaft_never_noticed(self, isolated: Rig) -> None:
        torque = isolated.torque("starboard")
        isolated["port.drive.fault"] = False
        isolated.speed("port", 0)
        isolated.press("helm.reset")
        assert isolated.torque("starboard") == pytest.approx(torque)
        isolated.expect("causes of one shaft stop that shaft only", "starboard", "PROPEL")


@pytest.mark.sr("SR-06")
class TestDisobedience:
    """A drive that disobeyed must be seen to obey for 2 s; twice within 10 min, and the shaft must be still."""

    def disobey(self, rig: Rig) -> None:
        """40 N m with zero ordered, for 0.2 s, on a turning shaft; then it obeys again."""
        rig.lever("port", 0)
        rig.speed("port", 400)
        rig.run(1.0)
        rig.obey = False
        rig["port.drive.torque_nm"], rig["port.drive.current_a"] = 40.0, 0.0
        rig.run(0.2)
        rig.expect("disobeying isolates", "port", "ISOLATED")
        rig["port.drive.torque_nm"] = 0.0
        rig.obey = True

    def test_it_must_be_seen_to_obey(self, rig: Rig) -> None:
        self.disobey(rig)
        rig.run(1.8)
        rig.press("helm.reset")
        rig.expect("not yet seen to obey", "port", "ISOLATED")
        rig.run(0.3)
        rig.press("helm.reset")
        rig.expect("seen to obey for 2 s, turning or not", "port", "REST")

    def test_an_unknown_torque_is_no_obedience(self, rig: Rig) -> None:
        self.disobey(rig)
        rig.run(1.5)
        rig["port.drive.torque_nm"] = None
        rig.run(0.1)
        rig["port.drive.torque_nm"] = 0.0
        rig.run(1.0)
        rig.press("helm.reset")
        rig.expect("the time begins anew", "port", "ISOLATED")
        rig.run(1.1)
        rig.press("helm.reset")
        rig.expect("2 s without a break", "port", "REST")

    def test_a_second_time_needs_a_still_shaft(self, rig: Rig) -> None:
        self.disobey(rig)
        rig.run(2.2)
        rig.press("helm.reset")
        rig.expect("the first time", "port", "REST")
        rig.run(1.0)
        self.disobey(rig)
        rig.run(3.0)
        rig.press("helm.reset")
        rig.expect("a second time, and the shaft turns", "port", "ISOLATED")
        for side in ("drive.machine_speed_rpm", "shaft.propeller_speed_rpm"):
            rig.speed("port", 0)
            rig[f"port.{side}"] = 5.0
            rig.press("helm.reset")
            rig.expect("one side turns", "port", "ISOLATED", signal=side)
        rig.speed("port", 4.9)
        rig.press("helm.reset")
        rig.expect("both sides still", "port", "REST")

    def test_after_ten_minutes_it_is_a_first_time_again(self, rig: Rig) -> None:
        self.disobey(rig)
        rig.run(2.2)
        rig.press("helm.reset")
        rig.run(600.0, 0.1)
        self.disobey(rig)
        rig.run(2.2)
        rig.press("helm.reset")
        rig.expect("long ago", "port", "REST")

    def test_other_causes_ask_for_no_obedience(self, rig: Rig) -> None:
        rig["port.drive.torque_nm"] = None
        rig.obey = False
        rig.tick()
        rig.expect("a lost input isolates", "port", "ISOLATED")
        rig["port.drive.torque_nm"] = 0.0
        rig.obey = True
        rig.lever("port", 0)
        rig.run(0.1)
        rig.press("helm.reset")
        rig.expect("0.14 s of silence ask for a reset, no more", "port", "REST")
