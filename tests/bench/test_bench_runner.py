"""The run as a whole: order, ends, exit status, determinism."""

from collections.abc import Callable

import pytest
from tiny_rig import TinyRig

from sim.bench import BenchError, NullSink, Recorder, Result, Tee, parse_procedure, run_procedure

Run = Callable[[str], Result]

THREE = """
title = "three"
[[step]]
name = "good"
expect = [{ signal = "boat.mode", value = "STANDBY" }]
[[step]]
name = "bad"
wait_s = 0.1
expect = [{ signal = "boat.mode", value = "READY" }]
[[step]]
name = "after"
expect = [{ signal = "boat.mode", value = "STANDBY" }]
"""


def test_a_failure_does_not_end_the_run_but_decides_the_exit_status(rig: TinyRig) -> None:
    result = run_procedure(rig, parse_procedure(THREE, "p"), NullSink())
    assert [step.verdict for step in result.steps] == ["pass", "fail", "pass"]
    assert (result.passed, result.failures, result.exit_status) == (False, 1, 1)
    assert "FAIL: 1 of 3 expectations not met" in result.summary()


def test_all_met_is_status_0(rig: TinyRig) -> None:
    result = run_procedure(rig, parse_procedure(THREE.replace("READY", "STANDBY"), "p"), NullSink())
    assert (result.passed, result.exit_status) == (True, 0)
    assert result.summary().startswith("PASS: 3 steps, 3 expectations met; 0.1 s simulated")


def test_stop_at_first(rig: TinyRig) -> None:
    result = run_procedure(rig, parse_procedure(THREE, "p"), NullSink(), stop_at_first=True)
    assert [step.verdict for step in result.steps] == ["pass", "fail", "not run"]
    assert result.exit_status == 1


def test_stopped_by_hand(rig: TinyRig) -> None:
    """Stopped in the second step: it and the rest count as not run, and the whole is no pass."""
    result = run_procedure(rig, parse_procedure(THREE, "p"), NullSink(), stop=lambda: rig.now_s > 0.06)
    assert [step.verdict for step in result.steps] == ["pass", "not run", "not run"]
    assert (result.passed, result.interrupted, result.exit_status) == (False, True, 130)
    assert result.summary().startswith("STOPPED BY HAND after 1 of 3 steps")
    assert rig.now_s == pytest.approx(0.08)


def test_nothing_moves_when_a_name_is_wrong(rig: TinyRig) -> None:
    text = THREE + "do.port.leverr_pct = 3\n"
    with pytest.raises(BenchError, match="step 3, do: unknown target"):
        run_procedure(rig, parse_procedure(text, "p"), NullSink())
    assert rig.now_s == 0


def test_all_complaints_at_once(rig: TinyRig) -> None:
    text = THREE.replace("boat.mode", "boat.mood")
    with pytest.raises(BenchError) as caught:
        run_procedure(rig, parse_procedure(text, "p"), NullSink())
    assert str(caught.value).count("unknown signal 'boat.mood'") == 3


def test_same_procedure_same_result() -> None:
    text = THREE + "do.port.lever_pct = 40\nwait_s = 1\nset.bank.soc_pct = 30\n"
    runs = []
    for _ in range(2):
        recorder = Recorder(0.0)
        result = run_procedure(TinyRig(), parse_procedure(text, "p"), Tee((recorder, NullSink())))
        runs.append((result._replace(wall_s=0.0), str(recorder.rows), recorder.events))
    assert runs[0] == runs[1]


def test_order_within_a_step(run: Run, rig: TinyRig) -> None:
    run(
        '[[step]]\nname = "a"\ndo = { port.lever_pct = 10, starboard.lever_pct = 20 }\n'
        'inject = [{ fault = "stuck", target = "port" }]\nclear = [{ fault = "node_silent", target = "monitor" }]\n'
    )
    assert [event.text for event in rig.events] == [
        "node_silent ended", "stuck", "port.lever_pct 10.0", "starboard.lever_pct 20.0",
    ]  # fmt: skip


def test_step_records_actions_jumps_and_faults(run: Run) -> None:
    step = run(
        '[[step]]\nname = "a"\ndo = { port.lever_pct = 10, helm.get_home = true }\nset.bank.soc_pct = 30\n'
        'inject = [{ fault = "stuck", target = "port" }]\n'
    ).steps[0]
    assert step.actions == "port.lever_pct 10, helm.get_home on"
    assert step.jumps == "bank.soc_pct 30"
    assert step.faults == "stuck on port"


def test_waits_and_holds_are_exact(run: Run) -> None:
    result = run(
        '[[step]]\nname = "a"\n[[step]]\nname = "b"\nwait_s = 0.5\n[[step]]\nname = "c"\nwait_s = 0.3\nhold_s = 0.3\n'
        '[[step]]\nname = "d"\nhold_s = 0.2\nexpect = [{ signal = "boat.mode", value = "STANDBY", within_s = 5 }]\n'
    )
    assert [step.length_s for step in result.steps] == pytest.approx([0.02, 0.5, 0.6, 0.22])
    assert [step.start_s for step in result.steps] == pytest.approx([0, 0.02, 0.52, 1.12])
    assert result.ticks == 67


def test_expectations_watched_through_the_hold(run: Run) -> None:
    """The deadline is met at once; the watch must still see what comes in the hold."""
    result = run(
        '[[step]]\nname = "a"\nwait_s = 0.6\n'
        '[[step]]\nname = "b"\ndo.helm.enable = "press"\nhold_s = 0.1\n'
        'expect = [{ signal = "boat.mode", value = "READY", within_s = 1 }]\n'
        '[[step]]\nname = "c"\ndo.port.lever_pct = 50\nhold_s = 1\n'
        'expect = [{ signal = "port.mode", value = "PROPEL", within_s = 1 }, '
        '{ signal = "port.torque_nm", op = ">", value = 100, never = true }]\n'
    )
    assert [step.verdict for step in result.steps] == ["pass", "pass", "fail"]


@pytest.mark.parametrize(
    ("expect", "seen"),
    [
        (
            '{ signal = "boat.mode", value = "READY", within_s = 0.2 }',
            "NEUTRAL_WAIT (missing: port lever is not in neutral)",
        ),
        ('{ signal = "starboard.mode", value = "PROPEL" }', "REST (missing: no thrust is asked)"),
        ('{ signal = "boat.mode", value = "TRIPPED" }', "NEUTRAL_WAIT"),  # nobody asks for a trip
        ('{ signal = "boat.mode", op = "!=", value = "NEUTRAL_WAIT" }', "NEUTRAL_WAIT"),
    ],
)
def test_a_mode_that_was_not_reached_says_what_is_missing(rig: TinyRig, expect: str, seen: str) -> None:
    text = f"""
title = "in gear"
[[step]]
name = "enable"
do = {{ "port.lever_pct" = 40, "helm.enable" = "press" }}
wait_s = 0.2
expect = [{expect}]
"""
    (step,) = run_procedure(rig, parse_procedure(text, "p"), NullSink()).steps
    assert [check.seen for check in step.checks] == [seen]
