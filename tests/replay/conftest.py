"""Recordings for the tests of replay: written here line by line, or the real one beside the checkout."""

from collections.abc import Callable, Iterable
from pathlib import Path

import pytest
from replay_recorded import record, voyage

from sim.cli.app import dispatch

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


@pytest.fixture(scope="module")
def out(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """What a replay of the voyage leaves behind."""
    run = tmp_path_factory.mktemp("run")
    record(run, "marsh_tern", voyage)
    folder = tmp_path_factory.mktemp("replay") / "out"
    assert dispatch(["replay", "marsh_tern", str(run), "--out", str(folder)]) == 0
    return folder
