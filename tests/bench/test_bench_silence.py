"""No node that falls silent under way takes electric thrust and the start of an engine as well."""

from functools import cache
from pathlib import Path

import pytest

from sim.bench.silence import BOATS, Left, main, page, silence, silent_nodes

EACH = [(boat, node) for boat in BOATS for node in silent_nodes(boat)]


@cache
def tried(boat: str, node: str) -> Left:
    return silence(boat, node)


@pytest.mark.sr("SR-37")
@pytest.mark.parametrize(("boat", "node"), EACH)
def test_no_silent_node_takes_both(boat: str, node: str) -> None:
    left = tried(boat, node)
    assert left.thrust or left.engines, left


def test_the_page_is_current(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    shipped = (Path(__file__).resolve().parents[2] / "docs" / "silence.md").read_text(encoding="utf-8")
    assert page(tried) == shipped, "run: python -m sim.bench.silence docs/silence.md"
    assert main([]) == 2
    assert main([str(tmp_path / "no such folder" / "page.md")]) == 2
    assert "cannot be written" in capsys.readouterr().err
