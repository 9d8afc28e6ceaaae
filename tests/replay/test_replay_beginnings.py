"""What a replay must not get wrong before it decides anything: which bus a channel is, what a boat that only listens
is told, and readings that may be none."""

import sys
from collections.abc import Callable, Iterable
from pathlib import Path

import pytest
from replay_lines import battery_line, soc_lines
from replay_recorded import record

from sim.cli.app import dispatch
from sim.replay.coverage import ALL_ONES
from sim.replay.session import Session
from sim.replay.survey import survey
from sim.replay.surveytext import survey_lines
from sim.replay.words import summary_lines
from sim.rig.simulated import SimRig

Write = Callable[[Iterable[str], str], str]


def rest(rig: SimRig) -> None:
    rig.run(3.0)


@pytest.fixture(scope="module")
def frames(tmp_path_factory: pytest.TempPathFactory) -> str:
    folder = tmp_path_factory.mktemp("rest")
    record(folder, "marsh_tern", rest)
    return (folder / "bus.log").read_text()


def exchanged(frames: str) -> str:
    """The plugs of the two channels exchanged."""
    return frames.replace(" can0 ", " canX ").replace(" can1 ", " can0 ").replace(" canX ", " can1 ")


def from_standard_input(frames: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, *more: str) -> int:
    piped = tmp_path / "piped"
    piped.write_text(frames)
    with piped.open() as stream:
        monkeypatch.setattr(sys, "stdin", stream)
        return dispatch(["replay", "marsh_tern", "-", *more])


def test_exchanged_channels_on_standard_input_are_refused(
    frames: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """They were taken by their numbers, and every input was "lost" without a word of why."""
    assert from_standard_input(exchanged(frames), tmp_path, monkeypatch) == 2
    said = capsys.readouterr().err
    assert "was taken for bus" in said
    assert "--channel can" in said


def test_said_which_is_which_they_are_taken(
    frames: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert from_standard_input(frames, tmp_path, monkeypatch) == 0
    straight = capsys.readouterr().out
    wires = ("--channel", "can0=backbone", "--channel", "can1=private")
    assert from_standard_input(exchanged(frames), tmp_path, monkeypatch, *wires) == 0
    crossed = capsys.readouterr().out
    assert straight.rsplit("decisions", 1)[1] == crossed.rsplit("decisions", 1)[1]


def test_a_boat_that_only_listens_is_not_told_to_press_enable(write_log: Write) -> None:
    lines = [battery_line(0.5 * k, 26.5, 5.0) for k in range(40)]
    session = Session("house_bank_24v", write_log(lines, "listen.log"))
    session.run()
    text = "\n".join(summary_lines(session.result()))
    assert "READY" not in text
    assert "enable" not in text
    assert "charging below" in text  # the limits are still told


def readings(log: str) -> dict[str, str]:
    session = Session("house_bank_24v", log)
    session.run()
    return {reading.name: reading.doubt for reading in session.result().run.readings}


def test_all_ones_in_a_signed_field_are_doubtful(write_log: Write) -> None:
    """-0.1 A all along is 0xFFFF in a field whose "not available" is 0x7FFF: the sender may not know that."""
    pairs = [(battery_line(0.5 * k, 26.5, -0.1), *soc_lines(0.5 * k + 0.1, 80, sequence=k % 8)) for k in range(40)]
    log = write_log([line for pair in pairs for line in pair], "ones.log")
    found = readings(log)
    assert found["bank.current_a"] == ALL_ONES
    assert found["bank.voltage_v"] == found["bank.soc_pct"] == ""
    text = "\n".join(survey_lines(survey(log)))
    line = next(line for line in text.splitlines() if "Current" in line)
    assert f"-0.1 to -0.1 A  DOUBTFUL: {ALL_ONES}" in line
    assert "DOUBTFUL" not in next(line for line in text.splitlines() if "Voltage" in line)


def test_a_current_that_passes_minus_one_step_is_a_reading(write_log: Write) -> None:
    lines = [battery_line(0.5 * k, 26.5, -0.1 if k % 2 else 0.2) for k in range(40)]
    assert readings(write_log(lines, "passes.log"))["bank.current_a"] == ""


def test_the_page_says_so(write_log: Write, tmp_path: Path) -> None:
    log = write_log([battery_line(0.5 * k, 26.5, -0.1) for k in range(40)], "ones.log")
    assert dispatch(["replay", "house_bank_24v", log, "--out", str(tmp_path / "out"), "--no-plot"]) == 0
    assert ALL_ONES in (tmp_path / "out" / "report.html").read_text()
