"""Bad recordings: a clear message each, counted, no traceback, status 2 when nothing is usable."""

import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from replay_lines import battery_line, soc_lines  # type: ignore[import-not-found]

from sim.cli.app import dispatch
from sim.replay.session import Session

WriteLog = Callable[..., str]
ROOT = Path(__file__).resolve().parents[2]


def trial(seconds: int = 20) -> list[str]:
    lines = []
    for k in range(seconds):
        lines += [battery_line(1000.0 + k, 26.5, 4.0), *soc_lines(1000.01 + k, 73, sequence=k % 8)]
    return lines


@pytest.mark.parametrize(
    ("name", "content", "words"),
    [
        ("empty.log", b"", "is empty"),
        ("blank.log", b"\n\n  \n", "holds no CAN frame"),
        ("garbage.log", b"\x00\xff\x17 what\n" * 50, "no CAN frame can be read"),
        ("text.log", b"dear diary, we sailed\n", "no CAN frame can be read"),
        ("trial.txt", b"dear diary\n", "unknown kind of recording"),
        ("trial", b"dear diary\n", "unknown kind of recording"),
        ("trial.blf", b"dear diary, not a BLF file at all", "no CAN frame can be read"),
        ("trial.asc", b"dear diary\nwe sailed\n", "no CAN frame can be read"),
        ("trial.trc", b"dear diary\nwe sailed\n", "no CAN frame"),
        ("trial.csv", b"a,b\n1,2\n", "no CAN frame can be read"),
        ("trial.db", b"dear diary, not a database, not even nearly", "no CAN frame can be read"),
        ("trial.log.gz", b"dear diary", "no CAN frame can be read"),
    ],
)
def test_nothing_usable(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], name: str, content: bytes, words: str
) -> None:
    path = tmp_path / name
    path.write_bytes(content)
    assert dispatch(["replay", "house_bank_24v", str(path)]) == 2
    captured = capsys.readouterr()
    assert captured.err.startswith("thwart: ")
    assert words in captured.err
    assert name in captured.err
    assert "Traceback" not in captured.err


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["house_bank_24v", "no_such.log"], "no such file"),
        (["house_bank_24v", "."], "is a folder"),
        (["no_such_boat", "no_such.log"], "no such boat file"),
    ],
)
def test_wrong_names(capsys: pytest.CaptureFixture[str], arguments: list[str], words: str) -> None:
    assert dispatch(["replay", *arguments]) == 2
    assert words in capsys.readouterr().err


def test_standard_input_that_ends_at_once_and_channels_of_one_that_does_not(write_log: WriteLog) -> None:
    command = [sys.executable, "-m", "sim.cli", "replay", "marsh_tern", "-"]
    run = subprocess.run(command, stdin=subprocess.DEVNULL, capture_output=True, text=True, cwd=ROOT, check=False)
    assert run.returncode == 2
    assert "standard input: is empty" in run.stderr
    log = write_log([f"({k * 0.1:.3f}) can{k % 3} 012#00{k % 15:02X}0000" for k in range(30)])
    with open(log, "rb") as file:
        run = subprocess.run(command, stdin=file, capture_output=True, text=True, cwd=ROOT, check=False)
    assert run.returncode == 0
    assert "channel can0 is bus private, by its number" in run.stdout
    assert "channel can1 is bus backbone, by its number" in run.stdout
    assert run.stdout.count("channel can2 is no bus of this boat") == 1


def test_a_wrong_setting_is_not_blamed_on_the_boat_file(
    write_log: WriteLog, capsys: pytest.CaptureFixture[str]
) -> None:
    log = write_log([battery_line(1000.0, 26.0, 1.0)])
    assert dispatch(["replay", "house_bank_24v", log, "--set", "limits.taper=85"]) == 2
    err = capsys.readouterr().err
    assert "--set limits.taper=85: limits.taper: unknown key" in err
    assert "house_bank_24v.toml" not in err


def test_a_reader_of_mf4_that_is_only_half_installed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "asammdf").mkdir()
    (tmp_path / "asammdf" / "__init__.py").write_text("import a_module_that_it_needs_and_that_is_missing\n")
    monkeypatch.delitem(sys.modules, "asammdf", raising=False)
    monkeypatch.syspath_prepend(tmp_path)
    path = tmp_path / "trial.mf4"
    path.write_bytes(b"MDF     4.10    " + bytes(500))
    assert dispatch(["replay", "house_bank_24v", str(path)]) == 2
    assert "'.[mf4]'" in capsys.readouterr().err


def test_unknown_bus_in_channel(write_log: WriteLog, capsys: pytest.CaptureFixture[str]) -> None:
    log = write_log(trial())
    assert dispatch(["replay", "house_bank_24v", log, "--channel", "can0=engine_room"]) == 2
    assert "allowed: backbone" in capsys.readouterr().err


def test_a_log_cut_in_the_middle_of_a_line(write_log: WriteLog, capsys: pytest.CaptureFixture[str]) -> None:
    path = Path(write_log(trial()))
    whole = path.read_bytes()
    path.write_bytes(whole[:-30])
    assert dispatch(["replay", "house_bank_24v", str(path)]) == 0
    out = capsys.readouterr().out
    assert "59 frames" in out  # 60 lines, the last one cut
    assert "1 x " in out


def test_garbage_between_good_lines_is_counted_and_passed_over(write_log: WriteLog) -> None:
    clean = trial()
    dirty = []
    for k, line in enumerate(clean):
        dirty.append(line)
        if k % 10 == 5:
            dirty += ["\x00\x01\x02", "(1000.0) can0 19F21409#ZZ", "(1000.0) can0 19F21409#00112233445566778899",
                      "(1000.0) can0 FFFFFFFFF#00", "(xyz) can0 123#00", "1000.0 can0 123#00"]  # fmt: skip
    sessions = []
    for lines, name in ((clean, "clean.log"), (dirty, "dirty.log")):
        session = Session("house_bank_24v", write_log(lines, name))
        session.run()
        sessions.append(session)
    assert sessions[0].decisions.digest == sessions[1].decisions.digest
    assert sessions[0].source.health.damaged == 0
    assert sessions[1].source.health.damaged == 36
    assert sessions[1].source.health.bad == {
        "line that is no frame": 24, "data that is not hexadecimal": 6, "more than 8 bytes of data": 6,
    }  # fmt: skip
