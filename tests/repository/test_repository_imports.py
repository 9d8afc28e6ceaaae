"""What importing costs and pulls in, in a fresh process."""

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
BUS_LIBRARIES = ("can", "cantools", "serial")
CORE = ("supervisor", "supervisor.signals", "supervisor.config", "supervisor.modes", "supervisor.rules",
        "supervisor.controller")  # fmt: skip


def loaded_after(code: str) -> set[str]:
    """Top-level names of all modules loaded after `code`."""
    code += "\nimport sys; print('\\n'.join(sorted({m.split('.')[0] for m in sys.modules})))"
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    return set(done.stdout.split())


@pytest.mark.parametrize("module", CORE)
def test_the_core_loads_no_bus_library(module: str) -> None:
    loaded = loaded_after(f"import {module}")
    assert not loaded & set(BUS_LIBRARIES)
    assert not loaded & {"numba", "matplotlib", "sim"}


def test_the_bus_layer_does(tmp_path: Path) -> None:
    """So that the test above is known to be able to fail."""
    assert {"can", "cantools"} <= loaded_after("import supervisor.bus")


def test_the_supervisor_marks_itself() -> None:
    """The import name is shared with an unrelated process manager: this one can be told."""
    import supervisor

    assert supervisor.THWART is True
    assert (supervisor.__doc__ or "").startswith("Thwart")


def test_a_tick_loads_nothing_more() -> None:
    """A first tick at sea that had to import something would be late."""
    code = (
        "import sys; sys.path.insert(0, 'tests')\n"
        "from boatyard.rig import Rig\nrig = Rig(); before = set(sys.modules)\nrig.ready()\n"
        "assert not set(sys.modules) - before, set(sys.modules) - before"
    )
    loaded_after(code)
