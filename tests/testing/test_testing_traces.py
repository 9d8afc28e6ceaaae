"""Shrunk failures, kept for good: every procedure in tests/traces passes on the boat it was found on."""

from pathlib import Path

import pytest

from sim.bench import load_procedure
from sim.rig.simulated import SimRig
from sim.testing import rerun

TRACES = sorted((Path(__file__).resolve().parents[1] / "traces").glob("*.toml"))


@pytest.mark.parametrize("trace", TRACES, ids=lambda path: path.stem)
def test_it_stays_mended(trace: Path) -> None:
    boat = load_procedure(trace).boat
    assert boat is not None
    result = rerun(trace, lambda: SimRig(boat))
    assert result.passed, result.summary()


def test_there_are_some() -> None:
    assert TRACES
