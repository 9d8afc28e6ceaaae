"""A replay says whether it decides what was decided on board, and from when on it does not."""

import shutil
from pathlib import Path

import pytest
from replay_recorded import record  # type: ignore[import-not-found]

from sim.cli import main
from sim.replay.errors import ReplayError
from sim.replay.result import Result
from sim.replay.session import Options, Session
from sim.rig.simulated import SimRig
from supervisor.config.load import resolve_boat


@pytest.fixture(scope="module")
def run(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A run of a shipped procedure on the bench."""
    folder = tmp_path_factory.mktemp("identity") / "run"
    procedures = resolve_boat("marsh_tern").parent / "procedures"
    assert main(["bench", "marsh_tern", str(procedures / "lever_contact.toml"), "--out", str(folder), "--no-plot"]) == 0
    return folder


def replayed(log: Path, config: str | Path = "marsh_tern", **options: object) -> Result:
    session = Session(config, str(log), Options(**options))  # type: ignore[arg-type]
    session.run()
    return session.result()


def test_a_run_replays_to_every_decision(run: Path) -> None:
    same = replayed(run).same
    assert same is not None
    assert same.first_tick is None
    assert same.compared == same.ticks > 500
    assert "identical to the run" in same.words()


def test_one_changed_frame_shows_with_its_tick(run: Path, tmp_path: Path) -> None:
    """A lever's frame that says nothing: from the tick on that would have used it."""
    folder = shutil.copytree(run, tmp_path / "run")
    lines = (folder / "bus.log").read_text(encoding="ascii").splitlines()
    gone = [line for line in lines if not (" 014#" in line and float(line.split()[0].strip("()")) > 3.0)]
    (folder / "bus.log").write_text("".join(f"{line}\n" for line in gone), encoding="ascii")
    same = replayed(folder).same
    assert same is not None
    assert same.first_tick is not None
    assert 3.0 < same.first_s < 3.4
    assert "DIFFERENT from the run on board" in same.words()


def test_an_edited_boat_file_is_said_and_another_boat_refused(run: Path, tmp_path: Path) -> None:
    assert replayed(run).health.notes == []
    configs = resolve_boat("marsh_tern").parent
    place = shutil.copytree(configs, tmp_path / "configs")
    edited = place / "marsh_tern.toml"
    edited.write_text(edited.read_text(encoding="utf-8") + "\n# a remark\n", encoding="utf-8")
    (note,) = replayed(run, edited).health.notes
    assert "NOT THE BOAT FILE OF THAT RUN" in note
    table = place / "dbc" / "guarded.dbc"
    table.write_text(table.read_text(encoding="utf-8") + "\n", encoding="utf-8")
    shutil.copyfile(configs / "marsh_tern.toml", edited)
    (note,) = replayed(run, edited).health.notes
    assert "dbc/guarded.dbc" in note
    with pytest.raises(ReplayError, match="is a run of marsh_tern, not of reed_warbler"):
        replayed(run, "reed_warbler")


def test_a_list_of_ticks_from_before_the_codes_is_read(run: Path, tmp_path: Path) -> None:
    folder = shutil.copytree(run, tmp_path / "run")
    path = folder / "ticks.csv"
    head, _, *ticks = path.read_text(encoding="ascii").splitlines()
    old = [head, "time_s,receive_ok,deadline_ok,reopened", *(tick.rpartition(",")[0] for tick in ticks)]
    path.write_text("".join(f"{line}\n" for line in old), encoding="ascii")
    result = replayed(folder)
    assert result.same is None
    assert result.run.digest == replayed(run).run.digest


def test_a_run_whose_adapters_were_lost_before_its_end_is_no_cut_log(tmp_path: Path) -> None:
    """No frame comes or goes for the last three seconds: the list of ticks knows why, and the trip is decided."""

    def voyage(rig: SimRig) -> None:
        rig.run(1.0)
        rig.act("helm.enable", "press")
        rig.run(3.0)
        for bus in rig.buses:
            rig.inject("adapter_unplugged", bus)
        rig.run(3.0)

    record(tmp_path, "marsh_tern", voyage)
    result = replayed(tmp_path)
    assert [trip.first_out for trip in result.run.trips if trip.subject == "boat"] == ["RUNTIME_FAULT"]
    assert result.health.notes == []
