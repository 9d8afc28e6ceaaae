"""Who asked: the control whose order an event answers, read from the tick's own words."""

import pytest

from supervisor.controller import Event, EventKind, Outcome
from supervisor.journal import Entry, asked_by, entry_of
from supervisor.modes import BoatCondition, BoatMode, ShaftMode
from supervisor.signals import BoatCommand


def outcome(word: int = 0, handset: int = 0) -> Outcome:
    command = BoatCommand(handset_in_control=handset)
    return Outcome(1.0, BoatMode.READY, (ShaftMode.REST,), command, (), word, (0,), ())


def mode(subject: str, source: str, dest: str) -> Event:
    return Event(1.0, EventKind.MODE, subject, "words", source, dest)


@pytest.mark.parametrize(
    ("event", "word", "handset", "who"),
    [
        (mode("boat", "STANDBY", "NEUTRAL_WAIT"), 0, 0, "helm.enable"),
        (mode("boat", "NEUTRAL_WAIT", "READY"), 0, 0, "helm.enable"),
        (mode("boat", "TRIPPED", "STANDBY"), 0, 0, "helm.reset"),
        (mode("boat", "READY", "STANDBY"), int(BoatCondition.OFF_ORDER), 0, "helm.disable"),
        (mode("boat", "READY", "STANDBY"), 0, 0, ""),  # idle for too long: nobody asked
        (mode("port", "REST", "PROPEL"), 0, 0, "lever"),
        (mode("port", "REST", "PROPEL"), 0, 1, "handset"),
        (mode("port", "PROPEL", "REST"), 0, 0, ""),
        (mode("port", "ISOLATED", "REST"), 0, 0, "helm.reset"),
        (Event(1.0, EventKind.REFUSAL, "boat", "not READY: port lever is not in neutral"), 0, 0, "helm.enable"),
        (Event(1.0, EventKind.REFUSAL, "boat", "no reset: cause still there"), 0, 0, "helm.reset"),
        (Event(1.0, EventKind.TRIP, "boat", "emergency stop", "READY", "TRIPPED", "EMERGENCY_STOP"), 0, 0, ""),
        (Event(1.0, EventKind.ALARM, "boat", "lever signal lost"), 0, 0, ""),
    ],
)
def test_who_asked(event: Event, word: int, handset: int, who: str) -> None:
    assert asked_by(event, outcome(word, handset)) == who


def test_a_line_for_a_person() -> None:
    trip = Event(112.5, EventKind.TRIP, "boat", "emergency stop", "READY", "TRIPPED", "EMERGENCY_STOP")
    assert entry_of(trip, outcome(), 100.0).line == (
        "    12.500 s  trip      boat READY -> TRIPPED: emergency stop [first out: EMERGENCY_STOP]"
    )
    enabled = Entry(1.0, "mode", "boat", "ENABLE was pressed", "STANDBY", "NEUTRAL_WAIT", "", "helm.enable")
    assert enabled.line.endswith("boat STANDBY -> NEUTRAL_WAIT: ENABLE was pressed (asked by helm.enable)")
