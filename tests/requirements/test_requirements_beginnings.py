"""Judging that begins in the middle of a sound run, or goes on after a gap, holds nothing against the boat.

What was before the records is not known. A verdict may not rest on a guess at it, whatever the moment.
"""

import random
from functools import cache
from pathlib import Path

import pytest
from requirement_voyages import B, S, Voyage, bank, shaft

from sim.bench import NullSink, load_procedure, run_procedure
from sim.requirements import JUDGES, Evaluator, Record
from sim.rig.simulated import SimRig
from supervisor.config import load_config
from supervisor.controller import freeze

PROCEDURES = Path(__file__).resolve().parents[2] / "configs" / "procedures"
SHOWN = ("demo", "engine_stall", "handset", "lock_and_clutch", "lost_lever", "trip_and_reset")
WINDOW = 450
"""Records judged from each beginning: 9 s."""


@cache
def recorded(name: str) -> tuple[str, tuple[Record, ...]]:
    """The boat of a shipped procedure, and every tick of a run of it."""
    boat = "reed_warbler" if name == "demo" else "marsh_tern"
    procedure = load_procedure(PROCEDURES / f"{name}.toml", load_config(boat))
    rig = SimRig(boat)
    records: list[Record] = []

    class Sink(NullSink):
        def tick(self, time_s: float, signals: object) -> None:
            record = next(iter(rig.records()), None)
            assert record is not None
            records.append(record)

    try:
        run_procedure(rig, procedure, Sink())
    finally:
        rig.close()
    return boat, tuple(records)


def wrongly(boat: str, records: list[Record]) -> list[str]:
    """What is called violated, in words."""
    evaluator = Evaluator(freeze(load_config(boat)))
    for record in records:
        evaluator.feed(record)
    return [f"{one.id}: {one.words}" for one in evaluator.finish() if one.held is False]


def changes(records: tuple[Record, ...]) -> list[int]:
    """Moments at which a mode or a permit changes: where histories matter most."""

    def state(record: Record) -> object:
        permits = tuple(command.permits for command in record.shaft_commands if command is not None)
        return record.boat_mode, record.shaft_modes, permits

    return [n for n in range(1, len(records)) if state(records[n]) != state(records[n - 1])]


@pytest.mark.parametrize("name", SHOWN)
def test_judging_may_begin_at_any_moment(name: str) -> None:
    boat, records = recorded(name)
    luck = random.Random(name)
    moments = [luck.randrange(1, len(records) - 50) for _ in range(12)]
    moments += [max(1, at - luck.randrange(0, 110)) for at in luck.choices(changes(records), k=12)]
    for at in moments:
        assert wrongly(boat, list(records[at : at + WINDOW])) == [], f"{name} from record {at} on"


@pytest.mark.parametrize("name", SHOWN)
def test_judging_goes_on_after_a_gap(name: str) -> None:
    boat, records = recorded(name)
    luck = random.Random(f"gaps of {name}")
    for _ in range(12):
        at = max(30, luck.choice(changes(records)) - luck.randrange(0, 60))
        gap = luck.randrange(26, 80)  # more than half a second
        kept = [*records[max(0, at - 100) : at], *records[at + gap : at + gap + WINDOW]]
        assert wrongly(boat, kept) == [], f"{name}, records {at} to {at + gap} missing"


@pytest.mark.campaign
@pytest.mark.parametrize("path", sorted(PROCEDURES.glob("*.toml")), ids=lambda path: path.stem)
def test_judging_may_begin_at_every_change(path: Path) -> None:
    """From two seconds before each change of a mode or permit up to it, every fifth record; each with a gap as well."""
    boat, records = recorded(path.stem)
    for change in changes(records):
        for at in range(max(1, change - 105), change + 2, 5):
            assert wrongly(boat, list(records[at : at + WINDOW])) == [], f"from record {at} on"
            kept = [*records[max(0, at - 40) : at], *records[at + 35 : at + 35 + WINDOW]]
            assert wrongly(boat, kept) == [], f"records {at} to {at + 35} missing"


# --- the two that were seen first


def still() -> list[Record]:
    """A boat at rest from power-up, for five seconds."""
    voyage = Voyage()
    voyage.go(250)
    return voyage.records


@pytest.mark.sr("SR-39")
@pytest.mark.parametrize("begins_s", [0.5, 0.8, 1.0, 1.3, 1.5])
def test_a_still_shaft_that_was_still_before(begins_s: float) -> None:
    records = [record for record in still() if record.time_s >= begins_s]
    assert wrongly("marsh_tern", records) == []


@pytest.mark.sr("SR-39")
def test_a_gap_of_seven_tenths_on_a_still_shaft() -> None:
    records = [record for record in still() if not 0.6 <= record.time_s < 1.3]
    assert wrongly("marsh_tern", records) == []


@pytest.mark.sr("SR-39")
def test_from_power_up_a_permit_that_comes_too_early_is_seen() -> None:
    """What is known to begin at power-up is judged to the full."""
    records = [
        record._replace(shaft_commands=tuple(one._replace(permits=one.permits | 16) for one in record.shaft_commands))
        if record.time_s > 1.0 else record
        for record in still()
    ]  # fmt: skip
    boat = freeze(load_config("marsh_tern"))
    for from_power_up, held in ((True, False), (False, None)):
        evaluator = Evaluator(boat, only=("SR-39",), from_power_up=from_power_up)
        for record in records:
            evaluator.feed(record)
        assert evaluator.finish()[0].held is held


# --- sound runs that were called violations, whenever judging begins


@pytest.mark.sr("SR-27")
def test_charging_beside_a_lost_handset_is_no_thrust() -> None:
    """One shaft charges at rest, the handset is in control of the other and loses its link: charging goes on."""
    voyage = Voyage()
    engine = {"engine_speed_rpm": 1600.0, "machine_speed_rpm": 640.0, "gear_report": 1.0}
    at_rest = int(S.ENGINE_RUN | S.GEAR_AHEAD | S.CLUTCH_OPEN)
    standing = shaft(on=at_rest, off=S.GEAR_NEUTRAL | S.CLUTCH_CLOSED, **engine)
    charging = shaft(on=at_rest | S.CHARGE_AT_REST, off=S.GEAR_NEUTRAL | S.CLUTCH_CLOSED, **engine)
    voyage.ready()
    voyage.go(5, None, standing)
    voyage.go(100, None, charging, shaft())
    voyage.go(5, bank(on=B.HANDSET_HELD), charging, shaft())
    voyage.go(20, bank(on=B.HANDSET_HELD, unknown=B.HANDSET_OURS), charging, shaft())
    lost = [record for record in voyage.records if not record.boat_in.known & B.HANDSET_OURS]  # type: ignore[union-attr]
    assert lost[0].shaft_commands[0].torque_nm < 0.0  # type: ignore[union-attr]
    assert any(record.boat_command.handset_in_control for record in voyage.records)  # type: ignore[union-attr]
    assert wrongly("marsh_tern", voyage.records) == []


@pytest.mark.sr("SR-30")
def test_a_shaft_out_of_service_may_have_its_drive_switched_off() -> None:
    voyage = Voyage()
    voyage.ready()
    voyage.go(10, None, shaft(on=S.OUT_OF_SERVICE), shaft())
    voyage.go(10, None, shaft(on=S.OUT_OF_SERVICE, unknown=S.MACHINE_SPEED | S.TORQUE | S.CURRENT), shaft())
    assert wrongly("marsh_tern", voyage.records) == []


def test_every_judge_was_asked() -> None:
    """The runs above give each evaluator but a few an occasion to judge, so that their silence says something."""
    asked: set[str] = set()
    for name in SHOWN:
        boat, records = recorded(name)
        evaluator = Evaluator(freeze(load_config(boat)), from_power_up=True)
        for record in records:
            evaluator.feed(record)
        verdicts = evaluator.finish()
        assert [one.id for one in verdicts if one.held is False] == []
        asked |= {one.id for one in verdicts if one.held is not None}
    assert {judge.identifier for judge in JUDGES} - asked <= RARE


RARE = {
    "SR-52",
    "SR-06",
    "SR-09",
    "SR-10",
    "SR-11",
    "SR-12",
    "SR-17",
    "SR-19",
    "SR-30",
    "SR-31",
    "SR-32",
    "SR-35",
    "SR-40",
    "SR-41",
    "SR-55",
    "SR-56",
    "SR-57",
    "SR-60",
    "SR-61",
    "SR-62",
}
"""Requirements that these few procedures give no occasion to judge; the long run has them all."""
