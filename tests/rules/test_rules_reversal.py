"""Torque slew, reversal through zero with a dwell, lever lost in 3 s, limits over slew, off-hand numbers of thrust."""

import pytest
from boatyard.rig import Kept, Rig
from hypothesis import given
from hypothesis import strategies as st

from supervisor.signals import Alarm

PROPELLING = Kept(lambda: Rig().propel(60.0, 1.0, 0.0))


@pytest.mark.sr("SR-24")
class TestSlew:
    """250 N m/s on the test boat, in steps and over windows."""

    @given(levers=st.lists(st.tuples(st.integers(-100, 100), st.integers(1, 40)), min_size=1, max_size=8))
    def test_no_step_exceeds_it(self, levers: list[tuple[int, int]]) -> None:
        rig = PROPELLING()
        last = rig.torque("port")
        for pct, ticks in levers:
            rig.lever("port", pct)
            for _ in range(ticks):
                rig.tick()
                assert abs(rig.torque("port") - last) <= 250.0 * 0.02 + 1e-9
                last = rig.torque("port")

    @pytest.mark.parametrize("dt_s", [0.0, 0.005, 0.05, 0.1, 0.5, 60.0, 1e6, -1.0, float("nan")])
    def test_a_late_tick_does_not_jump(self, dt_s: float) -> None:
        rig = PROPELLING()
        rig.lever("port", 100)
        was = rig.torque("port")
        rig.tick(dt_s)
        credited = min(dt_s, 0.1) if dt_s > 0 else 0.0
        assert rig.torque("port") - was <= 250.0 * credited + 1e-9

    def test_a_window_keeps_it(self) -> None:
        rig = Rig().ready()
        rig.lever("port", 100)
        seen = []
        for _ in range(40):
            rig.tick()
            seen.append(rig.torque("port"))
        assert max(late - early for early, late in zip(seen, seen[10:], strict=False)) <= 50.0 + 1e-9
        assert seen[-1] == pytest.approx(110.0)


class TestLever:
    @pytest.mark.parametrize(("pct", "torque"), [(5.1, 0.1157894), (52.5, 55.0), (100.0, 110.0), (-52.5, -55.0),
                                                 (-100.0, -110.0)])  # fmt: skip
    def test_torque_follows_the_lever_outside_its_band(self, pct: float, torque: float) -> None:
        rig = Rig().ready()
        rig["port.lever.lever_pct"], rig["port.lever.neutral"] = pct, False
        rig.run(1.0)
        assert rig.torque("port") == pytest.approx(torque, rel=1e-5)

    @given(st.floats(-120, 120), st.floats(-1400, 1400))
    def test_never_beyond_rated_torque_or_power(self, pct: float, rpm: float) -> None:
        rig = PROPELLING()
        rig.lever("port", pct)
        rig.speed("port", rpm)
        for _ in range(60):
            rig.tick()
            assert abs(rig.torque("port")) <= 110.0
        if rig.torque("port") * rpm > 0:
            assert abs(rig.torque("port") * rpm) * 0.104719755 <= 10000.0 * (1 + 1e-9)


@pytest.mark.sr("SR-24", "SR-25")
class TestReversal:
    def walk(self, rig: Rig, seconds: float = 3.0) -> list[float]:
        seen = []
        for _ in range(round(seconds / 0.02)):
            rig.tick()
            seen.append(rig.torque("port"))
        return seen

    @pytest.mark.parametrize("through_neutral", [False, True])
    def test_ahead_to_astern_passes_zero_with_a_dwell(self, through_neutral: bool) -> None:
        rig = PROPELLING()
        if through_neutral:
            rig.lever("port", 0)
            rig.tick()
        rig.lever("port", -60)
        seen = self.walk(rig)
        zeros = [n for n, torque in enumerate(seen) if torque == 0.0]
        assert len(zeros) >= 25, "0.5 s"
        assert zeros == list(range(zeros[0], zeros[0] + len(zeros)))
        assert all(torque > 0 for torque in seen[: zeros[0]])
        assert all(torque < 0 for torque in seen[zeros[-1] + 1 :])
        assert seen[-1] == pytest.approx(-63.68, abs=0.01)

    def test_astern_asked_later_need_not_dwell_again(self) -> None:
        rig = PROPELLING()
        rig.lever("port", 0)
        rig.run(2.0)
        rig.lever("port", -60)
        rig.run(0.1)
        assert rig.torque("port") < 0


@pytest.mark.sr("SR-26")
class TestLeverLost:
    """Lever lost: alarm, ramp to zero in 3 s."""

    @pytest.mark.parametrize(("signal", "value"), [("lever.lever_pct", None), ("lever.neutral", None)])
    def test_ramps_evenly_to_zero_in_3_s(self, signal: str, value: object) -> None:
        rig = PROPELLING()
        full = rig.torque("port")
        rig[f"port.{signal}"] = value
        rig.tick()
        assert rig.alarms() & Alarm.LEVER_LOST
        rig.run(1.48)
        assert rig.torque("port") == pytest.approx(full / 2, rel=0.03)
        rig.run(1.6)
        rig.expect_zero("lever lost: zero in 3 s", "port")
        rig.expect("lever lost", "port", "REST")

    def test_a_neutral_contact_that_is_made_ends_thrust_at_once_whatever_the_position_says(self) -> None:
        """Down by the slew, 250 N m/s; a loss, with its alarm, after 0.2 s; back by fresh neutral only."""
        rig = PROPELLING()
        full = rig.torque("port")
        rig["port.lever.neutral"] = True
        rig.run(0.12)
        assert rig.torque("port") == pytest.approx(full - 0.12 * 250.0, abs=6.0)
        assert not rig.alarms() & Alarm.LEVER_LOST
        rig.run(0.14)
        assert rig.alarms() & Alarm.LEVER_LOST
        rig.run(full / 250.0)
        rig.expect_zero("contact says neutral", "port")
        rig["port.lever.neutral"] = False
        rig.run(2.0)
        rig.expect_zero("fresh neutral is asked", "port")

    @pytest.mark.parametrize("bounce_s", [0.02, 0.1, 0.18])
    def test_a_neutral_contact_that_bounces_costs_a_moment_only(self, bounce_s: float) -> None:
        rig = PROPELLING()
        full = rig.torque("port")
        rig["port.lever.neutral"] = True
        rig.run(bounce_s)
        rig["port.lever.neutral"] = False
        rig.run(1.5)
        rig.expect("thrust is back", "port", "PROPEL")
        assert rig.torque("port") == pytest.approx(full, rel=0.02)
        assert not rig.alarms() & Alarm.LEVER_LOST

    def test_the_other_lever_goes_on(self) -> None:
        rig = PROPELLING()
        rig["port.lever.lever_pct"] = None
        rig.run(4.0)
        rig.expect("causes of one shaft stop that shaft only", "starboard", "PROPEL")

    def test_a_lever_that_comes_back_does_not_stop_the_ramp(self) -> None:
        rig = PROPELLING()
        rig["port.lever.lever_pct"] = None
        rig.run(1.0)
        rig["port.lever.lever_pct"] = 60.0
        rig.run(2.2)
        rig.expect_zero("fresh neutral first", "port")

    def test_an_order_may_be_held_by_policy(self) -> None:
        """SOLAS practice holds the last order; radio practice ramps: a policy by source, `lever_hold_s`."""
        rig = Rig({"limits/lever_hold_s": 2.0}).propel(60.0, 1.0, 0.0)
        full = rig.torque("port")
        rig["port.lever.lever_pct"] = None
        rig.run(1.9)
        assert rig.torque("port") == pytest.approx(full)
        assert rig.alarms() & Alarm.LEVER_LOST
        rig.run(3.4)
        rig.expect_zero("held for 2 s, then ramped in 3 s", "port")

    def test_within_the_hold_a_lever_that_is_back_is_obeyed(self) -> None:
        rig = Rig({"limits/lever_hold_s": 2.0}).propel(60.0, 1.0, 0.0)
        rig["port.lever.lever_pct"] = None
        rig.run(1.0)
        rig.lever("port", 30)
        rig.run(1.0)
        rig.expect("back in time", "port", "PROPEL")
        assert rig.torque("port") == pytest.approx(110.0 * 25 / 95)


@pytest.mark.sr("SR-14")
class TestLimitsOverSlew:
    def test_the_monitors_discharge_limit_cuts_at_once(self) -> None:
        rig = Rig().propel(100.0, 3.0, 900.0)
        assert rig.current("port") + rig.current("starboard") < -300.0
        rig["bank.discharge_limit_a"] = 100.0
        rig.tick()
        assert rig.current("port") + rig.current("starboard") >= -100.0 - 1e-6

    @pytest.mark.parametrize("limit_a", [20.0, 75.0, 200.0])
    def test_drives_and_hotel_load_stay_within_the_limit_together(self, limit_a: float) -> None:
        rig = Rig(hotel_a=15.0)
        rig["bank.discharge_limit_a"] = limit_a
        rig.propel(100.0, 8.0, 900.0)
        assert rig["bank.current_a"] >= -limit_a - 1.0

    def test_a_bank_current_gone_stale_frees_nothing(self) -> None:
        rig = Rig(hotel_a=40.0)
        rig["bank.discharge_limit_a"] = 150.0
        rig.propel(100.0, 8.0, 900.0)
        was = rig.current("port")
        rig["bank.current_a"] = None
        rig.run(3.0)
        assert rig.current("port") >= was - 0.5

    def test_a_hotel_load_that_takes_all_takes_thrust_says_so_and_gives_it_back(self) -> None:
        rig = Rig(hotel_a=10.0)
        rig["bank.discharge_limit_a"] = 60.0
        rig.propel(60.0, 4.0, 500.0)
        rig.hotel_a = 80.0
        rig.run(4.0)
        rig.expect_zero("nothing is left for the drives")
        rig.expect("nothing ends", "port", "PROPEL")
        assert rig.alarms() == Alarm.THRUST_SHORT
        rig.hotel_a = 10.0
        rig.run(8.0)
        assert rig.torque("port") > 15.0

    def test_it_is_shared_by_what_each_shaft_asks(self) -> None:
        rig = Rig().ready()
        rig.lever("port", 100)
        rig.lever("starboard", 24)  # 19 of 95 points: a fifth of the torque
        for name in rig.names:
            rig.speed(name, 800)
        rig.run(2.0)
        full = [rig.torque(name) for name in rig.names]
        assert full == pytest.approx([110.0, 22.0])
        rig["bank.discharge_limit_a"] = 80.0
        rig.run(2.0)
        port, starboard = (rig.torque(name) for name in rig.names)
        assert port / full[0] == pytest.approx(starboard / full[1], rel=1e-3)
        assert port < full[0]
        assert rig.current("port") + rig.current("starboard") <= -80.0 * 0.8, "what is permitted is used"

    @pytest.mark.parametrize("volts", [40.0, 46.0, 57.0])
    def test_the_limit_holds_at_every_voltage(self, volts: float) -> None:
        rig = Rig()
        rig["bank.voltage_v"], rig["bank.discharge_limit_a"] = volts, 60.0
        for name in rig.names:
            rig[f"{name}.drive.link_v"] = volts
        rig.propel(100.0, 3.0, 900.0)
        assert rig.current("port") + rig.current("starboard") >= -60.0 - 1e-6

    def test_a_throttle_wiggle_does_not_disarm(self) -> None:
        """Bank current over a slow frame lags the drives' by half a second; that is no hotel load."""
        rig = Rig()
        rig["bank.discharge_limit_a"] = 150.0
        rig.propel(100.0, 4.0, 900.0)
        rig.run(1.0)
        late = [rig["bank.current_a"]] * 25
        for pct, ticks in ((0, 12), (100, 50), (0, 10), (100, 60)):
            rig.levers(pct)
            for _ in range(ticks):
                rig.tick()
                late.append(rig._boat["bank.current_a"])
                rig._boat["bank.current_a"] = late.pop(0)
        rig.expect("thrust in a fairway", "port", "PROPEL")
        assert rig.torque("port") > 20.0
