"""The run folder: every file parses again and says what happened."""

import csv
import hashlib
import json
from itertools import pairwise
from pathlib import Path
from typing import NamedTuple

import can
import pytest
from PIL import Image
from pyarrow import parquet

from sim.bench import BenchError, Procedure, Recorder, Result, parse_procedure, run_procedure
from sim.bench.candump import CandumpLog
from sim.bench.folder import RunFolder, new_folder
from sim.cli.app import dispatch
from sim.rig.simulated import SimRig

TEXT = """
title = "a | run"
purpose = "to test"
requirements = ["SR-01", "SR-07"]
[[step]]
name = "cold"
wait_s = 1
[[step]]
name = "in gear"
do = { port.lever_pct = 20, helm.enable = "press" }
wait_s = 1
expect = [{ event = "refusal", says = "port lever" }]
[[step]]
name = "neutral"
do.port.lever_pct = 0
expect = [{ signal = "boat.mode", value = "READY", within_s = 1 }]
[[step]]
name = "jump and go"
set.bank.soc_pct = 25
do.port.lever_pct = 60
wait_s = 2
expect = [{ signal = "port.torque_nm", op = "<", value = 50, always = true }]
[[step]]
name = "lost"
inject = [{ fault = "node_silent", target = "monitor" }]
wait_s = 0.5
expect = [{ event = "trip", within_s = 0.2 }]
"""


class Made(NamedTuple):
    path: Path
    frames: int
    end_s: float
    signals: list[str]
    recorder: Recorder
    result: Result


def make(path: Path, text: str = TEXT, *, plot: bool = False, period_s: float = 0.1) -> Made:
    path.mkdir(exist_ok=True)
    source = path.parent / "source.toml"
    source.write_text(text)
    rig = SimRig("marsh_tern")
    procedure: Procedure = parse_procedure(text, "p")
    folder = RunFolder(path, rig, {"config.toml": source, "procedure.toml": source, "dbc/drive.dbc": source})
    recorder = Recorder(period_s)
    result = run_procedure(rig, procedure, recorder)
    folder.finish(result, procedure, recorder, plot=plot)
    assert rig.on_frame is None, "the log is closed"
    rig.close()
    return Made(path, rig.frames, rig.now_s, list(rig.signals()), recorder, result)


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Made:
    return make(tmp_path_factory.mktemp("runs") / "one", plot=True)


def test_bus_log_is_read_by_python_can(made: Made) -> None:
    """Every frame of both buses, both kinds of identifier, in order, the last one in the last tick."""
    with can.LogReader(made.path / "bus.log") as reader:
        frames = list(reader)
    assert len(frames) == made.frames > 1000
    assert {frame.channel for frame in frames} == {"can0", "can1"}
    assert {frame.is_extended_id for frame in frames if frame.channel == "can0"} == {True, False}
    assert {frame.is_extended_id for frame in frames if frame.channel == "can1"} == {True}, "NMEA 2000 is 29 bits"
    times = [frame.timestamp for frame in frames]
    assert times == sorted(times)
    assert times[0] == pytest.approx(0.02)
    assert times[-1] == pytest.approx(made.end_s)


def test_odd_frames(tmp_path: Path) -> None:
    log = CandumpLog(tmp_path / "x.log", ["drive"])
    log.write(1.5, can.Message(arbitration_id=0x7FF, is_extended_id=False, is_remote_frame=True), "drive")
    log.write(1.6, can.Message(arbitration_id=5, is_extended_id=True, data=b""), "drive")
    log.write(1.7, can.Message(arbitration_id=0x20, is_error_frame=True, data=bytes(8)), "drive")
    log.close()
    log.close()
    remote, empty, error = list(can.LogReader(tmp_path / "x.log"))
    assert (remote.is_remote_frame, remote.arbitration_id) == (True, 0x7FF)
    assert (empty.is_extended_id, empty.arbitration_id, empty.dlc) == (True, 5, 0)
    assert error.is_error_frame


def test_signals_csv(made: Made) -> None:
    with (made.path / "signals.csv").open() as file:
        table = list(csv.DictReader(file))
    assert list(table[0]) == ["time_s", *made.signals]
    assert float(table[0]["time_s"]) == pytest.approx(0.02)
    times = [float(row["time_s"]) for row in table]
    assert times == sorted(times)
    assert max(b - a for a, b in pairwise(times)) <= 0.121
    assert table[0]["bank.seen_soc_pct"] == "", "not known is empty, never a number"
    # a change of mode falls between two samples, and is recorded all the same
    first_ready = next(float(row["time_s"]) for row in table if row["boat.mode"] == "READY")
    ready_event = next(mark for mark in made.recorder.events if mark.kind == "mode" and "-> READY" in mark.text)
    assert first_ready == pytest.approx(ready_event.time_s)


def test_every_tick(tmp_path: Path) -> None:
    made = make(tmp_path / "full", period_s=0.0)
    assert len(made.recorder.rows) == made.result.ticks


def test_parquet_holds_the_same(made: Made) -> None:
    table = parquet.read_table(made.path / "signals.parquet")
    assert table.num_rows == len(made.recorder.rows)
    assert table.column("port.torque_nm").to_pylist() == made.recorder.column("port.torque_nm")
    assert set(table.column("boat.mode").to_pylist()) == {"STANDBY", "NEUTRAL_WAIT", "READY", "TRIPPED"}


def test_events_csv_is_exact_and_tells_jumps(made: Made) -> None:
    with (made.path / "events.csv").open() as file:
        events = list(csv.DictReader(file))
    kinds = [event["kind"] for event in events]
    assert kinds.count("step") == 5
    jump = next(event for event in events if event["kind"] == "jump")
    assert (jump["subject"], jump["text"]) == ("bank.soc_pct", "simulated boat set to 25 %")
    trip = next(event for event in events if event["kind"] == "trip")
    fault = next(event for event in events if event["kind"] == "fault")
    assert 0.02 <= float(trip["time_s"]) - float(fault["time_s"]) <= 0.16, "three frames of 40 ms and a tick"


def test_verdict_json(made: Made) -> None:
    data = json.loads((made.path / "verdict.json").read_text())
    assert data["verdict"] == "fail"
    assert data["failures"] == 1
    assert data["requirements"] == ["SR-01", "SR-07"]
    assert [step["verdict"] for step in data["steps"]] == ["pass", "pass", "pass", "fail", "pass"]
    assert data["steps"][3]["jumps"] == "bank.soc_pct 25"
    assert data["steps"][3]["checks"][0]["expected"] == "always port.torque_nm < 50 N m"
    assert data["buses"] == {"can0": "private", "can1": "backbone"}
    digest = hashlib.sha256(TEXT.encode()).hexdigest()
    assert data["sha256"] == {"config.toml": digest, "procedure.toml": digest, "dbc/drive.dbc": digest}
    assert (made.path / "procedure.toml").read_text() == TEXT


def test_verdict_markdown(made: Made) -> None:
    text = (made.path / "verdict.md").read_text()
    assert "FAIL: 1 of 4 expectations not met" in text
    assert "JUMP: simulated boat set to bank.soc_pct 25" in text
    assert "Safety requirements: SR-01, SR-07" in text
    assert "| **FAIL** |" in text
    table = [line for line in text.splitlines() if line.startswith("| ")]
    assert all(line.replace("\\|", "").count("|") in (3, 4, 6, 7) for line in table)


def test_pictures_are_pictures(made: Made) -> None:
    with Image.open(made.path / "run.png") as image:
        assert image.format == "PNG"
        assert image.width >= 1200
        colours = image.convert("RGB").getcolors(maxcolors=1 << 24)
        assert colours is not None
        seen = {colour for _, colour in colours}
    # NEUTRAL_WAIT, READY, TRIPPED, PROPEL as in the palette
    assert {(0xF0, 0xC9, 0x3A), (0x4A, 0x8F, 0xD6), (0x7D, 0x11, 0x28), (0x25, 0x63, 0xA8)} <= seen
    svg = (made.path / "run.svg").read_text()
    assert svg.startswith("<?xml")
    assert "</svg>" in svg


def test_no_plot(tmp_path: Path) -> None:
    made = make(tmp_path / "plain")
    assert not (made.path / "run.png").exists()
    assert "run.png" not in (made.path / "verdict.md").read_text()


def test_new_folders_never_overwrite(tmp_path: Path) -> None:
    base = tmp_path / "runs"
    assert new_folder(None, "p", "b", base) == base / "p-b-1"
    assert new_folder(None, "p", "b", base) == base / "p-b-2"
    out = tmp_path / "mine"
    assert new_folder(out, "p", "b", base) == out
    assert new_folder(out, "p", "b", base) == out, "an empty folder may be used"
    (out / "x").write_text("")
    with pytest.raises(BenchError, match="not empty, and a run never overwrites"):
        new_folder(out, "p", "b", base)


def test_a_file_in_the_way(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(BenchError, match="cannot be made here"):
        new_folder(tmp_path / "file", "p", "b")
    with pytest.raises(BenchError, match="cannot be made here"):
        new_folder(None, "p", "b", tmp_path / "file")


def test_the_verdict_ends_with_the_energy_of_the_run(tmp_path: Path) -> None:
    """Of a boat that charged from its engine: what came in and where it went, and what is left over."""
    code = dispatch(["bench", "marsh_tern", "engine_stall", "--no-plot", "--out", str(tmp_path / "run")])
    assert code == 0
    text = (tmp_path / "run" / "verdict.md").read_text()
    table = text[text.index("Energy of the simulated boat") :]
    assert "| in | engines, at the flywheel |" in table
    assert "| kept | bank |" in table
    assert "Fuel: 0." in table
    energy = json.loads((tmp_path / "run" / "verdict.json").read_text())["energy"]
    assert energy["bank_gain_wh"] > 30.0
    assert abs(energy["left_over_pct"]) < 0.1
    assert energy["fuel_wh"] > 2.0 * energy["engines_wh"]  # a small diesel gives less than half of its fuel's heat
