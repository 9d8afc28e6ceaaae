"""The shore cable bars a start; under way its contact only alarms, until the boat has lain still."""

import pytest
from boatyard.rig import Rig

from supervisor.signals import Alarm

pytestmark = pytest.mark.sr("SR-11")

SHORE = int(Alarm.SHORE_UNDER_WAY)


def alarms(rig: Rig) -> int:
    assert rig.out is not None
    return rig.out.boat_command.alarms


@pytest.mark.parametrize("contact", [True, None])
def test_no_thrust_begins_with_the_cable_in_or_unknown(contact: bool | None) -> None:
    rig = Rig().ready()
    rig["helm.shore_connected"] = contact
    rig.run(1.0)
    rig.lever("port", 60)
    rig.run(1.0)
    rig.expect_zero("shore cable is in", "port")
    assert not alarms(rig) & SHORE, "the refusal says so, the alarm is for under way"


@pytest.mark.parametrize("contact", [True, None])
def test_under_way_it_alarms_and_stops_nothing(contact: bool | None) -> None:
    rig = Rig().propel(60.0, 1.0, 500.0)
    rig["helm.shore_connected"] = contact
    rig.run(5.0)
    rig.expect("under way", "port", "PROPEL")
    assert alarms(rig) & SHORE
    assert rig.out is not None
    assert rig.out.boat_command.sounder == 1
    rig.levers(0)
    rig.run(1.0)
    rig.lever("port", -60)
    rig.run(2.0)
    assert rig.torque("port") < 0.0, "passing neutral is no start"
    rig["helm.shore_connected"] = False
    rig.tick()
    assert not alarms(rig) & SHORE


def still(rig: Rig) -> None:
    rig.levers(0)
    rig.run(1.0)
    for shaft in ("port", "starboard"):
        rig[f"{shaft}.drive.machine_speed_rpm"] = 0.0
        rig[f"{shaft}.shaft.propeller_speed_rpm"] = 0.0


@pytest.mark.parametrize(("lain_s", "barred"), [(59.0, False), (60.1, True)])
def test_it_bars_again_once_the_boat_has_lain_still_for_its_time(lain_s: float, barred: bool) -> None:
    rig = Rig().propel(60.0, 1.0, 500.0)
    rig["helm.shore_connected"] = True
    still(rig)
    rig.run(lain_s)
    assert bool(alarms(rig) & SHORE) is not barred
    rig.lever("port", 60)
    rig.run(0.5)
    assert (rig.mode("port") == "REST") is barred


@pytest.mark.parametrize("moves", ["starboard.drive.machine_speed_rpm", "port.lever.lever_pct"])
def test_one_shaft_that_turns_or_a_lever_out_is_no_lying_still(moves: str) -> None:
    rig = Rig().propel(60.0, 1.0, 500.0)
    still(rig)
    rig[moves] = 50.0
    rig.run(61.0)
    rig[moves] = 0.0
    rig["helm.shore_connected"] = True
    rig.run(1.0)
    assert alarms(rig) & SHORE


def test_a_shaft_out_of_service_need_not_be_still() -> None:
    rig = Rig().propel(60.0, 1.0, 500.0)
    still(rig)
    rig["starboard.shaft.out_of_service"] = True
    rig["starboard.drive.machine_speed_rpm"] = 90.0
    rig.run(60.1)
    rig["helm.shore_connected"] = True
    rig.run(1.0)
    assert not alarms(rig) & SHORE


def test_leaving_ready_is_the_end_of_under_way() -> None:
    rig = Rig().propel(60.0, 1.0, 500.0)
    rig["helm.shore_connected"] = True
    rig.run(0.5)
    rig.levers(0)
    rig["helm.emergency_stop"] = True
    rig.tick()
    rig["helm.emergency_stop"] = False
    rig.press("helm.reset")
    rig.press("helm.enable")
    rig.run(3.0)
    rig.lever("port", 60)
    rig.run(1.0)
    rig.expect_zero("READY was entered anew with the cable in", "port")


def test_harvest_too_goes_on() -> None:
    rig = Rig().harvest(3.0)
    rig["helm.shore_connected"] = True
    rig.run(2.0)
    rig.expect("under way under sail", "port", "HARVEST")
