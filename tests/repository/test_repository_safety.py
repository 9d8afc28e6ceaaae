"""docs/safety.md and what it is made from: a requirement has rule, test and trial, a hazard an answer or a duty."""

import re
from importlib import import_module
from pathlib import Path

import pytest

from sim.prove.evidence import is_marked, marked_tests, telling, trials, weights
from sim.prove.hazard_page import NOTHING, met_by
from sim.prove.page import HANDFUL, renewed, tables
from sim.requirements import HAZARDS, REGISTER, Hazard, Requirement
from sim.requirements.model import Exposure, Severity, row_numbers, rule

ROOT = Path(__file__).resolve().parents[2]
TESTS = ROOT / "tests"
PAGE = (ROOT / "docs" / "safety.md").read_text(encoding="utf-8")
MARKED = marked_tests(TESTS)
TRIALS = trials(TESTS)
WHO = ("Installer: ", "Skipper: ", "Crew: ", "Owner: ", "Everybody: ", "Whoever works: ", "Whoever tests: ",
       "Licensed practitioner only: ")  # fmt: skip
ALL = pytest.mark.parametrize("one", REGISTER, ids=lambda one: one.id)
EACH = pytest.mark.parametrize("hazard", HAZARDS, ids=lambda hazard: hazard.id)


# ---- hazards


@EACH
def test_a_hazard_is_met_or_says_whose_duty_it_is(hazard: Hazard) -> None:
    assert met_by(hazard) or hazard.duty
    assert not hazard.duty or hazard.duty.startswith(WHO)
    assert hazard.situation.endswith(".")
    assert isinstance(hazard.severity, Severity)
    assert isinstance(hazard.exposure, Exposure)


@EACH
def test_a_hazard_names_checks_that_exist(hazard: Hazard) -> None:
    for check in hazard.checks:
        module, _, name = check.name.rpartition(".")
        assert hasattr(import_module(module), name), check.name


def test_both_scales_are_used_from_end_to_end() -> None:
    assert {hazard.severity for hazard in HAZARDS} == set(Severity)
    assert {hazard.exposure for hazard in HAZARDS} == set(Exposure)
    for step in (*Severity, *Exposure):
        assert f"| {step.value} {step.name.lower()} | {step.words} |" in PAGE


@pytest.mark.parametrize("word", [
    "rope", "fire", "hydrogen", "arc", "flooding", "stray current", "interference", "control supply", "wrong boat file",
    "updated", "remote access", "second helm", "shaft that can turn", "tow", "children", "stand-in",
])  # fmt: skip
def test_what_surveyors_ask_for_is_on_the_list(word: str) -> None:
    assert [hazard.id for hazard in HAZARDS if word in hazard.title]


def test_what_nothing_in_the_program_meets_is_said_to_be_so() -> None:
    unmet = [hazard.id for hazard in HAZARDS if not met_by(hazard)]
    assert unmet
    for identifier in unmet:
        row = next(line for line in PAGE.splitlines() if line.startswith(f"| {identifier} "))
        assert row.endswith(f"| {NOTHING} |")


def test_requirements_name_hazards_that_exist() -> None:
    known = {hazard.id for hazard in HAZARDS}
    assert [hazard.id for hazard in HAZARDS] == sorted(known)
    for one in REGISTER:
        assert one.hazards
        assert set(one.hazards) <= known


# ---- requirements


@ALL
def test_a_requirement_has_rules_and_rows_that_exist(one: Requirement) -> None:
    assert one.rules
    for name in one.rules:
        assert callable(rule(name)), name
    for pattern in one.rows:
        assert any(row_numbers(pattern)), f"{pattern}: no such row"
    assert one.margin
    assert one.unit
    assert one.installer


@ALL
def test_a_requirement_has_tests_that_noticed_when_its_rules_were_broken(one: Requirement) -> None:
    made = TRIALS.get(one.id, [])
    assert made, f"{one.id} was never tried: python tests/mutation/trial.py --only {one.id} --write"
    for trial in made:
        assert trial.tests, f"{one.id}: nobody noticed that {trial.broken}"
    for test in telling(made, weights(TRIALS))[:HANDFUL]:
        assert is_marked(MARKED, one.id, test), f"{test} is not marked @pytest.mark.sr({one.id!r})"
        assert f"`{test}`" in PAGE


def test_marks_and_trials_name_requirements_that_exist() -> None:
    known = {one.id for one in REGISTER}
    assert set(MARKED) <= known
    assert set(TRIALS) <= known


def test_tests_that_are_named_exist() -> None:
    for identifier, made in TRIALS.items():
        for test in {test for trial in made for test in trial.tests}:
            file, *names = test.split("::")
            text = (ROOT / file).read_text(encoding="utf-8")
            assert re.search(rf"^(class|def) {names[0]}\b", text, re.MULTILINE), f"{identifier}: {test}"


# ---- the page


def test_the_page_is_current() -> None:
    assert renewed(PAGE, tables(TESTS)) == PAGE, "run: python -m sim.prove.page docs/safety.md"


def test_the_page_says_what_must_be_said() -> None:
    for words in (
        "not a certified safety system", "Local codes and a licensed practitioner decide",
        "An independent hardware emergency stop is required", "no level of safety integrity",
    ):  # fmt: skip
        assert words in PAGE


@pytest.mark.parametrize(
    "claim", [r"\bSIL ?[1-4]\b", r"\bPL ?[a-e]\b", r"\bASIL ?[A-D]\b", r"\bcomplian", r"\bconforms"]
)
def test_no_level_and_no_conformity_is_claimed(claim: str) -> None:
    for path in (ROOT / "docs" / "safety.md", ROOT / "README.md"):
        assert not re.search(claim, path.read_text(encoding="utf-8")), f"{path.name}: {claim}"


def test_a_link_within_the_page_leads_somewhere() -> None:
    headings = re.findall(r"^#+ (.+)$", PAGE, re.MULTILINE)
    anchors = {re.sub(r"[^\w\- ]", "", text.lower()).replace(" ", "-") for text in headings}
    assert set(re.findall(r"\]\(#([^)]+)\)", PAGE)) <= anchors
