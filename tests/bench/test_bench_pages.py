"""docs/procedures.md and docs/boat-file.md are written by the program, name all there is, and their examples run."""

import re
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest

from sim.bench import NullSink, parse_procedure, run_procedure
from sim.bench.pages import boat_parts, main, procedure_parts, renewed
from sim.bench.procedure import Expectation, Procedure, Step
from sim.bench.rig import EVENT_KINDS
from sim.bench.signal_words import BOAT_SIGNALS, SHAFT_SIGNALS
from sim.rig.simulated import SimRig

DOCS = Path(__file__).resolve().parents[2] / "docs"
PROCEDURES = (DOCS / "procedures.md").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def rig() -> Iterator[SimRig]:
    rig = SimRig("reed_warbler")
    yield rig
    rig.close()


def test_the_pages_are_current() -> None:
    assert main([str(DOCS), "--check"]) == 0, "run: python -m sim.bench.pages docs"


def test_a_page_without_its_places_is_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "procedures.md").write_text("# nothing\n")
    assert main([str(tmp_path)]) == 2
    assert "it needs the lines" in capsys.readouterr().err
    with pytest.raises(ValueError, match="no place for 'keys'"):
        renewed("", boat_parts())


def test_every_signal_is_described_and_none_that_is_not_there(rig: SimRig) -> None:
    described = {*BOAT_SIGNALS, *(f"main.{name}" for name in SHAFT_SIGNALS)}
    assert described == set(rig.signals())


def test_every_target_and_fault_is_listed(rig: SimRig) -> None:
    parts = procedure_parts()
    for name in rig.plant_targets():
        assert f"`{name.replace('main.', 'SHAFT.')}`" in parts["set"]
    for name in rig.faults():
        assert f"`{name}`" in parts["faults"]


@pytest.mark.parametrize("model", [Procedure, Step, Expectation])
def test_every_key_of_a_procedure_is_on_the_page(model: type[Procedure | Step | Expectation]) -> None:
    for name in model.model_fields:
        assert re.search(rf"`{name}`|`\[\[{name}\]\]`", PROCEDURES), name


def test_every_kind_of_event_is_on_the_page() -> None:
    line = next(line for line in PROCEDURES.splitlines() if line.startswith("Kinds of event"))
    assert set(re.findall(r"`(\w+)`", line)) == set(EVENT_KINDS)


def test_the_example_runs(rig: SimRig) -> None:
    example = re.search(r"```toml\n(.*?)```", PROCEDURES, re.DOTALL)
    assert example is not None
    result = run_procedure(rig, parse_procedure(example[1], "the page"), NullSink())
    assert result.passed, result.summary()


def test_narrow_bounds_of_a_key_are_shown_not_those_of_its_kind() -> None:
    """600 s is the limit of this key, 86400 s that of times in general."""
    assert "| `neutral_wait_s` | above 0 to 600 | 30 |" in boat_parts()["keys"]


def test_every_key_says_what_it_means() -> None:
    rows = [line for line in boat_parts()["keys"].splitlines() if line.startswith("| `")]
    assert len(rows) > 90
    assert not [row for row in rows if row.split("|")[4].strip() == ""]


def test_the_lines_to_copy_a_boat_make_one_that_checks(tmp_path: Path) -> None:
    """Paths count from the boat file: what the page says to copy is what it needs."""
    page = (DOCS / "boat-file.md").read_text(encoding="utf-8")
    copied = re.findall(r"^cp -?r? ?(.*) (my_boat/.*)$", page, re.MULTILINE)
    assert copied
    boat = tomllib.loads((DOCS.parent / "configs" / "marsh_tern.toml").read_text())
    needed = {name.split("/")[0] for bus in boat["buses"].values() for name in bus["dbc"]} | {"plants"}
    assert {Path(name).name for sources, _ in copied for name in sources.split()} >= needed
