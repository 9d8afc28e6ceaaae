"""The pytest plugin: harmless in a bare environment, a boat where a test asks for one, failures handed over."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from sim.bench import load_procedure
from sim.rig.simulated import SimRig
from sim.testing import rerun
from sim.testing.bench import Bench, BenchFailedError

ROOT = Path(__file__).resolve().parents[2]


def run_pytest(folder: Path, text: str, *options: str, preload: str = "") -> subprocess.CompletedProcess[str]:
    """Run one test file in a process of its own, with our plugin and no other."""
    (folder / "test_one.py").write_text(text, encoding="utf-8")
    environment = {**os.environ, "PYTEST_DISABLE_PLUGIN_AUTOLOAD": "1", "PYTHONPATH": str(ROOT)}
    command = f"{preload}\nimport pytest, sys\nsys.exit(pytest.main(sys.argv[1:]))"
    given = ["-q", "-p", "no:cacheprovider", "-p", "sim.testing.plugin", "--strict-markers", *options, "test_one.py"]
    return subprocess.run(
        [sys.executable, "-c", command, *given],
        cwd=folder,
        env=environment,
        capture_output=True,
        text=True,
        check=False,
    )


class TestFixture:
    def test_the_boat_comes_from_cold(self, bench: Bench) -> None:
        assert bench["boat.mode"] == "STANDBY"
        bench.run(1.0).do("helm.enable", "press")
        assert bench.until("boat.mode", "==", "READY", within_s=3.0) < 2.0
        assert "no thrust is asked" in bench.explain("port PROPEL")
        bench.do("each.lever_pct", 50.0).run(2.0).expect("each.torque_nm", ">", 20.0)
        assert bench.held("SR-05")
        assert bench.closest("SR-24") is not None

    def test_a_missed_expectation_reads_like_a_fault_report(self, bench: Bench) -> None:
        bench.situation("ready").inject("permit_withdrawn", "monitor", permit="discharge").do("first.lever_pct", 40.0)
        bench.run(0.5)
        with pytest.raises(BenchFailedError) as caught:
            bench.expect("first.mode", "==", "PROPEL")
        text = str(caught.value)
        assert "EXPECTED  port.mode == PROPEL" in text
        assert "GOT       REST" in text
        assert "bank monitor does not permit discharging" in text
        assert "permit_withdrawn on monitor, port.lever_pct = 40" in text


BENCH_TEST = """
import pytest

@pytest.mark.boat("reed_warbler", soc_pct=55, buses=False)
@pytest.mark.sr("SR-01")
def test_boat(bench):
    bench.run(1.0)
    assert bench.rig.boat == "reed_warbler"
    assert abs(bench.number("bank.soc_pct") - 55) < 0.1
"""

FAILING_TEST = """
import pytest
from supervisor.rules import torque

@pytest.mark.boat("marsh_tern", buses=False)
def test_soft_start(bench, monkeypatch):
    sound = torque.soft_start_a
    monkeypatch.setattr(torque, "soft_start_a", lambda lim, dt_s: 10 * sound(lim, dt_s))
    bench.situation("generate")
"""


MISSED_PROPERTY = """
from hypothesis import given, settings, strategies as st
from sim.testing import kept_bench

@settings(deadline=None, max_examples=8, derandomize=True, database=None)
@given(lever=st.floats(20, 100))
def test_small_thrust(lever):
    bench = kept_bench("marsh_tern", "propel").do("each.lever_pct", lever).run(2.0)
    bench.expect("each.order_nm", "<", 40.0)
"""

MISSED_DEADLINE = """
import pytest

@pytest.mark.boat("marsh_tern", buses=False)
def test_never_enabled(bench):
    bench.until("boat.mode", "==", "READY", within_s=0.5)

def test_a_miss_that_is_expected_writes_nothing(bench):
    with pytest.raises(AssertionError):
        bench.run(0.1).expect("boat.mode", "==", "READY")
"""


class TestMissedExpectations:
    """A property of one's own that fails is handed over as well, not only a safety requirement."""

    def test_a_property_becomes_a_procedure_that_fails_and_a_log(self, tmp_path: Path) -> None:
        result = run_pytest(tmp_path, MISSED_PROPERTY)
        assert result.returncode == 1, result.stdout + result.stderr
        handed = tmp_path / "failures" / "test_small_thrust_marsh_tern.toml"
        assert f"REPEAT    thwart bench marsh_tern {handed.relative_to(tmp_path)}" in result.stdout
        assert "fails there too" in result.stdout
        last = load_procedure(handed).step[-1].expect
        assert [(one.signal, one.op, one.value) for one in last] == [("port.order_nm", "<", 40.0)]
        verdict = rerun(handed, lambda: SimRig("marsh_tern"))
        assert not verdict.passed
        assert handed.with_suffix(".log").stat().st_size > 10_000

    def test_a_deadline_becomes_one_and_an_expected_miss_does_not(self, tmp_path: Path) -> None:
        result = run_pytest(tmp_path, MISSED_DEADLINE)
        assert "1 failed, 1 passed" in result.stdout, result.stdout + result.stderr
        assert [path.name for path in sorted((tmp_path / "failures").iterdir())] == [
            "test_never_enabled_marsh_tern.log",
            "test_never_enabled_marsh_tern.toml",
        ]


class TestPlugin:
    def test_marker_and_fixture(self, tmp_path: Path) -> None:
        result = run_pytest(tmp_path, BENCH_TEST)
        assert result.returncode == 0, result.stdout + result.stderr

    def test_a_violated_requirement_is_handed_over(self, tmp_path: Path) -> None:
        """The report names the procedure and the log, both are there, and the procedure fails with the defect."""
        result = run_pytest(tmp_path, FAILING_TEST, "--bench-failures", "found")
        assert result.returncode == 1, result.stdout + result.stderr
        assert "RULE      SR-20" in result.stdout
        assert "handed over" in result.stdout
        assert "fails there too" in result.stdout
        assert "REPEAT    thwart bench marsh_tern found/sr_20_marsh_tern.toml" in result.stdout
        assert (tmp_path / "found" / "sr_20_marsh_tern.toml").is_file()
        assert (tmp_path / "found" / "sr_20_marsh_tern.log").stat().st_size > 10_000

    def test_it_imports_nothing_until_a_boat_is_asked_for(self, tmp_path: Path) -> None:
        """Loaded in every pytest run of the environment: it may neither cost time nor need an extra."""
        text = (
            "import sys\n"
            "def test_light():\n"
            "    heavy = [name for name in ('numpy', 'hypothesis', 'can', 'sim.nodes', 'supervisor') "
            "if name in sys.modules]\n"
            "    assert not heavy\n"
        )
        result = run_pytest(tmp_path, text)
        assert result.returncode == 0, result.stdout + result.stderr

    def test_without_the_extras_a_test_with_a_boat_is_skipped_and_others_run(self, tmp_path: Path) -> None:
        block = "import sys\nfor name in ('numpy', 'hypothesis', 'matplotlib', 'rich'): sys.modules[name] = None"
        text = "def test_plain():\n    pass\n\ndef test_boat(bench):\n    raise SystemError\n"
        result = run_pytest(tmp_path, text, "-rs", preload=block)
        assert result.returncode == 0, result.stdout + result.stderr
        assert "1 passed, 1 skipped" in result.stdout
        assert "extra sim" in result.stdout
