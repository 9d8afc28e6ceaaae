"""The real recording agrees with the table in the README beside it (an independent decoder's reading)."""

import pytest

from sim.cli.app import dispatch
from sim.replay.session import Options, Session


@pytest.fixture(scope="module")
def readme_table() -> dict[str, tuple[float, float]]:
    # what an independent decoder reads in it, as the README beside the recording says
    return {
        "bank.voltage_v": (26.56, 26.58),
        "bank.current_a": (-6.6, 15.9),
        "bank.cell_hot_c": (28.12, 28.46),
        "bank.soc_pct": (73.0, 73.0),
    }


def test_readings_agree_with_the_table(recording: str, readme_table: dict[str, tuple[float, float]]) -> None:
    session = Session("house_bank_24v", recording)
    session.run()
    result = session.result()
    assert result.frames == 63_413
    assert result.end_s == pytest.approx(871.475, abs=0.001)
    readings = {reading.name: reading for reading in result.run.readings}
    for name, (least, most) in readme_table.items():
        assert readings[name].least == pytest.approx(least, abs=0.005), name
        assert readings[name].most == pytest.approx(most, abs=0.005), name
        assert readings[name].known_pct > 99.5, name
    report = result.run.bus_report["backbone"]
    assert report["messages"]["BATTERY_STATUS"]["good"] == 1308  # type: ignore[index]
    assert report["messages"]["DC_DETAILED_STATUS"]["good"] == 436  # type: ignore[index]
    assert result.health.damaged == 0
    # listen-only and without shafts: nothing can be enabled
    assert result.run.mode_s == {("boat", "STANDBY"): pytest.approx(871.5, abs=0.1)}


def test_decisions_are_the_same_with_every_tick_done_whole(recording: str) -> None:
    quick, whole = Session("house_bank_24v", recording), Session("house_bank_24v", recording, Options(rest=False))
    quick.run()
    whole.run()
    assert quick.decisions.digest == whole.decisions.digest
    ours, theirs = quick.subject.controller.memory.boat, whole.subject.controller.memory.boat
    estimates = dict.fromkeys(("hotel_a", "load_a", "drives_a"), 0.0)  # they weigh on torque only: no shafts, no torque
    assert ours._replace(bank=ours.bank._replace(**estimates)) == theirs._replace(
        bank=theirs.bank._replace(**estimates)
    )
    assert quick.subject.whole_ticks * 10 < whole.subject.whole_ticks == 43_575


def test_command_line_prints_what_it_read(recording: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert dispatch(["replay", "house_bank_24v", recording]) == 0
    out = capsys.readouterr().out
    assert "63413 frames" in out
    assert "26.56" in out
    assert "26.58" in out
    assert "15.9" in out
    assert "no mode changes" in out
