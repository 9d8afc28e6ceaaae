"""Values for inputs that a recording does not hold."""

from collections.abc import Callable

import pytest
from replay_lines import battery_line, soc_lines  # type: ignore[import-not-found]

from sim.cli.app import dispatch
from sim.replay.session import Options, Session

WriteLog = Callable[..., str]
WHOLE_BANK = {
    "bank.cell_max_v": 3.32, "bank.cell_min_v": 3.30, "bank.charge_limit_a": 150.0, "bank.discharge_limit_a": 300.0,
    "bank.charge_permit": 1.0, "bank.discharge_permit": 1.0, "bank.contactor_closed": 1.0, "bank.opening": 0.0,
}  # fmt: skip


def trial(soc_pct: int) -> list[str]:
    lines = []
    for k in range(30):
        lines += [battery_line(1000.0 + k, 26.5, 4.0), *soc_lines(1000.01 + k, soc_pct, sequence=k % 8)]
    return lines


def limit_a(log: str, **changes: float) -> float:
    session = Session("house_bank_24v", log, Options(assume={**WHOLE_BANK, **changes}))
    session.run()
    last = session.subject.last
    assert last is not None
    return last.outcome.boat_command.charge_limit_a


def test_the_charge_limit_of_a_house_bank_under_assumptions(write_log: WriteLog) -> None:
    log = write_log(trial(73))
    session = Session("house_bank_24v", log)
    session.run()
    assert session.subject.last is not None
    assert session.subject.last.outcome.boat_command.charge_limit_a == 0.0  # unknown is zero
    assert limit_a(log) == 100.0  # limits.full_charge_a of that boat
    assert limit_a(log, **{"bank.charge_limit_a": 40.0}) == 40.0  # never more than the monitor's own limit
    assert limit_a(write_log(trial(91), "high.log")) == pytest.approx(50.0)  # half way from 88 to 94 %


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("bank.voltage_v=26", "the boat file maps it"),
        ("bank.cell_max_v=9", "0.5 to 5 V"),
        ("bank.charge_permit=0.5", "0 or 1"),
        ("bank.cell=3", "no such input"),
        ("port.lever.neutral=1", "no such input"),
        ("runtime.receive_ok=1", "no such input"),
        ("bank.cell_max_v", "NAME=NUMBER"),
        ("bank.cell_max_v=nan", "0.5 to 5 V"),
    ],
)
def test_what_cannot_be_assumed(write_log: WriteLog, capsys: pytest.CaptureFixture[str], text: str, words: str) -> None:
    assert dispatch(["replay", "house_bank_24v", write_log(trial(73)), "--assume", text]) == 2
    assert words in capsys.readouterr().err


def test_assumptions_are_said(write_log: WriteLog, capsys: pytest.CaptureFixture[str]) -> None:
    assert dispatch(["replay", "house_bank_24v", write_log(trial(73)), "--assume", "bank.cell_max_v=3.3"]) == 0
    assert "ASSUMED, not recorded: bank.cell_max_v = 3.3" in capsys.readouterr().out
