"""What-if: where the decisions part under another limit."""

from pathlib import Path

import pytest
from replay_recorded import record, voyage  # type: ignore[import-not-found]

from sim.cli.app import dispatch
from sim.replay.errors import ReplayError
from sim.replay.session import Options, Session
from sim.replay.whatif import Difference, parse_settings
from sim.rig.simulated import SimRig


@pytest.fixture(scope="module")
def run_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("run")
    record(folder, "marsh_tern", voyage)
    return folder


def charging(rig: SimRig) -> None:
    """On the engine, charging at 90 % SOC: inside the default taper of 88 to 94 %."""
    rig.set_plant("bank.soc_pct", 90.0)
    rig.set_plant("monitor.soc_pct", 90.0)
    rig.run(1.0)
    rig.act("helm.enable", "press")
    rig.run(3.0)
    rig.act("port.engine", "start")
    rig.run(3.0)
    rig.act("port.gear", "ahead")
    rig.act("port.throttle_pct", 50.0)
    rig.run(5.0)
    rig.act("port.charge", "under_way")
    rig.run(10.0)


def difference_of(folder: Path, *settings: str) -> Difference:
    session = Session("marsh_tern", str(folder), Options(settings=parse_settings(settings)))
    session.run()
    difference = session.result().difference
    assert difference is not None
    return difference


def test_the_same_setting_changes_nothing(run_folder: Path) -> None:
    difference = difference_of(run_folder, "limits.taper_start_pct=88.0")
    assert difference.first_s is None
    assert difference.ticks == 0
    assert difference.disagreements.stretches == []


def test_a_setting_that_is_never_reached_changes_nothing(run_folder: Path) -> None:
    assert difference_of(run_folder, "limits.taper_start_pct=85.0").first_s is None  # the bank stays near 70 %


def test_an_earlier_taper_lowers_the_charge_limit(tmp_path: Path) -> None:
    record(tmp_path, "marsh_tern", charging)
    difference = difference_of(tmp_path, "limits.taper_start_pct=85.0", "limits.charge_restart_pct=93.0")
    assert difference.first_s is not None
    limits = [stretch for stretch in difference.disagreements.stretches if stretch.what == "boat.charge_limit_a"]
    assert limits
    # 240 A x (94 - 90) / (94 - 88) = 160 A as it is, x (94 - 90) / (94 - 85) = 106.7 A as changed, at 90 %
    worst = max(limits, key=lambda stretch: stretch.by)
    assert worst.ours == pytest.approx(160.0, abs=25.0)
    assert worst.theirs == pytest.approx(106.7, abs=20.0)
    assert worst.theirs < worst.ours


def test_a_slower_soft_start_parts_when_charging_begins(run_folder: Path) -> None:
    difference = difference_of(run_folder, "limits.charge_rise_a_per_s=1.0")
    torque = [stretch for stretch in difference.disagreements.stretches if stretch.what == "port.drive.torque_nm"]
    assert torque
    # braking before the reversal (about 8 s) draws on the same soft start as GENERATE (23.02 s) does
    assert any(stretch.begin_s == pytest.approx(23.1, abs=0.2) for stretch in torque)
    assert all(abs(stretch.theirs) < abs(stretch.ours) for stretch in torque if stretch.begin_s > 20.0)


def test_modes_are_compared_by_name(run_folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert dispatch(["replay", "marsh_tern", str(run_folder), "--set", "limits.neutral_s=2.0"]) == 0
    out = capsys.readouterr().out
    assert "what if limits.neutral_s = 2.0: decisions differ from" in out
    assert "boat.mode: as it is READY, as changed NEUTRAL_WAIT" in out


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("limits.taper_start_pct", "is not KEY=VALUE"),
        ("limits.taper_start_pct=eighty", "is no value"),
        ("limits.taper_start=85", "unknown key"),
        ("limits.taper_start_pct=99.0", "must be below"),
        ("boat.tick_s=0.03", "both runs need one tick"),
    ],
)
def test_settings_that_cannot_be_used(
    run_folder: Path, capsys: pytest.CaptureFixture[str], text: str, words: str
) -> None:
    assert dispatch(["replay", "marsh_tern", str(run_folder), "--set", text]) == 2
    assert words in capsys.readouterr().err


def test_values_are_written_as_in_toml() -> None:
    assert parse_settings(["a.b=1.5", "c=true", 'd="x"', "e=[1, 2]"]) == {"a.b": 1.5, "c": True, "d": "x", "e": [1, 2]}
    with pytest.raises(ReplayError):
        parse_settings(["=1"])


@pytest.mark.parametrize("longest", ["port.mode", "starboard.engine.start", "a_rather_long_shaft.drive.torque_nm"])
def test_the_names_of_what_differs_lie_within_the_picture(longest: str) -> None:
    from sim.replay.disagreements import Stretch
    from sim.replay.envelope import Envelope
    from sim.replay.plots import draw_overview, styled

    differs = [Stretch(what, 1.0, 2.0, 1.5, 1.0, 0.0, 1.0, "") for what in ("boat.mode", longest)]
    empty = Envelope([])
    with styled():
        figure = draw_overview([], empty, [], ["boat"], [], differs, 10.0)
        figure.canvas.draw()
        labels = figure.axes[1].get_yticklabels()
        assert len(labels) == 2
        assert min(label.get_window_extent().x0 for label in labels) > 0.0
