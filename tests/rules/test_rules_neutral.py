"""Neutral before enable; enable and reset act on edges; restart and trips lead to STANDBY with zero commands."""

import pytest
from boatyard.rig import Rig
from boatyard.suites import PermissiveDwellSuite

from supervisor.modes import BoatMode
from supervisor.signals import Alarm, ShaftPermit


@pytest.mark.sr("SR-01")
class TestNeutralDwellBeforeReady(PermissiveDwellSuite):
    """READY needs every lever in neutral for 0.5 s."""

    DWELL_S = 0.5

    def begin(self) -> None:
        self.rig = Rig()
        self.rig.levers(30)
        self.rig.run(0.1)
        self.rig.press("helm.enable")
        self.rig.expect("enabling in gear", "boat", "NEUTRAL_WAIT")

    def hold(self, seconds: float, dt_s: float = 0.02) -> None:
        if self.rig["port.lever.neutral"] is False:
            self.rig.levers(0)
        if dt_s != 0.02:
            self.rig.tick(dt_s)
        for _ in range(round(seconds / 0.02)):
            self.rig.tick()

    def interrupt(self) -> None:
        self.rig.lever("starboard", 30)
        self.rig.tick()
        self.rig.lever("starboard", 0)

    def done(self) -> bool:
        return self.rig.mode("boat") == "READY"


@pytest.mark.sr("SR-01")
@pytest.mark.parametrize(
    ("pct", "contact", "what"),
    [
        (30.0, False, "in gear"), (-30.0, False, "astern"), (0.0, False, "position neutral, contact open"),
        (6.0, True, "contact made, position outside the band"), (16.0, True, "contact and position contradict"),
        (None, True, "position unknown"), (0.0, None, "contact unknown"), (float("nan"), True, "position no number"),
    ],
)  # fmt: skip
def test_what_is_not_proven_neutral_holds_the_boat_back(pct: float | None, contact: bool | None, what: str) -> None:
    rig = Rig()
    rig["starboard.lever.lever_pct"], rig["starboard.lever.neutral"] = pct, contact
    rig.run(1.0)
    rig.press("helm.enable")
    rig.run(2.0)
    rig.expect(f"unknown is never neutral ({what})", "boat", "NEUTRAL_WAIT")
    rig.expect_zero("no torque in NEUTRAL_WAIT")


@pytest.mark.sr("SR-01")
@pytest.mark.parametrize(("shafts", "ahead"), [(1, 0), (2, 1), (3, 2), (4, 0), (4, 2), (4, 3)])
def test_any_lever_of_up_to_four_holds_the_boat_back(shafts: int, ahead: int) -> None:
    rig = Rig(shafts=shafts)
    rig.lever(rig.names[ahead], 100)
    rig.run(1.0)
    rig.press("helm.enable")
    rig.run(2.0)
    rig.expect(f"lever {ahead + 1} of {shafts} is ahead", "boat", "NEUTRAL_WAIT")
    rig.lever(rig.names[ahead], 0)
    rig.run(0.6)
    rig.expect("every lever in neutral", "boat", "READY")


@pytest.mark.sr("SR-01")
@pytest.mark.parametrize("pct", [0.0, 5.0, -5.0])
def test_neutral_within_the_band_is_neutral(pct: float) -> None:
    rig = Rig()
    rig["starboard.lever.lever_pct"] = pct
    rig.ready()


def test_enabling_in_gear_says_which_lever() -> None:
    rig = Rig()
    rig.lever("starboard", 40)
    rig.run(0.7)
    rig.press("helm.enable")
    texts = [event.text for event in rig.events]
    assert any("starboard lever is not in neutral" in text for text in texts), texts
    assert not any("port lever" in text for text in texts), texts
    assert rig.controller.explain("boat", "READY")[0].bits == ("LEVERS_NEUTRAL",)


def test_enabling_with_a_lost_lever_says_that_it_is_lost() -> None:
    rig = Rig()
    rig["starboard.lever.lever_pct"] = None
    rig.run(0.7)
    rig.press("helm.enable")
    texts = [event.text for event in rig.events if "starboard" in event.text]
    assert any("lost" in text for text in texts), [event.text for event in rig.events]


def test_neutral_that_is_too_fresh_is_said() -> None:
    rig = Rig()
    rig.levers(40)
    rig.run(0.3)
    rig.press("helm.enable")
    rig.levers(0)
    rig.run(0.2)
    assert "port lever has not been in neutral for long enough" in rig.controller.missing_for(BoatMode.READY)


@pytest.mark.sr("SR-44")
def test_it_gives_up_after_30_s() -> None:
    rig = Rig()
    rig.lever("port", 40)
    rig.run(0.7)
    rig.press("helm.enable")
    rig.run(29.8)
    rig.expect("gives up after 30 s, not before", "boat", "NEUTRAL_WAIT")
    rig.run(0.4)
    rig.expect("gives up after 30 s", "boat", "STANDBY")
    rig.lever("port", 0)
    rig.run(5.0)
    rig.expect("no order waits behind a closed door", "boat", "STANDBY")


@pytest.mark.sr("SR-01")
def test_a_shaft_deliberately_out_of_service_is_left_out() -> None:
    rig = Rig()
    rig.lever("starboard", 80)
    rig["starboard.shaft.out_of_service"] = True
    rig.ready()
    rig.lever("port", 50)
    rig.run(1.0)
    rig.expect("one shaft works", "port", "PROPEL")
    rig.expect("the other is out of service", "starboard", "REST")
    assert not rig.permits("starboard") & (ShaftPermit.DRIVE_ENABLE | ShaftPermit.PRECHARGE)
    rig["starboard.shaft.out_of_service"] = False
    rig.run(1.0)
    rig.expect_zero("a shaft put back in service with its lever ahead stays still", "starboard")


def test_a_shaft_out_of_service_stays_so_while_its_switch_is_silent() -> None:
    rig = Rig()
    rig.lever("starboard", 80)
    rig["starboard.shaft.out_of_service"] = True
    rig.run(0.1)
    rig["starboard.shaft.out_of_service"] = None
    rig.ready()
    rig["starboard.drive.torque_nm"] = None
    rig.run(0.5)
    rig.expect("as the switch said last", "starboard", "REST")
    assert not rig.permits("starboard") & (ShaftPermit.DRIVE_ENABLE | ShaftPermit.PRECHARGE)


def test_an_out_of_service_switch_that_is_unknown_leaves_nothing_out() -> None:
    rig = Rig()
    rig.lever("starboard", 80)
    rig["starboard.shaft.out_of_service"] = None
    rig.run(0.7)
    rig.press("helm.enable")
    rig.run(1.0)
    assert rig.mode("boat") != "READY"


def test_a_boat_with_every_shaft_out_of_service_is_not_enabled() -> None:
    rig = Rig()
    for name in rig.names:
        rig[f"{name}.shaft.out_of_service"] = True
    rig.run(0.7)
    rig.press("helm.enable")
    rig.expect("no shaft is available", "boat", "STANDBY")
    assert any("no shaft is available" in event.text for event in rig.events)


class EdgeSuite:
    """A push-button acts when it was seen off one tick before it is seen on, in the mode it acts in."""

    BUTTON: str

    def begin(self) -> Rig:
        """A boat in which one good press acts."""
        raise NotImplementedError

    def acted(self, rig: Rig) -> bool:
        """Whether the press acted."""
        raise NotImplementedError

    def test_a_press_acts(self) -> None:
        rig = self.begin()
        rig.press(self.BUTTON)
        assert self.acted(rig)

    def test_maintained_from_power_up_it_passes_nothing(self) -> None:
        rig = self.begin()
        rig[self.BUTTON] = None
        rig.run(0.1)
        rig[self.BUTTON] = True
        rig.run(3.0)
        assert not self.acted(rig)

    def test_coming_back_pressed_after_a_gap_it_passes_nothing(self) -> None:
        rig = self.begin()
        rig[self.BUTTON] = False
        rig.run(0.1)
        rig[self.BUTTON] = None
        rig.tick()
        rig[self.BUTTON] = True
        rig.run(1.0)
        assert not self.acted(rig)

    def test_one_press_acts_once(self) -> None:
        rig = self.begin()
        rig[self.BUTTON] = False
        rig.tick()
        rig[self.BUTTON] = True
        rig.run(2.0)
        assert self.acted(rig)


@pytest.mark.sr("SR-04")
class TestEnableEdge(EdgeSuite):
    BUTTON = "helm.enable"

    def begin(self) -> Rig:
        rig = Rig()
        rig.run(0.7)
        return rig

    def acted(self, rig: Rig) -> bool:
        return rig.mode("boat") in ("NEUTRAL_WAIT", "READY")

    def test_a_press_before_the_mode_was_entered_passes_nothing(self) -> None:
        rig = Rig().ready()
        rig["helm.enable"] = True
        rig.run(0.2)
        rig["helm.disable"] = True
        rig.run(0.2)
        rig.expect("off", "boat", "STANDBY")
        rig["helm.disable"] = False
        rig.run(2.0)
        rig.expect("enable was held since before STANDBY", "boat", "STANDBY", signal="helm.enable")


@pytest.mark.sr("SR-04")
class TestResetEdgeOfTheBoat(EdgeSuite):
    BUTTON = "helm.reset"

    def begin(self) -> Rig:
        rig = Rig().ready()
        rig["bank.fault"] = True
        rig.run(0.1)
        rig["bank.fault"] = False
        rig.run(0.1)
        rig.expect("a monitor's fault trips", "boat", "TRIPPED")
        return rig

    def acted(self, rig: Rig) -> bool:
        return rig.mode("boat") == "STANDBY"

    def test_reset_held_from_before_the_trip_passes_nothing(self) -> None:
        rig = Rig().ready()
        rig["helm.reset"] = True
        rig.run(0.1)
        rig["bank.fault"] = True
        rig.tick()
        rig["bank.fault"] = False
        rig.run(2.0)
        rig.expect("reset was held since before the trip", "boat", "TRIPPED")


@pytest.mark.sr("SR-06")
class TestResetEdgeOfAShaft(EdgeSuite):
    BUTTON = "helm.reset"

    def begin(self) -> Rig:
        rig = Rig().ready()
        rig["port.drive.fault"] = True
        rig.run(0.1)
        rig["port.drive.fault"] = False
        rig.run(0.1)
        rig.expect("a drive's fault isolates", "port", "ISOLATED")
        return rig

    def acted(self, rig: Rig) -> bool:
        return rig.mode("port") == "REST"


TRIPS = [
    ("bank.fault", True), ("helm.emergency_stop", True), ("bank.contactor_closed", False),
    ("runtime.receive_ok", False), ("runtime.deadline_ok", False), ("helm.emergency_stop", None),
    ("bank.fault", None), ("bank.contactor_closed", None), ("bank.opening", None), ("helm.disable", None),
]  # fmt: skip


@pytest.mark.parametrize(("signal", "value"), TRIPS)
class TestTripOfTheBoat:
    @pytest.mark.sr("SR-02", "SR-03")
    def test_all_torque_and_every_enable_drop_in_the_tick_of_the_frame(self, signal: str, value: object) -> None:
        rig = Rig().propel(100.0, 1.0, 600.0)
        rig[signal] = value
        rig.tick()
        rig.expect("a trip of the boat", "boat", "TRIPPED", signal=signal)
        rig.expect_zero("a trip of the boat", signal=signal)
        assert all("DRIVE_ENABLE" not in repr(rig.permits(name)) for name in rig.names)
        assert rig.alarms() & Alarm.BOAT_TRIPPED

    @pytest.mark.sr("SR-05")
    def test_reset_with_the_lever_left_ahead_gives_no_motion_until_neutral(self, signal: str, value: object) -> None:
        rig = Rig().propel(100.0, 1.0, 600.0)
        before = rig[signal]
        rig[signal] = value
        rig.tick()
        if signal != "bank.contactor_closed" or value is None:  # an open contactor only bars the way to READY
            rig.press("helm.reset")
            rig.expect("the cause is still there", "boat", "TRIPPED", signal=signal)
        rig[signal] = before
        rig.run(1.0)
        rig.expect("a trip is latched", "boat", "TRIPPED", signal=signal)
        rig.press("helm.reset")
        rig.expect("reset leads to STANDBY, never to READY", "boat", "STANDBY", signal=signal)
        rig.press("helm.enable")
        for _ in range(200):
            rig.tick()
            rig.expect_zero("no motion until neutral", signal=signal)
        rig.levers(0)
        rig.run(0.8)
        rig.expect("neutral at last", "boat", "READY")
        rig.expect_zero("READY is not motion")
        rig.levers(50)
        rig.run(0.5)
        rig.expect("an order after neutral", "port", "PROPEL")


@pytest.mark.sr("SR-36")
def test_power_up_with_everything_on_is_standby_with_zero_commands() -> None:
    """After any power-up or crash: STANDBY, zero commands, whatever levers and switches say."""
    rig = Rig()
    rig.levers(100)
    for name in ("helm.enable", "helm.reset", "helm.acknowledge", "handset.held"):
        rig[name] = True
    for shaft in rig.names:
        for selector in ("charge_under_way", "charge_at_rest", "harvest"):
            rig[f"{shaft}.shaft.{selector}"] = True
        rig[f"{shaft}.handset.thrust_pct"] = 100.0
        rig.speed(shaft, 800)
    for _ in range(200):
        out = rig.tick()
        rig.expect("restart", "boat", "STANDBY")
        rig.expect_zero("restart")
        assert all("DRIVE_ENABLE" not in repr(rig.permits(name)) for name in rig.names)
        assert out.boat_command.handset_in_control == 0


@pytest.mark.sr("SR-36")
def test_nothing_known_at_all_is_standby_and_zero() -> None:
    rig = Rig()
    for name in list(rig._boat):
        rig._boat[name] = None
    for values in rig._shafts:
        for name in values:
            values[name] = None
    for _ in range(50):
        out = rig.tick()
    rig.expect("nothing known", "boat", "STANDBY")
    rig.expect_zero("nothing known")
    assert all(not rig.permits(name) for name in rig.names)
    assert out.boat_command.charge_limit_a == 0.0
    assert out.boat_command.stop_sources == 1


@pytest.mark.sr("SR-45")
class TestOff:
    def test_off_brings_shafts_to_rest_then_the_boat_to_standby(self) -> None:
        rig = Rig().propel(100.0, 2.0, 500.0)
        rig["helm.disable"] = True
        rig.tick()
        rig.expect("off goes through UNLOAD", "port", "UNLOAD")
        rig["helm.disable"] = False
        rig.run(1.0)
        rig.expect("off is remembered", "boat", "STANDBY")
        assert [m[2:] for m in rig.modes if m[1] == "boat"][-1] == ("READY", "STANDBY")

    def test_a_shaft_that_does_not_come_to_rest_does_not_hold_it_up_beyond_5_s(self) -> None:
        rig = Rig({"limits/lever_ramp_s": 20.0}).propel(100.0, 2.0, 500.0)
        rig["port.lever.lever_pct"] = None  # a ramp of 20 s
        rig.run(0.2)
        rig["helm.disable"] = True
        rig.tick()
        rig["helm.disable"] = False
        at = rig.until(lambda: rig.mode("boat") == "STANDBY", 6.0)
        assert at <= 5.1
        rig.expect_zero("off means off")

    def test_off_while_waiting(self) -> None:
        rig = Rig()
        rig.levers(20)
        rig.run(0.5)
        rig.press("helm.enable")
        rig.press("helm.disable")
        rig.expect("off", "boat", "STANDBY")

    def test_enable_while_off_is_held_passes_nothing(self) -> None:
        rig = Rig()
        rig["helm.disable"] = True
        rig.run(0.7)
        rig.press("helm.enable")
        rig.expect("off is held", "boat", "STANDBY")
