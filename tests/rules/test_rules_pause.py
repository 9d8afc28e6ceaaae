"""A contact that bounces pauses thrust: zero at once, back by the slew, unless it was too long, too often or moved."""

import pytest
from boatyard.rig import Kept, Rig

from supervisor.controller import EventKind
from supervisor.signals import Alarm

pytestmark = pytest.mark.sr("SR-62")

PROPELLING = Kept(lambda: Rig().propel(60.0, 1.0, 500.0))
CONTACTS = {
    "port.lock.released": (False, None), "port.lock.engaged": (True, None), "port.clutch.closed": (False, None),
    "port.clutch.open": (True, None),
}  # fmt: skip
BOUNCES = [(name, value) for name, values in CONTACTS.items() for value in values]
BOUNCED = int(Alarm.CONTACT_BOUNCED)
STOPPED = int(Alarm.STOPPED_1)


@pytest.fixture
def rig() -> Rig:
    return PROPELLING()


def alarms(rig: Rig) -> int:
    assert rig.out is not None
    return rig.out.boat_command.alarms


def bounce(rig: Rig, ticks: int, name: str = "port.clutch.closed", value: object = False) -> None:
    """The contact is away for so many ticks, and back."""
    good = rig[name]
    rig[name] = value
    for _ in range(ticks):
        rig.tick()
        rig.expect_zero("torque is zero while the contact is away", "port")
    rig[name] = good
    rig.tick()


@pytest.mark.parametrize(("name", "value"), BOUNCES)
@pytest.mark.parametrize("ticks", [1, 5, 10])
def test_thrust_comes_back_by_the_slew_once_the_contact_does(rig: Rig, name: str, value: object, ticks: int) -> None:
    before = rig.torque("port")
    other = rig.torque("starboard")
    bounce(rig, ticks, name, value)
    rig.expect("a bounce is a pause", "port", "PROPEL")
    last = 0.0
    for _ in range(60):
        grown = rig.torque("port") - last
        assert 0.0 <= grown <= 400.0 * 0.02 + 1e-9, "the slew of the test boat, from zero"
        last = rig.torque("port")
        rig.tick()
    assert last == pytest.approx(before)
    assert rig.torque("starboard") == pytest.approx(other), "the other shaft goes on"
    assert not alarms(rig) & STOPPED


@pytest.mark.parametrize("side", [1.0, -1.0])
def test_an_engine_that_is_seen_running_in_gear_for_a_moment(side: float) -> None:
    rig = Rig().propel(60.0 * side, 1.0, 500.0 * side)
    rig["port.engine.running"] = True
    rig["port.gearbox.neutral"] = False
    for _ in range(5):
        rig.tick()
        rig.expect_zero("the engine is not clear", "port")
    rig["port.engine.running"] = False
    rig["port.gearbox.neutral"] = True
    rig.tick()
    rig.expect("a bounce is a pause", "port", "PROPEL")


def test_a_fifth_of_a_second_is_too_long(rig: Rig) -> None:
    bounce(rig, 12)
    rig.run(2.0)
    rig.expect_zero("0.2 s have passed: the stop is for good", "port")
    assert alarms(rig) & STOPPED


def test_a_late_tick_that_finds_the_contact_still_away_ends_the_pause(rig: Rig) -> None:
    rig["port.clutch.closed"] = False
    rig.tick()
    rig.tick(0.3)
    rig["port.clutch.closed"] = True
    rig.run(1.0)
    rig.expect_zero("away for 0.3 s", "port")


@pytest.mark.parametrize(
    ("moved_pct", "back"), [(62.0, True), (62.1, False), (100.0, False), (40.0, True), (-50.0, True)]
)
def test_a_lever_moved_further_out_ends_the_pause(rig: Rig, moved_pct: float, back: bool) -> None:
    rig["port.clutch.closed"] = False
    rig.tick()
    rig["port.lever.lever_pct"] = moved_pct
    rig.tick()
    rig["port.clutch.closed"] = True
    rig.tick()
    rig.run(1.0)
    assert (rig.mode("port") == "PROPEL") is back
    assert bool(alarms(rig) & STOPPED) is not back, "what does not come back is told"


def test_the_third_within_ten_seconds_ends_thrust(rig: Rig) -> None:
    for _ in range(2):
        bounce(rig, 2)
        rig.expect("a bounce is a pause", "port", "PROPEL")
        rig.run(3.0)
    bounce(rig, 2)
    rig.run(1.0)
    rig.expect_zero("the third pause within 10 s ends thrust", "port")
    assert alarms(rig) & STOPPED
    rig.lever("port", 0)
    rig.run(0.6)
    rig.lever("port", 60)
    rig.run(0.5)
    rig.expect("fresh neutral brings it back", "port", "PROPEL")


def test_a_third_one_later_is_a_pause_again(rig: Rig) -> None:
    for _ in range(4):
        bounce(rig, 2)
        rig.expect("no third one within 10 s", "port", "PROPEL")
        rig.run(5.1)


def test_with_the_handset_in_control_a_contact_ends_thrust() -> None:
    rig = Rig().handset(80.0, 1.0)
    bounce(rig, 1)
    rig.run(1.0)
    rig.expect_zero("nobody may be at the helm", "port")
    assert alarms(rig) & STOPPED


@pytest.mark.parametrize(("name", "value"), [
    ("bank.discharge_permit", False), ("helm.diver_lockout", True), ("helm.disable", True),
    ("port.shaft.out_of_service", True), ("port.drive.fault", True), ("helm.emergency_stop", True),
])  # fmt: skip
def test_anything_else_that_goes_in_the_pause_ends_thrust(rig: Rig, name: str, value: object) -> None:
    rig["port.clutch.closed"] = False
    rig.tick()
    good = rig[name]
    rig[name] = value
    rig.tick()
    rig["port.clutch.closed"] = True
    rig[name] = good
    rig.run(1.0)
    rig.expect_zero(f"{name} went in the pause", "port")


def test_a_bounce_while_a_reversal_passes_zero_leaves_astern(rig: Rig) -> None:
    """The crash stop, with the contact bouncing at its worst: the lever is on its way through neutral."""
    rig.lever("port", -80)
    rig.tick()
    bounce(rig, 3)
    rig.run(2.0)
    assert rig.torque("port") < 0.0


def test_a_bounce_in_neutral_while_unloading_leaves_the_lever_armed(rig: Rig) -> None:
    rig.lever("port", 0)
    rig.tick()
    rig.expect("unloads", "port", "UNLOAD")
    bounce(rig, 2)
    assert rig.controller.rearmed(0)
    rig.lever("port", -60)
    rig.run(0.6)
    assert rig.torque("port") < 0.0


def test_it_is_told_for_ten_seconds_and_does_not_sound(rig: Rig) -> None:
    bounce(rig, 2)
    assert rig.out is not None
    assert alarms(rig) & BOUNCED
    assert rig.out.boat_command.sounder == 0
    rig.run(9.8)
    assert alarms(rig) & BOUNCED
    rig.run(0.3)
    assert not alarms(rig) & BOUNCED


def test_the_journal_names_the_contact_of_a_pause_and_of_its_failing(rig: Rig) -> None:
    rig.events.clear()
    bounce(rig, 2)
    paused = [one for one in rig.events if one.kind == EventKind.MODE and one.subject == "port"]
    assert "thrust is paused" in paused[0].text
    assert "clutch" in paused[0].text
    bounce(rig, 12)
    told = [one for one in rig.events if one.kind == EventKind.ALARM and one.first_out == "STOPPED_1"]
    assert len(told) == 1
    assert "contact" in told[0].text
