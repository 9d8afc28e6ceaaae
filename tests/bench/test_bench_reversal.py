"""The crash stop on the simulated boats: astern in time where the bank takes it, and said beforehand where not.

Numbers typed by hand: 110 N m, 250 N m/s and 0.5 s of dwell on both boats; 260 A into marsh_tern's bank at most.
"""

from pathlib import Path

import pytest

from sim.bench.reversal import BOATS, CASES, Case, Reversal, main, page, reversal, soonest_s
from supervisor.config import load_config

BY_WORDS = {case.words: case for case in CASES}
IN_TIME = ("SOC 60 %", "SOC 95 %", "SOC unknown", "cells at 5 degC")


@pytest.mark.sr("SR-51", "SR-52")
@pytest.mark.parametrize("words", IN_TIME)
def test_half_of_rated_torque_within_two_seconds(words: str) -> None:
    seen = reversal("marsh_tern", BY_WORDS[words])
    assert seen.half_s is not None
    assert seen.half_s <= 2.0
    assert seen.bank_a < 260.0
    assert seen.cell_v < 3.55


@pytest.mark.sr("SR-52")
@pytest.mark.parametrize("boat", BOATS)
@pytest.mark.parametrize("words", ["SOC 100 %", "cells at -2 degC", "charge permit withdrawn"])
def test_where_it_is_short_it_is_said_beforehand(boat: str, words: str) -> None:
    seen = reversal(boat, BY_WORDS[words])
    assert seen.told
    assert seen.half_s is None or seen.half_s > 2.0


@pytest.mark.sr("SR-13")
def test_nothing_goes_into_a_bank_that_forbids_it() -> None:
    assert reversal("marsh_tern", BY_WORDS["charge permit withdrawn"]).bank_a < 1.0


def test_what_slew_and_dwell_allow() -> None:
    """110 N m down and 55 N m up at 250 N m/s, and half a second between."""
    assert soonest_s(load_config("marsh_tern").shaft[0]) == pytest.approx(1.16)


def test_the_page_shows_each_case_of_each_boat(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    def measured(_boat: str | Path, case: Case, _plant: object = None) -> Reversal:
        return Reversal(1.2 if case.soc_pct < 100.0 else None, 25.0, 90.0, 80.0, 3.4, case.soc_pct == 100.0)

    text = page(measured)
    for boat in BOATS:
        assert f"## {boat}" in text
    assert text.count("| SOC 100 % | none | 90 N m | 25.0 s | 80 A | 3.40 V | yes |") == 2
    shipped = (Path(__file__).resolve().parents[2] / "docs" / "astern.md").read_text(encoding="utf-8")
    for line in text.splitlines():
        if not line.startswith("| ") or "| bank |" in line or "---" in line:
            assert line in shipped, "renew: python -m sim.bench.reversal docs/astern.md"
    assert [row.split("|")[1] for row in shipped.splitlines() if row.startswith("| ")] == [
        row.split("|")[1] for row in text.splitlines() if row.startswith("| ")
    ]
    assert main([]) == 2
    assert main([str(tmp_path / "no such folder" / "page.md")]) == 2
    assert "cannot be written" in capsys.readouterr().err
