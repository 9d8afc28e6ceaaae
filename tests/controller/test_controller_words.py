"""What the controller tells, word for word: causes, what was lost, what is missing; nothing where nothing was asked."""

import pytest
from boatyard.rig import Kept, Rig

from supervisor.controller import Controller, EventKind, ExecutorsDisagreeError, TableMachine
from supervisor.modes import BOAT_TABLE, SHAFT_TABLE, BoatCondition, BoatMode, ShaftCondition, ShaftMode
from supervisor.signals import Alarm

READY = Kept(lambda: Rig().ready())


def told(rig: Rig, kind: EventKind | None = None, ticks: int = 1) -> list[str]:
    """What the next ticks tell, "subject: text"."""
    count = len(rig.events)
    for _ in range(ticks):
        rig.tick()
    return [f"{e.subject}: {e.text}" for e in rig.events[count:] if kind is None or e.kind is kind]


def pressed(rig: Rig, button: str) -> list[str]:
    """The refusals of one press."""
    rig[button] = False
    rig.tick()
    rig[button] = True
    return told(rig, EventKind.REFUSAL)


def waiting(**spoil: object) -> Rig:
    """In NEUTRAL_WAIT, with something amiss."""
    rig = Rig()
    rig.run(0.7)
    for name, value in spoil.items():
        rig[name.replace("__", ".")] = value
    rig.press("helm.enable")
    rig.expect("a way into NEUTRAL_WAIT", "boat", "NEUTRAL_WAIT")
    return rig


class TestCauses:
    def test_a_mode_and_its_cause(self) -> None:
        rig = Rig()
        rig.run(0.7)
        rig["helm.enable"] = True
        assert told(rig, EventKind.MODE) == ["boat: ENABLE was pressed"]
        assert told(rig, EventKind.MODE) == ["boat: levers in neutral, contactor closed, links precharged"]
        rig["helm.disable"] = True
        assert told(rig, EventKind.MODE) == ["boat: OFF was pressed"]

    def test_off_while_waiting(self) -> None:
        rig = waiting(bank__contactor_closed=False)
        rig["helm.disable"] = True
        assert told(rig, EventKind.MODE) == ["boat: OFF was pressed"]

    def test_giving_up_names_what_was_missing(self) -> None:
        rig = waiting(bank__contactor_closed=False, port__lever__neutral=False, port__lever__lever_pct=40.0)
        rig.run(29.0)
        count = len(rig.events)
        rig.run(2.0)
        texts = [e.text for e in rig.events[count:] if e.dest == "STANDBY"]
        assert texts == ["not READY in time (limits.neutral_wait_s), press ENABLE again. Missing: port lever is not "
                         "in neutral; "
                         "bank contactor is open"]  # fmt: skip

    def test_a_trip_of_a_shaft(self) -> None:
        rig = READY()
        rig["port.drive.fault"] = True
        assert told(rig, EventKind.TRIP) == ["port: drive reports a fault"]
        rig = READY()
        rig["port.drive.link_v"] = 30.0
        assert told(rig, EventKind.TRIP, 15) == [
            "port: voltage of the precharged DC link differs from the bank voltage"
        ]

    def test_a_mode_of_a_shaft(self) -> None:
        rig = READY()
        rig.lever("port", 50)
        assert told(rig, EventKind.MODE) == ["port: thrust is asked"]
        rig.lever("port", 0)
        assert told(rig, EventKind.MODE) == ["port: lever back in neutral"]

    def test_lost_inputs_are_named_and_no_others(self) -> None:
        rig = READY()
        rig["helm.emergency_stop"], rig["bank.cell_hot_c"], rig["port.lever.lever_pct"] = None, None, None
        assert told(rig, EventKind.TRIP) == ["boat: a required input is missing: emergency stop"]
        rig = READY()
        rig["bank.contactor_closed"], rig["runtime.deadline_ok"] = None, None
        trips = told(rig, EventKind.TRIP)
        assert trips == ["boat: receive path or deadlines failed"]
        rig = READY()
        rig["bank.fault"], rig["helm.disable"] = None, None
        assert told(rig, EventKind.TRIP) == [
            "boat: a required input is missing: bank monitor's fault flag, OFF push-button"
        ]
        rig = READY()
        rig["port.drive.link_v"], rig["port.drive.torque_nm"], rig["port.drive.motor_c"] = None, None, None
        assert told(rig, EventKind.TRIP) == [
            "port: a required shaft input is missing: torque of the drive at the shaft, DC link voltage of the drive"
        ]

    def test_by_a_chosen_reaction(self) -> None:
        rig = Rig({"shaft/1/inputs/drive.motor_c/reaction": "trip_boat"}).ready()
        rig["starboard.drive.motor_c"], rig["port.drive.motor_c"] = None, None
        assert told(rig, EventKind.TRIP) == ["boat: a required input is missing: starboard motor temperature"]
        rig = Rig({"inputs/bank.cell_min_v/reaction": "trip_shaft"}).ready()
        rig["bank.cell_min_v"], rig["bank.cell_max_v"] = None, None
        assert told(rig, EventKind.TRIP) == [
            f"{name}: a required shaft input is missing: lowest cell voltage" for name in ("port", "starboard")
        ]
        rig = Rig({"shaft/1/inputs/drive.motor_c/reaction": "trip_boat"})
        rig["starboard.drive.motor_c"] = None
        rig.run(0.7)
        assert pressed(rig, "helm.enable") == [
            "boat: not READY: a required input is missing: starboard motor temperature"
        ]

    @pytest.mark.parametrize(("key", "name", "text"), [
        ("shaft/1/inputs/lever.lever_pct", "starboard.lever.lever_pct", "starboard lever position"),
        ("inputs/bank.soc_pct", "bank.soc_pct", "state of charge of the bank"),
    ])  # fmt: skip
    def test_the_first_input_of_the_register_too(self, key: str, name: str, text: str) -> None:
        rig = Rig({f"{key}/reaction": "trip_boat"}).ready()
        rig[name] = None
        assert told(rig, EventKind.TRIP) == [f"boat: a required input is missing: {text}"]
        rig = Rig({f"{key}/reaction": "trip_shaft"}).ready()
        rig[name] = None
        lost = text.removeprefix("starboard ")
        trips = told(rig, EventKind.TRIP)
        assert f"starboard: a required shaft input is missing: {lost}" in trips
        assert len(trips) == (1 if "shaft" in key else 2)


class TestAlarms:
    def test_each_comes_and_goes_by_itself(self) -> None:
        rig = READY()
        rig.run(0.5)
        rig["bank.cell_hot_c"] = None
        rig.tick()
        assert rig.alarms() == Alarm.INPUT_LOST
        rig["bank.soc_pct"] = 25.0
        count = len(rig.events)
        rig.tick()
        assert [(e.kind, e.first_out) for e in rig.events[count:]] == [(EventKind.ALARM, "DERATE_BAND")]
        rig["bank.soc_pct"] = 60.0
        count = len(rig.events)
        rig.tick()
        assert [(e.kind, e.first_out) for e in rig.events[count:]] == [(EventKind.ALARM_GONE, "DERATE_BAND")]

    def test_the_first_tick_tells_nothing(self) -> None:
        rig = Rig()
        assert rig.tick().events == ()


class TestRefusals:
    def test_in_ready_and_while_waiting_a_reset_is_none(self) -> None:
        assert pressed(READY(), "helm.reset") == []
        assert pressed(Rig().propel(60.0, 1.0, 500.0), "helm.enable") == []
        assert pressed(Rig().propel(60.0, 1.0, 500.0), "helm.reset") == []
        assert pressed(waiting(bank__contactor_closed=False), "helm.reset") == []

    def test_the_press_that_leads_to_waiting_is_answered_with_what_is_missing_not_with_what_takes_time(self) -> None:
        rig = Rig()
        rig.run(0.3)
        rig["bank.contactor_closed"], rig["port.drive.link_v"] = False, 0.0
        assert pressed(rig, "helm.enable") == ["boat: not READY: bank contactor is open"]

    def test_a_trip_and_a_reset_in_one_tick(self) -> None:
        rig = READY()
        rig.tick()
        rig["helm.emergency_stop"], rig["helm.reset"] = True, True
        assert told(rig, EventKind.REFUSAL) == []
        assert pressed(rig, "helm.reset") == ["boat: no reset: emergency stop is pressed"]

    def test_a_shaft_isolated_in_the_tick_of_a_reset(self) -> None:
        rig = READY()
        rig.tick()
        rig["port.drive.fault"], rig["helm.reset"] = True, True
        assert told(rig, EventKind.REFUSAL) == []


class TestMissing:
    def test_levers_and_their_dwell(self) -> None:
        rig = Rig()
        rig.tick()
        assert [text for text in rig.controller.missing_for(BoatMode.READY) if "lever" in text] == []
        rig = waiting(port__lever__neutral=False, port__lever__lever_pct=40.0)
        assert rig.controller.missing_for(BoatMode.READY) == ["port lever is not in neutral"]
        rig["starboard.lever.neutral"] = None
        rig.tick()
        assert rig.controller.missing_for(BoatMode.READY) == [
            "port lever is not in neutral", "starboard lever signal is lost or contradicts itself",
        ]  # fmt: skip
        rig["starboard.lever.neutral"] = True
        rig.lever("port", 0)
        rig.tick()
        dwell = "lever has not been in neutral for long enough"
        assert rig.controller.missing_for(BoatMode.READY) == [f"port {dwell}", f"starboard {dwell}"]
        rig.run(0.2)
        rig.lever("starboard", 30)
        rig.tick()
        rig["starboard.shaft.out_of_service"] = True
        rig.tick()
        assert rig.controller.missing_for(BoatMode.READY) == [f"port {dwell}"]

    def test_a_lever_that_has_waited_is_not_blamed_for_another(self) -> None:
        rig = waiting(port__lever__neutral=False, port__lever__lever_pct=40.0)
        rig.run(2.0)
        assert rig.controller.missing_for(BoatMode.READY) == ["port lever is not in neutral"]

    def test_links(self) -> None:
        rig = Rig()
        rig.run(0.7)
        rig["port.drive.link_v"] = 0.0
        rig.press("helm.enable")
        assert rig.controller.missing_for(BoatMode.READY) == ["port DC link is not precharged"]
        rig["starboard.drive.link_v"] = 0.0
        rig.run(0.3)
        rig["starboard.shaft.out_of_service"] = True
        rig.tick()
        assert rig.controller.missing_for(BoatMode.READY) == ["port DC link is not precharged"]
        rig["port.drive.fault"] = True
        rig.tick()
        assert rig.mode("port") == "ISOLATED"
        assert rig.controller.missing_for(BoatMode.READY) == [
            "a drive's DC link is not precharged", "no shaft is available",
        ]  # fmt: skip

    def test_the_link_of_a_shaft_out_of_service_is_not_missed(self) -> None:
        rig = Rig()
        rig["starboard.shaft.out_of_service"] = True
        rig["port.drive.link_v"], rig["starboard.drive.link_v"] = 0.0, 0.0
        rig.run(0.7)
        rig.press("helm.enable")
        assert rig.controller.missing_for(BoatMode.READY) == ["port DC link is not precharged"]

    def test_before_the_first_tick_nothing_holds(self) -> None:
        controller = Controller(Rig().config)
        assert controller.explain("boat", "TRIPPED")[0].bits == ("EMERGENCY_STOP",)
        assert controller.explain("boat", "NEUTRAL_WAIT")[0].bits == ("ENABLE_EDGE", "SHAFT_AVAILABLE", "OWN_BOAT")
        for name in ("port", "starboard"):
            assert controller.explain(name, "ISOLATED")[0].bits == ("DRIVE_FAULT",)

    def test_explained_ways(self) -> None:
        assert Rig().controller.explain("boat", "STANDBY") == []
        rig = Rig().propel(60.0, 1.0, 500.0)
        way = rig.controller.explain("port", "GENERATE")[0]
        assert way.goal == "GENERATE"
        assert "charging at rest is not selected" in way.words or "charging under way is not selected" in way.words
        assert rig.controller.explain("port", "PROPEL") == []
        rig["port.drive.fault"] = True
        rig.tick()
        assert rig.controller.explain("port", "ISOLATED") != rig.controller.explain("starboard", "ISOLATED")


class TestController:
    def test_rearmed(self) -> None:
        rig = Rig()
        rig.tick()
        assert rig.controller.memory.shafts[0].latches != 0
        assert [rig.controller.rearmed(n) for n in (0, 1)] == [False, False]
        rig = READY()
        rig.tick()
        assert [rig.controller.rearmed(n) for n in (0, 1)] == [True, True]

    def test_made_anew(self) -> None:
        config = Rig().config
        assert Controller(config).memory.boat.dwells.since_full_s == 0.0
        assert Controller(config, 5.0).memory.boat.dwells.since_full_s == 5.0
        assert Controller(config).boat_mode is BoatMode.STANDBY

    def test_time_between_ticks(self) -> None:
        rig = Rig()
        for now_s, age_s in ((0.5, 0.0), (1.5, 1.0), (4.5, 4.0)):
            rig.controller.tick(now_s, rig.boat_in(), rig.shaft_in())
            assert rig.controller.memory.boat.dwells.age_s == pytest.approx(age_s)

    def test_a_failed_controller_repeats_its_last_words(self, monkeypatch: pytest.MonkeyPatch) -> None:
        rig = Rig().propel()
        before = rig.out
        assert before is not None
        monkeypatch.setattr(rig.controller._shaft_machines[1], "weigh_word", lambda word: ShaftMode.PROPEL)
        rig["starboard.drive.fault"] = True
        out = rig.tick()
        assert (out.boat_word, out.shaft_words) == (before.boat_word, before.shaft_words)
        assert out.boat_mode is BoatMode.TRIPPED
        assert out.shaft_modes == (ShaftMode.ISOLATED, ShaftMode.ISOLATED)
        assert rig.controller.shaft_modes == (ShaftMode.ISOLATED, ShaftMode.ISOLATED)
        assert out.boat_command == (1, 1, 1 << 20, 0.0, 0.0, 0)
        assert out.shaft_commands == ((0.0, 0.0, 0), (0.0, 0.0, 0))

    @pytest.mark.parametrize("claims", [ShaftMode.REST, ShaftMode.UNLOAD])
    def test_executors_that_disagree_either_way(self, claims: ShaftMode, monkeypatch: pytest.MonkeyPatch) -> None:
        machine = TableMachine(SHAFT_TABLE, ShaftMode, ShaftMode.PROPEL)
        word = int(ShaftCondition.DRIVE_FAULT)
        monkeypatch.setattr(machine, "weigh_word", lambda word: claims)
        with pytest.raises(ExecutorsDisagreeError):
            machine.consider(word)
        boat = TableMachine(BOAT_TABLE, BoatMode, BoatMode.STANDBY)
        enabled = int(BoatCondition.ENABLE_EDGE | BoatCondition.SHAFT_AVAILABLE | BoatCondition.OWN_BOAT)
        monkeypatch.setattr(boat, "weigh_word", lambda word: BoatMode.TRIPPED)
        with pytest.raises(ExecutorsDisagreeError):
            boat.consider(enabled)


class TestReturned:
    """An alarm that sounded and went before anybody acknowledged it stays to be seen: ISA-18.2's state "returned to
    normal, unacknowledged" (the term from memory)."""

    def stale(self, rig: Rig, seconds: float) -> None:
        rig["bank.soc_pct"] = None
        rig.run(seconds)
        rig["bank.soc_pct"] = 60.0
        rig.run(0.2)

    def test_it_stays_until_acknowledged(self) -> None:
        rig = READY()
        assert rig.controller.returned == 0
        self.stale(rig, 1.0)
        assert not rig.alarms() & Alarm.SOC_UNKNOWN
        assert rig.controller.returned == Alarm.SOC_UNKNOWN
        assert rig.controller.status()[0].returned == Alarm.SOC_UNKNOWN
        rig.run(60.0)
        assert rig.controller.returned == Alarm.SOC_UNKNOWN
        rig.press("helm.acknowledge")
        assert rig.controller.returned == 0

    def test_one_that_was_acknowledged_does_not(self) -> None:
        rig = READY()
        rig["bank.soc_pct"] = None
        rig.run(1.0)
        rig.press("helm.acknowledge")
        rig["bank.soc_pct"] = 60.0
        rig.run(1.0)
        assert rig.controller.returned == 0

    def test_one_that_comes_again_stands_and_has_not_returned(self) -> None:
        rig = READY()
        self.stale(rig, 1.0)
        rig["bank.soc_pct"] = None
        rig.run(0.2)
        assert rig.alarms() & Alarm.SOC_UNKNOWN
        assert rig.controller.returned == 0
        rig["bank.soc_pct"] = 60.0
        rig.run(0.2)
        assert rig.controller.returned == Alarm.SOC_UNKNOWN

    def test_a_notice_asks_nobody(self) -> None:
        rig = READY()
        rig["port.drive.motor_c"] = None
        rig.run(1.0)
        rig["port.drive.motor_c"] = 30.0
        rig.run(0.2)
        assert rig.controller.returned == 0

    def test_it_is_saved_and_restored(self) -> None:
        rig = READY()
        self.stale(rig, 1.0)
        saved = rig.controller.save()
        rig.press("helm.acknowledge")
        rig.controller.restore(saved)
        assert rig.controller.returned == Alarm.SOC_UNKNOWN
