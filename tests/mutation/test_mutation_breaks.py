"""The trial of the tests that docs/safety.md names: each break finds its place, was tried, and was noticed.

A small sample is tried anew in each run; `-m campaign` tries them all and compares with what is kept.
"""

from collections import Counter
from pathlib import Path

import pytest
from breaks import BREAKS, Break
from trial import ROOT, Seen, copied, known_so_far, patched, sound_first, try_all, try_break

from sim.prove.evidence import Trial, telling, trials, weights
from sim.requirements import REGISTER

KEPT = known_so_far()
TRIALS = trials(ROOT / "tests")
NAMED = {identifier: telling(made, weights(TRIALS)) for identifier, made in TRIALS.items()}
SAMPLE = BREAKS[:: len(BREAKS) // 3]
AGAIN = "run: python tests/mutation/trial.py --new --write"


@pytest.fixture(scope="module")
def copy(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return copied(tmp_path_factory.mktemp("copy"))


@pytest.mark.parametrize("one", BREAKS, ids=lambda one: f"{one.requirement} {one.broken}")
def test_a_break_finds_its_place_and_changes_it(one: Break) -> None:
    sound = (ROOT / one.file).read_text(encoding="utf-8")
    broken = patched(one, sound)
    assert compile(broken, one.file, "exec").co_code is not None
    assert broken != sound


def test_each_requirement_is_tried_in_ways_of_its_own() -> None:
    assert {one.requirement for one in BREAKS} == {one.id for one in REGISTER}
    assert min(Counter(one.requirement for one in BREAKS).values()) >= 2
    twice = [key for key, number in Counter((one.requirement, one.broken) for one in BREAKS).items() if number > 1]
    assert twice == []


def test_what_is_kept_is_what_is_tried() -> None:
    kept = {(requirement, broken) for requirement, breaks in KEPT.items() for broken in breaks}
    assert kept == {(one.requirement, one.broken) for one in BREAKS}, AGAIN
    assert [place for place in sorted(kept) if not KEPT[place[0]][place[1]]] == [], "nobody noticed"


def test_the_fewest_tests_are_named_that_noticed_all() -> None:
    made = [Trial("a", ("x", "y")), Trial("b", ("y", "z")), Trial("c", ("z",)), Trial("d", ())]
    assert telling(made) == ["y", "z"]
    assert telling(made, {"z": 2}) == ["z", "x"]
    assert telling([]) == []


def test_a_place_that_is_not_there_or_there_twice_is_told() -> None:
    for text in ("nothing", "two two"):
        with pytest.raises(ValueError, match=r"'two' stands \d times in a\.py"):
            patched(Break("SR-01", "it", "a.py", "two", "one"), text)


def test_a_change_that_breaks_nothing_is_not_noticed(copy: Path) -> None:
    harmless = Break("SR-44", "a comment", "supervisor/rules/boat_word.py", '"""', '"""')
    assert try_break(copy, harmless._replace(old="    word = 0\n", new="    word = 0  # nothing\n")) == Seen((), ())


def test_code_that_only_raises_is_not_noticed(copy: Path) -> None:
    lost = Break("SR-44", "a name", "supervisor/rules/boat_word.py", "    word = 0\n", "    word = nothing\n")
    seen = try_break(copy, lost)
    assert seen.noticed == ()
    assert seen.crashed


def test_a_sample_is_noticed(copy: Path) -> None:
    """By the very tests that are named."""
    for one, seen in zip(SAMPLE, try_all([copy], SAMPLE), strict=True):
        named = set(NAMED[one.requirement])
        assert set(seen.noticed) & named, f"{one.requirement}, {one.broken}: noticed by {seen}"


@pytest.mark.campaign
def test_every_break_is_noticed_by_tests_that_are_named(copy: Path) -> None:
    sound_first(copy, sorted({one.requirement for one in BREAKS}))
    missed = []
    for one, seen in zip(BREAKS, try_all([copy], BREAKS), strict=True):
        named = set(NAMED[one.requirement])
        if not set(seen.noticed) & named:
            missed.append(f"{one.requirement}, {one.broken}: {seen}")
    assert missed == []
