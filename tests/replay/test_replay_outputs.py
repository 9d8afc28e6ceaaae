"""What a replay leaves behind: page, pictures, tables, JSON; and a run stopped by hand."""

import io
import json
import os
import re
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from html.parser import HTMLParser
from pathlib import Path

import pytest
from replay_lines import battery_line, soc_lines  # type: ignore[import-not-found]

from sim.cli.app import dispatch
from sim.replay.decisions import Decisions
from sim.replay.session import Options, Session
from sim.replay.ticks import Moment
from supervisor.modes import BoatCondition

WriteLog = Callable[..., str]
VOID = {"meta", "br", "img", "path", "use", "image", "rect", "circle", "line"}


class Page(HTMLParser):
    """Collects text and everything that would be fetched from elsewhere; complains of tags left open."""

    def __init__(self) -> None:
        super().__init__()
        self.text: list[str] = []
        self.fetched: list[str] = []
        self.open: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag not in VOID:
            self.open.append(tag)
        for name, value in attrs:
            if (
                name in ("src", "href", "xlink:href", "action", "data")
                and value
                and not value.startswith(("#", "data:"))
            ):
                self.fetched.append(value)
        assert tag not in ("link", "iframe", "object")

    def handle_endtag(self, tag: str) -> None:
        if tag not in VOID:
            assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.text.append(data)


def test_the_page_stands_alone_and_tells_the_story(out: Path) -> None:
    page = Page()
    page.feed((out / "report.html").read_text(encoding="utf-8"))
    assert page.open == []
    assert page.fetched == []
    text = " ".join(page.text)
    for words in (
        "Trips", "RUNTIME_FAULT", "receive path or deadlines failed", "Ten seconds around boat, 29.0",
        "Against the controller that was in charge", "0 beyond tolerance", "Requirements: orders of this supervisor",
        "SR-09", "port.drive.torque_nm", "ENABLE was pressed", "Frames by source", "state of charge",
        # what a reader asks first, and in names that say something
        "In short", "Tripped at", "What held it back", "ENABLE has not been pressed", "Off means off", "021 DRIVE_A_1",
    ):  # fmt: skip
        assert words in text, words
    assert "recorder's clock" not in text  # a bench run has none: no column without a word in it
    assert "url(http" not in (out / "report.html").read_text(encoding="utf-8")


def test_pictures_are_drawn(out: Path) -> None:
    for name in ("overview.png", "trip-1.png"):
        content = (out / name).read_bytes()
        assert content.startswith(b"\x89PNG"), name
        assert len(content) > 20_000, name
    assert not (out / "trip-2.png").exists()


def test_json_holds_the_whole_result(out: Path) -> None:
    found = json.loads((out / "replay.json").read_text(encoding="utf-8"))
    assert found["recording"]["frames"] > 15_000
    assert found["boat"] == "marsh_tern"
    assert found["mode_changes"] >= 8
    assert [trip["first_out"] for trip in found["trips"]] == ["RUNTIME_FAULT"]
    assert found["shadow"]["beyond_tolerance"] == 0
    assert found["what_if"] is None
    assert found["inputs"]["port.lever.lever_pct"]["most"] == 60.0
    assert re.fullmatch(r"[0-9a-f]{64}", found["decisions_sha256"])
    assert {"SR-01", "SR-45"} <= {entry["id"] for entry in found["requirements"][0]["verdicts"]}


def test_signals_are_a_table(out: Path) -> None:
    parquet = pytest.importorskip("pyarrow.parquet", reason="without pyarrow the table is CSV")
    table = parquet.read_table(out / "signals.parquet").to_pydict()
    times = table["time_s"]
    assert times == sorted(times)
    assert times[-1] > 32.0
    assert {"PROPEL", "GENERATE", "REST"} <= set(table["port.mode"])
    assert max(value for value in table["port.lever_pct"] if value == value) == 60.0  # noqa: PLR0124 - not NaN
    ordered = [abs(value) for value in table["port.order_nm"]]
    assert 40.0 < max(ordered) <= 110.0


def test_the_table_takes_little_memory(tmp_path: Path) -> None:
    """pyarrow looks for pandas when it is given lists, and loads it: some 50 MB for nothing."""
    pytest.importorskip("pyarrow")
    code = (
        "import sys; from pathlib import Path; from sim.replay.tables import ParquetRows\n"
        f"rows = ParquetRows(Path({str(tmp_path / 'x.parquet')!r}), ('a', 'b'), frozenset('b'))\n"
        "for k in range(5000): rows.write(k * 0.1, (float(k), 'READY' if k % 2 else 'ST\u00c4NDBY'))\n"
        "rows.close(); print('pandas' in sys.modules)"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert run.stdout.strip() == "False"
    from pyarrow import parquet

    table = parquet.read_table(tmp_path / "x.parquet").to_pydict()
    assert table["a"] == [float(k) for k in range(5000)]
    assert table["b"][:3] == ["ST\u00c4NDBY", "READY", "ST\u00c4NDBY"]


def test_without_pyarrow_the_table_is_csv(tmp_path: Path, write_log: WriteLog, monkeypatch: pytest.MonkeyPatch) -> None:
    from sim.replay import tables

    monkeypatch.setattr(tables, "find_spec", lambda _name: None)
    log = write_log([battery_line(1000.0 + k, 26.0, k % 7) for k in range(30)])
    assert dispatch(["replay", "house_bank_24v", log, "--out", str(tmp_path / "out"), "--no-plot"]) == 0
    lines = (tmp_path / "out" / "signals.csv").read_text(encoding="utf-8").splitlines()
    assert lines[0].startswith("time_s,boat.mode,")
    assert len(lines) > 20
    assert not (tmp_path / "out" / "overview.png").exists()


def test_equal_replays_leave_equal_bytes(tmp_path: Path, write_log: WriteLog) -> None:
    lines = []
    for k in range(100):
        lines += [battery_line(1000.0 + k, 26.0, k % 7), *soc_lines(1000.1 + k, 60 + k % 30, sequence=k % 8)]
    log = write_log(lines)
    for name in ("one", "two"):
        assert dispatch(["replay", "house_bank_24v", log, "--out", str(tmp_path / name)]) == 0
    for file in ("report.html", "replay.json", "events.csv"):
        assert (tmp_path / "one" / file).read_bytes() == (tmp_path / "two" / file).read_bytes(), file


def test_a_folder_is_never_overwritten(tmp_path: Path, write_log: WriteLog, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "kept.txt").write_text("mine", encoding="utf-8")
    log = write_log([battery_line(1000.0, 26.0, 1.0)])
    assert dispatch(["replay", "house_bank_24v", log, "--out", str(tmp_path)]) == 2
    assert "never overwrites" in capsys.readouterr().err


def test_names_in_the_recording_cannot_break_the_page(tmp_path: Path, write_log: WriteLog) -> None:
    lines = [battery_line(1000.0 + k, 26.0, 1.0) for k in range(5)]
    lines += [f"({1010 + k}.0) <b>&can 123#00" for k in range(3)]
    assert dispatch(["replay", "house_bank_24v", write_log(lines), "--out", str(tmp_path / "out"), "--no-plot"]) == 0
    page = Page()
    page.feed((tmp_path / "out" / "report.html").read_text(encoding="utf-8"))
    assert page.open == []
    assert "<b>&can" in " ".join(page.text)


def long_log(folder: Path, frames: int) -> Path:
    path = folder / "long.log"
    with path.open("w", encoding="ascii") as file:
        for k in range(frames):
            file.write(battery_line(1000.0 + k * 0.02, 26.0, k % 50) + "\n")
    return path


def test_stop_by_hand_leaves_a_usable_part(tmp_path: Path) -> None:
    log = long_log(tmp_path, 400_000)
    out = tmp_path / "out"
    process = subprocess.Popen(
        [sys.executable, "-m", "sim.cli", "replay", "house_bank_24v", str(log), "--out", str(out), "--no-plot"],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, cwd=Path(__file__).resolve().parents[2],
    )  # fmt: skip
    deadline = time.monotonic() + 60.0
    while not (out / "signals.parquet").exists() and not (out / "signals.csv").exists():
        assert time.monotonic() < deadline
        time.sleep(0.05)
    time.sleep(0.5)
    os.kill(process.pid, signal.SIGINT)
    stdout, stderr = process.communicate(timeout=60)
    assert process.returncode == 130, stderr
    assert "Traceback" not in stderr
    assert "STOPPED BY HAND" in stdout
    found = json.loads((out / "replay.json").read_text(encoding="utf-8"))
    assert found["recording"]["stopped_by_hand"] is True
    assert 0 < found["recording"]["frames"] < 400_000
    assert "Stopped by hand" in (out / "report.html").read_text(encoding="utf-8")
    if (out / "signals.parquet").exists():
        parquet = pytest.importorskip("pyarrow.parquet")
        assert parquet.read_table(out / "signals.parquet").num_rows > 0


def test_a_part_decides_what_the_whole_decides_until_there(write_log: WriteLog) -> None:
    log = write_log([battery_line(1000.0 + k, 26.0, k % 50) for k in range(3000)])
    whole, part = Session("house_bank_24v", log), Session("house_bank_24v", log)
    whole.run()
    part.run(stop=lambda: part.source.health.frames > 500)
    assert part.result().run.events == whole.result().run.events[: len(part.result().run.events)]


def test_contacts_of_the_runtime_can_be_set(write_log: WriteLog) -> None:
    log = write_log([battery_line(1000.0 + k, 26.0, 1.0) for k in range(30)])
    lines = io.StringIO()
    session = Session("house_bank_24v", log, Options(moments=(Moment(0), Moment(500, deadline_ok=False), Moment(510))))
    session.run(observers=[Decisions(0, lines)])
    faulty = int(BoatCondition.RUNTIME_FAULT)
    words = {int(line.split("|")[0]): int(line.split("|")[5], 16) for line in lines.getvalue().splitlines()}
    assert words[500] & faulty
    assert not any(word & faulty for tick, word in words.items() if tick < 500)
    if session.history.trips:  # where the table trips on it in STANDBY as well
        assert session.history.trips[0].first_out == "RUNTIME_FAULT"
    else:
        assert not words[510] & faulty


@pytest.mark.skipif(sys.platform == "win32", reason="needs a pseudo-terminal")
def test_a_terminal_gets_a_progress_bar_with_rate_and_time_left(tmp_path: Path) -> None:
    import pty

    log = long_log(tmp_path, 60_000)
    leader, follower = pty.openpty()
    with subprocess.Popen(
        [sys.executable, "-m", "sim.cli", "replay", "house_bank_24v", str(log)], stdout=subprocess.DEVNULL,
        stderr=follower, cwd=Path(__file__).resolve().parents[2], env={**os.environ, "TERM": "xterm", "COLUMNS": "100"},
    ) as process:  # fmt: skip
        os.close(follower)
        shown = b""
        try:
            while chunk := os.read(leader, 4096):
                shown += chunk
        except OSError:
            pass  # the other end is closed
    os.close(leader)
    assert process.returncode == 0
    text = shown.decode(errors="replace")
    assert re.search(r"\d+ %", text)
    assert re.search(r"\d+ frames, \d+ k/s", text)
    assert re.search(r"\d:\d\d:\d\d", text)
