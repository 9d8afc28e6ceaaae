"""Real time: processes, pseudo-terminals, clocks. Adapters private0 and backbone0 are the supervisor's, 1 and 2 are for
stand-ins."""

import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

_TESTS = Path(__file__).resolve().parents[1]
sys.path[:0] = [str(_TESTS), str(_TESTS / "realtime"), str(_TESTS / "benchmarks")]

from hub.process import Hub  # noqa: E402 - after the path is set


@pytest.fixture
def hub(tmp_path: Path) -> Iterator[Hub]:
    """Two buses at 250 kbit/s."""
    with Hub(tmp_path, "private:250000:3", "backbone:250000:3") as one:
        yield one
