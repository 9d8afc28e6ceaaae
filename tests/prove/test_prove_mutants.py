"""Every mutant of the tables is refused at import, killed by the proof, or no change at all."""

import random
from pathlib import Path

import pytest

from sim.prove.mutate import Fate, fate, main, mutants, same_table
from supervisor.config import load_config
from supervisor.controller.controller import freeze
from supervisor.modes import BOAT_TABLE, SHAFT_TABLE, BoatMode, ShaftCondition, ShaftMode

BOAT = freeze(load_config("marsh_tern"))
TABLES = {"boat": (BOAT_TABLE, BoatMode), "shaft": (SHAFT_TABLE, ShaftMode)}


def survivors(fates: list[Fate]) -> list[str]:
    return [one.mutant.text for one in fates if not one.by]


def test_each_kind_of_mutant_is_made() -> None:
    made = list(mutants(SHAFT_TABLE, ShaftMode))
    kinds = {one.kind for one in made}
    assert kinds == {"drop", "add", "swap", "dest", "mark"}
    assert len(made) > 7_000
    assert all(one.rows != SHAFT_TABLE for one in made)
    asked = sum(int(row.must | row.must_not).bit_count() for row in SHAFT_TABLE)
    assert sum(one.kind == "drop" for one in made) == asked
    assert sum(one.kind == "add" for one in made) == 2 * (len(ShaftCondition) * len(SHAFT_TABLE) - asked)
    assert sum(one.kind == "dest" for one in made) == 5 * len(SHAFT_TABLE)


def test_the_boat_table_has_no_survivor() -> None:
    fates = [fate(one, BoatMode, BOAT) for one in mutants(BOAT_TABLE, BoatMode)]
    assert survivors(fates) == []


def test_a_sample_of_the_shaft_table_has_no_survivor() -> None:
    """Twenty drops, destinations, marks and swaps, and 8 additions; the rest is a campaign."""
    rng = random.Random(4)
    made = list(mutants(SHAFT_TABLE, ShaftMode))
    some = rng.sample([one for one in made if one.kind != "add"], 20)
    some += rng.sample([one for one in made if one.kind == "add"], 8)
    fates = [fate(one, ShaftMode, BOAT) for one in some]
    assert survivors(fates) == []
    assert sum(one.by == "proof" for one in fates) > len(fates) / 2


@pytest.mark.campaign
def test_the_shaft_table_has_no_survivor(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["shaft"]) == 0
    assert "SURVIVES" not in capsys.readouterr().out


def test_equivalent_is_shown_not_assumed() -> None:
    """A table is the same as itself, and not the same as one that differs in a single word."""
    assert same_table(SHAFT_TABLE, SHAFT_TABLE, ShaftMode)
    changed = list(SHAFT_TABLE)
    number = next(i for i, row in enumerate(changed) if row.source == ShaftMode.ISOLATED)
    changed[number] = changed[number]._replace(must=changed[number].must | ShaftCondition.IN_SERVICE)
    assert not same_table(SHAFT_TABLE, changed, ShaftMode)


def test_bad_usage_has_status_2(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["engine"]) == 2
    assert "a table is boat or shaft" in capsys.readouterr().err


def test_the_list_can_be_written(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    page = tmp_path / "mutants.md"
    assert main(["boat", "--write", str(page)]) == 0
    assert "## Boat table" in page.read_text(encoding="utf-8")
    assert capsys.readouterr().out.startswith("boat table: ")
    assert main(["boat", "--write", str(tmp_path / "no such folder" / "mutants.md")]) == 2
    assert "No such file" in capsys.readouterr().err


def test_the_shipped_list_names_no_survivor() -> None:
    """It is written by the campaign; here only what it says, and that it is for tables of this size or says not."""
    page = (Path(__file__).resolve().parents[2] / "docs" / "matrix" / "table-mutants.md").read_text(encoding="utf-8")
    assert "SURVIVES" not in page
    if "Written for the tables before" in page:
        return  # it says of itself that it is to be renewed: about four hours of one core
    for rows, modes in TABLES.values():
        assert f"{sum(1 for _ in mutants(rows, modes))} mutants: " in page
