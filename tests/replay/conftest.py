"""Recordings for the tests of replay: written here line by line, or the real one beside the checkout."""

from collections.abc import Callable, Iterable
from pathlib import Path

import pytest

RECORDING = Path(__file__).resolve().parents[3] / "shared/data/recordings/n2k-bank-24v.log"


@pytest.fixture
def recording() -> str:
    """The real recording, or a skip that says so."""
    if not RECORDING.is_file():
        pytest.skip("recording n2k-bank-24v.log is not at ../shared/data/recordings beside the checkout")
    return str(RECORDING)


@pytest.fixture
def write_log(tmp_path: Path) -> Callable[[Iterable[str], str], str]:
    """Writes lines to a file and gives its path."""

    def write(lines: Iterable[str], name: str = "trial.log") -> str:
        path = tmp_path / name
        path.write_text("".join(f"{line}\n" for line in lines), encoding="latin-1")
        return str(path)

    return write
