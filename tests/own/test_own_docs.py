"""docs/interlocks.md is kept true: its three examples are put into a boat as they stand, and run."""

import re
import subprocess
import sys
import time
from pathlib import Path

import pytest
from own_boat import CONFIGS, ROOT

from supervisor.config import load_config
from supervisor.signals import OwnEffect

PAGE = (ROOT / "docs" / "interlocks.md").read_text(encoding="utf-8")
_BLOCK = re.compile(r"^```(\w+)\n(.*?)^```$", re.MULTILINE | re.DOTALL)
BLOCKS = _BLOCK.findall(PAGE)
DBC = [body for language, body in BLOCKS if language == "dbc"]
TOML = [body for language, body in BLOCKS if language == "toml"]
FILES = ("deck.dbc", "seal.dbc")


def boat(folder: Path, blocks: int) -> Path:
    """marsh_tern with the first so many TOML blocks of the page, and the DBC files that it names."""
    text = (CONFIGS / "marsh_tern.toml").read_text(encoding="utf-8")
    for body in TOML[:blocks]:
        place, _, lines = body.partition("\n")
        if place == "# in [buses.private]":
            text, count = re.subn(
                r"^dbc = \[.*rvc_bank.*\]$", lambda _found, lines=lines: lines.strip(), text, flags=re.M
            )
            assert count == 1
        else:
            assert place == "# at the end"
            text += "\n" + lines
    file = folder / "my_boat.toml"
    file.write_text(text, encoding="utf-8")
    for name, body in zip(FILES, DBC, strict=True):
        (folder / name).write_text(body, encoding="utf-8")
    for name in ("dbc", "plants"):
        (folder / name).symlink_to(CONFIGS / name)
    return file


def thwart(folder: Path, *words: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "sim.cli", *words], cwd=folder, capture_output=True, text=True, check=False,
        env={"PYTHONPATH": str(ROOT), "PATH": "/usr/bin:/bin"},
    )  # fmt: skip


def test_the_swim_ladder_from_nothing_in_at_most_twelve_lines(tmp_path: Path) -> None:
    """Lines of TOML (without its remarks) and one DBC message; and how long the program takes for it."""
    lines = [line for body in TOML[:2] for line in body.splitlines() if line and not line.startswith("#")]
    assert len(lines) <= 12
    assert "Eleven lines" in PAGE
    assert len(lines) == 11
    assert len(re.findall(r"^BO_ ", DBC[0], re.M)) == 1
    began_s = time.perf_counter()
    file = boat(tmp_path, 2)
    checked = thwart(tmp_path, "check", file.name)
    benched = thwart(tmp_path, "bench", file.name, "--interlock", "swim_ladder", "--no-plot")
    took_s = time.perf_counter() - began_s
    assert checked.returncode == 0, checked.stderr
    assert benched.returncode == 0, benched.stdout
    print(f"checked and benched in {took_s:.1f} s")
    assert took_s < 120.0


def test_what_check_says_is_on_the_page(tmp_path: Path) -> None:
    done = thwart(tmp_path, "check", boat(tmp_path, 2).name)
    said = re.search(r"interlock\.swim_ladder\.effect: (.*?)\. Name fewer", done.stdout)
    assert said is not None
    quoted = re.search(r"`check` says: \*(.*?)\*", PAGE, re.DOTALL)
    assert quoted is not None
    assert " ".join(quoted[1].split()) == said[1]


@pytest.mark.parametrize("name", ["swim_ladder", "bilge", "port_seal", "starboard_seal"])
def test_each_example_runs_as_it_stands(tmp_path: Path, name: str) -> None:
    file = boat(tmp_path, len(TOML))
    assert [entry.name for entry in load_config(file).interlock] == [
        "swim_ladder",
        "bilge",
        "port_seal",
        "starboard_seal",
    ]
    assert thwart(tmp_path, "check", file.name).returncode == 0
    done = thwart(tmp_path, "bench", file.name, "--interlock", name, "--no-plot", "--write", "kept.toml")
    assert done.returncode == 0, done.stdout + done.stderr
    assert "PASS" in done.stdout
    verdict = next((tmp_path / "runs").glob("kept-*/verdict.md")).read_text(encoding="utf-8")
    assert f"| **interlock {name}** | held |" in verdict


def test_every_effect_is_on_the_page() -> None:
    rows = re.findall(r"^\| `(\w+)` \|", PAGE, re.M)
    assert rows == [name.lower() for name in (
        "WARN", "INHIBIT_THRUST", "LIMIT_THRUST", "RAMP_THRUST", "STOP_THRUST", "INHIBIT_CHARGE", "UNLOAD_CHARGE",
        "STOP_CHARGE", "STOP_BOTH", "INHIBIT_ENGINE_START", "TRIP_SHAFT", "TRIP_BOAT")]  # fmt: skip
    assert {name.upper() for name in rows} == {effect.name for effect in OwnEffect}


def test_the_matrix_page_is_written(tmp_path: Path) -> None:
    assert thwart(tmp_path, "prove", boat(tmp_path, len(TOML)).name, "--matrix", "matrix").returncode == 0
    own = (tmp_path / "matrix" / "own.md").read_text(encoding="utf-8")
    assert "port shaft seal is hot: thrust within 40 % of rated torque and power ahead" in own
