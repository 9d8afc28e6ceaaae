"""What a person sees: plain lines without a terminal, a live line and a table on one."""

import io

import pytest
from tiny_rig import TinyRig

from sim.bench import Result, parse_procedure, run_procedure
from sim.bench.screen import LiveLine, PlainLines, plain_table, print_table, screen_for
from sim.bench.sinks import Tee

TEXT = """
title = "seen [x]"
[[step]]
name = "good [one]"
wait_s = 1.0
expect = [{ signal = "boat.mode", value = "STANDBY" }]
[[step]]
name = "bad [two]"
set.bank.soc_pct = 30
expect = [{ signal = "boat.mode", value = "READY", within_s = 0.1 }]
[[step]]
name = "only waits"
"""


class Terminal(io.StringIO):
    """A stream that says that it is a terminal."""

    def isatty(self) -> bool:
        return True


def run(screen: LiveLine | PlainLines) -> Result:
    return run_procedure(TinyRig(), parse_procedure(TEXT, "p"), Tee([screen]))


def test_plain_lines() -> None:
    lines: list[str] = []
    screen = screen_for(io.StringIO(), lines.append)
    assert isinstance(screen, PlainLines)
    run(screen)
    assert lines == [
        "  1/3      1.0 s  pass       good [one]",
        "  2/3      1.1 s  fail       bad [two]",
        f"{'':>24}expected boat.mode == READY within 0.1 s; seen STANDBY at 0.10 s",
        "  3/3      1.1 s  pass       only waits",
    ]


def test_live_line_shows_progress_and_gives_the_terminal_back(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TERM", "xterm")
    stream = Terminal()
    screen = screen_for(stream, print)
    assert isinstance(screen, LiveLine)
    run(screen)
    shown = stream.getvalue()
    assert "step 1/3" in shown
    assert "boat STANDBY port REST" in shown
    assert "failed" in shown
    assert "bad [two]" in shown
    assert shown.count("\x1b[?25l") == shown.count("\x1b[?25h"), "the cursor is shown again"


def test_table_without_terminal() -> None:
    text = "\n".join(plain_table(run(PlainLines(lambda line: None))))
    assert "  1. good [one]  (at 0.0 s)\n     pass       boat.mode == STANDBY  |  STANDBY at 1.00 s" in text
    assert "       JUMP: simulated boat set to bank.soc_pct 30" in text
    assert "     FAIL       boat.mode == READY within 0.1 s  |  STANDBY at 0.10 s" in text


def test_table_on_a_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "240")
    stream = Terminal()
    print_table(run(PlainLines(lambda line: None)), stream, print)
    shown = stream.getvalue()
    for word in ("seen [x]", "good [one]", "JUMP: simulated boat set to bank.soc_pct 30", "FAIL", "STANDBY at 0.10 s"):
        assert word in shown
