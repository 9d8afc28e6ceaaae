"""docs/testing.md is kept true: its tests are run as they stand, and the files it names are there."""

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import page
import pytest

ROOT = Path(__file__).resolve().parents[2]
PAGE = (ROOT / "docs" / "testing.md").read_text(encoding="utf-8")
sys.path.append(str(ROOT / "tests" / "own"))


def run(root: Path, folder: Path, *command: str) -> subprocess.CompletedProcess[str]:
    """Run Python in `folder` with the sources in `root`, and only those."""
    environment = {**os.environ, "PYTHONPATH": str(root), "PYTEST_DISABLE_PLUGIN_AUTOLOAD": "1"}
    return subprocess.run(
        [sys.executable, "-P", *command], cwd=folder, env=environment, capture_output=True, text=True, check=False
    )


def passed(result: subprocess.CompletedProcess[str]) -> None:
    """Fail with all that was said."""
    assert result.returncode == 0, result.stdout + result.stderr


PYTEST = ("-m", "pytest", "-q", "-p", "sim.testing.plugin", "-p", "no:cacheprovider")


class TestAnInterlockOfOnesOwn:
    @pytest.fixture
    def folder(self, tmp_path: Path) -> Path:
        """The boat of docs/interlocks.md, and the property of this page beside it."""
        from test_own_docs import TOML, boat

        boat(tmp_path, len(TOML))
        for name, body in page.new_files(PAGE).items():
            (tmp_path / name).write_text(body, encoding="utf-8")
        return tmp_path

    def test_the_property_holds(self, folder: Path) -> None:
        passed(run(ROOT, folder, *PYTEST, "test_water_in_the_bilge.py"))

    def test_the_property_fails_without_its_row(self, folder: Path, tmp_path_factory: pytest.TempPathFactory) -> None:
        """The bit taken out of the rows that end harvest: in a copy of the sources."""
        broken = tmp_path_factory.mktemp("broken")
        for name in ("supervisor", "sim", "configs"):
            shutil.copytree(ROOT / name, broken / name, ignore=shutil.ignore_patterns("__pycache__"))
        table = broken / "supervisor" / "modes" / "shaft_table.py"
        rows = table.read_text(encoding="utf-8")
        assert rows.count(",\n             _C.OWN_CHARGE_STAYS)") == 1
        table.write_text(rows.replace(",\n             _C.OWN_CHARGE_STAYS)", ")"), encoding="utf-8")
        test = folder / "test_water_in_the_bilge.py"
        quick = "phases=[Phase.generate], deadline=None"  # shrinking takes minutes, and shows nothing more
        text = test.read_text(encoding="utf-8").replace("deadline=None", quick)
        test.write_text(text.replace("import given,", "import Phase, given,"), encoding="utf-8")
        result = run(broken, folder, *PYTEST, test.name)
        assert result.returncode == 1
        assert "RULE      interlock bilge" in result.stdout
        assert "fails there too" in result.stdout


class TestOtherBlocks:
    def test_the_tests_on_the_page_pass(self, tmp_path: Path) -> None:
        """The blocks that are tests and no part of the worked example."""
        bodies = [body for body in page.blocks(PAGE, "python") if not body.startswith("# new file")]
        assert len(bodies) == 3
        # the folder of somebody who keeps a trace of a boat of their own
        (tmp_path / "traces").mkdir()
        (tmp_path / "traces" / "power_up.toml").write_text(
            'title = "Power up"\n[[step]]\nname = "one"\nexpect = [{ signal = "boat.mode", value = "STANDBY" }]\n'
        )
        shutil.copy(ROOT / "configs" / "marsh_tern.toml", tmp_path / "my_boat.toml")
        for name in ("dbc", "plants"):
            (tmp_path / name).symlink_to(ROOT / "configs" / name)
        for number, body in enumerate(bodies):
            (tmp_path / f"test_block_{number}.py").write_text(body, encoding="utf-8")
        result = run(ROOT, tmp_path, *PYTEST, ".")
        passed(result)
        assert "3 passed" in result.stdout

    def test_the_files_that_it_names_are_there(self) -> None:
        named = set(re.findall(r"`((?:supervisor|sim|tests)/[\w/.]+)`", PAGE))
        assert len(named) >= 6
        for name in named:
            assert (ROOT / name).exists(), name
