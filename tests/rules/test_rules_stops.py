"""A stop that nobody asked for is told until it is acknowledged; what the crew itself ended is not."""

from collections.abc import Callable

import pytest
from boatyard.rig import Rig

from supervisor.controller import EventKind
from supervisor.signals import Alarm

pytestmark = pytest.mark.sr("SR-53")


def stopped(rig: Rig, which: int = 0) -> bool:
    assert rig.out is not None
    return bool(rig.out.boat_command.alarms & (1 << 24 + which))


PAUSE_S = 0.24
"""A contact that is away for so long has ended thrust: for 0.2 s it may be a bounce, two ticks to be sure."""

CONTACT_STOPS = [("port.lock.released", False, "shaft lock"), ("port.clutch.closed", False, "shaft clutch")]
THRUST_STOPS = [
    ("helm.diver_lockout", True, "diver lockout is set"), ("port.shaft.out_of_service", True, "service"),
    ("bank.discharge_permit", False, "permit"), ("port.lever.lever_pct", None, "lever"),
]  # fmt: skip


class TestThrust:
    @pytest.mark.parametrize(("signal", "value", "cause"), [*THRUST_STOPS, *CONTACT_STOPS])
    def test_each_cause_is_told_with_shaft_and_cause_until_acknowledged(
        self, signal: str, value: object, cause: str
    ) -> None:
        rig = Rig().propel(60.0, 1.0, 300.0)
        assert not stopped(rig)
        good = rig[signal]
        rig[signal] = value
        rig.tick()
        if (signal, value, cause) in CONTACT_STOPS:
            assert not stopped(rig), "not yet: it may be a bounce"
            rig.run(PAUSE_S)
        assert stopped(rig)
        assert rig.out is not None
        assert rig.out.boat_command.sounder == 1
        told = [one for one in rig.events if one.kind == EventKind.ALARM and one.subject == "port"]
        assert len(told) == 1
        assert told[0].text.startswith("thrust was stopped: ")
        assert cause in told[0].text
        assert told[0].text.endswith("lever to neutral first")
        rig[signal] = good
        rig.run(5.0)
        assert stopped(rig), "gone is not seen"
        assert rig.out.boat_command.sounder == 1
        rig.press("helm.acknowledge")
        assert not stopped(rig)
        gone = [one.text for one in rig.events if one.first_out == "STOPPED_1"]
        assert gone[-1] == "the stop is acknowledged"

    def test_only_the_shaft_that_stopped(self) -> None:
        rig = Rig().propel(60.0, 1.0, 300.0)
        rig["starboard.clutch.closed"] = False
        rig.run(PAUSE_S)
        assert (stopped(rig, 0), stopped(rig, 1)) == (False, True)

    @pytest.mark.parametrize("act", [
        lambda rig: rig.levers(0), lambda rig: rig.press("helm.disable"),
        lambda rig: rig.__setitem__("helm.emergency_stop", True),
    ])  # fmt: skip
    def test_what_the_crew_ended_or_the_boat_tells_is_no_stop(self, act: Callable[[Rig], None]) -> None:
        rig = Rig().propel(60.0, 1.0, 300.0)
        act(rig)
        rig.run(1.0)
        assert not stopped(rig)

    def test_a_second_stop_after_the_first_was_acknowledged_is_told_again(self) -> None:
        rig = Rig().propel(60.0, 1.0, 300.0)
        for _ in range(2):
            rig["port.clutch.closed"] = False
            rig.run(PAUSE_S)
            assert stopped(rig)
            rig["port.clutch.closed"] = True
            rig.press("helm.acknowledge")
            assert not stopped(rig)
            rig.lever("port", 0)
            rig.run(0.7)
            rig.lever("port", 60)
            rig.run(1.0)

    def test_a_lost_handset(self) -> None:
        rig = Rig().handset(80.0, 1.0)
        rig["handset.held"] = None
        rig.tick()
        assert stopped(rig)


class TestCharging:
    @pytest.mark.parametrize("begin", [lambda: Rig().generate(3.0), lambda: Rig().harvest(3.0)])
    def test_a_withdrawn_permit(self, begin: Callable[[], Rig]) -> None:
        rig = begin()
        rig["bank.charge_permit"] = False
        rig.tick()
        assert stopped(rig)
        told = [one.text for one in rig.events if one.kind == EventKind.ALARM and one.subject == "port"]
        assert told[-1].startswith("charging was stopped: ")

    @pytest.mark.parametrize("begin", [lambda: Rig().generate(3.0), lambda: Rig().harvest(3.0)])
    def test_a_full_bank_is_no_stop(self, begin: Callable[[], Rig]) -> None:
        rig = begin()
        rig["bank.soc_pct"] = 94.0
        rig.run(3.0)
        assert rig.mode("port") == "REST"
        assert not stopped(rig)

    def test_an_engine_that_stalls(self) -> None:
        rig = Rig().generate(3.0)
        rig.engine("port", 100, "ahead")
        rig.tick()
        assert (stopped(rig, 0), stopped(rig, 1)) == (True, False)

    def test_deselected_is_no_stop(self) -> None:
        rig = Rig().generate(3.0)
        rig["port.shaft.charge_under_way"] = False
        rig.run(3.0)
        assert not stopped(rig)

    def test_harvest_that_gives_way_to_thrust_is_no_stop(self) -> None:
        rig = Rig().harvest(3.0)
        rig.lever("port", 40)
        rig.run(3.0)
        assert not stopped(rig)


def test_each_shaft_has_its_own() -> None:
    assert [int(alarm) for alarm in (Alarm.STOPPED_1, Alarm.STOPPED_2, Alarm.STOPPED_3, Alarm.STOPPED_4)] == [
        1 << 24, 1 << 25, 1 << 26, 1 << 27
    ]  # fmt: skip
