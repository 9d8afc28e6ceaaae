"""Machinery: what PROPEL, GENERATE and HARVEST need, each missing in turn; selectors act only when switched anew."""

from typing import ClassVar

import pytest
from boatyard.rig import Rig

from supervisor.signals import Alarm

Spoil = dict[str, object]


class StartSuite:
    """A way to ask for a mode, and everything that must be there, each spoilt in turn."""

    GOAL: str
    NEEDS: ClassVar[dict[str, Spoil]]
    STARTS: ClassVar[dict[str, Spoil]] = {}
    """What bars a beginning only."""

    def ask(self, rig: Rig) -> None:
        """Ask for the mode with everything in order."""
        raise NotImplementedError

    def test_with_everything_there_it_starts(self) -> None:
        rig = Rig().ready()
        self.ask(rig)
        rig.run(0.5)
        rig.expect("everything is there", "port", self.GOAL)

    def test_with_one_thing_missing_it_does_not(self) -> None:
        begin = Rig().ready()
        back = begin.save()
        for what, spoil in (self.NEEDS | self.STARTS).items():
            back()
            for signal, value in spoil.items():
                begin[signal] = value
            begin.run(0.1)
            self.ask(begin)
            for signal, value in spoil.items():
                begin[signal] = value
            for _ in range(25):  # not for one tick either
                begin.tick()
                assert begin.mode("port") != self.GOAL, begin.report(what, "refused", self.GOAL, "port")
                begin.expect_zero(f"{self.GOAL} refused: {what}", "port")

    def test_what_is_missing_is_explained(self) -> None:
        begin = Rig().ready()
        back = begin.save()
        for what, spoil in (self.NEEDS | self.STARTS).items():
            back()
            self.ask(begin)
            for signal, value in spoil.items():
                begin[signal] = value
            begin.tick()
            begin.run(0.5)
            if begin.mode("port") in ("REST", "ISOLATED"):
                assert begin.controller.explain("port", self.GOAL)[0].words, what

    def test_with_one_thing_lost_it_ends(self) -> None:
        begin = Rig().ready()
        self.ask(begin)
        begin.run(1.0)
        back = begin.save()
        for what, spoil in self.NEEDS.items():
            back()
            for signal, value in spoil.items():
                begin[signal] = value
            begin.tick()
            assert begin.mode("port") != self.GOAL, begin.report(f"lost: {what}", "not " + self.GOAL, self.GOAL, "port")


_LOCK: dict[str, Spoil] = {
    "lock not released": {"port.lock.released": False},
    "lock unknown": {"port.lock.released": None},
    "lock says both": {"port.lock.engaged": True},
    "lock engaged unknown": {"port.lock.engaged": None},
}
_CLOSED: dict[str, Spoil] = {
    "clutch in transit": {"port.clutch.closed": False},
    "clutch unknown": {"port.clutch.closed": None},
    "clutch says both": {"port.clutch.open": True},
    "clutch open": {"port.clutch.closed": False, "port.clutch.open": True},
    "clutch open contact unknown": {"port.clutch.open": None},
}
_DIVER: dict[str, Spoil] = {
    "diver": {"helm.diver_lockout": True},
    "diver lockout unknown": {"helm.diver_lockout": None},
}
_SHORE: dict[str, Spoil] = {
    "shore cable": {"helm.shore_connected": True},
    "shore cable unknown": {"helm.shore_connected": None},
}
_CHARGE: dict[str, Spoil] = {
    "charge permit": {"bank.charge_permit": False},
    "charge permit stale": {"bank.charge_permit": None},
    "charge limit 0": {"bank.charge_limit_a": 0.0},
    "bank full": {"bank.soc_pct": 94.0},
    "bank cold": {"bank.cell_cold_c": 0.0},
    "bank hot": {"bank.cell_hot_c": 45.0},
    "cell full": {"bank.cell_max_v": 3.55},
    "SOC stale": {"bank.soc_pct": None},
}
_OURS: dict[str, Spoil] = {"out of service": {"port.shaft.out_of_service": True}}


@pytest.mark.sr("SR-07", "SR-08", "SR-09", "SR-10", "SR-11", "SR-49")
class TestPropel(StartSuite):
    GOAL = "PROPEL"
    STARTS: ClassVar[dict[str, Spoil]] = _SHORE
    NEEDS: ClassVar[dict[str, Spoil]] = {
        **_LOCK, **_CLOSED, **_DIVER, **_OURS,
        "engine running in gear": {"port.engine.running": True, "port.engine.engine_speed_rpm": 900.0,
                                   "port.gearbox.neutral": False, "port.gearbox.ahead": True,
                                   "port.gearbox.gear_report": 1.0},
        "run contact unknown and gear not neutral": {"port.engine.running": None, "port.gearbox.neutral": False},
        "run contact unknown and neutral unknown": {"port.engine.running": None, "port.gearbox.neutral": None},
        "frames contradict the run contact, gear not neutral": {"port.engine.engine_speed_rpm": 51.0,
                                                                "port.gearbox.neutral": False},
        "frames contradict the neutral contact, engine running": {"port.engine.running": True,
                                                                  "port.gearbox.gear_report": 1.0},
        "discharge permit": {"bank.discharge_permit": False},
        "bank empty and at its end": {"bank.discharge_limit_a": 0.0},
    }  # fmt: skip

    def ask(self, rig: Rig) -> None:
        rig.lever("port", 60)

    @pytest.mark.parametrize(("gear", "opens", "mode"), [
        ("neutral", False, "PROPEL"), ("ahead", False, "REST"), ("neutral", True, "PROPEL"), ("ahead", True, "PROPEL"),
    ])  # fmt: skip
    def test_a_stopped_engine_in_gear_is_turned_by_the_drive_unless_its_gearbox_opens(
        self, gear: str, opens: bool, mode: str
    ) -> None:
        rig = Rig({"shaft/0/gearbox": {"ratio": 2.5, "open_when_stopped": opens}}).ready()
        rig.engine("port", 0, gear)
        rig.lever("port", 60)
        rig.run(0.5)
        rig.expect("engine stopped", "port", mode)

    def test_a_running_engine_in_neutral_does_not_matter(self) -> None:
        rig = Rig().ready()
        rig.engine("port", 900, "neutral")
        rig.lever("port", 60)
        rig.run(0.5)
        rig.expect("gearbox in neutral", "port", "PROPEL")

    def test_silent_engine_frames_do_not_contradict(self) -> None:
        """Engine gateways fall silent with the ignition off; the run contact is the authority."""
        rig = Rig({"shaft/0/gearbox": {"ratio": 2.5, "open_when_stopped": True}}).ready()
        rig.engine("port", 0, "ahead")
        rig["port.engine.engine_speed_rpm"] = None
        rig["port.gearbox.gear_report"] = None
        rig.lever("port", 60)
        rig.run(0.5)
        rig.expect("run contact says stopped", "port", "PROPEL")
        assert not rig.alarms() & Alarm.INPUT_LOST


@pytest.mark.sr("SR-07", "SR-08", "SR-10", "SR-23", "SR-49")
class TestUnderWay(StartSuite):
    GOAL = "GENERATE"
    NEEDS: ClassVar[dict[str, Spoil]] = {
        **_LOCK, **_CLOSED, **_DIVER, **_CHARGE, **_OURS,
        "gear not ahead": {"port.gearbox.ahead": False},
        "gear unknown": {"port.gearbox.ahead": None},
        "neutral contact made as well": {"port.gearbox.neutral": True},
        "frames say neutral": {"port.gearbox.gear_report": 0.0},
        "frames say astern": {"port.gearbox.gear_report": -1.0},
        "engine stopped": {"port.engine.running": False},
        "engine stopped by its frames": {"port.engine.engine_speed_rpm": 399.0},
        "engine speed unknown": {"port.engine.engine_speed_rpm": None},
        "run contact unknown": {"port.engine.running": None},
        "selector off": {"port.shaft.charge_under_way": False},
        "selector unknown": {"port.shaft.charge_under_way": None},
        "both selectors": {"port.shaft.charge_at_rest": True},
    }  # fmt: skip

    def ask(self, rig: Rig) -> None:
        rig.engine("port", 2000, "ahead")
        rig.speed("port", 800)
        rig["port.shaft.charge_under_way"] = True


@pytest.mark.sr("SR-10", "SR-12")
class TestAtRest(StartSuite):
    GOAL = "GENERATE"
    NEEDS: ClassVar[dict[str, Spoil]] = {
        **_DIVER, **_CHARGE, **_OURS,
        "clutch closed": {"port.clutch.closed": True, "port.clutch.open": False},
        "clutch in transit": {"port.clutch.open": False},
        "clutch unknown": {"port.clutch.open": None},
        "clutch closed contact unknown": {"port.clutch.closed": None},
        "lock in transit": {"port.lock.released": False},
        "propeller side turns": {"port.shaft.propeller_speed_rpm": 5.0},
        "propeller side turns astern": {"port.shaft.propeller_speed_rpm": -5.0},
        "gear not ahead": {"port.gearbox.ahead": False},
        "engine stopped": {"port.engine.running": False},
        "selector off": {"port.shaft.charge_at_rest": False},
    }  # fmt: skip

    def ask(self, rig: Rig) -> None:
        rig["port.clutch.closed"], rig["port.clutch.open"] = False, True
        rig.engine("port", 2000, "ahead")
        rig["port.drive.machine_speed_rpm"] = 800.0
        rig["port.shaft.propeller_speed_rpm"] = 4.9
        rig["port.shaft.charge_at_rest"] = True

    def test_the_lock_may_hold_the_propeller(self) -> None:
        rig = Rig().ready()
        self.ask(rig)
        rig["port.lock.released"], rig["port.lock.engaged"] = False, True
        rig.run(0.5)
        rig.expect("clutch open, lock engaged", "port", "GENERATE")

    @pytest.mark.sr("SR-17")
    def test_that_it_has_ended_while_the_engine_runs_on_is_a_notice(self) -> None:
        rig = Rig().ready()
        self.ask(rig)
        rig.run(1.0)
        assert not rig.alarms() & Alarm.CHARGE_DONE
        rig["bank.soc_pct"] = 95.0
        rig.run(1.0)
        rig.expect("full", "port", "REST")
        assert rig.alarms() == Alarm.CHARGE_DONE
        assert rig.tick().boat_command.sounder == 0
        rig.engine("port", 0, "neutral")
        rig.run(0.1)
        assert not rig.alarms() & Alarm.CHARGE_DONE


@pytest.mark.sr("SR-07", "SR-08", "SR-10", "SR-11", "SR-41", "SR-49")
class TestHarvest(StartSuite):
    GOAL = "HARVEST"
    STARTS: ClassVar[dict[str, Spoil]] = _SHORE
    NEEDS: ClassVar[dict[str, Spoil]] = {
        **_LOCK, **_CLOSED, **_DIVER, **_CHARGE, **_OURS,
        "engine running": {"port.engine.running": True, "port.engine.engine_speed_rpm": 900.0},
        "run contact unknown": {"port.engine.running": None},
        "frames contradict the run contact": {"port.engine.engine_speed_rpm": 51.0},
        "gear not neutral": {"port.gearbox.neutral": False},
        "gear unknown": {"port.gearbox.neutral": None},
        "frames say ahead": {"port.gearbox.gear_report": 1.0},
        "selector unknown": {"port.shaft.harvest": None},
    }  # fmt: skip

    def ask(self, rig: Rig) -> None:
        rig.speed("port", 500)
        rig["port.shaft.harvest"] = True

    def test_not_where_the_gearbox_may_not_trail(self) -> None:
        rig = Rig({"shaft/0/gearbox": {"ratio": 2.5}}).ready()
        for name in rig.names:
            rig.speed(name, 500)
            rig[f"{name}.shaft.harvest"] = True
        rig.run(0.5)
        rig.expect("the gearbox maker decides; default no", "port", "REST")
        rig.expect("the other gearbox may trail", "starboard", "HARVEST")

    def test_no_longer_than_the_gearbox_may_trail(self) -> None:
        rig = Rig({"shaft/0/gearbox": {"ratio": 2.5, "trailing_allowed": True, "trailing_limit_s": 20.0}}).harvest(19.5)
        rig.expect("within the limit", "port", "HARVEST")
        rig.run(1.5)
        rig.expect("trailed for 20 s", "port", "REST")
        rig.run(5.0)
        rig.expect("it still turns", "port", "REST")
        rig.speed("port", 0)
        rig.run(0.1)
        rig.speed("port", 500)
        rig.run(0.5)
        rig.expect("a shaft that stood still may trail again", "port", "HARVEST")

    def test_with_silent_engine_frames(self) -> None:
        rig = Rig().ready()
        self.ask(rig)
        rig["port.engine.engine_speed_rpm"] = None
        rig["port.gearbox.gear_report"] = None
        rig.run(0.5)
        rig.expect("ignition off is the very case of harvest", "port", "HARVEST")

    def test_thrust_ends_harvest_through_zero(self) -> None:
        rig = Rig().harvest(5.0)
        rig.lever("port", 60)
        rig.tick()
        rig.expect("thrust ends harvest", "port", "UNLOAD")
        seen = [rig.torque("port")]
        for _ in range(150):
            rig.tick()
            seen.append(rig.torque("port"))
        rig.expect("then propels", "port", "PROPEL")
        first = next(n for n, t in enumerate(seen) if t == 0.0)
        assert seen[first : first + 25] == [0.0] * 25, "reversal passes through zero with a dwell of 0.5 s"


@pytest.mark.sr("SR-46")
@pytest.mark.parametrize("selector", ["charge_under_way", "charge_at_rest", "harvest"])
class TestSelectors:
    """A switch left on does nothing: a selector acts when it was seen off since READY."""

    def set_up(self, rig: Rig, selector: str) -> None:
        if selector == "harvest":
            rig.speed("port", 500)
            return
        rig.engine("port", 2000, "ahead")
        rig["port.drive.machine_speed_rpm"] = 800.0
        rig["port.shaft.propeller_speed_rpm"] = 800.0 if selector == "charge_under_way" else 0.0
        if selector == "charge_at_rest":
            rig["port.clutch.closed"], rig["port.clutch.open"] = False, True

    def test_on_since_before_ready_it_passes_nothing(self, selector: str) -> None:
        rig = Rig()
        rig[f"port.shaft.{selector}"] = True
        rig.ready()
        self.set_up(rig, selector)
        rig.run(1.0)
        rig.expect("a maintained selector", "port", "REST")
        rig[f"port.shaft.{selector}"] = False
        rig.tick()
        rig[f"port.shaft.{selector}"] = True
        rig.run(0.5)
        rig.expect("switched anew", "port", "GENERATE", "HARVEST")

    @pytest.mark.parametrize("event", ["trip", "isolate"])
    def test_after_a_trip_it_must_be_switched_anew(self, selector: str, event: str) -> None:
        rig = Rig().ready()
        self.set_up(rig, selector)
        rig[f"port.shaft.{selector}"] = True
        rig.run(0.5)
        cause = "helm.emergency_stop" if event == "trip" else "port.drive.fault"
        rig[cause] = True
        rig.run(0.1)
        rig[cause] = False
        rig.speed("port", 0)
        rig.press("helm.reset")
        rig.run(0.7)
        rig.press("helm.enable")
        rig.run(0.7)
        rig.expect("ready again", "boat", "READY")
        self.set_up(rig, selector)
        rig.run(1.0)
        rig.expect("a selector left on over a trip", "port", "REST")
