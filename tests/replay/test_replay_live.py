"""A run recorded from the supervisor's side replays to exactly the decisions made live."""

import itertools
import re
from pathlib import Path

import pytest
from replay_recorded import record, record_as_run, voyage  # type: ignore[import-not-found]

from sim.bench import Recorder, load_procedure, run_procedure
from sim.bench.folder import RunFolder
from sim.replay.decisions import Decisions
from sim.replay.errors import ReplayError
from sim.replay.session import Options, Session
from sim.rig.simulated import SimRig
from supervisor.config.load import resolve_boat


@pytest.mark.parametrize("boat", ["marsh_tern", "reed_warbler"])
def test_a_recorded_run_replays_to_the_decisions_made_live(tmp_path: Path, boat: str) -> None:
    live = record(tmp_path, boat, voyage)
    session = Session(boat, str(tmp_path))
    session.run()
    assert live.lines > 300  # the voyage did decide things
    modes = {span.mode for span in session.history.spans}
    assert {"READY", "PROPEL", "GENERATE", "TRIPPED"} <= modes
    assert session.decisions.lines == live.lines
    assert session.decisions.digest == live.digest


def test_a_recording_with_one_frame_missing_does_not(tmp_path: Path) -> None:
    live = record(tmp_path, "reed_warbler", voyage)
    lines = (tmp_path / "bus.log").read_text(encoding="ascii").splitlines(keepends=True)
    levers = [k for k, line in enumerate(lines) if " 041#" in line]
    for k in levers[120:124]:
        lines[k] = ""
    (tmp_path / "bus.log").write_text("".join(lines), encoding="ascii")
    session = Session("reed_warbler", str(tmp_path))
    session.run()
    assert session.decisions.digest != live.digest


def test_frames_that_the_supervisor_sent_are_not_fed_back(tmp_path: Path) -> None:
    record(tmp_path, "reed_warbler", lambda rig: rig.run(1.0))
    session = Session("reed_warbler", str(tmp_path), Options())
    session.run()
    report = session.subject.table.report()["private"]
    assert report["foreign"] == 0
    sent = [place for place in session.source.counts() if place.arbitration_id in (0x031, 0x03A, 0x079, 0x07B)]
    assert len(sent) == 4


PROCEDURE = """
title = "replayed bench run"
[[step]]
name = "power up"
wait_s = 1.0
[[step]]
name = "enable"
do = { helm.enable = "press" }
wait_s = 3.0
[[step]]
name = "ahead, then the monitor trips"
do = { port.lever_pct = 50 }
wait_s = 4.0
inject = [{ fault = "lever_lost", target = "starboard" }]
[[step]]
name = "an adapter that is pulled out, and plugged in again"
inject = [{ fault = "adapter_unplugged", target = "private" }]
wait_s = 1.0
[[step]]
name = "reset, enable, ahead"
clear = [{ fault = "adapter_unplugged", target = "private" }, { fault = "lever_lost", target = "starboard" }]
do = { each.lever_pct = 0 }
wait_s = 3.0
[[step]]
name = "reset"
do = { helm.reset = "press" }
wait_s = 1.0
[[step]]
name = "enable"
do = { helm.enable = "press" }
wait_s = 3.0
[[step]]
name = "ahead"
do = { port.lever_pct = 50 }
wait_s = 2.0
[[step]]
name = "frames that its adapter loses"
inject = [{ fault = "receive_overflow", target = "backbone" }]
wait_s = 2.0
[[step]]
name = "found again"
clear = [{ fault = "receive_overflow", target = "backbone" }]
wait_s = 0.5
[[step]]
name = "fault"
inject = [{ fault = "monitor_fault", target = "monitor", flag = "cell_over_voltage" }]
wait_s = 2.0
"""


def test_a_run_folder_of_the_bench_replays_exactly(tmp_path: Path) -> None:
    """Adapter faults and all: the log holds what the supervisor heard, not what was sent to it."""
    source = tmp_path / "procedure.toml"
    source.write_text(PROCEDURE, encoding="utf-8")
    procedure = load_procedure(source)
    folder = tmp_path / "run"
    folder.mkdir()
    rig = SimRig("marsh_tern")
    live = Decisions(0)
    tick = rig.supervisor.tick
    numbers = itertools.count()

    def noted(now_s: float) -> object:
        outcome = tick(now_s)
        live.take(next(numbers), outcome)
        return outcome

    rig.supervisor.tick = noted  # type: ignore[assignment, method-assign]
    recorder = Recorder(0.1)
    run_folder = RunFolder(folder, rig, {"config.toml": resolve_boat("marsh_tern"), "procedure.toml": source})
    result = run_procedure(rig, procedure, recorder, file=str(source))
    run_folder.finish(result, procedure, recorder, plot=False)
    rig.close()
    session = Session("marsh_tern", str(folder / "bus.log"))
    assert session.wiring.bus_of == {"can0": "private", "can1": "backbone"}
    session.run()
    assert [span.mode for span in session.history.spans].count("TRIPPED") == 2
    assert (session.decisions.lines, session.decisions.digest) == (live.lines, live.digest)


MONTH_S = 30 * 86400.0


def test_the_last_run_in_a_folder_of_rotating_logs_replays_exactly(tmp_path: Path) -> None:
    """Two runs in one folder, each in several files; the second began 10 s before its full charge was due."""
    record_as_run(tmp_path, "marsh_tern", lambda rig: rig.run(3.0), 0.0, first=1, parts=2)
    live = record_as_run(tmp_path, "marsh_tern", voyage, MONTH_S - 10.0, first=3, parts=4)
    session = Session("marsh_tern", str(tmp_path))
    session.run()
    due = [event for event in session.history.events if event.first_out == "FULL_CHARGE_DUE"]
    assert [round(event.time_s) for event in due] == [10]
    assert (session.decisions.lines, session.decisions.digest) == (live.lines, live.digest)
    assert session.result().health.damaged == 0


def test_times_of_a_run_count_from_its_beginning_not_from_the_machines(tmp_path: Path) -> None:
    """The machine had been on for 23 days: that is what the rules reckoned with, and nothing a person wants to see."""
    uptime_s = 2_000_000.0
    live = record_as_run(tmp_path, "marsh_tern", voyage, 0.0, first=1, parts=1)
    side = tmp_path / "bus-000001.ticks"
    head, columns, *rows = side.read_text(encoding="ascii").splitlines()
    offset_s = float(head.split("stamp = time_s + ")[1].split(";")[0])
    moved = [head.replace(repr(offset_s), repr(offset_s - uptime_s)), columns]
    moved += [f"{float(row.split(',')[0]) + uptime_s!r},{row.split(',', 1)[1]}" for row in rows]
    side.write_text("".join(f"{line}\n" for line in moved), encoding="ascii")

    session = Session("marsh_tern", str(tmp_path))
    session.run()
    result = session.result()
    assert result.ticks == len(rows)
    assert result.end_s == pytest.approx(0.02 * len(rows), abs=1e-3)
    assert result.begin == pytest.approx(1_780_000_000.123456, abs=1e-5)
    assert session.decisions.lines == pytest.approx(live.lines, rel=0.01)  # the rules saw ticks as long, to a billionth
    assert [span for span in result.run.spans if not 0.0 <= span.begin_s <= span.end_s <= result.end_s + 1e-6] == []
    assert all(0.0 <= event.time_s <= result.end_s + 1e-6 for event in result.run.events)
    assert [trip.first_out for trip in result.run.trips] != []
    assert sum(row.known_pct for row in result.run.readings) > 0.0


def test_a_run_whose_beginning_was_rotated_away_says_so(tmp_path: Path) -> None:
    record_as_run(tmp_path, "marsh_tern", voyage, 0.0, first=1, parts=3)
    for name in ("bus-000001.log", "bus-000001.ticks"):
        (tmp_path / name).unlink()
    session = Session("marsh_tern", str(tmp_path))
    session.run()
    assert any("rotated away" in line for line in session.result().wiring)


@pytest.mark.parametrize(
    ("content", "words"),
    [
        ("", "is no list of ticks"),
        ("time_s\n0.02\n", "is no list of ticks"),
        ("# thwart ticks 1; stamp = time_s + x; since_full_s = 0.0\n", "is no list of ticks"),
        ("# thwart ticks 1; stamp = time_s + 0.0; since_full_s = -5.0\n", "is no list of ticks"),
        ("# thwart ticks 1; stamp = time_s + 0.0; since_full_s = 0.0\ntime\n", "line 2"),
        ("HEAD0.02,1,1\n", "line 3: is no tick"),
        ("HEAD0.02,1,2,\n", "line 3: is no tick"),
        ("HEAD0.02,1,1,\n0.02,1,1,\n", "line 4: 0.02 s does not follow"),
        ("HEADnan,1,1,\n", "line 3"),
        ("HEAD", "holds no tick"),
    ],
)
def test_a_side_file_that_is_damaged(tmp_path: Path, content: str, words: str) -> None:
    record(tmp_path, "reed_warbler", lambda rig: rig.run(0.5))
    head = "# thwart ticks 1; stamp = time_s + 0.0; since_full_s = 0.0\ntime_s,receive_ok,deadline_ok,reopened\n"
    (tmp_path / "ticks.csv").write_text(content.replace("HEAD", head), encoding="ascii")
    with pytest.raises(ReplayError, match=re.escape(words)):
        Session("reed_warbler", str(tmp_path))
    Session("reed_warbler", str(tmp_path), Options(own_ticks=True)).run()


def test_a_side_file_cut_by_a_power_cut_is_used_as_far_as_it_goes(tmp_path: Path) -> None:
    record(tmp_path, "reed_warbler", lambda rig: rig.run(1.0))
    path = tmp_path / "ticks.csv"
    path.write_bytes(path.read_bytes()[:-4])
    session = Session("reed_warbler", str(tmp_path))
    session.run()
    assert session.result().ticks == 49
