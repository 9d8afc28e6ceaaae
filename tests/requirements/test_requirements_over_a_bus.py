"""Requirements judged of a supervisor that is heard some ticks late: no false alarm on sound voyages, whatever the
delay and however it wavers; what lasts is found all the same."""

import random
from collections.abc import Callable

import pytest
from requirement_voyages import VOYAGES, voyage, with_boat_mode, with_command, with_mode, with_torque

from sim.requirements import JUDGES, Judgement, Record
from sim.requirements.over_a_bus import MOMENT, BusEvaluator, Way
from supervisor.modes import BoatMode, ShaftMode
from supervisor.signals import BoatInput

ALL = frozenset(
    {
        "boat.mode", "shaft.mode", "drive.torque_nm", "drive.current_a", "drive.enable", "drive.precharge",
        "engine.start", "clutch.close", "lock.engage", "boat.alarms", "boat.more_alarms", "boat.charge_limit_a",
        "boat.derate_pct", "sources.stop", "sounder.on", "handset.in_control",
    }
)  # fmt: skip
WAY = Way(ALL, 0.06, 0.2)


def late(records: list[Record], seed: int, wavers: float = 0.4) -> list[Record]:
    """The same voyage as heard over a bus: orders and modes of one to three ticks ago, in one tick of ten or so another
    one than before (`wavers`), never back in time; alarms of up to a fifth of a second ago."""
    luck = random.Random(seed)
    steady = luck.choice((1, 2, 2))
    heard, alarms = [], records[0]
    at = 0
    for number, record in enumerate(records):
        delay = steady + (luck.choice((1, -1) if steady == 2 else (1, 0)) if luck.random() < wavers else 0)
        at = max(at, number - delay, 0)
        if number % 10 == 0:
            alarms = records[at]
        said = records[at]
        assert said.boat_command is not None
        assert alarms.boat_command is not None
        heard.append(
            record._replace(
                boat_mode=said.boat_mode, shaft_modes=said.shaft_modes, shaft_commands=said.shaft_commands,
                boat_command=said.boat_command._replace(alarms=alarms.boat_command.alarms), boat_word=None,
                shaft_words=(),
            )
        )  # fmt: skip
    return heard


def judged(name: str, records: list[Record], way: Way = WAY) -> dict[str, Judgement]:
    controller = voyage(name).controller
    evaluator = BusEvaluator(controller.boat, controller.shaft_names, (), way)
    for record in records:
        evaluator.feed(record)
    return {one.id: one for one in evaluator.finish()}


@pytest.mark.parametrize(
    "seeds", [range(2), pytest.param(range(2, 8), marks=pytest.mark.campaign)], ids=["two ways", "six more"]
)
@pytest.mark.parametrize("name", VOYAGES)
def test_a_sound_supervisor_is_not_blamed_for_the_way_of_its_frames(name: str, seeds: range) -> None:
    for seed in seeds:
        broken = [one for one in judged(name, late(voyage(name).records, seed)).values() if one.held is False]
        assert not broken, (seed, broken)


def always(
    change: Callable[[Record], Record], when: Callable[[Record], bool]
) -> Callable[[list[Record]], list[Record]]:
    return lambda records: [change(record) if when(record) else record for record in records]


def thrusting(record: Record) -> Record:
    """Thrust that goes on."""
    return with_mode(ShaftMode.PROPEL)(with_torque(40.0)(record))


def growing(records: list[Record]) -> list[Record]:
    """Torque that grows at 400 N m/s, where marsh_tern allows 250, for a quarter of a second."""
    found, at = [], 0.0
    for record in records:
        command = record.shaft_commands[0]
        assert command is not None
        at = min(at + 400.0 * 0.02, 100.0) if command.torque_nm > 0.0 else 0.0
        found.append(with_torque(at)(record) if command.torque_nm > 0.0 else record)
    return found


def jerking(records: list[Record]) -> list[Record]:
    """From ahead to astern within a tick, without a stop between."""
    return [with_torque(30.0 if number // 50 % 2 else -30.0)(record) for number, record in enumerate(records)]


FOUND = [
    ("SR-02", "trips", always(with_torque(20.0), lambda r: r.boat_mode == BoatMode.TRIPPED)),
    ("SR-02", "trips", always(with_command(permits=1), lambda r: r.boat_mode == BoatMode.TRIPPED)),
    ("SR-24", "thrust", growing),
    ("SR-25", "thrust", jerking),
    ("SR-26", "lever lost", always(thrusting, lambda r: r.boat_mode == BoatMode.READY)),
    ("SR-44", "waits", always(with_boat_mode(BoatMode.NEUTRAL_WAIT), lambda r: True)),
]


@pytest.mark.parametrize(("identifier", "name", "forge"), FOUND)
def test_what_lasts_is_found(identifier: str, name: str, forge: Callable[[list[Record]], list[Record]]) -> None:
    records = forge(voyage(name).records)
    for seed in range(6):
        one = judged(name, late(records, seed, 0.1))[identifier]
        assert one.held is False, (seed, one)
        assert one.words
        assert one.duration_s > 0.0 or one.unit == "s"


def test_what_is_over_within_its_way_is_not_held_against_anybody() -> None:
    records = list(voyage("trips").records)
    first = next(number for number, record in enumerate(records) if record.boat_mode == BoatMode.TRIPPED)
    for number in range(first, first + 2):
        records[number] = with_torque(20.0)(records[number])
    assert judged("trips", late(records, 0))["SR-02"].held is not False


def test_a_moment_is_not_judged_and_says_so() -> None:
    controller = voyage("thrust").controller
    evaluator = BusEvaluator(controller.boat, controller.shaft_names, (), WAY)
    assert {identifier for identifier, why in evaluator.unjudged.items() if why == MOMENT} == {
        "SR-04", "SR-06", "SR-17", "SR-19", "SR-31", "SR-33",
    }  # fmt: skip
    assert {one.id for one in evaluator.finish()} | evaluator.unjudged.keys() == {kind.identifier for kind in JUDGES}


def test_what_is_not_on_the_bus_is_not_judged_and_named() -> None:
    controller = voyage("thrust").controller
    way = WAY._replace(outputs=ALL - {"boat.alarms", "clutch.close"})
    evaluator = BusEvaluator(controller.boat, controller.shaft_names, (), way)
    assert evaluator.unjudged["SR-38"] == "not on the bus: clutch.close"
    assert evaluator.unjudged["SR-43"] == "not on the bus: boat.alarms"
    assert "SR-24" not in evaluator.unjudged


def test_a_device_that_falls_silent_starts_anew() -> None:
    """Between two stretches of hearing nothing is known: no rate, no wait, no dwell reaches across."""
    records = late(voyage("waits").records, 1)
    half = len(records) // 2
    torn = [*records[:half], *(Record(record.time_s) for record in records[half : half + 40]), *records[half + 40 :]]
    assert all(one.held is not False for one in judged("waits", torn).values())


def test_emergency_stop_that_nobody_heeds() -> None:
    """Whatever the device decided on, it has not heeded it for a second."""
    records = voyage("thrust").records
    pressed = []
    for record in records:
        assert record.boat_in is not None
        on = int(BoatInput.EMERGENCY_STOP)
        pressed.append(record._replace(boat_in=record.boat_in._replace(on=record.boat_in.on | on)))
    one = judged("thrust", late(pressed, 2))["SR-03"]
    assert one.held is False
    assert "emergency stop" in one.words
