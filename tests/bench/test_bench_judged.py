"""Every safety requirement is judged on every tick of a run: a violation fails it, whatever the procedure asks for."""

import json
import sys
from pathlib import Path

import pytest
from tiny_rig import TinyRig

from sim.bench import NullSink, Recorder, Result, parse_procedure, run_procedure
from sim.bench.folder import RunFolder
from sim.bench.screen import print_table
from sim.requirements import Evaluator, Record
from sim.rig.simulated import SimRig
from supervisor.config import load_config
from supervisor.controller.controller import freeze
from supervisor.modes import BoatMode, ShaftMode
from supervisor.signals import BoatCommand, BoatInputs, ShaftCommand, ShaftInputs

TEXT = """
title = "short"
requirements = ["SR-02", "SR-46"]
[[step]]
name = "wait"
wait_s = 0.2
"""


class Bad(TinyRig):
    """From 0.1 s to 0.14 s it orders 7 N m on port while the boat is in STANDBY."""

    def evaluator(self) -> Evaluator:
        return Evaluator(freeze(load_config("marsh_tern")), self.shafts)

    def records(self) -> list[Record]:
        torque_nm = 7.0 if 0.09 < self.now_s < 0.15 else 0.0
        rest = (ShaftMode.REST, ShaftMode.REST)
        orders = (ShaftCommand(torque_nm), ShaftCommand())
        return [
            Record(self.now_s, BoatMode.STANDBY, rest, BoatInputs(), (ShaftInputs(), ShaftInputs()), BoatCommand(),
                   orders, 0, (0, 0))
        ]  # fmt: skip


@pytest.fixture(scope="module")
def bad() -> Result:
    return run_procedure(Bad(), parse_procedure(TEXT, "p"), NullSink())


def test_a_violation_fails_a_run_whose_expectations_are_all_met(bad: Result) -> None:
    assert [step.verdict for step in bad.steps] == ["pass"]
    assert (bad.passed, bad.failures, bad.exit_status) == (False, 0, 1)
    off = next(one for one in bad.judged if one.id == "SR-02")
    assert (off.held, off.closest, off.unit, off.time_s) == (False, pytest.approx(-7.0), "N m", pytest.approx(0.1))
    assert off.duration_s == pytest.approx(0.06)
    assert "SR-02" in [one.id for one in bad.violated]
    assert " safety requirements held, " in bad.summary()
    assert ", 0 violated" not in bad.summary()


def test_the_screen_names_it(bad: Result, capsys: pytest.CaptureFixture[str]) -> None:
    print_table(bad, sys.stdout, print)
    shown = capsys.readouterr().out
    assert "SR-02 Off means off: violated for 0.06 s, worst at 0.10 s: port: 7.0 N m ordered while" in shown


def test_the_folder_has_every_requirement_with_its_closest_approach(tmp_path: Path) -> None:
    source = tmp_path / "p.toml"
    source.write_text(TEXT)
    procedure = parse_procedure(TEXT, "p")
    rig = Bad()
    (tmp_path / "run").mkdir()
    folder = RunFolder(tmp_path / "run", rig, {"procedure.toml": source})
    recorder = Recorder(0.0)
    folder.finish(run_procedure(rig, procedure, recorder), procedure, recorder, plot=False)
    verdict = json.loads((tmp_path / "run" / "verdict.json").read_text())
    assert verdict["verdict"] == "fail"
    judged = {one["id"]: one for one in verdict["judged"]}
    assert len(judged) == 53
    assert judged["SR-02"]["closest"] == -7.0
    assert (judged["SR-12"]["held"], judged["SR-12"]["closest"]) == (None, None)
    page = (tmp_path / "run" / "verdict.md").read_text()
    assert "| **SR-02 Off means off** | **VIOLATED** for 0.06 s | -7 N m | 0.10 s | port: 7.0 N m ordered" in page
    assert "| SR-12 Charging at rest stands still | not exercised | | | |" in page
    assert "Not judged on signals, shown by test: SR-46." in page


def test_a_real_boat_under_way_violates_nothing() -> None:
    text = """
title = "under way"
[[step]]
name = "power up"
wait_s = 1
[[step]]
name = "on"
do.helm.enable = "press"
expect = [{ signal = "boat.mode", value = "READY", within_s = 4 }]
[[step]]
name = "ahead"
do.each.lever_pct = 40
wait_s = 1
expect = [{ signal = "each.torque_nm", op = ">", value = 10 }]
"""
    rig = SimRig("marsh_tern")
    try:
        result = run_procedure(rig, parse_procedure(text, "p"), NullSink())
    finally:
        rig.close()
    judged = {one.id: one for one in result.judged}
    assert result.passed
    assert result.violated == ()
    # lever from 0 to 40 % at 250 N m/s: the slew is used up to the last digit, not beyond
    assert judged["SR-24"].closest == pytest.approx(0.0, abs=1e-6)
    assert judged["SR-01"].held is True
    assert judged["SR-20"].held is None  # nothing was charged
