"""An engine for each test."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from panel_bench import Bench


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    """marsh_tern on the panel, cold."""
    one = Bench(tmp_path)
    yield one
    one.engine.close()
