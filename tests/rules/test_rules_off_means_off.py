"""Off means off: precharge, a drive that disobeys, a link that falls away, enables only where something may turn."""

import pytest
from boatyard.rig import Kept, Rig

from supervisor.modes import BoatMode
from supervisor.signals import Alarm, ShaftPermit

ENABLE, PRECHARGE = ShaftPermit.DRIVE_ENABLE, ShaftPermit.PRECHARGE
READY = Kept(lambda: Rig().ready())


def waiting(link_v: float = 0.0) -> Rig:
    """Enabled with empty links; they are charged only if a test says so."""
    rig = Rig()
    for name in rig.names:
        rig[f"{name}.drive.link_v"] = link_v
    rig.run(0.7)
    rig.press("helm.enable")
    return rig


@pytest.mark.sr("SR-33")
class TestPrecharge:
    """READY needs the contactor closed and each drive's DC link precharged to within 5 %."""

    @pytest.mark.parametrize(("link_v", "ready"), [(49.41, True), (49.39, False), (54.59, True), (54.61, False),
                                                   (0.0, False), (None, False)])  # fmt: skip
    def test_within_5_percent_of_52_v(self, link_v: float | None, ready: bool) -> None:
        rig = waiting()
        for name in rig.names:
            rig[f"{name}.drive.link_v"] = link_v
        rig.run(0.3)
        assert (rig.mode("boat") == "READY") == ready, rig.report("precharged to within 5 %", str(ready), "", "port")

    def test_every_link_counts(self) -> None:
        rig = waiting()
        rig["port.drive.link_v"] = 52.0
        rig.run(1.0)
        rig.expect("each drive's link", "boat", "NEUTRAL_WAIT")
        assert rig.controller.missing_for(BoatMode.READY) == ["starboard DC link is not precharged"]

    @pytest.mark.sr("SR-34")
    def test_the_contactor_must_be_closed(self) -> None:
        rig = Rig()
        rig["bank.contactor_closed"] = False
        rig.run(0.7)
        rig.press("helm.enable")
        rig.run(0.5)
        rig.expect("the contactor is open", "boat", "NEUTRAL_WAIT", "STANDBY")
        assert not any(rig.permits(name) & (ENABLE | PRECHARGE) for name in rig.names), "no precharge from nothing"

    def test_precharge_is_ordered_before_enable_never_with_it(self) -> None:
        rig = Rig()
        rig.precharges = True
        for name in rig.names:
            rig[f"{name}.drive.link_v"] = 0.0
        rig.run(0.7)
        rig.press("helm.enable")
        for _ in range(60):
            rig.tick()
            if rig.mode("boat") != "READY":
                assert rig.permits("port") & PRECHARGE
                assert not rig.permits("port") & ENABLE
        rig.expect("precharged", "boat", "READY")
        assert rig.permits("port") & ENABLE

    def test_too_long_trips_the_shaft(self) -> None:
        rig = waiting()
        rig["starboard.drive.link_v"] = 52.0
        rig.run(2.9)
        rig.expect("3 s are allowed", "port", "REST")
        rig.run(0.3)
        rig.expect("precharge took too long", "port", "ISOLATED")
        assert not rig.permits("port") & (ENABLE | PRECHARGE)
        rig.run(0.2)
        rig.expect("the other shaft goes on", "boat", "READY")

    def test_one_retry_by_hand_then_no_more(self) -> None:
        rig = waiting()
        rig["starboard.drive.link_v"] = 52.0
        rig.run(3.3)
        rig.expect("first failure", "port", "ISOLATED")
        rig.press("helm.reset")
        rig.expect("one retry by hand", "port", "REST")
        assert rig.permits("port") & PRECHARGE
        rig.run(3.3)
        rig.expect("second failure", "port", "ISOLATED")
        for _ in range(3):
            rig.press("helm.reset")
            rig.run(0.5)
            rig.expect("no third time before power-up", "port", "ISOLATED")

    def test_a_good_retry_is_forgotten(self) -> None:
        rig = waiting()
        rig["starboard.drive.link_v"] = 52.0
        rig.run(3.3)
        rig.press("helm.reset")
        rig["port.drive.link_v"] = 52.0
        rig.run(0.2)
        rig["port.drive.fault"] = True
        rig.run(0.1)
        rig["port.drive.fault"], rig["port.drive.link_v"] = False, 0.0
        rig.run(0.1)
        rig.press("helm.reset")
        rig.run(3.3)
        rig.expect("failed anew", "port", "ISOLATED")
        rig.press("helm.reset")
        rig.expect("and may be retried anew", "port", "REST")

    def test_off_and_on_again_is_no_endless_precharge(self) -> None:
        """The resistor cools slower than an impatient thumb."""
        rig = waiting()
        spent_s = 0.0
        for _ in range(20):
            rig.run(1.0)
            spent_s += 1.0
            rig.press("helm.disable")
            rig.run(0.1)
            rig.press("helm.enable")
            if rig.mode("port") == "ISOLATED":
                break
        assert rig.mode("port") == "ISOLATED"
        assert spent_s <= 4.0

    def test_a_shaft_put_back_in_service_is_precharged_before_it_is_enabled(self) -> None:
        rig = Rig()
        rig["starboard.shaft.out_of_service"], rig["starboard.drive.link_v"] = True, 0.0
        rig.ready()
        rig["starboard.shaft.out_of_service"] = False
        for _ in range(20):
            rig.tick()
            assert rig.permits("starboard") & PRECHARGE
            assert not rig.permits("starboard") & ENABLE
        rig["starboard.drive.link_v"] = 52.0
        rig.tick()
        assert rig.permits("starboard") & ENABLE


@pytest.mark.sr("SR-33")
class TestLink:
    @pytest.mark.parametrize(("link_v", "held"), [(47.0, True), (57.0, True), (46.5, False), (57.5, False)])
    def test_a_charged_link_may_stray_by_twice_the_tolerance(self, link_v: float, held: bool) -> None:
        rig = READY()
        rig["port.drive.link_v"] = link_v
        rig.run(0.3)
        rig.expect("DC link is not lost" if held else "DC link fell away", "port", "REST" if held else "ISOLATED")

    def test_a_glitch_ends_nothing_a_lasting_loss_isolates(self) -> None:
        """The bank's voltage comes in slower frames than the link's: a load that comes on makes them differ."""
        rig = Rig().propel(60.0, 1.0, 500.0)
        rig["port.drive.link_v"] = 40.0
        rig.run(0.18)
        rig.expect("0.2 s are not over", "port", "PROPEL")
        rig["port.drive.link_v"] = 52.0
        rig.run(1.0)
        rig.expect("a glitch shorter than 0.2 s", "port", "PROPEL")
        assert not rig.alarms()
        rig["port.drive.link_v"] = 40.0
        rig.run(0.3)
        rig.expect("gone for 0.2 s", "port", "ISOLATED")

    def test_at_rest_thrust_begins_on_a_charged_link_only(self) -> None:
        rig = READY()
        rig["port.drive.link_v"] = 40.0
        rig.tick()
        rig.lever("port", 60)
        rig.run(0.1)
        rig.expect_zero("link away", "port")

    def test_an_unknown_bank_voltage_is_no_lost_link(self) -> None:
        """Its configured reaction inhibits charging; a fairway is no place to lose thrust."""
        rig = Rig().propel(60.0, 1.0, 500.0)
        rig["bank.voltage_v"] = None
        rig.run(5.0)
        rig.expect("bank voltage unknown", "port", "PROPEL")
        rig["bank.voltage_v"] = 900.0
        rig.run(5.0)
        rig.expect("bank voltage absurd", "port", "PROPEL")

    def test_an_unknown_bank_voltage_proves_no_precharge(self) -> None:
        rig = waiting(52.0)
        rig = Rig()
        rig["bank.voltage_v"] = None
        rig.run(0.7)
        rig.press("helm.enable")
        rig.run(1.0)
        assert rig.mode("boat") != "READY"


@pytest.mark.sr("SR-32")
class TestDisobey:
    """Zero ordered, yet torque above 5 % (5.5 N m) or current above 5 A for 100 ms: drop the enable output and trip."""

    @pytest.mark.parametrize(("signal", "value", "trips"), [
        ("torque_nm", 5.51, True), ("torque_nm", -5.51, True), ("torque_nm", 5.49, False), ("torque_nm", -5.49, False),
        ("current_a", 5.01, True), ("current_a", -5.01, True), ("current_a", 4.99, False), ("current_a", -4.99, False),
    ])  # fmt: skip
    def test_thresholds(self, signal: str, value: float, trips: bool) -> None:
        rig = READY()
        rig.obey = False
        rig[f"port.drive.{signal}"] = value
        rig.run(0.3)
        rig.expect("a drive that disobeys", "port", "ISOLATED" if trips else "REST", signal=f"port.drive.{signal}")
        rig.expect("the other obeys", "starboard", "REST")
        if trips:
            assert not rig.permits("port") & ENABLE, "the hard-wired enable output drops"

    def test_not_before_100_ms_and_soon_after(self) -> None:
        rig = READY()
        rig.obey = False
        rig["port.drive.torque_nm"] = 20.0
        rig.run(0.08)
        rig.expect("80 ms", "port", "REST")
        rig.run(0.06)
        rig.expect("100 ms", "port", "ISOLATED")

    def test_a_break_starts_the_time_anew(self) -> None:
        rig = READY()
        rig.obey = False
        for _ in range(10):
            rig["port.drive.torque_nm"] = 20.0
            rig.run(0.08)
            rig["port.drive.torque_nm"] = 0.0
            rig.tick()
        rig.expect("never 100 ms in one go", "port", "REST")

    def test_torque_with_an_order_is_obedience(self) -> None:
        rig = Rig().propel(60.0, 5.0, 500.0)
        rig.expect("ordered", "port", "PROPEL")

    def test_in_standby_too(self) -> None:
        rig = Rig()
        rig.obey = False
        rig["port.drive.current_a"] = 30.0  # turned fast, it rectifies
        rig.run(0.3)
        rig.expect("a machine that feeds with nothing enabled", "port", "ISOLATED")

    def test_it_isolates_while_it_lasts(self) -> None:
        rig = READY()
        rig.obey = False
        rig["port.drive.torque_nm"] = 20.0
        rig.run(0.3)
        rig.press("helm.reset")
        rig.expect("cause not gone", "port", "ISOLATED")
        rig["port.drive.torque_nm"] = 0.0
        rig.press("helm.reset")
        rig.expect("not yet seen to obey", "port", "ISOLATED")
        rig.run(2.0)
        rig.press("helm.reset")
        rig.expect("cause gone", "port", "REST")

    def test_a_drive_that_keeps_its_torque_after_unloading_is_caught(self) -> None:
        rig = Rig().propel(60.0, 1.0, 500.0)
        rig.obey = False
        rig.levers(0)
        rig.run(0.6)
        rig.expect("zero ordered, torque stands", "port", "ISOLATED")


class TestEnableOutput:
    @pytest.mark.sr("SR-02")
    def test_only_in_ready(self) -> None:
        rig = Rig()
        rig.levers(20)
        rig.run(0.7)
        assert not rig.permits("port") & ENABLE
        rig.press("helm.enable")
        rig.run(0.5)
        assert not rig.permits("port") & ENABLE
        rig.levers(0)
        rig.run(0.7)
        assert rig.permits("port") & ENABLE

    def test_acknowledge_silences_what_sounds_until_something_new(self) -> None:
        rig = READY()
        rig.run(1.0)
        rig["port.drive.fault"] = True
        rig.tick()
        assert rig.out is not None
        assert rig.out.boat_command.sounder == 1
        rig.press("helm.acknowledge")
        assert rig.out.boat_command.sounder == 0
        assert rig.alarms() & Alarm.SHAFT_ISOLATED, "silenced, not hidden"
        rig["port.lever.lever_pct"] = None
        rig.tick()
        assert rig.out.boat_command.sounder == 1, "a new alarm sounds"

    def test_standby_is_silent(self) -> None:
        rig = Rig()
        rig["bank.soc_pct"] = 10.0
        rig.run(0.2)
        assert rig.alarms() & Alarm.DERATE_ENDED
        assert rig.out is not None
        assert rig.out.boat_command.sounder == 0
