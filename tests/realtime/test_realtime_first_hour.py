"""The cheap part of the first hour of an electrician; tests/newcomer/first_hour.py plays all of it, and times it."""

import sys
from pathlib import Path

import pytest

pytest.importorskip("msgpack", reason="buses without hardware need msgpack (extra sim)")
sys.path.insert(0, str(Path(__file__).parents[1] / "newcomer"))


def test_a_boat_of_ones_own_from_ratings_to_replay(tmp_path: Path) -> None:
    from first_hour import FirstHour

    person = FirstHour(tmp_path, [sys.executable, "-m", "sim.cli"])
    person.all()
    assert len(person.seconds) == 8
