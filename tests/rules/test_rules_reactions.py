"""Each input carries one configured reaction when bad or stale; NaN is as good as stale; the rest goes on."""

import pytest
from boatyard.rig import Kept, Rig

from supervisor.signals import BOAT_INPUTS, SHAFT_INPUTS, Alarm, ShaftPermit

PROPELLING = Kept(lambda: Rig().propel(60.0, 2.0, 500.0))
GENERATING = Kept(lambda: Rig().generate(12.0))

TRIP_BOAT = ["bank.contactor_closed", "bank.fault", "bank.opening", "helm.disable", "helm.emergency_stop",
             "runtime.receive_ok", "runtime.deadline_ok"]  # fmt: skip
TRIP_SHAFT = ["drive.machine_speed_rpm", "drive.torque_nm", "drive.current_a", "drive.link_v",
              "drive.fault"]  # fmt: skip
NO_CHARGE = ["bank.soc_pct", "bank.voltage_v", "bank.cell_max_v", "bank.cell_hot_c", "bank.cell_cold_c",
             "bank.charge_limit_a", "bank.charge_permit"]  # fmt: skip
THRUST_GOES_ON = ["bank.voltage_v", "bank.current_a", "bank.cell_max_v", "bank.cell_hot_c", "bank.cell_cold_c",
                  "bank.charge_limit_a", "bank.charge_permit", "bank.soc_pct", "bank.cell_min_v", "helm.enable",
                  "helm.reset", "helm.acknowledge", "helm.get_home", "helm.full_charge", "handset.held",
                  "handset.ours", "handset.minutes", "port.engine.engine_speed_rpm", "port.drive.motor_c",
                  "port.shaft.propeller_speed_rpm",
                  "port.drive.inverter_c", "port.drive.coolant_c", "port.gearbox.gear_report",
                  "port.shaft.charge_under_way", "port.shaft.charge_at_rest", "port.shaft.harvest",
                  "port.handset.thrust_pct", "port.gearbox.ahead"]  # fmt: skip


@pytest.mark.sr("SR-03")
@pytest.mark.parametrize("signal", TRIP_BOAT)
def test_trips_the_boat(signal: str) -> None:
    rig = PROPELLING()
    rig[signal] = None
    rig.tick()
    rig.expect("reaction: trip the boat", "boat", "TRIPPED", signal=signal)
    rig.expect_zero("reaction: trip the boat", signal=signal)


def test_a_trip_names_the_input_that_was_lost() -> None:
    rig = PROPELLING()
    rig["helm.emergency_stop"] = None
    rig.tick()
    trip = next(event for event in rig.events if event.dest == "TRIPPED")
    assert trip.first_out == "INPUT_LOST"
    assert "emergency stop" in trip.text


@pytest.mark.sr("SR-30", "SR-31")
@pytest.mark.parametrize("value", [None, float("nan"), float("inf")])
@pytest.mark.parametrize("signal", TRIP_SHAFT)
def test_trips_the_shaft_and_no_other(signal: str, value: float | None) -> None:
    if signal == "drive.fault" and value is not None:
        return
    rig = PROPELLING()
    rig[f"port.{signal}"] = value
    rig.tick()
    rig.expect("reaction: trip the shaft", "port", "ISOLATED", signal=f"port.{signal}")
    rig.expect_zero("reaction: trip the shaft", "port", signal=f"port.{signal}")
    rig.expect("causes of one shaft stop that shaft only", "starboard", "PROPEL")
    assert abs(rig.torque("starboard")) > 1.0


@pytest.mark.sr("SR-30")
def test_a_lost_shaft_input_trips_only_while_live() -> None:
    """Parts are switched on one after the other."""
    rig = Rig()
    rig["port.drive.torque_nm"] = None
    rig.run(1.0)
    rig.expect("not live", "port", "REST")


@pytest.mark.sr("SR-40")
@pytest.mark.parametrize("value", [None, float("nan")])
@pytest.mark.parametrize("signal", NO_CHARGE)
def test_inhibits_charging(signal: str, value: float | None) -> None:
    if signal == "bank.charge_permit" and value is not None:
        return
    rig = GENERATING()
    rig[signal] = value
    rig.tick()
    rig.expect_zero("reaction: inhibit charging", signal=signal)
    rig.run(1.0)
    rig.expect("reaction: inhibit charging", "port", "REST", signal=signal)


@pytest.mark.sr("SR-40")
@pytest.mark.parametrize("value", [None, float("nan")])
@pytest.mark.parametrize("signal", THRUST_GOES_ON)
def test_a_fairway_is_no_place_to_lose_thrust(signal: str, value: float | None) -> None:
    contact = {spec.name for spec in (*BOAT_INPUTS, *SHAFT_INPUTS) if spec.is_contact}
    if value is not None and signal.removeprefix("port.") in contact:
        return
    rig = PROPELLING()
    rig[signal] = value
    rig.run(2.0)
    rig.expect("thrust goes on", "port", "PROPEL", signal=signal)
    rig.expect("thrust goes on", "starboard", "PROPEL", signal=signal)
    assert abs(rig.torque("port")) > 20.0


@pytest.mark.sr("SR-09", "SR-53")
def test_a_gearbox_that_is_not_known_to_be_in_neutral_stops_its_shaft_and_says_so() -> None:
    """Unknown is never neutral, and a drive must not turn a dead engine. The engine's start is not withheld for it."""
    rig = PROPELLING()
    rig["port.gearbox.neutral"] = None
    rig.run(0.5)
    rig.expect_zero("gear not known", "port")
    rig.expect("one shaft only", "starboard", "PROPEL")
    assert rig.alarms() & Alarm.STOPPED_1
    assert rig.permits("port") & ShaftPermit.ENGINE_START


@pytest.mark.sr("SR-18", "SR-40")
@pytest.mark.parametrize("signal", ["bank.soc_pct", "bank.cell_min_v"])
def test_derates_to_half(signal: str) -> None:
    rig = PROPELLING()
    rig[signal] = None
    rig.run(26.0)
    assert rig.out is not None
    assert rig.out.boat_command.derate_pct == pytest.approx(50.0)


@pytest.mark.parametrize("signal", ["drive.motor_c", "drive.inverter_c", "drive.coolant_c"])
def test_an_unknown_temperature_halves_that_shaft(signal: str) -> None:
    rig = Rig().propel(100.0, 2.0, 0.0)
    rig[f"port.{signal}"] = None
    rig.run(1.0)
    assert rig.torque("port") == pytest.approx(55.0)
    assert rig.torque("starboard") == pytest.approx(110.0)


@pytest.mark.parametrize(
    "name", [spec.name for spec in BOAT_INPUTS if not spec.name.startswith(("runtime.", "handset."))]
)
def test_every_lost_input_of_the_boat_is_told(name: str) -> None:
    rig = Rig()
    rig.run(2.0)
    rig[name] = None
    rig.run(0.2)
    assert rig.alarms() & Alarm.INPUT_LOST or "SOC_UNKNOWN" in repr(rig.alarms()), name


@pytest.mark.parametrize("name", [spec.name for spec in SHAFT_INPUTS])
def test_every_lost_input_of_a_shaft_is_told_while_the_engine_runs(name: str) -> None:
    rig = Rig()
    rig.engine("port", 900, "neutral")
    rig.run(2.0)
    rig[f"port.{name}"] = None
    rig.run(0.2)
    if name not in ("gearbox.gear_report", "handset.thrust_pct"):  # one only contradicts, one may be put away
        assert rig.alarms() & Alarm.INPUT_LOST, name


def test_a_handset_put_away_is_no_alarm_one_in_use_is() -> None:
    rig = Rig().ready()
    rig.run(2.0)
    for name in ("handset.held", "handset.ours", "handset.minutes", "port.handset.thrust_pct"):
        rig[name] = None
    rig.run(0.2)
    assert not rig.alarms() & Alarm.INPUT_LOST
    rig = Rig().handset()
    rig.run(1.0)
    rig["handset.minutes"] = None
    rig.run(0.2)
    assert rig.alarms() & Alarm.INPUT_LOST


class TestChosenReactions:
    """A boat file may choose a stronger reaction than the default."""

    @pytest.mark.sr("SR-03")
    def test_trip_boat(self) -> None:
        rig = Rig({"shaft/0/inputs/drive.motor_c/reaction": "trip_boat"}).propel(60.0, 1.0, 500.0)
        rig["port.drive.motor_c"] = None
        rig.tick()
        rig.expect("chosen: trip the boat", "boat", "TRIPPED")
        rig.expect_zero("chosen: trip the boat")

    def test_trip_boat_by_a_shaft_that_is_out_of_service_does_not(self) -> None:
        rig = Rig({"shaft/0/inputs/drive.motor_c/reaction": "trip_boat"})
        rig["port.shaft.out_of_service"], rig["port.drive.motor_c"] = True, None
        rig.ready()
        rig.run(1.0)
        rig.expect("left out", "boat", "READY")

    @pytest.mark.sr("SR-30")
    def test_trip_shaft_from_an_input_of_the_boat(self) -> None:
        rig = Rig({"inputs/bank.cell_min_v/reaction": "trip_shaft"}).propel(60.0, 1.0, 500.0)
        rig["bank.cell_min_v"] = None
        rig.tick()
        for name in rig.names:
            rig.expect("chosen: trip every shaft", name, "ISOLATED")

    @pytest.mark.parametrize("level", ["inputs/bank.cell_hot_c", "shaft/0/inputs/drive.motor_c"])
    def test_ramp_down_ends_thrust_by_ramp(self, level: str) -> None:
        rig = Rig({f"{level}/reaction": "ramp_down"}).propel(60.0, 1.0, 500.0)
        rig["bank.cell_hot_c" if "bank" in level else "port.drive.motor_c"] = None
        rig.tick()
        rig.expect("chosen: ramp down", "port", "UNLOAD")
        rig.run(3.2)
        rig.expect_zero("chosen: ramp down", "port")
        rig.run(1.0)
        rig.expect_zero("chosen: ramp down", "port")

    @pytest.mark.parametrize("level", ["inputs/bank.voltage_v", "shaft/0/inputs/drive.motor_c",
                                       "shaft/0/inputs/engine.engine_speed_rpm"])  # fmt: skip
    @pytest.mark.parametrize("reaction", ["inhibit_charge", "ramp_down", "trip_shaft"])
    def test_whatever_is_stronger_than_inhibit_ends_charging_too(self, level: str, reaction: str) -> None:
        rig = Rig({f"{level}/reaction": reaction}).generate(12.0)
        rig["bank.voltage_v" if "bank" in level else f"port.{level.rsplit('/', 1)[-1]}"] = None
        rig.run(2.0)
        rig.expect_zero(f"chosen: {reaction}", "port")

    def test_derate_chosen_for_another_input(self) -> None:
        rig = Rig({"inputs/bank.cell_hot_c/reaction": "inhibit_charge", "inputs/bank.current_a/reaction": "derate"})
        rig.propel(100.0, 1.0, 900.0)
        rig["bank.current_a"] = None
        rig.run(26.0)
        assert rig.out is not None
        assert rig.out.boat_command.derate_pct == pytest.approx(50.0)


def test_an_out_of_service_shaft_with_a_dead_drive_is_silent() -> None:
    rig = Rig()
    rig["starboard.shaft.out_of_service"] = True
    for name in TRIP_SHAFT:
        rig[f"starboard.{name}"] = None
    rig.ready()
    rig.run(1.0)
    rig.expect("deliberately out of service", "starboard", "REST")
    assert not rig.alarms() & (Alarm.INPUT_LOST | Alarm.SHAFT_ISOLATED)


def test_loss_of_a_whole_bus_is_loss_of_the_inputs_it_carries() -> None:
    rig = PROPELLING()
    for spec in BOAT_INPUTS:
        if spec.name.startswith("bank."):
            rig[spec.name] = None
    rig.tick()
    rig.expect("the monitor's bus is gone", "boat", "TRIPPED")
    rig.expect_zero("the monitor's bus is gone")
