"""Stop and lock (SR-60, SR-61): full torque at 80 rpm from still, 20 s at most, lever in neutral, lock released."""

import pytest
from boatyard.boats import boat_config, frozen
from boatyard.rig import Kept, Rig

from supervisor.rules.hold import hold_latches, hold_nm, hold_timers, hold_wanted, turns_with
from supervisor.rules.readings import Lever
from supervisor.rules.state import Hold, ShaftState
from supervisor.signals import Alarm, ShaftInput, ShaftInputs, ShaftPermit

BOAT = frozen({}, shafts=1)
LIM, SHAFT = BOAT.limits, BOAT.shafts[0]
ALL = sum(int(bit) for bit in ShaftInput)
S = ShaftInput
ASKED, RELEASED, ENGAGED = int(S.STOP_AND_LOCK), int(S.LOCK_RELEASED), int(S.LOCK_ENGAGED)
ARMED, FAILED = 1 << 16, 1 << 17
NEUTRAL, OUT = Lever(1, 0, 0), Lever(0, 1, 0)
REST, PROPEL = 0, 1


def shaft(rpm: float = 0.0, on: int = ASKED | RELEASED, known: int = ALL) -> ShaftInputs:
    return ShaftInputs(known=known, on=on & known, machine_speed_rpm=rpm)


def nm(rpm: float, load_nm: float = 0.0, derate_pct: float = 100.0, heat: float = 1.0) -> float:
    state = ShaftState(mode=PROPEL, hold=Hold(held_s=1.0, load_nm=load_nm))
    return hold_nm(LIM, SHAFT, state, shaft(rpm), derate_pct, heat, abs(rpm) * 0.10472)


@pytest.mark.sr("SR-60")
class TestWhen:
    @pytest.mark.parametrize(("on", "known", "latches", "lever", "handset", "wanted"), [
        (ASKED | RELEASED, ALL, ARMED, NEUTRAL, False, True),
        (RELEASED, ALL, ARMED, NEUTRAL, False, False),
        (ASKED | RELEASED, ALL & ~ASKED, ARMED, NEUTRAL, False, False),
        (ASKED | RELEASED, ALL, 0, NEUTRAL, False, False),
        (ASKED | RELEASED, ALL, ARMED, OUT, False, False),
        (ASKED | RELEASED, ALL, ARMED, Lever(0, 0, 1), False, False),
        (ASKED | RELEASED, ALL, ARMED, NEUTRAL, True, False),
        (ASKED, ALL, ARMED, NEUTRAL, False, False),
        (ASKED | ENGAGED, ALL, ARMED, NEUTRAL, False, False),
        (ASKED | RELEASED | ENGAGED, ALL, ARMED, NEUTRAL, False, False),
        (ASKED | RELEASED, ALL & ~RELEASED, ARMED, NEUTRAL, False, False),
        (ASKED | RELEASED, ALL & ~ENGAGED, ARMED, NEUTRAL, False, False),
    ])  # fmt: skip
    def test_it_is_wanted(self, on: int, known: int, latches: int, lever: Lever, handset: bool, wanted: bool) -> None:
        assert hold_wanted(shaft(0.0, on, known), latches, lever, handset) == wanted

    def test_a_selector_counts_once_it_was_seen_off(self) -> None:
        def after(was: int, on: int, known: int = ALL, usable: bool = True, held_s: float = -1.0) -> int:
            return hold_latches(shaft(0.0, on, known), was, usable, Hold(held_s=held_s), 20.0)

        assert after(0, ASKED) == 0, "on since power-up"
        assert after(0, 0) == ARMED
        assert after(ARMED, ASKED) == ARMED
        assert after(ARMED, ASKED, usable=False) == 0
        assert after(ARMED, 0, known=ALL & ~ASKED) == 0
        assert after(ARMED, ASKED, held_s=19.9) == ARMED
        assert after(ARMED, ASKED, held_s=20.0) == FAILED
        assert after(FAILED, ASKED) == FAILED
        assert after(FAILED, 0) == ARMED
        assert after(FAILED, ASKED | ENGAGED) == 0


@pytest.mark.sr("SR-60")
class TestTorque:
    @pytest.mark.parametrize(("rpm", "torque_nm"), [
        (0.0, 0.0), (8.0, -11.0), (-8.0, 11.0), (40.0, -55.0), (80.0, -110.0), (500.0, -110.0), (-500.0, 110.0),
    ])  # fmt: skip
    def test_by_speed(self, rpm: float, torque_nm: float) -> None:
        """110 N m at 80 rpm; 10 kW hold all of it up to 868 rpm."""
        assert nm(rpm) == pytest.approx(torque_nm)

    def test_within_rated_power_heat_and_own_limits(self) -> None:
        assert nm(1000.0) * 1000.0 * 0.10472 == pytest.approx(-10000.0)
        assert nm(300.0, heat=0.5) == pytest.approx(-55.0)
        assert nm(300.0, derate_pct=0.0) == nm(300.0, heat=0.0) == 0.0
        assert nm(300.0, derate_pct=15.0) == pytest.approx(-110.0), "against rotation no derate of power counts"

    @pytest.mark.parametrize(("rpm", "load_nm", "torque_nm"), [
        (0.0, -40.0, -40.0), (4.0, -40.0, -45.5), (-4.0, -40.0, -34.5), (-6.0, -40.0, 0.0), (-50.0, -40.0, 28.75),
        (6.0, 40.0, 0.0), (4.0, 40.0, 34.5),
    ])  # fmt: skip
    def test_what_the_flow_asks_never_turns_the_shaft(self, rpm: float, load_nm: float, torque_nm: float) -> None:
        """Below 5 rpm a shaft counts as still; above it no torque is given the way it turns."""
        assert nm(rpm, load_nm) == pytest.approx(torque_nm)

    def test_what_the_flow_asks_is_learnt_near_to_still(self) -> None:
        def learnt(rpm: float, was_nm: float, mode: int = PROPEL, held_s: float = 1.0) -> float:
            state = ShaftState(mode=mode, hold=Hold(held_s=held_s, load_nm=was_nm))
            return hold_timers(SHAFT, state, shaft(rpm), True, 0.02).load_nm

        assert learnt(8.0, -20.0) == pytest.approx(-20.0 - 11.0 * 0.02 / 0.6)
        assert learnt(80.0, -20.0) == learnt(-300.0, -20.0) == -20.0
        assert learnt(60.0, -109.0) == -110.0
        assert learnt(8.0, -20.0, mode=REST) == 0.0
        assert hold_timers(SHAFT, ShaftState(mode=PROPEL), shaft(), False, 0.02) == Hold()
        assert turns_with(SHAFT, shaft(6.0), 1.0)
        assert not turns_with(SHAFT, shaft(4.0), 1.0)


def _sailing() -> Rig:
    rig = Rig({"limits/hold_s": 3.0}).ready()
    rig["port.drive.machine_speed_rpm"] = 300.0
    rig["port.shaft.propeller_speed_rpm"] = 300.0
    rig.run(0.1)
    return rig


SAILING = Kept(_sailing)


def _turns(rig: Rig, rpm: float) -> None:
    rig["port.drive.machine_speed_rpm"] = rpm
    rig["port.shaft.propeller_speed_rpm"] = rpm


@pytest.mark.sr("SR-60", "SR-61", "SR-39")
class TestWhole:
    def test_braked_held_locked_let_go(self) -> None:
        rig = SAILING()
        rig["port.shaft.stop_and_lock"] = True
        rig.run(0.3)
        rig.expect("it brakes", "port", "PROPEL")
        assert rig.torque("port") < -50.0
        _turns(rig, 3.0)
        rig.run(1.9)
        assert not rig.permits("port") & ShaftPermit.LOCK_ENGAGE
        rig.run(0.2)
        assert rig.permits("port") & ShaftPermit.LOCK_ENGAGE
        assert rig.torque("port") < 0.0
        rig["port.lock.released"] = False
        rig.run(0.06)
        rig.expect_zero("the lock moves", "port")
        assert not rig.alarms(), "planned"
        rig["port.lock.engaged"] = True
        rig.run(4.0)
        rig.expect("locked", "port", "REST")
        assert not rig.alarms()

    def test_unlocked_under_way(self) -> None:
        rig = SAILING()
        rig["port.shaft.stop_and_lock"] = True
        rig["port.lock.released"], rig["port.lock.engaged"] = False, True
        _turns(rig, 0.0)
        rig.run(1.0)
        rig.expect_zero("locked", "port")
        rig["port.lock.engaged"] = False
        rig.run(0.3)
        rig.expect_zero("in transit", "port")
        rig["port.lock.released"] = True
        _turns(rig, 40.0)
        rig.run(0.4)
        rig.expect("held again", "port", "PROPEL")
        assert rig.torque("port") < -20.0
        rig["port.shaft.stop_and_lock"] = False
        rig.run(1.0)
        rig.expect("let go by the slew", "port", "REST")

    def test_its_time_over_is_told_until_the_selector_is_off(self) -> None:
        rig = SAILING()
        rig["port.shaft.stop_and_lock"] = True
        rig.run(2.9)
        rig.expect("3 s are not over", "port", "PROPEL")
        rig.run(2.0)
        rig.expect("the flow is stronger", "port", "REST")
        assert rig.alarms() == Alarm.HOLD_FAILED
        rig.run(2.0)
        rig.expect("not again by itself", "port", "REST")
        rig["port.shaft.stop_and_lock"] = False
        rig.run(0.1)
        assert not rig.alarms()
        rig["port.shaft.stop_and_lock"] = True
        rig.run(0.3)
        rig.expect("seen off", "port", "PROPEL")

    @pytest.mark.parametrize(("name", "value"), [
        ("helm.diver_lockout", True), ("bank.discharge_permit", False), ("port.clutch.closed", False),
        ("port.gearbox.neutral", False), ("helm.emergency_stop", True), ("port.drive.fault", True),
    ])  # fmt: skip
    def test_what_ends_thrust_ends_it(self, name: str, value: bool) -> None:
        rig = SAILING()
        rig["port.shaft.stop_and_lock"] = True
        rig.run(0.3)
        rig[name] = value
        rig.run(0.7)
        rig.expect_zero(name, "port")
        assert rig.alarms()

    def test_the_lever_takes_over(self) -> None:
        rig = SAILING()
        rig["port.shaft.stop_and_lock"] = True
        rig.run(0.3)
        assert rig.torque("port") < -50.0
        rig.lever("port", 60)
        rig.run(1.5)
        assert rig.torque("port") > 20.0
        rig.lever("port", 0)
        rig.run(1.0)
        assert rig.torque("port") < -50.0, "and gives it back"

    def test_a_shaft_that_is_held_is_no_jam(self) -> None:
        rig = Rig({"limits/jam_s": 1.0}).ready()
        _turns(rig, 60.0)
        rig["port.shaft.stop_and_lock"] = True
        rig.run(1.0)
        _turns(rig, 4.0)
        rig.run(4.0)
        assert rig.torque("port") < -0.4 * 110.0
        assert not rig.alarms()

    @pytest.mark.sr("SR-17")
    def test_a_full_bank_ends_harvest_with_a_notice(self) -> None:
        rig = Rig({"shaft/0/gearbox/trailing_allowed": True, "shaft/1/gearbox/trailing_allowed": True}).ready()
        _turns(rig, 300.0)
        rig["port.shaft.harvest"] = True
        rig.run(1.0)
        rig.expect("harvest", "port", "HARVEST")
        rig["bank.soc_pct"] = 94.0
        rig.run(1.0)
        rig.expect("full", "port", "REST")
        assert rig.alarms() & Alarm.HARVEST_DONE
        assert not rig.alarms() & Alarm.STOPPED_1
        _turns(rig, 0.0)
        rig.run(0.1)
        assert not rig.alarms() & Alarm.HARVEST_DONE


def test_boat_files_from_before_need_not_know_the_selector() -> None:
    config = boat_config({"shaft/0/inputs/shaft.stop_and_lock": ...})
    assert "shaft.stop_and_lock" in config.shaft[0].not_fitted
