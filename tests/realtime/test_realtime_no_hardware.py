"""Three programs without an adapter, by the lines of docs/adapters.md as they stand."""

import re
import shlex
import signal
from pathlib import Path

import pytest
from processes import ROOT, Process

pytest.importorskip("msgpack", reason="buses without hardware need msgpack (extra sim)")


def lines_of_the_page() -> list[list[str]]:
    text = (ROOT / "docs" / "adapters.md").read_text(encoding="utf-8")
    part = text[text.index("## Without hardware") :]
    block = re.search(r"^```\n(.*?)^```", part, re.DOTALL | re.MULTILINE)
    assert block is not None
    return [shlex.split(line) for line in block[1].splitlines()]


def words_for_the_next_bus() -> list[str]:
    text = (ROOT / "docs" / "adapters.md").read_text(encoding="utf-8")
    found = re.search(r"the next bus is `([^`]+)`", text)
    assert found is not None
    return shlex.split(found[1])


def started(words: list[str], folder: Path) -> Process:
    """`thwart` and python-can's logger as modules of this Python, so that no path matters."""
    module = {"thwart": "sim.cli", "can_logger": "can.logger"}[words[0]]
    return Process(["-m", module, *words[1:]], folder)


def test_three_terminals(tmp_path: Path) -> None:
    run, boat, watcher = lines_of_the_page()
    assert (run[1], boat[1], watcher[0]) == ("run", "stand-in", "can_logger")
    with started(run, tmp_path) as supervised:
        supervised.wait_for("NO HARDWARE")
        with (
            started(boat, tmp_path) as standing,
            started(watcher, tmp_path) as watching,
            started([*watcher[:3], *words_for_the_next_bus()], tmp_path) as other,
        ):
            standing.wait_for("ready")
            watching.wait_for("Timestamp", 20.0)
            other.wait_for("Timestamp", 20.0)
            supervised.wait_for("STANDBY: torque zero")
            for _ in range(40):
                standing.say("helm.enable press")
                try:
                    supervised.wait_for("-> READY", 1.0)
                    break
                except AssertionError:
                    continue
            standing.say("port.lever_pct 40")
            supervised.wait_for("port REST -> PROPEL", 5.0)
            assert not [line for line in supervised.lines if "NOT ALONE" in line or "two senders" in line]
            standing.process.send_signal(signal.SIGTERM)
            watching.process.send_signal(signal.SIGTERM)
            other.process.send_signal(signal.SIGTERM)
        supervised.process.send_signal(signal.SIGTERM)
        assert supervised.process.wait(10) == 0
    (log,) = tmp_path.glob("**/bus-*.log")
    on_bus: dict[str, set[int]] = {"can0": set(), "can1": set()}
    for line in log.read_text(encoding="utf-8").splitlines():
        _, channel, frame, *_ = line.split()
        on_bus[channel].add(int(frame.split("#")[0], 16))
    assert not on_bus["can0"] & on_bus["can1"], "one bus hears the other"
    assert 0x012 in on_bus["can0"]
    heard = [line for line in other.lines if "Timestamp" in line]
    assert heard
    assert all(re.search(r"ID: [0-9a-f]{8} ", line) for line in heard), "only 29-bit frames on the backbone"
    assert any(number >> 8 & 0xFF00 == 0xF200 for number in on_bus["can1"]), "engine frames of NMEA 2000"


def test_a_written_procedure_on_it(tmp_path: Path) -> None:
    text = (ROOT / "docs" / "adapters.md").read_text(encoding="utf-8")
    found = re.search(r"`thwart (bench [^`]*--no-hardware)`", text)
    assert found is not None
    run, _, _ = lines_of_the_page()
    words = ["thwart", *shlex.split(found[1]), "--no-plot", "--out", str(tmp_path / "bench")]
    with started(run, tmp_path) as supervised, started(words, tmp_path) as benched:
        supervised.wait_for("STANDBY: torque zero")
        status = benched.process.wait(120)
    lines = "\n".join(benched.lines)
    assert status == 0, lines
    assert " 0 violated" in lines
    assert re.search(r"[1-9]\d* safety requirements held", lines)


@pytest.mark.parametrize(
    ("more", "words"),
    [(["--bus", "private=slcan:/dev/null"], "leave --bus out"), ([], "NO HARDWARE")],
)
def test_what_it_says(tmp_path: Path, more: list[str], words: str) -> None:
    with started(["thwart", "run", "marsh_tern", "--no-hardware", *more], tmp_path) as supervised:
        supervised.wait_for(words)
        supervised.process.send_signal(signal.SIGTERM)
        supervised.process.wait(10)
