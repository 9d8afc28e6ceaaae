"""Idle but live: a reminder after 10 min without an order, STANDBY after 5 min more."""

import pytest
from boatyard.rig import Kept, Rig

from supervisor.signals import Alarm

READY = Kept(lambda: Rig().ready())


def idle(rig: Rig, seconds: float) -> None:
    """Time in ticks of half a second: nothing moves."""
    rig.run(seconds, 0.5)


@pytest.mark.sr("SR-35")
def test_a_reminder_on_screen_and_sounder_after_10_minutes() -> None:
    rig = READY()
    idle(rig, 598.0)
    assert not rig.alarms() & Alarm.IDLE_REMINDER
    idle(rig, 4.0)
    assert rig.alarms() & Alarm.IDLE_REMINDER
    assert rig.out is not None
    assert rig.out.boat_command.sounder == 1
    rig.expect("only a reminder yet", "boat", "READY")


@pytest.mark.sr("SR-35")
def test_standby_after_5_minutes_more() -> None:
    rig = READY()
    idle(rig, 898.0)
    rig.expect("10 + 5 minutes", "boat", "READY")
    idle(rig, 4.0)
    rig.expect("10 + 5 minutes", "boat", "STANDBY")
    assert not rig.alarms() & Alarm.IDLE_REMINDER


def test_an_acknowledgement_counts_as_an_order() -> None:
    rig = READY()
    idle(rig, 800.0)
    rig.press("helm.acknowledge")
    assert not rig.alarms() & Alarm.IDLE_REMINDER
    idle(rig, 590.0)
    assert not rig.alarms() & Alarm.IDLE_REMINDER
    rig.expect("counted anew", "boat", "READY")


@pytest.mark.sr("SR-35")
def test_a_stuck_acknowledge_button_does_not_keep_the_drives_live() -> None:
    rig = READY()
    rig["helm.acknowledge"] = True
    idle(rig, 905.0)
    rig.expect("a switch left on does nothing until it has been off", "boat", "STANDBY")


@pytest.mark.parametrize("what", ["propel", "generate", "harvest"])
def test_work_is_an_order(what: str) -> None:
    rig = getattr(Rig(), what)()
    rig.obey = True
    idle(rig, 1000.0)
    rig.expect("at work", "boat", "READY")
    assert not rig.alarms() & Alarm.IDLE_REMINDER


@pytest.mark.sr("SR-35")
@pytest.mark.parametrize(("signal", "value"), [("port.lever.lever_pct", None), ("port.shaft.charge_under_way", True)])
def test_what_comes_to_nothing_is_no_order(signal: str, value: object) -> None:
    """A lever lost, a charge selector beside a stopped engine."""
    rig = READY()
    rig[signal] = value
    rig.run(0.1)
    idle(rig, 905.0)
    rig.expect("live and idle", "boat", "STANDBY", signal=signal)


def test_a_lever_left_ahead_and_disarmed_is_no_order() -> None:
    rig = Rig().propel(60.0, 1.0, 0.0)
    rig["bank.discharge_permit"] = False
    rig.tick()
    rig["bank.discharge_permit"] = True
    idle(rig, 905.0)
    rig.expect("live and idle", "boat", "STANDBY")


def test_time_in_standby_does_not_count() -> None:
    rig = Rig()
    idle(rig, 2000.0)
    rig.ready()
    idle(rig, 590.0)
    rig.expect("counted from READY", "boat", "READY")
    assert not rig.alarms() & Alarm.IDLE_REMINDER
