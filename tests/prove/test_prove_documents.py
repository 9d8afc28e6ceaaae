"""The register is whole, and what is generated from it and from the tables is current."""

from pathlib import Path
from xml.etree import ElementTree

import pytest

from sim.prove.matrix import matrix_files
from sim.prove.page import main
from sim.requirements import JUDGES, REGISTER
from sim.requirements.model import row_numbers, rule
from supervisor.config import load_config, shipped_boats
from supervisor.controller.controller import freeze

ROOT = Path(__file__).resolve().parents[2]


def test_a_wrong_pattern_or_rule_is_noticed() -> None:
    with pytest.raises(ValueError, match="no pattern"):
        row_numbers("boot READY>TRIPPED")
    assert row_numbers("shaft GENERATE>PROPEL") == ([], [])
    with pytest.raises(AttributeError):
        rule("rules.torque.no_such_rule")


def test_units_are_the_judges_units() -> None:
    units = {one.id: one.unit for one in REGISTER}
    assert {judge.identifier: judge.unit for judge in JUDGES} == {j.identifier: units[j.identifier] for j in JUDGES}


@pytest.mark.parametrize("boat", shipped_boats())
def test_sentences_take_the_numbers_of_each_boat(boat: str) -> None:
    frozen = freeze(load_config(boat))
    if not frozen.shafts:
        pytest.skip("a boat without shafts has no requirements of motion")
    for one in REGISTER:
        assert "{" not in one.sentence(frozen)


def test_the_numbers_are_those_of_the_file() -> None:
    """Typed by hand from configs/marsh_tern.toml and the defaults in docs/boat-file.md."""
    frozen = freeze(load_config("marsh_tern"))
    sentences = {one.id: one.sentence(frozen) for one in REGISTER}
    assert "for 0.5 s" in sentences["SR-01"]
    assert "full 208 A; falling from 88 to 94 % SOC" in sentences["SR-15"]
    assert "at most 104 A up to 10 degC" in sentences["SR-15"]
    assert "more than 5.5 N m, or 5 A" in sentences["SR-32"]
    assert "1300 rpm" in sentences["SR-42"]


def test_the_command_checks_and_mends(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "docs").mkdir()
    (tmp_path / "tests").mkdir()
    page = tmp_path / "docs" / "safety.md"
    marks = [f"<!-- {edge}:{name} (written by python -m sim.prove.page) -->" for name in ("hazards", "requirements")
             for edge in ("begin", "end")]  # fmt: skip
    page.write_text("# Safety\n\n" + "\n".join(marks) + "\n", encoding="utf-8")
    assert main([str(page), "--check"]) == 1
    assert main([str(page)]) == 0
    assert main([str(page), "--check"]) == 0
    assert "| H-01 " in page.read_text(encoding="utf-8")
    page.write_text("# Safety\n", encoding="utf-8")
    assert main([str(page)]) == 2
    assert "has no place for 'hazards'" in capsys.readouterr().err


@pytest.mark.parametrize("name", sorted(matrix_files()))
def test_the_matrix_is_current(name: str) -> None:
    path = ROOT / "docs" / "matrix" / name
    assert path.read_text(encoding="utf-8") == matrix_files()[name], "run: thwart prove marsh_tern --matrix docs/matrix"


@pytest.mark.parametrize("name", ["boat.svg", "shaft.svg"])
def test_the_diagrams_are_sound_pictures(name: str) -> None:
    root = ElementTree.fromstring(matrix_files()[name])  # noqa: S314 - our own text
    assert root.tag.endswith("svg")
    width, height = (float(x) for x in root.attrib["viewBox"].split()[2:])
    for box in root.iter("{http://www.w3.org/2000/svg}rect"):
        x, y = float(box.attrib.get("x", 0)), float(box.attrib.get("y", 0))
        assert 0 <= x <= x + float(box.attrib["width"]) <= width
        assert 0 <= y <= y + float(box.attrib["height"]) <= height


def test_every_row_is_in_the_matrix() -> None:
    from supervisor.modes import BOAT_TABLE, SHAFT_TABLE

    for name, rows in (("boat.md", BOAT_TABLE), ("shaft.md", SHAFT_TABLE)):
        text = matrix_files()[name]
        for number, row in enumerate(rows):
            assert f"\n| {number} | " in text
            assert row.words in text
