"""Formats, compression, channels, standard input."""

import bz2
import gzip
import io
import lzma
import subprocess
import sys
from collections.abc import Callable
from importlib.util import find_spec
from pathlib import Path

import can
import pytest
from hypothesis import given
from hypothesis import strategies as st
from replay_lines import battery_line, soc_lines  # type: ignore[import-not-found]

from sim.cli.app import dispatch
from sim.replay.candump import CandumpSource
from sim.replay.errors import ReplayError
from sim.replay.opening import open_recording
from sim.replay.session import Options, Session

WriteLog = Callable[..., str]


def trial(channel: str = "can0") -> list[str]:
    lines = []
    for k in range(40):
        lines += [battery_line(1000.0 + k, 26.5, k % 9, channel), *soc_lines(1000.01 + k, 73, channel, k % 8)]
    return lines


def digest(log: str, options: Options = Options()) -> str:  # noqa: B008 - never changed
    session = Session("house_bank_24v", log, options)
    session.run()
    assert session.result().fed == 120
    return session.decisions.digest


@pytest.mark.parametrize(("ending", "pack"), [(".gz", gzip.compress), (".bz2", bz2.compress), (".xz", lzma.compress)])
def test_compressed(write_log: WriteLog, ending: str, pack: Callable[[bytes], bytes]) -> None:
    plain = Path(write_log(trial()))
    packed = plain.with_name(f"packed.log{ending}")
    packed.write_bytes(pack(plain.read_bytes()))
    assert digest(str(packed)) == digest(str(plain))
    misnamed = plain.with_name("misnamed.log")  # compressed all the same
    misnamed.write_bytes(packed.read_bytes())
    assert digest(str(misnamed)) == digest(str(plain))
    cut = plain.with_name(f"cut.log{ending}")
    cut.write_bytes(packed.read_bytes()[:-20])
    if ending != ".bz2":  # which packs in blocks far larger than this file: nothing is left of a cut one
        session = Session("house_bank_24v", str(cut))
        session.run()
        assert session.source.health.frames > 50
        assert any("cut short" in line for line in session.source.health.lines_of_text())
    else:
        with pytest.raises(ReplayError, match=r"cut short|damaged"):
            Session("house_bank_24v", str(cut)).run()


def test_the_format_can_be_named(write_log: WriteLog, capsys: pytest.CaptureFixture[str]) -> None:
    named = write_log(trial(), "trial.dat")
    assert digest(named) == digest(write_log(trial()))  # its first byte gives it away
    assert digest(named, Options(form="candump")) == digest(named)
    assert dispatch(["replay", "house_bank_24v", named, "--format", "blf"]) == 2
    assert "can be read from it as blf" in capsys.readouterr().err


def test_standard_input(write_log: WriteLog) -> None:
    log = write_log(trial())
    outputs = []
    for content in (Path(log).read_bytes(), gzip.compress(Path(log).read_bytes())):
        done = subprocess.run(
            [sys.executable, "-m", "sim.cli", "replay", "house_bank_24v", "-"], input=content, capture_output=True,
            cwd=Path(__file__).resolve().parents[2], check=True,
        )  # fmt: skip
        outputs.append(done.stdout.decode().splitlines()[-1])
    assert outputs == [f"decisions sha256 {digest(log)}"] * 2


def test_channels_are_told_apart_by_what_is_heard_on_them(write_log: WriteLog) -> None:
    other = [f"({1000.5 + k}) can0 123#00112233" for k in range(40)]
    lines = sorted([*trial("can1"), *other], key=lambda line: float(line.split()[0].strip("()")))
    session = Session("house_bank_24v", write_log(lines))
    assert session.wiring.bus_of == {"can1": "backbone"}
    session.run()
    assert session.result().fed == 120


def test_channels_as_given(write_log: WriteLog) -> None:
    lines = sorted(trial("vcan7") + trial("engine"), key=lambda line: float(line.split()[0].strip("()")))
    log = write_log(lines)
    session = Session("house_bank_24v", log, Options(channels=("engine=backbone",)))
    assert session.wiring.bus_of["engine"] == "backbone"
    # a channel of the bus's own name needs no option
    assert Session("house_bank_24v", write_log(trial("backbone"), "b.log")).wiring.bus_of == {"backbone": "backbone"}


def test_two_buses_by_content_whatever_their_order(write_log: WriteLog) -> None:
    lines = [f"({k * 0.02:.6f}) can5 012#00{k % 15:02X}0000" for k in range(50)]
    lines += [f"({k * 0.02 + 0.001:.6f}) can2 09F20016#007A0CFFFF7FFFFF" for k in range(50)]
    session = Session("marsh_tern", write_log(sorted(lines)))
    assert session.wiring.bus_of == {"can5": "private", "can2": "backbone"}


def test_mf4_without_its_package_says_what_to_install(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "asammdf", None)  # as Python itself has a package that is not there
    path = tmp_path / "trial.mf4"
    path.write_bytes(b"MDF     4.10    " + bytes(500))
    assert dispatch(["replay", "house_bank_24v", str(path)]) == 2
    assert "'.[mf4]'" in capsys.readouterr().err


@pytest.mark.skipif(find_spec("asammdf") is None, reason="the extra mf4 is not installed (.ci/run installs it)")
def test_mf4(write_log: WriteLog, tmp_path: Path) -> None:
    log = write_log(trial())
    path = tmp_path / "trial.mf4"
    with can.MF4Writer(path) as out:
        for message in can.LogReader(log):
            message.channel = 0
            out.on_message_received(message)
    assert digest(str(path)) == digest(log)
    packed = tmp_path / "trial.mf4.gz"
    packed.write_bytes(gzip.compress(path.read_bytes()))
    assert digest(str(packed)) == digest(log)


messages = st.builds(
    can.Message,
    timestamp=st.integers(0, 10**13).map(lambda microseconds: microseconds / 1e6),
    arbitration_id=st.integers(0, 0x7FF) | st.integers(0x800, 0x1FFFFFFF),
    data=st.binary(max_size=8),
    is_extended_id=st.just(True),
    channel=st.sampled_from(["can0", "vcan1", "engine"]),
)


@given(st.lists(messages, min_size=1, max_size=30), st.booleans())
def test_our_candump_reader_reads_what_python_can_reads(found: list[can.Message], flags: bool) -> None:
    """python-can writes, both read: the same frames in the same order."""
    text = io.StringIO()
    writer = can.CanutilsLogWriter(text)
    for message in found:
        message.is_extended_id = message.arbitration_id > 0x7FF
        message.timestamp = max(message.timestamp, writer.last_timestamp or 0.0)
        writer.on_message_received(message)
    written = text.getvalue()
    if not flags:
        written = written.replace(" R\n", "\n")
    theirs = [(one.arbitration_id, one.is_extended_id, bytes(one.data), one.channel)
              for one in can.CanutilsLogReader(io.StringIO(written))]  # fmt: skip
    stream = io.BytesIO(written.encode("ascii"))
    source = CandumpSource(stream, stream, lambda *place: place, 1e12)
    ours = [
        (handle[1], handle[2], data, handle[0])
        for batch in source.batches()
        for _, handle, data in batch.items
        if isinstance(handle, tuple)
    ]
    assert ours == theirs
    assert source.health.damaged == 0


def test_asc_with_relative_stamps(tmp_path: Path) -> None:
    """ASC files may give each stamp as the time since the event before."""
    path = tmp_path / "relative.asc"
    path.write_text(
        "date Mon Jun 8 10:00:00.000 am 2026\nbase hex  timestamps relative\nno internal events logged\n"
        + "".join(f"   0.500000 1  123             Rx   d 2 00 {k:02X}\n" for k in range(5)), encoding="ascii",
    )  # fmt: skip
    source = open_recording(str(path), lambda *place: place, gap_s=10.0)
    times = [item[0] for batch in source.batches() for item in batch.items]
    assert times == pytest.approx([0.0, 0.5, 1.0, 1.5, 2.0])


@pytest.mark.parametrize("ending", [".asc", ".csv", ".trc"])
def test_text_formats_are_read_on_behind_a_damaged_line(write_log: WriteLog, tmp_path: Path, ending: str) -> None:
    log = write_log(trial())
    path = tmp_path / f"trial{ending}"
    with can.Logger(path) as out:
        for message in can.LogReader(log):
            message.channel = 0
            out.on_message_received(message)
    lines = path.read_text(encoding="utf-8").splitlines(keepends=True)
    sound = Session("house_bank_24v", str(path))
    sound.run()
    where = [len(lines) - 60, len(lines) - 40, len(lines) - 20]
    for place in where:  # an identifier that is none, in a line that else looks like a frame
        lines[place] = lines[place].replace("19F21409", "19Z21409").replace("19F21209", "19Z21209").replace(
            "0x19f214", "0x19z214").replace("0x19f212", "0x19z212")  # fmt: skip
    path.write_text("".join(lines), encoding="utf-8")
    damaged = Session("house_bank_24v", str(path))
    damaged.run()
    assert damaged.source.health.frames == sound.source.health.frames - 3 == 117
    assert damaged.source.health.damaged == 3


def test_a_run_folder_of_rotating_logs(tmp_path: Path) -> None:
    lines = [f"{line} R\n" for line in trial()]
    (tmp_path / "bus-000001.log").write_text("".join(lines[:50]), encoding="ascii")
    (tmp_path / "bus-000002.log").write_text("".join(lines[50:]), encoding="ascii")
    whole = tmp_path / "elsewhere"
    whole.mkdir()
    (whole / "trial.log").write_text("".join(lines), encoding="ascii")
    assert digest(str(tmp_path)) == digest(str(whole / "trial.log"))


def test_gaps_are_not_ticked_through(write_log: WriteLog) -> None:
    """A day of silence costs no more than the seconds in which everything goes stale."""
    lines = []
    for k in [*range(100), *range(89_000, 89_100)]:
        lines += [battery_line(1000.0 + k, 26.5, 4.0), *soc_lines(1000.0 + k, 73, sequence=k % 8)]
    session = Session("house_bank_24v", write_log(lines))
    session.run()
    result = session.result()
    assert result.end_s == pytest.approx(89_099.0, abs=0.01)
    assert result.health.gaps[0].by_s == pytest.approx(88_901.0, abs=0.01)
    assert result.gap_ticks > 4_000_000
    assert result.ticks < 20_000
    texts = [event.text for event in result.run.events if event.kind.value == "alarm" and event.time_s > 99.0]
    assert any(text.startswith("an input is missing") for text in texts)
