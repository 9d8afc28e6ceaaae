"""The command line from outside: exit status, stderr, and never a traceback."""

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest
from support import edited

ROOT = Path(__file__).resolve().parents[2]


def thwart(
    *args: str, cwd: Path | None = None, path: str = str(ROOT), bare: bool = False, **more: str
) -> subprocess.CompletedProcess[str]:
    """Start the command as a person would, from any folder; `bare` hides the installed packages."""
    env = {**os.environ, "PYTHONPATH": path, **more}
    code = "import sys; from sim.cli import main; sys.exit(main())"
    return subprocess.run(
        [sys.executable, *(["-S"] if bare else []), "-c", code, *args],
        capture_output=True,
        text=True,
        cwd=cwd or ROOT,
        env=env,
        timeout=120,
        check=False,
    )


def complaint(done: subprocess.CompletedProcess[str], status: int = 2) -> str:
    """The one message on stderr; fails on a traceback."""
    assert done.returncode == status, done.stderr
    assert "Traceback" not in done.stderr + done.stdout
    assert done.stderr.strip()
    return done.stderr


def test_help_names_every_verb_with_an_example() -> None:
    done = thwart("--help")
    assert done.returncode == 0
    for verb in ("demo", "bench", "check"):
        assert verb in done.stdout
        assert re.search(rf"examples?:\s+thwart {verb} ", thwart(verb, "--help").stdout + " ")


def test_version() -> None:
    done = thwart("--version")
    assert done.returncode == 0
    assert done.stdout.startswith("thwart ")


@pytest.mark.parametrize(
    "args",
    [
        (),
        ("nonsense",),
        ("bench",),
        ("bench", "marsh_tern"),
        ("demo", "--fas"),
        ("check", "a", "b"),
    ],
)
def test_wrong_usage_is_status_2(args: tuple[str, ...]) -> None:
    assert "usage: thwart" in complaint(thwart(*args))


@pytest.mark.parametrize("args", [("check", "ark"), ("demo", "--boat", "ark")])
def test_no_such_boat(args: tuple[str, ...]) -> None:
    text = complaint(thwart(*args))
    assert text.startswith("thwart: ark: no such boat file")


def test_a_folder_is_no_boat(tmp_path: Path) -> None:
    complaint(thwart("check", str(tmp_path)))


@pytest.mark.parametrize("content", [b"", b"\x00\xff\xfe", b"boat = 3\n", b"[boat\n", b"[boat]\nname = 'x'\n"])
def test_a_boat_file_that_is_none(tmp_path: Path, content: bytes) -> None:
    file = tmp_path / "boat.toml"
    file.write_bytes(content)
    assert f"thwart: {file}: " in complaint(thwart("check", str(file)))


@pytest.mark.parametrize("body", ["", "VERSION = 3\n", "THWART = 'yes'\n"])
def test_another_package_named_supervisor(tmp_path: Path, body: str) -> None:
    """The process manager on PyPI has the same import name: say so, before anything else fails."""
    package = tmp_path / "supervisor"
    package.mkdir()
    (package / "__init__.py").write_text(body)
    text = complaint(thwart("--help", cwd=tmp_path, path=f"{tmp_path}{os.pathsep}{ROOT}"))
    assert f"'supervisor' found at {package / '__init__.py'} is not Thwart's" in text
    assert "virtual environment of its own" in text


def test_a_bare_folder_named_supervisor(tmp_path: Path) -> None:
    """A namespace package has no file: its place is named all the same."""
    (tmp_path / "supervisor").mkdir()
    (tmp_path / "sim").symlink_to(ROOT / "sim")
    text = complaint(thwart("--help", cwd=tmp_path, path=str(tmp_path), bare=True))
    assert str(tmp_path / "supervisor") in text


def test_no_package_named_supervisor(tmp_path: Path) -> None:
    (tmp_path / "sim").symlink_to(ROOT / "sim")
    assert "cannot be imported" in complaint(thwart("--help", cwd=tmp_path, path=str(tmp_path), bare=True))


def test_check_shipped_boats() -> None:
    done = thwart("check", "marsh_tern")
    assert done.returncode == 0
    assert "shafts: port, starboard: 0 errors" in done.stdout


def test_check_says_everything_that_is_wrong(tmp_path: Path) -> None:
    """A derate band above the taper, and a limit above the rating: two errors, status 1, both shown."""
    file = edited(tmp_path, ("full_charge_a = 208.0", "full_charge_a = 400.0\nderate_start_pct = 90.0"))
    text = complaint(thwart("check", str(file)), status=1)
    assert "limits.derate_start_pct" in text
    assert "limits.full_charge_a: 400 A exceeds bank.max_charge_a = 260 A" in text


def test_check_unknown_key(tmp_path: Path) -> None:
    file = edited(tmp_path, ("full_charge_a = 208.0", "full_charge_a = 208.0\ntapper_start_pct = 80.0"))
    assert "limits.tapper_start_pct: unknown key" in complaint(thwart("check", str(file)))


def test_a_reader_that_goes_away_is_no_error() -> None:
    """`thwart check marsh_tern | true`: the pipe is closed before a word is written."""
    code = "import time; time.sleep(1); import sys; from sim.cli import main; sys.exit(main(['check', 'marsh_tern']))"
    env = {**os.environ, "PYTHONPATH": str(ROOT)}
    with subprocess.Popen(
        [sys.executable, "-c", code], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env=env
    ) as running:
        assert running.stdout is not None
        assert running.stderr is not None
        running.stdout.close()
        assert running.stderr.read() == ""
        assert running.wait(60) == 0


def test_no_such_procedure() -> None:
    text = complaint(thwart("bench", "marsh_tern", "no_such_thing"))
    assert text.startswith("thwart: no_such_thing: no such procedure file; shipped ones: ")


def test_procedure_with_an_unknown_key(tmp_path: Path) -> None:
    file = tmp_path / "p.toml"
    file.write_text('title = "t"\n[[step]]\nname = "one"\nwiat_s = 3\n')
    assert "step 1: unknown key 'wiat_s'; did you mean wait_s? allowed: clear, do" in complaint(
        thwart("bench", "marsh_tern", str(file))
    )


def test_bench_with_a_boat_that_is_refused(tmp_path: Path) -> None:
    file = edited(tmp_path, ("full_charge_a = 208.0", "full_charge_a = 400.0"))
    procedure = tmp_path / "p.toml"
    procedure.write_text('title = "t"\n[[step]]\nname = "one"\n')
    assert "limits.full_charge_a" in complaint(thwart("bench", str(file), str(procedure)))


def test_check_finds_a_signal_that_the_dbc_does_not_have(tmp_path: Path) -> None:
    file = edited(tmp_path, ('signal = "ChargePermit"', 'signal = "ChargePermitt"'))
    text = complaint(thwart("check", str(file)))
    assert str(file) in text
    assert "ChargePermitt" in text


def test_check_finds_a_missing_dbc_file(tmp_path: Path) -> None:
    file = edited(tmp_path)
    (tmp_path / "dbc").unlink()
    assert "dbc/guarded.dbc" in complaint(thwart("check", str(file)))
