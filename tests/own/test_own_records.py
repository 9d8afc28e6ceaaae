"""What happened to an own interlock is told in its own words and kept: events, explanations, journal, replay."""

import subprocess
import sys
from pathlib import Path

from own_boat import BILGE, LADDER, ROOT, SEAL, write_boat

from sim.bench.candump import CandumpLog
from sim.replay.decisions import Decisions
from sim.replay.session import Options, Session
from sim.rig.simulated import SimRig
from supervisor.controller import Outcome
from supervisor.controller.events import EventKind
from supervisor.journal import Journal, RunStart, entry_of, read_events
from supervisor.journal.ticks import TickLog


def sail(rig: SimRig) -> None:
    """Under thrust the ladder comes down and goes up again; the seal runs hot; the deck's box falls silent."""
    rig.run(1.0)
    rig.act("helm.enable", "press")
    rig.run(4.0)
    for shaft in rig.shafts:
        rig.act(f"{shaft}.lever_pct", 60.0)
    rig.run(3.0)
    rig.act("interlock.swim_ladder", "bad")
    rig.run(1.0)
    rig.act("interlock.swim_ladder", "good")
    for shaft in rig.shafts:
        rig.act(f"{shaft}.lever_pct", 0.0)
    rig.run(1.5)
    rig.act("interlock.shaft_seal", 95.0)
    rig.run(2.0)
    rig.inject("node_silent", "own.deck")
    rig.run(2.0)


def voyage(folder: Path) -> tuple[list[Outcome], Decisions, Path]:
    """Sailed and recorded from the supervisor's side."""
    file = write_boat(folder, LADDER, SEAL, BILGE)
    run = folder / "run"
    run.mkdir()
    rig = SimRig(file)
    log, ticks = CandumpLog(run / "bus.log", rig.buses), TickLog(run / "ticks.csv")
    rig.record_supervisor(log.write, ticks.write)
    outcomes: list[Outcome] = []
    live = Decisions(0)
    tick = rig.supervisor.tick

    def noted(now_s: float) -> Outcome:
        outcome = tick(now_s)
        live.take(len(outcomes), outcome)
        outcomes.append(outcome)
        return outcome

    rig.supervisor.tick = noted  # type: ignore[method-assign]
    try:
        sail(rig)
    finally:
        rig.close()
        log.close()
        ticks.close()
    return outcomes, live, file


def test_events_name_it_and_speak_its_words(tmp_path: Path) -> None:
    outcomes, _, _ = voyage(tmp_path)
    events = [event for outcome in outcomes for event in outcome.events]
    own = [(event.kind, event.text, event.first_out) for event in events if "interlock" in event.first_out]
    assert own == [
        (EventKind.ALARM, "swim ladder is down", "interlock swim_ladder"),
        (EventKind.ALARM_GONE, "swim ladder is up", "interlock swim_ladder"),
        (EventKind.ALARM, "a shaft seal is hot", "interlock shaft_seal"),
        (EventKind.ALARM, "swim ladder is down (or unknown: DECK.Ladder)", "interlock swim_ladder"),
        (EventKind.ALARM, "water in the bilge (or unknown: DECK.Bilge)", "interlock bilge"),
    ]
    stops = [event for event in events if event.source == "PROPEL" and event.dest == "REST"]
    assert [(event.subject, event.text) for event in stops] == [
        ("port", "swim ladder is down"), ("starboard", "swim ladder is down"),
    ]  # fmt: skip


def test_the_journal_keeps_them(tmp_path: Path) -> None:
    outcomes, _, _ = voyage(tmp_path)
    folder = tmp_path / "journal"
    folder.mkdir()
    journal = Journal(folder, RunStart("marsh_tern", "boat.toml", "0" * 64, "test", "test"))
    for outcome in outcomes:
        for event in outcome.events:
            assert journal.note(entry_of(event, outcome, 0.0))
    assert journal.close("done")
    kept = [(entry.kind, entry.text, entry.first_out) for _, _, entry in read_events(folder)]
    assert ("alarm", "swim ladder is down", "interlock swim_ladder") in kept
    assert ("alarm gone", "swim ladder is up", "interlock swim_ladder") in kept
    said = subprocess.run(
        [sys.executable, "-m", "sim.cli", "log", str(folder)], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert said.returncode == 0
    assert "alarm     boat: swim ladder is down [interlock swim_ladder]" in said.stdout
    assert "alarm gone boat: swim ladder is up [interlock swim_ladder]" in said.stdout
    assert "alarm     boat: a shaft seal is hot [interlock shaft_seal]" in said.stdout


def test_a_replay_decides_the_same_and_judges_it(tmp_path: Path) -> None:
    _, live, file = voyage(tmp_path)
    session = Session(file, str(tmp_path / "run"), Options(rules=True))
    session.run()
    assert session.decisions.lines == live.lines
    assert session.decisions.digest == live.digest
    result = session.result()
    readings = {reading.name: reading for reading in result.run.readings}
    ladder, seal = readings["interlock.swim_ladder"], readings["interlock.shaft_seal"]
    assert ladder.mapped
    assert 0 < (ladder.on_pct or 0.0) < 100
    assert seal.most is not None
    assert 94.9 <= seal.most <= 95.1
    assert "no good frame" in ladder.why
    judged = {one.id: one.held for report in result.rules for one in report.judgements}
    assert judged["interlock swim_ladder"] is True
    assert judged["interlock shaft_seal"] is True


def test_what_a_changed_interlock_would_have_done(tmp_path: Path) -> None:
    """The same recording under another boat file: with its effect a warning only, thrust goes on."""
    voyage(tmp_path)
    file = write_boat(tmp_path, LADDER | {"effect": "warn"}, SEAL, BILGE)
    session = Session(file, str(tmp_path / "run"))
    session.run()
    stops = [event for event in session.history.events if event.source == "PROPEL" and event.dest == "REST"]
    assert stops == []


def test_a_recording_of_a_boat_without_them_still_reads(tmp_path: Path) -> None:
    """A run from before the interlock was fitted: its message never comes, and it counts as bad."""
    run = tmp_path / "run"
    run.mkdir()
    rig = SimRig("marsh_tern")
    log, ticks = CandumpLog(run / "bus.log", rig.buses), TickLog(run / "ticks.csv")
    rig.record_supervisor(log.write, ticks.write)
    try:
        rig.run(2.0)
    finally:
        rig.close()
        log.close()
        ticks.close()
    for file in ("marsh_tern", write_boat(tmp_path, LADDER)):
        session = Session(file, str(run), Options(rules=True))
        session.run()
        unjudged = session.result().rules[0].unjudged
        # what nobody recorded was not judged, however well its verdict looks
        said = unjudged.get("interlock swim_ladder", "")
        assert ("never known here: interlock.swim_ladder" in said) == (file != "marsh_tern")
        names = [reading.name for reading in session.result().run.readings if reading.mapped]
        assert ("interlock.swim_ladder" in names) == (file != "marsh_tern")
