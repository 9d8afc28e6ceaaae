"""`import supervisor` loads no bus library; the bus loads no simulator."""

import subprocess
import sys

import pytest


@pytest.mark.parametrize(
    ("module", "absent"),
    [
        ("supervisor", ("can", "cantools")),
        ("supervisor.signals", ("can", "cantools")),
        ("supervisor.config", ("can", "cantools")),
        ("supervisor.bus", ("sim", "numba")),
    ],
)
def test_import_loads_no_more_than_it_needs(module: str, absent: tuple[str, ...]) -> None:
    code = f"import sys, {module}; print(sorted(set({absent!r}) & set(sys.modules)))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
