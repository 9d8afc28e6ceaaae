"""Handset: hold-to-run, one boat only, 50 % of thrust, all levers neutral, one control position, zero at once."""

import pytest
from boatyard.rig import Kept, Rig

from supervisor.signals import Alarm

IN_HAND = Kept(lambda: Rig().handset(100.0, 1.0))


@pytest.fixture
def rig() -> Rig:
    return IN_HAND()


def in_control(rig: Rig) -> bool:
    assert rig.out is not None
    return rig.out.boat_command.handset_in_control == 1


def thrust(rig: Rig, pct: float) -> None:
    for name in rig.names:
        rig[f"{name}.handset.thrust_pct"] = pct


@pytest.mark.sr("SR-28")
def test_it_gives_half_the_torque_at_most(rig: Rig) -> None:
    assert rig.torque() == pytest.approx(55.0)
    assert in_control(rig)


@pytest.mark.sr("SR-28")
def test_it_gives_half_the_power_at_most(rig: Rig) -> None:
    for name in rig.names:
        rig.speed(name, 1000)
    rig.run(1.0)
    assert rig.torque() * 1000 * 0.104719755 == pytest.approx(5000.0, rel=1e-6)


LOST = [
    ("handset.held", None), ("handset.ours", None), ("handset.ours", False), ("port.handset.thrust_pct", None),
    ("starboard.handset.thrust_pct", float("nan")),
]  # fmt: skip


@pytest.mark.sr("SR-27")
@pytest.mark.parametrize(("signal", "value"), LOST)
class TestLost:
    def test_zero_at_once_on_every_shaft(self, rig: Rig, signal: str, value: object) -> None:
        rig[signal] = value
        rig.tick()
        rig.expect_zero("handset lost: zero at once", signal=signal)
        assert rig.alarms() & Alarm.HANDSET_LOST
        assert not in_control(rig)

    def test_the_alarm_stays_until_it_is_acknowledged(self, rig: Rig, signal: str, value: object) -> None:
        rig[signal] = value
        rig.run(3.0)
        assert rig.alarms() & Alarm.HANDSET_LOST
        rig.press("helm.acknowledge")
        assert not rig.alarms() & Alarm.HANDSET_LOST

    @pytest.mark.sr("SR-05")
    def test_coming_back_with_the_button_held_gives_nothing(self, rig: Rig, signal: str, value: object) -> None:
        before = rig[signal]
        rig[signal] = value
        for ticks in (1, 3, 60):
            rig.run(ticks * 0.02)
            rig[signal] = before
            rig.run(1.0)
            rig.expect_zero("regained with the button held: no motion", signal=signal)
            assert not in_control(rig)
            rig[signal] = value
            rig.tick()

    def test_a_new_press_with_thrust_at_zero_takes_it_again(self, rig: Rig, signal: str, value: object) -> None:
        rig[signal] = value
        rig.run(0.1)
        rig[signal] = 100.0 if "thrust" in signal else True
        rig["handset.held"] = False
        thrust(rig, 0.0)
        rig.run(0.7)
        rig["handset.held"] = True
        rig.run(0.7)
        assert in_control(rig), rig.report("a new press", "handset in control", "not")
        thrust(rig, 60.0)
        rig.run(0.5)
        rig.expect("a new press, then thrust", "port", "PROPEL")


@pytest.mark.sr("SR-29")
class TestTaking:
    @pytest.fixture
    def waiting(self) -> Rig:
        rig = Rig().ready()
        rig["handset.held"] = False
        rig.run(0.2)
        return rig

    def test_a_press_takes_it(self, waiting: Rig) -> None:
        waiting["handset.held"] = True
        waiting.tick()
        assert in_control(waiting)

    def test_not_with_thrust_already_selected(self, waiting: Rig) -> None:
        """33 CFR 183.710 (start-in-gear protection): no start with thrust selected."""
        thrust(waiting, 60.0)
        waiting.tick()
        waiting["handset.held"] = True
        waiting.run(1.0)
        waiting.expect_zero("no start with thrust selected")
        assert not in_control(waiting)

    @pytest.mark.parametrize("pct", [5.0, -5.0])
    def test_thrust_within_the_band_is_none(self, waiting: Rig, pct: float) -> None:
        thrust(waiting, pct)
        waiting["handset.held"] = True
        waiting.tick()
        assert in_control(waiting)

    def test_not_with_thrust_just_outside_the_band(self, waiting: Rig) -> None:
        thrust(waiting, 5.1)
        waiting["handset.held"] = True
        waiting.tick()
        assert not in_control(waiting)

    def test_not_from_another_boats_handset(self, waiting: Rig) -> None:
        waiting["handset.ours"] = False
        waiting["handset.held"] = True
        waiting.run(0.5)
        assert not in_control(waiting)

    def test_another_boats_handset_let_go_is_no_release_of_ours(self, waiting: Rig) -> None:
        waiting["handset.held"] = True
        waiting.run(0.2)
        waiting["handset.held"] = None
        waiting.run(0.2)
        waiting["handset.ours"], waiting["handset.held"] = False, False
        waiting.tick()
        waiting["handset.ours"], waiting["handset.held"] = True, True
        waiting.run(0.5)
        assert not in_control(waiting)

    @pytest.mark.parametrize(("minutes", "taken"), [(15.0, True), (14.9, False), (0.0, False), (None, False)])
    def test_not_with_less_than_15_minutes_left(self, waiting: Rig, minutes: float | None, taken: bool) -> None:
        """ISO 25197:2012, 7.4 to 7.7 (as summarised in the fact sheet): no activation below 15 min, warning before."""
        waiting["handset.minutes"] = minutes
        waiting["handset.held"] = True
        waiting.run(0.2)
        assert in_control(waiting) == taken
        assert bool(waiting.alarms() & Alarm.HANDSET_LOW) == (minutes is not None and minutes < 15)

    @pytest.mark.parametrize(("pct", "contact"), [(30.0, False), (0.0, False), (8.0, True), (None, True), (0.0, None)])
    def test_not_with_a_lever_out_of_neutral(self, waiting: Rig, pct: float | None, contact: bool | None) -> None:
        waiting["starboard.lever.lever_pct"], waiting["starboard.lever.neutral"] = pct, contact
        waiting.run(0.1)
        waiting["handset.held"] = True
        waiting.run(1.0)
        assert not in_control(waiting)
        assert waiting.alarms() & Alarm.CONTROL_CONFLICT

    def test_not_before_ready(self) -> None:
        rig = Rig()
        rig["handset.held"] = False
        rig.run(0.7)
        rig["handset.held"] = True
        rig.run(0.1)
        rig.press("helm.enable")
        rig.run(1.0)
        rig.expect("ready", "boat", "READY")
        assert not in_control(rig), "a button held since before READY passes nothing"

    def test_a_lever_of_a_shaft_out_of_service_does_not_matter(self) -> None:
        rig = Rig()
        rig.lever("starboard", 70)
        rig["starboard.shaft.out_of_service"] = True
        rig.ready()
        rig["handset.held"] = False
        rig.run(0.1)
        rig["handset.held"] = True
        rig.tick()
        assert in_control(rig)


@pytest.mark.sr("SR-29")
class TestKeeping:
    def test_letting_go_ends_thrust_and_gives_the_lever_back(self, rig: Rig) -> None:
        rig["handset.held"] = False
        rig.tick()
        assert not in_control(rig)
        assert not rig.alarms() & Alarm.HANDSET_LOST
        rig.run(0.6)
        rig.expect_zero("hold-to-run")
        rig.lever("port", 50)
        rig.run(0.5)
        rig.expect("the lever is the control position again", "port", "PROPEL")

    def test_pressing_again_with_thrust_still_selected_gives_nothing(self, rig: Rig) -> None:
        rig["handset.held"] = False
        rig.run(0.6)
        rig["handset.held"] = True
        rig.run(1.0)
        rig.expect_zero("no start with thrust selected")

    def test_a_lever_moved_meanwhile_ends_it_at_once(self, rig: Rig) -> None:
        rig.lever("starboard", 40)
        rig.tick()
        rig.expect_zero("one control position at a time")
        assert not in_control(rig)
        assert rig.alarms() & Alarm.CONTROL_CONFLICT
        rig.run(1.0)
        rig.expect_zero("the lever gives no thrust either, before fresh neutral")
        texts = [event.text for event in rig.events if event.subject in rig.names]
        assert any("lever" in text for text in texts[-2:]), texts[-2:]

    def test_low_charge_while_in_use_warns_and_goes_on(self, rig: Rig) -> None:
        rig["handset.minutes"] = 10.0
        rig.run(0.5)
        rig.expect("warned, not stopped", "port", "PROPEL")
        assert rig.alarms() & Alarm.HANDSET_LOW

    @pytest.mark.sr("SR-05")
    def test_after_a_permit_came_back_thrust_must_be_zero_for_half_a_second(self, rig: Rig) -> None:
        rig["bank.discharge_permit"] = False
        rig.tick()
        rig["bank.discharge_permit"] = True
        for seconds in (0.02, 0.2, 0.4):
            rig.run(0.5)
            rig.expect_zero("no path into motion: handset thrust was never let go")
            thrust(rig, 0.0)
            rig.run(seconds)
            thrust(rig, 80.0)
            rig.run(0.5)
            rig.expect_zero(f"{seconds} s of zero is not fresh neutral")
        thrust(rig, 0.0)
        rig.run(0.6)
        thrust(rig, 80.0)
        rig.run(0.5)
        rig.expect("fresh neutral of the control position rearms", "port", "PROPEL")

    def test_off_ends_it(self, rig: Rig) -> None:
        rig.press("helm.disable")
        rig.run(1.0)
        rig.expect("off", "boat", "STANDBY")
        assert not in_control(rig)

    def test_a_trip_ends_it(self, rig: Rig) -> None:
        rig["helm.emergency_stop"] = True
        rig.tick()
        rig.expect_zero("emergency stop")
        rig.tick()
        assert not in_control(rig)
