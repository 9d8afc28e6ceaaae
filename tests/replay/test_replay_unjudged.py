"""A verdict needs what it is judged by: a requirement whose inputs nobody recorded is a class of its own, and none of
those that held."""

import shutil
from pathlib import Path

import pytest
from replay_recorded import record

from sim.faults.base import Value
from sim.replay.rules import RuleReport
from sim.replay.session import Options, Session
from sim.replay.short import short_lines
from sim.replay.words import rule_lines, summary_lines
from sim.requirements import JUDGES
from sim.rig.simulated import SimRig
from supervisor.bus import compile_boat
from supervisor.config import load_config

ALL = {kind.identifier for kind in JUDGES}


def ahead(rig: SimRig) -> None:
    rig.run(1.0)
    rig.act("helm.enable", "press")
    rig.run(2.0)
    lever: Value = 60.0
    rig.act("port.lever_pct", lever)
    rig.run(3.0)


@pytest.fixture(scope="module")
def run(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("ahead")
    record(folder, "marsh_tern", ahead)
    return folder


def without(run: Path, to: Path, *inputs: str) -> Path:
    """The same run, its frames with these inputs never recorded."""
    shutil.copytree(run, to)
    boat_map = compile_boat(load_config("marsh_tern"), "marsh_tern")
    names = boat_map.shaft_names
    gone = set()
    for row in boat_map.inputs:
        called = row.spec.name if row.level < 0 else f"{names[row.level]}.{row.spec.name}"
        if called in inputs:
            gone.add(f"{row.message.arbitration_id:08X}" if row.message.is_extended else
                     f"{row.message.arbitration_id:03X}")  # fmt: skip
    assert gone
    log = to / "bus.log"
    lines = log.read_text().splitlines(keepends=True)
    log.write_text("".join(line for line in lines if line.split()[2].partition("#")[0] not in gone))
    return to


def reports(folder: Path) -> list[RuleReport]:
    session = Session("marsh_tern", str(folder), Options(rules=True))
    session.run()
    result = session.result()
    text = "\n".join([*summary_lines(result), *short_lines(result)])
    for report in result.rules:
        assert (f"{len(report.unjudged)} that this recording cannot judge" in text) == bool(report.unjudged)
    return result.rules


def test_a_whole_recording_judges_all_of_our_own(run: Path) -> None:
    ours, recorded = reports(run)
    assert ours.unjudged == {}
    assert {one.id for one in ours.judgements} == ALL
    assert {one.id for one in recorded.judgements} | recorded.unjudged.keys() == ALL


def test_a_requirement_whose_inputs_were_never_known_is_not_among_those_that_held(run: Path, tmp_path: Path) -> None:
    """Without the frames of port's lock and clutch nothing is said about a shaft that is not free."""
    folder = without(run, tmp_path / "run", "port.lock.released")
    ours, recorded = reports(folder)
    for report in (ours, recorded):
        assert "port.lock.released" in report.unjudged["SR-07"]
        assert "SR-07" not in {one.id for one in report.judgements}
        line = next(line for line in rule_lines(report) if "SR-07" in line)
        assert "NOT JUDGED" in line
    assert "SR-24" in {one.id for one in recorded.judgements}  # the slew needs orders alone


def test_the_one_that_was_in_charge_is_not_blamed_for_what_nobody_recorded(run: Path, tmp_path: Path) -> None:
    """Its thrust was right; to call it thrust with the lock not confirmed released would be an invention."""
    _, recorded = reports(without(run, tmp_path / "run", "port.lock.released", "port.lever.lever_pct"))
    assert [one for one in recorded.judgements if one.held is False] == []


def test_a_boat_without_a_handset_need_not_say_that_none_is_in_control(tmp_path: Path) -> None:
    def ahead_alone(rig: SimRig) -> None:
        rig.run(1.0)
        rig.act("helm.enable", "press")
        rig.run(2.0)
        lever: Value = 60.0
        rig.act(f"{rig.shafts[0]}.lever_pct", lever)
        rig.run(3.0)

    assert load_config("reed_warbler").boat.handset_id == 0
    record(tmp_path, "reed_warbler", ahead_alone)
    session = Session("reed_warbler", str(tmp_path), Options(rules=True))
    session.run()
    ours, recorded = session.result().rules
    assert ours.unjudged == {}
    assert not [why for why in recorded.unjudged.values() if "handset" in why]
