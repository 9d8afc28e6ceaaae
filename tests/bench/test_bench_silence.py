"""No node that falls silent under way takes electric thrust and the start of an engine as well."""

from functools import cache
from pathlib import Path

import pytest

from sim.bench.silence import BOATS, SUPERVISOR, Left, main, page, silence, silent_nodes
from sim.rig.simulated import SimRig

EACH = [(boat, node) for boat in BOATS for node in silent_nodes(boat)]


@cache
def tried(boat: str, node: str) -> Left:
    return silence(boat, node)


@pytest.mark.sr("SR-37")
@pytest.mark.parametrize(("boat", "node"), EACH)
def test_no_silent_node_takes_both(boat: str, node: str) -> None:
    left = tried(boat, node)
    if node == SUPERVISOR:
        assert left.thrust == left.engines == ()
        assert left.bridged, left
    else:
        assert left.thrust or left.engines, left


@pytest.mark.sr("SR-37")
@pytest.mark.parametrize("boat", BOATS)
def test_the_bridge_goes_round_neither_gearbox_nor_diver(boat: str) -> None:
    """The guarded switch across the supervisor's permit: the start circuit's own contacts stay in series."""
    rig = SimRig(boat)
    try:
        rig.run(1.0)
        rig.supervisor_dead = True
        for name in rig.shafts:
            rig.act(f"{name}.start_bridge", True)
            rig.act(f"{name}.gear", "ahead")
        rig.run(3.0)
        for do, undo in ((("gear", "ahead"), ("gear", "neutral")), (("diver", True), ("diver", False))):
            for name in rig.shafts:
                rig.act(*(("helm.diver_lockout", do[1]) if do[0] == "diver" else (f"{name}.{do[0]}", do[1])))
                rig.act(f"{name}.engine", "start")
            rig.run(5.0)
            assert all(float(rig.signals()[f"{name}.engine_rpm"]) < 50.0 for name in rig.shafts)
            for name in rig.shafts:
                rig.act(*(("helm.diver_lockout", undo[1]) if do[0] == "diver" else (f"{name}.{undo[0]}", undo[1])))
            rig.run(3.0)
        for name in rig.shafts:
            rig.act(f"{name}.engine", "start")
        rig.run(5.0)
        assert all(float(rig.signals()[f"{name}.engine_rpm"]) > 500.0 for name in rig.shafts)
    finally:
        rig.close()


def test_the_page_is_current(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    shipped = (Path(__file__).resolve().parents[2] / "docs" / "silence.md").read_text(encoding="utf-8")
    assert page(tried) == shipped, "run: python -m sim.bench.silence docs/silence.md"
    assert main([]) == 2
    assert main([str(tmp_path / "no such folder" / "page.md")]) == 2
    assert "cannot be written" in capsys.readouterr().err
