"""The pictures and the parameter table of docs/plant.md come from a command."""

import re
from pathlib import Path
from typing import get_args

from pydantic import BaseModel

from sim.plant.figures import FIGURES
from sim.plant.figures.__main__ import main
from sim.plant.figures.parameters import TABLES
from sim.plant.meanings import MEANINGS
from sim.plant.schema import PlantConfig

ROOT = Path(__file__).parents[2]


def test_every_figure_is_drawn(tmp_path, capsys):
    assert main([str(tmp_path), str(ROOT / "configs" / "plants")]) == 0
    printed = capsys.readouterr().out.splitlines()
    assert len(printed) == len(FIGURES) + 1
    for name in FIGURES:
        picture = (tmp_path / f"{name}.png").read_bytes()
        assert picture.startswith(b"\x89PNG")
        assert len(picture) > 10_000
    table = (tmp_path / "parameters.md").read_text()
    assert "| `capacity_ah` | rated capacity of the whole bank | A h | required | 50 to 2000 | 520 |" in table
    assert "| `torque_rpm` | points of the full-load curve: speeds |" in table
    assert "| `ocv_cell_v` | points of the open-circuit curve: voltage of a cell at rest |" in table
    assert "| `r0_mohm` |" in table
    written = (ROOT / "docs" / "plant" / "parameters.md").read_text()
    assert table == written, "not current: python -m sim.plant.figures"


def test_each_key_of_a_plant_file_has_a_meaning():
    for table, (schema, _title) in TABLES.items():
        own = {key for key, field in schema.model_fields.items() if key != "name" and not _nested(field)}
        assert set(MEANINGS[table]) == own, table


def _nested(field):
    return any(isinstance(part, type) and issubclass(part, BaseModel) for part in get_args(field.annotation))


def test_the_page_lists_each_table_of_a_plant_file():
    def tables(schema, prefix=""):
        for key, field in schema.model_fields.items():
            for part in (field.annotation, *get_args(field.annotation)):
                if isinstance(part, type) and issubclass(part, BaseModel):
                    yield prefix + key
                    yield from tables(part, f"{prefix}{key}.")

    assert set(TABLES) == set(tables(PlantConfig)) - {"shaft"}


def test_the_documentation_shows_every_figure():
    shown = set(re.findall(r"\(plant/(\w+)\.png\)", (ROOT / "docs" / "plant.md").read_text()))
    assert shown == set(FIGURES)
    for name in FIGURES:
        assert (ROOT / "docs" / "plant" / f"{name}.png").exists()
