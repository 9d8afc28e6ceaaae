"""The command line as a person starts it."""

import os
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
CONFIGS = ROOT / "configs"
_CODE = "import sys; from sim.cli import main; sys.exit(main())"


def command(*args: str) -> list[str]:
    """The words that start it."""
    return [sys.executable, "-c", _CODE, *args]


def environment(path: str = str(ROOT), **more: str) -> dict[str, str]:
    """Our tree on the path, from whatever folder."""
    return {**os.environ, "PYTHONPATH": path, **more}


def thwart(*args: str, cwd: Path | None = None, **more: str) -> subprocess.CompletedProcess[str]:
    """Run it to its end."""
    return subprocess.run(
        command(*args), capture_output=True, text=True, cwd=cwd or ROOT, env=environment(**more), timeout=300,
        check=False,
    )  # fmt: skip


def complaint(done: subprocess.CompletedProcess[str], status: int = 2) -> str:
    """The one message on stderr; fails on a traceback."""
    assert done.returncode == status, done.stderr
    assert "Traceback" not in done.stderr + done.stdout
    assert done.stderr.startswith("thwart: ")
    return done.stderr


def edited(folder: Path, *edits: tuple[str, str], boat: str = "marsh_tern") -> Path:
    """A copy of a shipped boat with some text changed, its DBC and plant files beside it."""
    text = (CONFIGS / f"{boat}.toml").read_text()
    for old, new in edits:
        assert old in text
        text = text.replace(old, new, 1)
    file = folder / "boat.toml"
    file.write_text(text)
    for name in ("dbc", "plants"):
        (folder / name).symlink_to(CONFIGS / name)
    return file
