"""`thwart demo`, end to end as a person starts it, once for each boat."""

import csv
import json
import resource
from pathlib import Path

import pytest
from PIL import Image
from support import thwart


@pytest.mark.parametrize(("boat", "steps", "modes"), [
    ("marsh_tern", 45, {"REST", "PROPEL", "UNLOAD", "GENERATE", "HARVEST"}),
    ("reed_warbler", 30, {"REST", "PROPEL", "UNLOAD", "GENERATE"}),
])  # fmt: skip
def test_demo(tmp_path: Path, boat: str, steps: int, modes: set[str]) -> None:
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    done = thwart("demo", "--boat", boat, cwd=tmp_path)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    took_s = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    assert (done.returncode, done.stderr) == (0, ""), [line for line in done.stdout.splitlines() if "FAIL" in line]
    assert took_s < 60, "the promise of the README, in processor time: what else this machine does is not our business"
    *_, verdict, where = done.stdout.rstrip().splitlines()
    assert verdict.startswith("PASS: ")
    folder = tmp_path / where.removeprefix("run folder: ")
    assert folder.name == (f"demo_{boat}-{boat}-1" if boat == "marsh_tern" else f"demo-{boat}-1")
    data = json.loads((folder / "verdict.json").read_text())
    assert len(data["steps"]) >= steps
    assert abs(data["energy"]["left_over_pct"]) < 0.1
    assert data["energy"]["moved_wh"] > 100.0
    with (folder / "signals.csv").open() as file:
        rows = list(csv.DictReader(file))
    shafts = [name[: -len(".rearmed")] for name in rows[0] if name.endswith(".rearmed")]
    assert {row[f"{shaft}.mode"] for row in rows for shaft in shafts} >= modes
    assert {row["boat.mode"] for row in rows} == {"STANDBY", "NEUTRAL_WAIT", "READY", "TRIPPED"}
    with Image.open(folder / "run.png") as picture:
        assert picture.width > 1200


def test_own_words_about_the_jump(tmp_path: Path) -> None:
    """Whoever reads the verdict must see which values the simulated boat was set to, and which it came to by itself."""
    file = tmp_path / "jump.toml"
    file.write_text('title = "t"\n[[step]]\nname = "one"\nset.bank.soc_pct = 30\n')
    done = thwart("bench", "reed_warbler", str(file), "--no-plot", cwd=tmp_path)
    assert "JUMP: simulated boat set to bank.soc_pct 30" in done.stdout
    assert "JUMP" in (tmp_path / "runs" / "jump-reed_warbler-1" / "verdict.md").read_text()
