"""What the controller reports: mode changes with their cause, first-out, alarms that come and go, refusals answered."""

import pytest
from boatyard.rig import Kept, Rig

from supervisor.controller import EventKind, freeze, name_bits
from supervisor.modes import BoatCondition, BoatMode, ShaftMode

READY = Kept(lambda: Rig().ready())


def new_events(rig: Rig, ticks: int = 1) -> list:
    count = len(rig.events)
    for _ in range(ticks):
        rig.tick()
    return rig.events[count:]


class TestModes:
    def test_every_mode_change_is_one_event_with_source_destination_time_and_cause(self) -> None:
        rig = Rig().propel(60.0, 1.0, 500.0)
        rig.levers(0)
        rig.run(1.0)
        told = [(round(e.time_s, 2), e.subject, e.source, e.dest) for e in rig.events if e.kind is EventKind.MODE]
        assert told == [(round(t, 2), who, a, b) for t, who, a, b in rig.modes]
        assert all(event.text for event in rig.events)

    def test_a_quiet_tick_tells_nothing(self) -> None:
        assert new_events(READY(), 50) == []

    def test_the_cause_is_told_in_the_words_of_the_trade(self) -> None:
        rig = Rig().propel(60.0, 1.0, 500.0)
        rig["helm.diver_lockout"] = True
        told = {event.kind: event.text for event in new_events(rig) if event.subject == "port"}
        assert told == {
            EventKind.MODE: "diver lockout is set",
            EventKind.ALARM: "thrust was stopped: diver lockout is set; for thrust again, lever to neutral first",
        }


class TestAlarmsNameWhatTheyMean:
    def test_a_lost_lever_is_named(self) -> None:
        rig = Rig().propel(60.0, 1.0, 500.0)
        rig["port.lever.lever_pct"] = None
        told = [event.text for event in new_events(rig) if event.first_out == "LEVER_LOST"]
        assert told == ["lever signal lost, or it contradicts itself: port"]

    def test_lost_inputs_are_named_and_many_of_them_counted(self) -> None:
        rig = READY()
        rig.run(1.5)
        rig["starboard.drive.coolant_c"] = None
        told = [event.text for event in new_events(rig) if event.first_out == "INPUT_LOST"]
        assert len(told) == 1
        assert told[0].startswith("an input is missing: starboard ")
        assert "coolant" in told[0]
        assert "port" not in told[0]
        rig = READY()
        rig.run(1.5)
        for name in ("drive.motor_c", "drive.inverter_c", "drive.coolant_c", "clutch.closed", "clutch.open"):
            rig[f"port.{name}"] = rig[f"starboard.{name}"] = None
        told = [event.text for event in new_events(rig) if event.first_out == "INPUT_LOST"]
        assert told[0].endswith(", and 7 more")

    def test_a_handset_that_is_put_away_is_not_named(self) -> None:
        rig = READY()
        rig.run(1.5)
        for name in ("handset.ours", "handset.held", "handset.minutes", "bank.soc_pct"):
            rig[name] = None
        told = [event.text for event in new_events(rig) if event.first_out == "INPUT_LOST"]
        assert len(told) == 1
        assert "handset" not in told[0]

    @pytest.mark.sr("SR-52")
    @pytest.mark.parametrize(("signal", "value", "cause"), [
        ("bank.charge_permit", False, "no charge permit"), ("bank.charge_limit_a", 10.0, "the bank monitor's charge "
            "limit"),
        ("bank.cell_max_v", 3.54, "highest cell near its limit"), ("bank.cell_cold_c", -2.0, "cells cold or hot"),
        ("bank.cell_cold_c", None, "a cell's voltage or temperature is unknown"),
        ("bank.soc_pct", 99.5, "the bank is full"),
    ])  # fmt: skip
    def test_astern_short_says_why(self, signal: str, value: object, cause: str) -> None:
        rig = Rig().propel(60.0, 1.0, 600.0)
        rig[signal] = value
        told = [event.text for event in new_events(rig) if event.first_out == "ASTERN_SHORT"]
        assert told == [
            "electric astern is weak or absent at this shaft speed: the bank accepts too little charging current: "
            f"{cause}"
        ]


class TestFirstOut:
    """First-out: the trip that came first."""

    @pytest.mark.parametrize(("signal", "value", "first"), [
        ("helm.emergency_stop", True, "EMERGENCY_STOP"), ("bank.fault", True, "MONITOR_FAULT"),
        ("runtime.receive_ok", False, "RUNTIME_FAULT"), ("runtime.deadline_ok", False, "RUNTIME_FAULT"),
        ("bank.fault", None, "INPUT_LOST"), ("bank.contactor_closed", False, "CONTACTOR_CLOSED"),
    ])  # fmt: skip
    def test_of_the_boat(self, signal: str, value: object, first: str) -> None:
        rig = READY()
        rig[signal] = value
        trips = [event for event in new_events(rig) if event.kind is EventKind.TRIP]
        assert [(e.subject, e.source, e.dest, e.first_out) for e in trips] == [("boat", "READY", "TRIPPED", first)]

    def test_what_follows_is_not_first(self) -> None:
        rig = READY()
        rig["bank.fault"] = True
        rig.tick()
        rig["helm.emergency_stop"] = True
        assert [e for e in new_events(rig, 10) if e.kind is EventKind.TRIP] == []

    def test_two_in_one_tick_are_told_in_the_order_of_the_table(self) -> None:
        rig = READY()
        rig["bank.fault"], rig["helm.emergency_stop"] = True, True
        trips = [event for event in new_events(rig) if event.kind is EventKind.TRIP]
        assert [event.first_out for event in trips] == ["EMERGENCY_STOP"]

    @pytest.mark.parametrize(("signal", "value", "ticks", "first"), [
        ("drive.fault", True, 1, "DRIVE_FAULT"), ("drive.torque_nm", None, 1, "INPUT_LOST"),
        ("drive.link_v", 30.0, 15, "LINK_LOST"), ("drive.current_a", 20.0, 10, "DISOBEYED"),
    ])  # fmt: skip
    def test_of_a_shaft(self, signal: str, value: object, ticks: int, first: str) -> None:
        rig = READY()
        rig.obey = False
        rig[f"starboard.{signal}"] = value
        trips = [event for event in new_events(rig, ticks) if event.kind is EventKind.TRIP]
        assert [(e.subject, e.source, e.dest, e.first_out) for e in trips] == [("starboard", "REST", "ISOLATED", first)]

    def test_it_is_the_cause_of_the_row_taken_not_another_bit(self) -> None:
        """Boat tripped, hence not live: a lost input is no trip of the shaft; the lost link is."""
        rig = READY()
        rig["port.drive.link_v"] = 30.0
        rig.run(0.2)
        rig["helm.emergency_stop"], rig["port.drive.torque_nm"] = True, None
        trips = [e for e in new_events(rig, 2) if e.kind is EventKind.TRIP and e.subject == "port"]
        assert [event.first_out for event in trips] in (["LINK_LOST"], [])


class TestAlarms:
    def test_an_alarm_is_told_when_it_comes_and_when_it_goes(self) -> None:
        rig = READY()
        rig["bank.soc_pct"] = 25.0
        came = new_events(rig)
        assert [(e.kind, e.first_out) for e in came] == [(EventKind.ALARM, "DERATE_BAND")]
        assert new_events(rig, 20) == []
        rig["bank.soc_pct"] = 60.0
        assert [(e.kind, e.first_out) for e in new_events(rig)] == [(EventKind.ALARM_GONE, "DERATE_BAND")]


class TestRefusals:
    """A press of enable or reset that did not get what it asked for is answered, always."""

    def pressed(self, rig: Rig, button: str) -> list[str]:
        rig[button] = False
        rig.tick()
        rig[button] = True
        told = [event for event in new_events(rig) if event.kind is EventKind.REFUSAL]
        return [f"{event.subject}: {event.text}" for event in told]

    def test_a_good_press_is_not_refused(self) -> None:
        rig = Rig()
        rig.run(0.7)
        assert self.pressed(rig, "helm.enable") == []

    @pytest.mark.parametrize(("spoil", "words"), [
        ({"port.lever.neutral": False, "port.lever.lever_pct": 40.0}, "port lever is not in neutral"),
        ({"starboard.lever.lever_pct": None}, "starboard lever signal is lost"),
        ({"bank.contactor_closed": None}, "bank contactor"), ({"bank.contactor_closed": False}, "bank contactor"),
        ({"helm.disable": True}, "OFF was pressed"), ({"runtime.receive_ok": False}, "receive path"),
    ])  # fmt: skip
    def test_a_refused_enable_says_what_is_missing(self, spoil: dict[str, object], words: str) -> None:
        rig = Rig()
        for name, value in spoil.items():
            rig[name] = value
        rig.run(0.7)
        told = self.pressed(rig, "helm.enable")
        assert any(words in text for text in told), told

    def test_a_lever_out_of_service_is_not_blamed(self) -> None:
        rig = Rig()
        rig.lever("port", 40)
        rig.lever("starboard", 40)
        rig["starboard.shaft.out_of_service"] = True
        rig.run(0.7)
        told = self.pressed(rig, "helm.enable")
        assert told == ["boat: not READY: port lever is not in neutral"]

    def test_an_enable_while_tripped_says_so(self) -> None:
        rig = READY()
        rig["bank.fault"] = True
        rig.tick()
        told = self.pressed(rig, "helm.enable")
        assert any("bank monitor reports a fault" in text for text in told), told

    def test_a_refused_reset_of_the_boat_says_what_is_still_there(self) -> None:
        rig = READY()
        rig["bank.fault"] = True
        rig.tick()
        assert self.pressed(rig, "helm.reset") == ["boat: no reset: bank monitor reports a fault"]

    def test_a_refused_reset_of_a_shaft_says_what_is_missing(self) -> None:
        rig = READY()
        rig["port.drive.fault"] = True
        rig.lever("port", 40)
        rig.tick()
        told = self.pressed(rig, "helm.reset")
        assert set(told) == {"port: no reset: drive reports a fault", "port: no reset: lever is not in neutral"}

    def test_a_press_of_enable_in_ready_is_no_refusal(self) -> None:
        assert self.pressed(READY(), "helm.enable") == []

    def test_a_press_of_reset_with_nothing_tripped_is_no_refusal(self) -> None:
        assert self.pressed(READY(), "helm.reset") == []


class TestExplain:
    def test_what_is_missing_for_thrust(self) -> None:
        rig = READY()
        rig["port.lock.released"] = False
        rig["helm.shore_connected"] = True
        rig.lever("port", 50)
        rig.tick()
        ways = rig.controller.explain("port", "PROPEL")
        assert ways[0].goal == "PROPEL"
        assert "shaft lock is not confirmed released" in ways[0].words
        assert any("shore cable" in words for words in ways[0].words)
        assert len(ways[0].bits) == len(ways[0].words)

    def test_the_nearest_way_comes_first(self) -> None:
        rig = READY()
        rig.engine("port", 2000, "ahead")
        rig["port.shaft.charge_under_way"] = True
        rig["bank.charge_permit"] = False
        rig.run(0.1)
        ways = rig.controller.explain("port", "GENERATE")
        assert [len(way.bits) for way in ways] == sorted(len(way.bits) for way in ways)
        assert ways[0].words == ("bank monitor does not permit charging: permit withdrawn",)

    def test_from_isolated_the_way_out_is_explained(self) -> None:
        rig = READY()
        rig["port.drive.fault"] = True
        rig.tick()
        way = rig.controller.explain("port", "PROPEL")[0]
        assert way.goal == "REST"
        assert "drive reports a fault" in way.words

    def test_from_a_mode_without_a_direct_row_the_way_from_rest(self) -> None:
        rig = Rig().generate(1.0)
        way = rig.controller.explain("port", "PROPEL")[0]
        assert "no thrust is asked" in way.words

    def test_for_the_mode_it_is_in_there_is_nothing_to_do(self) -> None:
        assert READY().controller.explain("port", "REST") == []

    def test_ready_asked_from_standby_is_answered_for_the_whole_way(self) -> None:
        rig = Rig()
        rig.lever("port", 50)
        rig.tick()
        ways = rig.controller.explain("boat", "READY")
        words = [word for way in ways for word in way.words]
        assert "ENABLE has not been pressed" in words
        assert "a lever is not in neutral" in words

    def test_from_tripped_the_reset_is_explained(self) -> None:
        rig = READY()
        rig["bank.fault"] = True
        rig.tick()
        assert rig.controller.explain("boat", "READY")[0].goal == "STANDBY"
        assert "bank monitor reports a fault" in rig.controller.missing_for(BoatMode.READY)

    @pytest.mark.parametrize(("subject", "goal", "allowed"), [
        ("middle", "PROPEL", "port, starboard"), ("port", "READY", "PROPEL"), ("boat", "PROPEL", "NEUTRAL_WAIT"),
        ("boat", "ready", "READY"),
    ])  # fmt: skip
    def test_an_unknown_subject_or_mode_is_told_with_what_is_allowed(
        self, subject: str, goal: str, allowed: str
    ) -> None:
        with pytest.raises(ValueError, match=allowed):
            READY().controller.explain(subject, goal)


def test_a_lost_input_is_named_in_the_refusal_and_in_the_trip() -> None:
    rig = Rig()
    rig["helm.emergency_stop"] = None
    rig.run(0.7)
    rig.press("helm.enable")
    assert any("emergency stop" in event.text for event in rig.events if event.kind is EventKind.REFUSAL)
    rig = READY()
    rig["port.drive.link_v"] = None
    rig.tick()
    trip = next(event for event in rig.events if event.kind is EventKind.TRIP)
    assert "link" in trip.text.lower()


def test_giving_up_says_what_was_missing() -> None:
    rig = Rig()
    rig.lever("port", 40)
    rig.run(0.7)
    rig.press("helm.enable")
    count = len(rig.events)
    rig.run(31.0)
    gave_up = next(event for event in rig.events[count:] if event.dest == "STANDBY")
    assert "port lever" in gave_up.text


def test_modes_and_words_can_be_read() -> None:
    rig = Rig().propel(60.0, 1.0, 500.0)
    assert rig.controller.boat_mode is BoatMode.READY
    assert rig.controller.shaft_modes == (ShaftMode.PROPEL, ShaftMode.PROPEL)
    assert rig.controller.memory.boat.mode == 2
    assert rig.controller.rearmed(0)
    assert name_bits(int(BoatCondition.OFF_ORDER | BoatCondition.RESET_EDGE), BoatCondition) == [
        "RESET_EDGE",
        "OFF_ORDER",
    ]
    assert freeze(rig.config) == rig.controller.boat


@pytest.mark.parametrize("count", [1, 3])
def test_one_to_four_shafts(count: int) -> None:
    rig = Rig(shafts=count).propel(60.0, 1.0, 500.0)
    assert len(rig.controller.shaft_modes) == count


def test_a_boat_that_only_listens_has_no_shafts_and_never_gets_ready() -> None:
    rig = Rig({"shaft": [], "boat/listen_only": True}, shafts=1)
    rig.run(1.0)
    rig.press("helm.enable")
    rig.run(1.0)
    rig.expect("nothing to make ready", "boat", "STANDBY")


def test_the_number_of_shaft_inputs_must_be_right() -> None:
    rig = READY()
    with pytest.raises(ValueError, match="numbers of shafts"):
        rig.controller.tick(rig.now_s + 0.02, rig.boat_in(), rig.shaft_in()[:1])
