"""Every operator and every kind of timing, met and missed, on a boat whose answers are known.

The tiny boat ticks every 0.02 s; from READY its torque follows 3 N m per lever percent with a lag of 0.3 s, so that
lever 50 gives 150 N m in the end, and 150 * (1 - exp(-t / 0.3)) on the way.
"""

from collections.abc import Callable

import pytest
from tiny_rig import TinyRig

from sim.bench import BenchError, NullSink, Result, StepResult, parse_procedure, run_procedure

One = Callable[..., StepResult]
AHEAD = "do.port.lever_pct = 50\n"


@pytest.mark.parametrize(
    ("expectation", "verdict"),
    [
        ('op = "==", value = 0', "pass"),
        ('op = "==", value = 1', "fail"),
        ('op = "==", value = 1, tol = 1', "pass"),
        ('op = "!=", value = 1', "pass"),
        ('op = "!=", value = 0', "fail"),
        ('op = "!=", value = 1, tol = 1', "fail"),
        ('op = "<", value = 0', "fail"),
        ('op = "<", value = 0.01', "pass"),
        ('op = "<=", value = 0', "pass"),
        ('op = "<=", value = -0.01', "fail"),
        ('op = "<=", value = -0.01, tol = 0.02', "pass"),
        ('op = ">", value = 0', "fail"),
        ('op = ">", value = -0.01', "pass"),
        ('op = ">=", value = 0', "pass"),
        ('op = ">=", value = 0.01', "fail"),
        ('op = "~", value = 0.5, tol = 0.5', "pass"),
        ('op = "~", value = 0.5, tol = 0.49', "fail"),
        ("between = [0, 1]", "pass"),
        ("between = [-1, 0]", "pass"),
        ("between = [0.01, 1]", "fail"),
        ("between = [-1, -0.01]", "fail"),
        ("between = [-1, -0.01], tol = 0.01", "pass"),
        ('op = "==", against = "starboard.torque_nm"', "pass"),
        ('op = ">", against = "bank.current_a"', "pass"),
        ('op = "<", against = "bank.current_a"', "fail"),
    ],
)
def test_numbers(one: One, expectation: str, verdict: str) -> None:
    """At rest the torque is 0 exactly, and the bank gives 5 A to the hotel."""
    assert one(f'expect = [{{ signal = "port.torque_nm", {expectation} }}]').verdict == verdict


@pytest.mark.parametrize(
    ("expectation", "verdict"),
    [
        ('signal = "boat.mode", value = "STANDBY"', "pass"),
        ('signal = "boat.mode", value = "READY"', "fail"),
        ('signal = "boat.mode", op = "!=", value = "READY"', "pass"),
        ('signal = "boat.mode", op = "!=", value = "STANDBY"', "fail"),
        ('signal = "boat.alarms", op = "has", value = "BANK is low"', "fail"),
        ('signal = "boat.alarms", op = "lacks", value = "low"', "pass"),
        ('signal = "boat.alarms", value = ""', "pass"),
        ('signal = "port.mode", against = "starboard.mode"', "pass"),
    ],
)
def test_words(one: One, expectation: str, verdict: str) -> None:
    assert one(f"expect = [{{ {expectation} }}]").verdict == verdict


def test_words_of_an_alarm_ignore_case(one: One) -> None:
    body = 'set.bank.soc_pct = 20\nexpect = [{ signal = "boat.alarms", op = "has", value = "BANK is" }]'
    assert one(body).verdict == "pass"
    assert one(body.replace("has", "lacks")).verdict == "fail"


def test_deadline_met_says_when(one: One) -> None:
    step = one(AHEAD + 'expect = [{ signal = "port.torque_nm", op = ">", value = 75, within_s = 0.3 }]', ready=True)
    check = step.checks[0]
    assert check.verdict == "pass"
    # half of the way after 0.3 s * ln 2 = 0.208 s: on the tick at 0.22 s (the rule acts on the tick it sees)
    assert check.at_s == pytest.approx(0.22, abs=0.021)
    assert step.length_s == pytest.approx(check.at_s), "a step ends as soon as everything is decided"


def test_deadline_missed_by_little(one: One) -> None:
    body = AHEAD + 'expect = [{ signal = "port.torque_nm", op = ">", value = 75, within_s = 0.18 }]'
    step = one(body, ready=True)
    assert step.verdict == "fail"
    assert step.checks[0].at_s == pytest.approx(0.18)
    assert step.length_s == pytest.approx(0.18)


def test_deadline_is_counted_in_whole_ticks(one: One) -> None:
    """READY comes on the first tick after the button: 0.02 s."""
    on = 'do.helm.enable = "press"\nexpect = [{ signal = "boat.mode", value = "NEUTRAL_WAIT", within_s = %s }]'
    assert one(on % "0.02").verdict == "pass"


def test_hold_after_a_deadline(one: One) -> None:
    body = AHEAD + 'expect = [{ signal = "port.torque_nm", between = [70, 100], within_s = 1, for_s = %s }]'
    # from 70 to 100 N m the lag needs 0.3 * ln(80 / 50) = 0.141 s
    assert one(body % "0.1", ready=True).verdict == "pass"


def test_hold_broken_too_early(one: One) -> None:
    body = AHEAD + 'expect = [{ signal = "port.torque_nm", between = [70, 100], within_s = 1, for_s = 0.2 }]'
    assert one(body, ready=True).verdict == "fail"


def test_hold_alone_starts_at_once(one: One) -> None:
    assert one('expect = [{ signal = "port.torque_nm", value = 0, for_s = 0.4 }]').length_s == pytest.approx(0.42)


def test_hold_alone_fails_when_it_starts_late(one: One) -> None:
    body = AHEAD + 'expect = [{ signal = "port.torque_nm", op = ">", value = 70, for_s = 0.4 }]'
    assert one(body, ready=True).verdict == "fail"


def test_always_and_its_grace(one: One) -> None:
    body = AHEAD + 'wait_s = 2\nexpect = [{ signal = "port.torque_nm", op = ">", value = 75, always = true%s }]'
    assert one(body % ", after_s = 0.3", ready=True).verdict == "pass"


def test_always_broken_says_when(one: One) -> None:
    body = AHEAD + 'wait_s = 2\nexpect = [{ signal = "port.torque_nm", op = "<", value = 75, always = true }]'
    check = one(body, ready=True).checks[0]
    assert check.verdict == "fail"
    assert check.at_s == pytest.approx(0.22, abs=0.021)


def test_never(one: One) -> None:
    body = AHEAD + 'wait_s = 2\nexpect = [{ signal = "port.torque_nm", op = ">", value = %s, never = true }]'
    check = one(body % 160, ready=True).checks[0]
    assert check.verdict == "pass"
    # after 2 s: 150 * (1 - exp(-2 / 0.3)) = 149.8, 10.2 from the bound
    assert check.closest == pytest.approx(10.2, abs=0.1)


def test_never_broken_at_the_last_moment(one: One) -> None:
    body = AHEAD + 'wait_s = 2\nexpect = [{ signal = "port.torque_nm", op = ">", value = 149.7, never = true }]'
    check = one(body, ready=True).checks[0]
    assert check.verdict == "fail"
    assert check.at_s is not None
    assert check.at_s > 1.8


@pytest.mark.parametrize("timing", ["always = true", "never = true", "within_s = 0.2", "for_s = 0.1", ""])
@pytest.mark.parametrize("op", ["==", "!=", "<", ">"])
def test_an_unknown_value_meets_nothing(one: One, timing: str, op: str) -> None:
    comma = ", " if timing else ""
    step = one(f'wait_s = 0.2\nexpect = [{{ signal = "bank.cell_max_v", op = "{op}", value = 3{comma}{timing} }}]')
    assert step.verdict == "fail"
    assert "unknown" in step.checks[0].seen


def test_an_unknown_bound_meets_nothing(one: One) -> None:
    body = 'wait_s = 0.1\nexpect = [{ signal = "bank.soc_pct", op = "<", against = "bank.cell_max_v", never = true }]'
    assert one(body).verdict == "fail"


@pytest.mark.parametrize(("bound", "verdict"), [(450, "pass"), (430, "fail")])
def test_rise(one: One, bound: float, verdict: str) -> None:
    """The steepest 0.04 s of a lag of 0.3 s to 150 N m: 150 * (1 - exp(-0.04 / 0.3)) / 0.04 = 468, less later."""
    body = AHEAD + (
        'wait_s = 1\nexpect = [{ signal = "port.torque_nm", of = "rise_per_s", over_s = 0.04, op = "<=", '
        f"value = {bound + 20}, always = true }}]"
    )
    assert one(body, ready=True).verdict == verdict


def test_fall(one: One) -> None:
    """Back from 150 N m: the mean over the first 0.5 s is 150 * (1 - exp(-0.5 / 0.3)) / 0.5 = 243.3 N m/s."""
    body = 'expect = [{ signal = "port.torque_nm", of = "fall_per_s", op = "~", value = 243, tol = 2, within_s = 0.6 }]'
    assert one(AHEAD + "wait_s = 5", ready=True).verdict == "pass"
    assert one("do.port.lever_pct = 0\n" + body).verdict == "pass"


def test_magnitude_and_change(one: One) -> None:
    body = 'wait_s = 3\nexpect = [{ signal = "port.torque_nm", of = "%s", op = "%s", value = %s }]'
    assert one("do.port.lever_pct = -50\n" + body % ("magnitude", ">", 149), ready=True).verdict == "pass"
    assert one("do.port.lever_pct = 0\n" + body % ("change", ">", 149)).verdict == "pass"


def test_a_watch_that_never_looked_is_no_pass(one: One) -> None:
    """The deadline is met on the first tick, long before the grace of the other is over."""
    body = (
        'expect = [{ signal = "boat.mode", value = "STANDBY", within_s = 1 }, '
        '{ signal = "port.torque_nm", value = 7, never = true, after_s = 5 }]'
    )
    checks = one(body).checks
    assert [check.verdict for check in checks] == ["pass", "fail"]
    assert checks[1].seen == "not observed"


def test_rate_too_short_a_step(one: One) -> None:
    assert one('expect = [{ signal = "port.torque_nm", of = "rise_per_s", op = "<", value = 9 }]').verdict == "fail"


def test_explain(one: One) -> None:
    ahead = "do.port.lever_pct = 20\nwait_s = 0.1\n"
    assert one(ahead + 'expect = [{ explain = "enable", says = "PORT lever" }]').verdict == "pass"
    assert one(ahead + 'expect = [{ explain = "enable", says = "starboard" }]').verdict == "fail"
    neutral = 'do.port.lever_pct = 0\nexpect = [{ explain = "enable", says = "nothing is missing", within_s = 1 }]'
    assert one(neutral).verdict == "pass"


def test_events(one: One) -> None:
    pressed = 'do = { port.lever_pct = 20, helm.enable = "press" }\nwait_s = 0.3\nexpect = [{ %s }]'
    assert one(pressed % 'event = "refusal", says = "port LEVER"').verdict == "pass"


@pytest.mark.parametrize(
    ("expectation", "verdict"),
    [
        ('event = "trip", subject = "boat"', "fail"),
        ('event = "mode", says = "lost", never = true', "pass"),
        ('event = "mode", says = "NEUTRAL", within_s = 0.02', "pass"),
        ('says = "NEUTRAL", within_s = 0.02', "pass"),
        ('event = "mode", subject = "boat", never = true', "fail"),
        ('event = "mode", subject = "boat", never = true, after_s = 0.1', "pass"),
        ('event = "refusal", says = "starboard", within_s = 0.5', "fail"),
    ],
)
def test_more_events(one: One, expectation: str, verdict: str) -> None:
    body = f'do = {{ port.lever_pct = 20, helm.enable = "press" }}\nwait_s = 0.3\nexpect = [{{ {expectation} }}]'
    assert one(body).verdict == verdict


def test_events_of_earlier_steps_do_not_count(run: Callable[[str], Result]) -> None:
    result = run(
        '[[step]]\nname = "a"\ndo = { port.lever_pct = 20, helm.enable = "press" }\nwait_s = 0.3\n'
        '[[step]]\nname = "b"\nwait_s = 0.3\nexpect = [{ event = "refusal" }]\n'
    )
    assert result.steps[1].verdict == "fail"


def test_refused_action_names_step_and_target(run: Callable[[str], Result], rig: TinyRig) -> None:
    with pytest.raises(Exception, match=r"test.toml: step 1, do, port.lock: port has no shaft lock"):
        run('[[step]]\nname = "a"\ndo.port.lock = "engage"\n')


@pytest.mark.parametrize(
    ("expect", "words"),
    [
        ('{ explain = "port FLY", says = "x" }', "unknown question 'port FLY'; did you mean port"),
        ('{ explain = "prot PROPEL", says = "x" }', "unknown question 'prot PROPEL'; did you mean port PROPEL"),
        ('{ event = "trip", subject = "prot", never = true }', "unknown subject 'prot'; did you mean port?"),
    ],
)
def test_a_misspelled_question_or_subject_is_refused(rig: TinyRig, expect: str, words: str) -> None:
    """`never` with a subject that does not exist would pass for good."""
    procedure = parse_procedure(f'title = "t"\n[[step]]\nname = "s"\nwait_s = 1\nexpect = [{expect}]\n', "p")
    with pytest.raises(BenchError, match="step 1, expect 1: ") as caught:
        run_procedure(rig, procedure, NullSink())
    assert words in str(caught.value)
