"""A supervisor elsewhere shows less: what cannot be seen is neither passed nor failed, and never hides a failure."""

import json
from collections.abc import Sequence
from pathlib import Path

import pytest
from tiny_rig import TinyRig

from sim.bench import NullSink, Recorder, Result, parse_procedure, run_procedure
from sim.bench.folder import RunFolder


class Quiet(TinyRig):
    """The tiny boat as it looks from outside: no reasons, no refusals, nothing of the starboard mode; 0.1 s late."""

    explains = False
    unseen = frozenset({"refusal", "starboard.mode"})

    def explain(self, what: str) -> Sequence[str]:
        raise AssertionError("asked for a reason that it cannot give")

    def slack_s(self, event: str) -> float:
        return {"alarm": 0.5, "slope": 0.03}.get(event, 0.1)

    def remarks(self) -> Sequence[str]:
        return ("supervisor elsewhere",)


def run(expect: str, rig: TinyRig | None = None, do: str = "") -> Result:
    text = f'title = "t"\n[[step]]\nname = "one"\nwait_s = 0.2\n{do}\nexpect = [{expect}]\n'
    return run_procedure(rig or Quiet(), parse_procedure(text, "p"), NullSink())


def verdicts(result: Result) -> list[str]:
    return [check.verdict for step in result.steps for check in step.checks]


@pytest.mark.parametrize(
    "expect",
    [
        '{ explain = "enable", says = "lever" }',
        '{ explain = "enable", says = "lever", within_s = 0.1 }',
        '{ signal = "starboard.mode", value = "REST" }',
        '{ signal = "starboard.mode", value = "PROPEL", never = true }',
        '{ signal = "starboard.mode", value = "REST", within_s = 5, for_s = 2 }',
        '{ event = "refusal" }',
        '{ event = "refusal", never = true }',
        '{ event = "trip", says = "fault", never = true }',  # a trip without a cause could be that one
    ],
)
def test_not_shown(expect: str) -> None:
    result = run(expect)
    assert verdicts(result) == ["not shown"]
    assert [step.verdict for step in result.steps] == ["not shown"]
    assert (result.passed, result.exit_status, result.not_shown) == (True, 0, 1)
    assert result.summary().startswith("PASS: 1 steps, 0 expectations met, 1 cannot be seen on the bus; ")
    assert result.sim_s == pytest.approx(0.2)  # nobody waits for what will not show


@pytest.mark.parametrize("never", [False, True])
def test_without_a_cause_to_show_the_rest_of_an_event_still_counts(never: bool) -> None:
    """No trip at all: `never` with no words asked for is seen, and a missing one is a failure."""
    end = ", never = true }" if never else ' , says = "fault" }'
    assert verdicts(run('{ event = "trip"' + end)) == ["pass" if never else "fail"]


def test_a_failure_stays_a_failure() -> None:
    hidden = '{ signal = "starboard.mode", value = "REST" }'
    result = run(f'{hidden}, {{ signal = "boat.mode", value = "READY" }}')
    assert verdicts(result) == ["not shown", "fail"]
    assert (result.steps[0].verdict, result.exit_status) == ("fail", 1)
    assert "FAIL: 1 of 2 expectations not met, 1 cannot be seen on the bus" in result.summary()


def test_a_refusal_that_shows_counts() -> None:
    """The boat's own circuits refuse in plain sight."""
    rig = Quiet()
    result = run('{ event = "refusal", says = "lever is not in neutral" }', rig,
                 'do = { "port.lever_pct" = 50, "helm.enable" = "press" }')  # fmt: skip
    assert verdicts(result) == ["pass"]


@pytest.mark.parametrize(("within_s", "rig", "verdict"), [(0.5, TinyRig, "pass"), (0.4, TinyRig, "fail"),
                                                         (0.4, Quiet, "pass"), (0.3, Quiet, "fail")])  # fmt: skip
def test_slack_is_granted_on_deadlines(within_s: float, rig: type[TinyRig], verdict: str) -> None:
    """The tiny boat is READY 0.46 to 0.5 s after enabling; seen from outside it may be 0.1 s later."""
    one = f'{{ signal = "boat.mode", value = "READY", within_s = {within_s} }}'
    assert verdicts(run(one, rig(), 'do = { "helm.enable" = "press" }')) == [verdict]


@pytest.mark.parametrize(
    ("bound", "rig", "verdict"), [(400, TinyRig, "fail"), (400, Quiet, "pass"), (300, Quiet, "fail")]
)
def test_the_bound_on_a_slope_is_widened(bound: float, rig: type[TinyRig], verdict: str) -> None:
    """Steepest 0.1 s of a first-order rise to 150 N m with 0.3 s: 150 (1 - exp(-1/3)) / 0.1 = 425 N m/s; 0.03 s in
    0.1 s widens a bound by 30 %."""
    tiny = rig()
    run('{ signal = "boat.mode", value = "READY", within_s = 0.6 }', tiny, 'do = { "helm.enable" = "press" }')
    slope = (
        f'{{ signal = "port.torque_nm", of = "rise_per_s", over_s = 0.1, op = "<=", value = {bound}, always = true }}'
    )
    assert verdicts(run(slope, tiny, 'do = { "port.lever_pct" = 50 }')) == [verdict]


def test_the_evidence_says_what_was_real(tmp_path: Path) -> None:
    rig = Quiet()
    source = tmp_path / "p.toml"
    source.write_text("")
    procedure = parse_procedure('title = "t"\n[[step]]\nname = "s"\nexpect = [{ event = "refusal" }]\n', "p")
    (tmp_path / "run").mkdir()
    folder = RunFolder(tmp_path / "run", rig, {"procedure.toml": source})
    recorder = Recorder(0.0)
    folder.finish(run_procedure(rig, procedure, recorder), procedure, recorder, plot=False)
    verdict = json.loads((tmp_path / "run" / "verdict.json").read_text())
    assert (verdict["verdict"], verdict["not_shown"], verdict["remarks"]) == ("pass", 1, ["supervisor elsewhere"])
    page = (tmp_path / "run" / "verdict.md").read_text()
    assert "- supervisor elsewhere" in page
    assert "| not shown |" in page
