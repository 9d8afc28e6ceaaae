"""Belt and coupling, and a propeller that does not turn (SR-54, SR-55): 5 % and 40 rpm for 0.3 s; 1 s, 30 %, 1 s
more."""

import pytest
from boatyard.boats import frozen
from boatyard.rig import Kept, Rig

from supervisor.rules.coupling import Beside, coupling_timers, jam_limit_nm, speed_beside, turned_of_late
from supervisor.rules.state import Coupling, Effort, ShaftState, Turned
from supervisor.signals import Alarm, ShaftInput, ShaftInputs

JAM = {"limits/jam_s": 1.0}
BOAT = frozen(JAM, shafts=1)
LIM, SHAFT = BOAT.limits, BOAT.shafts[0]
ALL = sum(int(bit) for bit in ShaftInput)
S = ShaftInput
CLOSED, OPEN, IN_GEAR = int(S.CLUTCH_CLOSED), int(S.CLUTCH_OPEN), int(S.GEAR_AHEAD)
REST, PROPEL, GENERATE, HARVEST, UNLOAD, ISOLATED = range(6)
PULLS = Effort(torque_nm=60.0)
PROPELLING = Kept(lambda: Rig().propel(60.0, 2.0, 500.0))


def turning(machine: float, propeller: float, on: int = CLOSED, **more: float) -> ShaftInputs:
    return ShaftInputs(known=ALL, on=on, machine_speed_rpm=machine, propeller_speed_rpm=propeller, **more)


def after(was: Coupling, one: ShaftInputs, mode: int = PROPEL, effort: Effort = PULLS, dt_s: float = 0.1) -> Coupling:
    state = ShaftState(mode=mode, coupling=was, effort=effort)
    return coupling_timers(LIM, SHAFT, state, turned_of_late(SHAFT, Turned(), one, dt_s), one, dt_s)


@pytest.mark.sr("SR-54")
class TestApart:
    @pytest.mark.parametrize(("machine", "propeller", "apart", "slips"), [
        (500.0, 500.0, False, False), (500.0, 435.1, False, True), (500.0, 434.9, True, True),
        (500.0, 567.0, False, True), (500.0, 569.0, True, True), (-500.0, -434.9, True, True), (500.0, 470.0, False,
        False),
        (0.0, 40.0, False, True), (0.0, 42.2, True, True), (-30.0, 30.0, True, True), (1300.0, 200.0, True, True),
    ])  # fmt: skip
    def test_how_far(self, machine: float, propeller: float, apart: bool, slips: bool) -> None:
        """At 500 rpm 40 + 25 = 65 rpm are allowed, half of it before it is a slip."""
        now = after(Coupling(), turning(machine, propeller))
        assert (now.off_s >= 0.0, now.slip_s > 0.0) == (apart, slips)

    @pytest.mark.parametrize("mode", range(6))
    def test_only_at_work(self, mode: int) -> None:
        now = after(Coupling(off_s=0.2), turning(1300.0, 200.0), mode)
        assert now.off_s == pytest.approx(0.3 if mode != REST else -1.0), "isolated: until they turn alike"
        assert (now.slip_s > 0.0) == (mode in (PROPEL, GENERATE, HARVEST, UNLOAD))

    def test_no_torque_is_no_excuse(self) -> None:
        """A machine that came loose runs up to where no torque is ordered any more."""
        assert after(Coupling(off_s=0.2), turning(1300.0, 200.0), effort=Effort()).off_s == pytest.approx(0.3)

    @pytest.mark.parametrize("unknown", [S.MACHINE_SPEED, S.PROPELLER_SPEED, S.CLUTCH_CLOSED, S.CLUTCH_OPEN])
    def test_what_is_not_known_is_no_proof(self, unknown: ShaftInput) -> None:
        one = turning(1300.0, 200.0)
        one = one._replace(known=one.known & ~int(unknown), on=one.on & ~int(unknown))
        assert unknown is S.MACHINE_SPEED or speed_beside(SHAFT, one).known == 0
        assert after(Coupling(off_s=0.2), one).off_s == -1.0

    def test_at_rest_the_engine_says_what_the_drive_should_turn(self) -> None:
        """2.5 : 1; engine at 1500 rpm: 600 rpm at the shaft."""
        one = turning(600.0, 0.0, OPEN | IN_GEAR, engine_speed_rpm=1500.0, gear_report=1.0)
        assert speed_beside(SHAFT, one) == Beside(1, 600.0, SHAFT.engine_age_s)
        assert after(Coupling(), one, GENERATE).off_s == -1.0
        assert after(Coupling(), one._replace(machine_speed_rpm=100.0), GENERATE).off_s == 0.0
        assert speed_beside(SHAFT, one._replace(on=OPEN)).known == 0, "not in gear"
        assert speed_beside(SHAFT, one._replace(known=ALL & ~int(S.ENGINE_SPEED))).known == 0

    def test_what_the_drive_turned_with(self) -> None:
        """Stretches of 0.08 s, and the one before."""
        was = Turned()
        seen = []
        for rpm in (100.0, 140.0, 90.0, 120.0, 130.0, 150.0, 160.0, 170.0, 180.0):
            was = turned_of_late(SHAFT._replace(propeller_age_s=0.079), was, turning(rpm, 0.0), 0.02)
            seen.append((min(was.low_rpm, was.before_low_rpm), max(was.high_rpm, was.before_high_rpm)))
        assert seen == [
            (100.0, 100.0), (100.0, 140.0), (90.0, 140.0), (90.0, 140.0), (90.0, 140.0), (90.0, 150.0), (90.0, 160.0),
            (90.0, 170.0), (130.0, 180.0),
        ]  # fmt: skip
        assert turned_of_late(SHAFT, was, turning(1.0, 0.0)._replace(known=0), 0.02) == Turned()

    @pytest.mark.parametrize(("propeller", "apart"), [
        (300.0, False), (500.0, False), (450.0, False), (673.0, False), (674.0, True), (136.0, False), (134.0, True),
    ])  # fmt: skip
    def test_old_frames_are_none(self, propeller: float, apart: bool) -> None:
        """The drive went from 300 to 500 rpm: 100 rpm more to either side than 40 rpm and 5 % of the faster one."""
        state = ShaftState(mode=PROPEL, effort=PULLS)
        turned = Turned(low_rpm=400.0, high_rpm=500.0, before_low_rpm=300.0, before_high_rpm=400.0, runs_s=0.04)
        now = coupling_timers(LIM, SHAFT, state, turned, turning(500.0, propeller), 0.02)
        assert (now.off_s >= 0.0) == apart

    def test_slipping_is_forgotten_fifty_times_as_slowly(self) -> None:
        together = turning(500.0, 500.0)
        assert after(Coupling(slip_s=0.5), together).slip_s == pytest.approx(0.498)
        assert after(Coupling(slip_s=0.001), together).slip_s == 0.0
        assert after(Coupling(slip_s=0.58), turning(500.0, 435.1)).slip_s == 0.6

    def test_it_isolates_this_shaft_after_its_time_and_says_so(self) -> None:
        rig = PROPELLING()
        rig["port.drive.machine_speed_rpm"] = 800.0
        rig.run(0.28)
        rig.expect("0.3 s are not over", "port", "PROPEL")
        rig.run(0.16)
        rig.expect_zero("coupling lost", "port")
        rig.expect("coupling lost", "port", "ISOLATED")
        rig.expect("the other goes on", "starboard", "PROPEL")
        assert rig.alarms() & Alarm.SHAFT_ISOLATED

    def test_a_slip_is_told_and_stops_nothing(self) -> None:
        rig = PROPELLING()
        rig["port.drive.machine_speed_rpm"] = 550.0
        rig.run(0.2)
        assert not rig.alarms() & Alarm.COUPLING_SLIPS
        rig.run(0.4)
        assert rig.alarms() & Alarm.COUPLING_SLIPS
        rig.expect("nothing stops", "port", "PROPEL")

    def test_get_home_takes_the_watch_off(self) -> None:
        """A speed sensor that lies must not cost the boat its thrust."""
        rig = PROPELLING()
        rig["helm.get_home"] = True
        rig["port.shaft.propeller_speed_rpm"] = 0.0
        rig.run(3.0)
        rig.expect("get-home", "port", "PROPEL")
        assert rig.alarms() & Alarm.GET_HOME_ACTIVE
        assert rig.alarms() & Alarm.COUPLING_SLIPS
        rig["helm.get_home"] = False
        rig.run(0.06)
        rig.expect("watched again", "port", "ISOLATED")

    def test_no_reset_while_they_are_known_to_turn_apart(self) -> None:
        """Nor with get-home off: a drive that races once more is no way to look for a belt."""
        rig = PROPELLING()
        rig["port.drive.machine_speed_rpm"] = 800.0
        rig.run(0.5)
        rig.lever("port", 0)
        rig.run(0.6)
        rig.press("helm.reset")
        rig.run(0.6)
        rig.expect("they turn apart", "port", "ISOLATED")
        rig["helm.get_home"] = True
        rig.press("helm.reset")
        rig.run(0.6)
        rig.expect("get-home: the sensor may lie", "port", "REST")

    def test_reset_and_neutral_bring_it_back(self) -> None:
        rig = PROPELLING()
        rig["port.drive.machine_speed_rpm"] = 800.0
        rig.run(0.5)
        rig.expect("lost", "port", "ISOLATED")
        rig["port.drive.machine_speed_rpm"] = 500.0
        rig.lever("port", 0)
        rig.run(0.6)
        rig.press("helm.reset")
        rig.run(0.6)
        rig.expect("reset", "port", "REST")
        rig.lever("port", 60)
        rig.run(0.5)
        rig.expect("fresh neutral was seen", "port", "PROPEL")


@pytest.mark.sr("SR-55")
class TestJam:
    @pytest.mark.parametrize(("torque_nm", "rpm", "counts"), [
        (44.0, 0.0, True), (-44.0, 4.9, True), (44.0, -4.9, True), (43.9, 0.0, False), (110.0, 5.0, False), (0.0, 0.0,
        False),
    ])  # fmt: skip
    def test_what_counts(self, torque_nm: float, rpm: float, counts: bool) -> None:
        """40 % of 110 N m on a drive known to stand."""
        one = turning(rpm, rpm)
        assert (after(Coupling(), one, effort=Effort(torque_nm=torque_nm)).jam_s >= 0.0) == counts
        blind = one._replace(known=ALL & ~int(S.MACHINE_SPEED))
        assert after(Coupling(), blind, effort=Effort(torque_nm=torque_nm)).jam_s == -1.0

    @pytest.mark.parametrize(("torque_nm", "goes_on"), [(33.0, True), (16.5, True), (16.4, False)])
    def test_a_jam_goes_on_with_what_it_was_cut_to(self, torque_nm: float, goes_on: bool) -> None:
        now = after(Coupling(jam_s=1.0), turning(0.0, 0.0), effort=Effort(torque_nm=torque_nm))
        assert now.jam_s == pytest.approx(1.1 if goes_on else -1.0)

    @pytest.mark.parametrize(("jam_s", "most_nm"), [(-1.0, 110.0), (0.98, 110.0), (1.0, 33.0), (5.0, 33.0)])
    def test_the_cut(self, jam_s: float, most_nm: float) -> None:
        assert jam_limit_nm(LIM, SHAFT, Coupling(jam_s=jam_s)) == pytest.approx(most_nm)

    def test_cut_then_isolated_then_reset(self) -> None:
        rig = Rig(JAM).ready()
        rig.lever("port", 100)
        rig.run(1.1)
        assert rig.torque("port") > 100.0
        rig.run(0.7)
        assert rig.torque("port") == pytest.approx(33.0, abs=0.5)
        assert rig.alarms() & Alarm.JAMMED
        rig.run(1.0)
        rig.expect("jammed", "port", "ISOLATED")
        rig.expect_zero("jammed", "port")
        rig.run(2.0)
        rig.press("helm.reset")
        rig.run(0.2)
        rig.expect("the lever is ahead", "port", "ISOLATED")
