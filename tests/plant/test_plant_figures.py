"""The pictures and the parameter table of docs/plant.md come from a command."""

import re
from pathlib import Path

from sim.plant.figures import FIGURES
from sim.plant.figures.__main__ import main

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
    assert "| `bank.capacity_ah` | 520 | A h | 50 to 2000 |" in table
    written = (ROOT / "docs" / "plant" / "parameters.md").read_text()
    assert table == written, "not current: python -m sim.plant.figures"


def test_the_documentation_shows_every_figure():
    shown = set(re.findall(r"\(plant/(\w+)\.png\)", (ROOT / "docs" / "plant.md").read_text()))
    assert shown == set(FIGURES)
    for name in FIGURES:
        assert (ROOT / "docs" / "plant" / f"{name}.png").exists()
