"""The sampler itself, and, with `-m campaign` since it is long, a fresh sample of the rules and the controller."""

import math
from collections import Counter

import pytest
from judge import crashed_in_ours
from mutants import Mutant, Source, rule, same_program
from sample import Learnt, Outcome, Result, draw, report, run, wilson

from supervisor.controller import name_bits
from supervisor.rules.bank import falling

CODE = """\
def f(known: int | None, lever: Lever) -> float | None:
    if known & SOC != 0 and lever.lost == 1:
        return 2.0 * known + 1.0
    if known & (SOC | CURRENT) == 0 or mode == SHAFT_REST:
        return known | SOC
    if soc_pct < least_pct:
        least_pct = soc_pct
    if not soc_pct <= 9.0:
        least_pct = soc_pct
    if known & needed != needed or known & needed == NEEDED:
        return soc_pct == 1
"""


def left_out(symbol: str, change: str, line: int, occurrence: int = 0) -> str:
    """The rule that leaves out one change of CODE, at the n-th `symbol` of a line."""
    text = CODE.splitlines()[line - 1]
    column = -1
    for _ in range(occurrence + 1):
        column = text.index(symbol, column + 1)
    kind = "Comparison" if symbol in ("==", "!=", "<", "<=") else "Binary"
    place, end = (line, column), (line, column + len(symbol))
    return rule(Mutant("m.py", f"core/Replace{kind}Operator_{change}", 0, place, end, "f"), Source(CODE))


@pytest.mark.parametrize(("symbol", "change", "line", "occurrence", "why"), [
    ("|", "BitOr_Sub", 1, 0, "annotation"), ("|", "BitOr_Sub", 1, 1, "annotation"), ("|", "BitOr_Sub", 5, 0, ""),
    ("!=", "NotEq_Gt", 2, 0, "mask"), ("!=", "NotEq_GtE", 2, 0, ""), ("!=", "NotEq_Eq", 2, 0, ""),
    ("==", "Eq_LtE", 4, 0, "mask"), ("==", "Eq_GtE", 4, 0, ""), ("==", "Eq_Is", 4, 0, "identity"),
    ("==", "Eq_GtE", 2, 0, "flag"), ("==", "Eq_LtE", 2, 0, ""), ("==", "Eq_GtE", 11, 0, ""),
    ("<", "Lt_LtE", 6, 0, "limit"), ("<", "Lt_Gt", 6, 0, ""), ("<=", "LtE_Lt", 8, 0, ""),
    ("!=", "NotEq_Lt", 10, 0, "mask"), ("!=", "NotEq_Gt", 10, 0, ""), ("==", "Eq_GtE", 10, 0, ""),
    ("==", "Eq_LtE", 4, 1, "end"), ("==", "Eq_GtE", 4, 1, ""),
    ("|", "BitOr_Add", 4, 0, "disjoint"), ("|", "BitOr_Add", 5, 0, ""), ("|", "BitOr_BitAnd", 4, 0, ""),
    ("*", "Mul_BitOr", 3, 0, "stillborn"), ("*", "Mul_Div", 3, 0, ""), ("&", "BitAnd_LShift", 2, 0, "stillborn"),
    ("&", "BitAnd_Pow", 2, 0, "stillborn"), ("+", "Add_Sub", 3, 0, ""),
])  # fmt: skip
def test_what_says_nothing_is_left_out_and_nothing_else(
    symbol: str, change: str, line: int, occurrence: int, why: str
) -> None:
    assert left_out(symbol, change, line, occurrence) == why


def test_a_change_that_is_none_to_the_interpreter() -> None:
    assert same_program("a = 1 << 1\n", "a = 1 + 1\n")
    assert same_program("def f() -> None:\n    a: int = 1\n", "def f() -> None:\n\n    a: float = 1\n")
    assert not same_program("a = 1 << 2\n", "a = 1 + 2\n")
    assert not same_program("def f():\n    return 1\n", "def f():\n    return 1.0\n")


@pytest.mark.parametrize(
    ("good", "of", "low", "high"), [(81, 263, 0.2553, 0.3662), (15, 148, 0.0624, 0.1605), (0, 20, 0.0, 0.1611)]
)
def test_the_interval(good: int, of: int, low: float, high: float) -> None:
    """Newcombe, Statistics in Medicine 17 (1998), 857, table I (score method without continuity correction), from
    memory."""
    assert wilson(good, of) == pytest.approx((low, high), abs=5e-5)
    assert wilson(0, 0) == (0.0, 1.0)


def test_code_that_only_raises_is_crashed_a_failed_expectation_is_not() -> None:
    with pytest.raises(TypeError) as accident:
        falling("warm", 1.0, 2.0)  # type: ignore[arg-type]
    assert crashed_in_ours(accident.value)
    with pytest.raises(AssertionError) as failed:
        assert name_bits(0, []) == ["OFF"]  # type: ignore[arg-type]
    assert not crashed_in_ours(failed.value)
    assert crashed_in_ours(ExceptionGroup("", [accident.value]))
    assert not crashed_in_ours(ExceptionGroup("", [accident.value, failed.value]))


def test_likely_killers_come_first() -> None:
    learnt = Learnt({"a[1]": 1.0, "a[2]": 2.0, "b": 3.0, "c": 0.5}, {"m.py:7": [0, 1, 2]}, 7.0)
    assert learnt.order("m.py:7", []) == ["a[1]", "b", "a[2]", "c"]
    assert learnt.order("m.py:8", ["b"]) == ["b", "c", "a[1]", "a[2]"]


def test_a_larger_draw_goes_on_where_a_smaller_one_ended() -> None:
    mutants = [Mutant("m.py", "core/AddNot", number, (1, 0), (1, 1), "") for number in range(300)]
    row = draw(mutants, 300, 5)
    assert sorted(row) == mutants
    assert row != mutants
    assert draw(mutants, 20, 5) == row[:20]
    assert draw(mutants, 20, 6) != row[:20]
    assert len(draw(mutants, 1000, 5)) == 300


def test_the_crashed_are_no_part_of_the_score() -> None:
    kinds = ["killed"] * 3 + ["survived"] + ["crashed"] * 6
    outcomes = [Outcome(f"{n}", kind, "m.py:1", "x -> y", "", 1.0) for n, kind in enumerate(kinds)]
    result = Result(outcomes, 20, Counter(flag=8), 2)
    text = report(result)
    assert "score 75.0 %" in text
    assert "20 mutants in all, 8 left out by rule (flag 8)" in text
    assert "12 drawn, 2 of them no change" in text
    assert math.isclose(wilson(3, 4)[0], 0.3006, abs_tol=5e-5)


@pytest.mark.campaign
def test_a_sample_of_mutants_is_killed() -> None:
    """At least 95 of 100; what survives is read, and listed with its reason in tests/mutation/survivors.md."""
    result = run(count=150, seed=7, jobs=2)
    assert result.total > 5000
    assert result.count("crashed") < 15
    assert result.count("killed") >= 19 * result.count("survived"), report(result)
