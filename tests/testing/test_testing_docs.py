"""docs/testing.md is kept true: it is applied to a copy of the sources, and what it builds is run."""

import os
import shutil
import subprocess
import sys
from pathlib import Path

import page
import pytest

ROOT = Path(__file__).resolve().parents[2]
PAGE = (ROOT / "docs" / "testing.md").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def copy(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The sources with the page's interlock in them."""
    root = tmp_path_factory.mktemp("checkout")
    for name in ("supervisor", "sim", "configs"):
        shutil.copytree(ROOT / name, root / name, ignore=shutil.ignore_patterns("__pycache__"))
    page.apply(PAGE, root)
    return root


def run(root: Path, *command: str) -> subprocess.CompletedProcess[str]:
    """Run Python in the copy, and only there."""
    environment = {**os.environ, "PYTHONPATH": str(root), "PYTEST_DISABLE_PLUGIN_AUTOLOAD": "1"}
    return subprocess.run(
        [sys.executable, "-P", *command], cwd=root, env=environment, capture_output=True, text=True, check=False
    )


def passed(result: subprocess.CompletedProcess[str]) -> None:
    """Fail with all that was said."""
    assert result.returncode == 0, result.stdout + result.stderr


class TestWorkedExample:
    def test_the_boats_load_with_the_new_input(self, copy: Path) -> None:
        for boat in ("marsh_tern", "reed_warbler"):
            passed(run(copy, "-m", "sim.cli", "check", boat))

    def test_the_procedure_passes(self, copy: Path) -> None:
        result = run(copy, "-m", "sim.cli", "bench", "marsh_tern", "bilge_water", "--no-plot")
        passed(result)
        assert "PASS" in result.stdout

    def test_the_property_holds(self, copy: Path) -> None:
        plugins = ("-p", "sim.testing.plugin", "-p", "no:cacheprovider")
        passed(run(copy, "-m", "pytest", "-q", *plugins, "tests/test_bilge_water.py"))

    def test_the_property_fails_without_its_row(self, copy: Path, tmp_path: Path) -> None:
        """The page invites to it: the bit taken out of the HARVEST row again."""
        broken = tmp_path / "broken"
        shutil.copytree(copy, broken)
        table = broken / "supervisor" / "modes" / "shaft_table.py"
        rows = table.read_text(encoding="utf-8")
        assert rows.count(",\n             _C.BILGE_DRY)") == 1
        table.write_text(rows.replace(",\n             _C.BILGE_DRY)", ")"), encoding="utf-8")
        test = broken / "tests" / "test_bilge_water.py"
        quick = "phases=[Phase.generate], deadline=None"  # shrinking takes minutes, and shows nothing more
        text = test.read_text(encoding="utf-8").replace("deadline=None", quick)
        test.write_text(text.replace("import given,", "import Phase, given,"), encoding="utf-8")
        result = run(broken, "-m", "pytest", "-q", "-p", "sim.testing.plugin", "tests/test_bilge_water.py")
        assert result.returncode == 1
        assert "RULE      SR-90 Water in the bilge" in result.stdout
        assert "fails there too" in result.stdout

    @pytest.mark.campaign
    def test_the_proof_is_complete(self, copy: Path) -> None:
        result = run(copy, "-m", "sim.cli", "prove", "marsh_tern")
        passed(result)
        assert "SR-90" in result.stdout

    @pytest.mark.campaign
    def test_the_proof_refutes_the_interlock_without_its_row(self, copy: Path, tmp_path: Path) -> None:
        broken = tmp_path / "broken"
        shutil.copytree(copy, broken)
        table = broken / "supervisor" / "modes" / "shaft_table.py"
        table.write_text(
            table.read_text(encoding="utf-8").replace(",\n             _C.BILGE_DRY)", ")"), encoding="utf-8"
        )
        result = run(broken, "-m", "sim.cli", "prove", "marsh_tern")
        assert result.returncode == 1
        assert "SR-90" in result.stdout


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
        environment = {**os.environ, "PYTHONPATH": str(ROOT), "PYTEST_DISABLE_PLUGIN_AUTOLOAD": "1"}
        command = [sys.executable, "-m", "pytest", "-q", "-p", "sim.testing.plugin", "-p", "no:cacheprovider", "."]
        result = subprocess.run(command, cwd=tmp_path, env=environment, capture_output=True, text=True, check=False)
        passed(result)
        assert "3 passed" in result.stdout
