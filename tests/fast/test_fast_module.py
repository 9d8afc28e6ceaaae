"""How the compiled module is made, kept, and found again."""

import ast
import os
import subprocess
import sys
import textwrap
from pathlib import Path

import pytest

from sim.fast.gathered import GatherError, Gathering
from sim.fast.packed import packed
from sim.fast.unroll import UnrollError, unrolled
from sim.plant.params import HullParams


def written_out(text: str, shafts: int = 2) -> str:
    function = ast.parse(textwrap.dedent(text)).body[0]
    assert isinstance(function, ast.FunctionDef)
    return ast.unparse(ast.fix_missing_locations(unrolled(function, shafts, ("shaft_in",))))


def test_lists_of_shafts_become_variables_and_loops_over_them_are_written_out() -> None:
    text = """
    def f(boat, shaft_in):
        found = []
        for i, (limits, shaft) in enumerate(zip(boat.shafts, shaft_in)):
            if shaft > limits:
                total = i
            found.append(shaft + i)
        for one in found:
            total = total + one
        found[1] = 7
        return tuple(found), len(boat.shafts)
    """
    namespace: dict[str, object] = {}
    exec(written_out(text), namespace)  # noqa: S102 - what was just written out
    plain: dict[str, object] = {}
    exec(textwrap.dedent(text), plain)  # noqa: S102

    class Boat:
        shafts = (1, 50)

    assert namespace["f"](Boat, (10, 20)) == plain["f"](Boat, (10, 20)) == ((10, 7), 2)  # type: ignore[operator]
    assert "for " not in written_out(text)
    assert "[]" not in written_out(text)


@pytest.mark.parametrize(
    ("body", "says"),
    [
        ("for s in shaft_in:\n        if s: break", "break"),
        ("a = []\n    a.append(1)\n    a.append(2)\n    a.append(3)", "more entries"),
        ("a = []\n    a.append(1)\n    return a", "no entry for shaft 1"),
        ("a = [s for s in shaft_in if s]", "not one of every shaft"),
        ("a = []\n    for s in shaft_in: a.append(s)\n    return a[k]", "not fixed"),
        ("for i, s in enumerate(shaft_in, 1): k = i", "start of its own"),
        ("a = []\n    for s in shaft_in: a.append(s)\n    a = k", "bound to something else"),
    ],
)
def test_what_cannot_be_written_out_is_refused(body: str, says: str) -> None:
    with pytest.raises(UnrollError, match=says):
        written_out(f"def f(shaft_in, k):\n    {body}\n")


WORDS = {"one": 1}


def _with_a_dict() -> int:
    return WORDS["one"]


def test_a_global_that_cannot_be_compiled_is_refused_by_name() -> None:
    with pytest.raises(GatherError, match="WORDS is a dict"):
        Gathering(1, (), {}, (__name__,)).add(_with_a_dict)


def test_a_record_has_the_values_of_what_it_was_packed_from(warbler: object) -> None:
    hull: HullParams = warbler.hull  # type: ignore[attr-defined]
    record = packed(hull)
    assert float(record["mass_kg"]) == hull.mass_kg
    assert tuple(record["resistance_n"]) == hull.resistance_n
    with pytest.raises(TypeError, match="str"):
        packed(type("Odd", (tuple,), {"_fields": ("a",)})(("text",)))


SECOND_START = """
import time
began = time.perf_counter()
from sim.fast import built
from sim.fast.packed import packed
from sim.nodes.plant_file import plant_of
from sim.plant import idle_inputs, initial_state
from supervisor.config import load_config
from supervisor.config.load import resolve_boat
path = resolve_boat("reed_warbler")
params = plant_of(load_config(path), path)
boat = built(1)
state = boat.step(packed(params), initial_state(params), idle_inputs(params), 0.02)
print(boat.file, len(boat.step.stats.cache_hits), len(boat.step.stats.cache_misses), repr(state)[:20])
"""


def start(folder: Path) -> tuple[Path, int, int]:
    done = subprocess.run(
        [sys.executable, "-c", SECOND_START], env={**os.environ, "THWART_CACHE": str(folder)}, capture_output=True,
        text=True, check=True, timeout=300,
    )  # fmt: skip
    file, hits, misses, *_ = done.stdout.split()
    return Path(file), int(hits), int(misses)


def test_a_second_process_compiles_nothing(tmp_path: Path) -> None:
    pytest.importorskip("numba")
    first, hits, misses = start(tmp_path)
    assert (hits, misses) == (0, 1)
    assert first.is_relative_to(tmp_path)
    second, hits, misses = start(tmp_path)
    assert (hits, misses) == (1, 0)
    assert second == first
    assert len(list(tmp_path.glob("*"))) == 1


def test_where_no_folder_can_be_kept_it_works_all_the_same(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A file stands in the place of the folder."""
    pytest.importorskip("numba")
    from sim.fast.built import _file
    from sim.plant import make_step

    (tmp_path / "taken").write_text("a file")
    monkeypatch.setenv("THWART_CACHE", str(tmp_path / "taken"))
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    file = _file("0" * 20, 1, make_step(1), ())
    assert file.is_relative_to(tmp_path / f"thwart-{os.getpid()}")
    assert "entry_step" in file.read_text()


def test_whatever_is_gathered_is_in_the_hash() -> None:
    """A compiled module of a source that has been edited since would be another boat without a word."""
    from sim.fast.built import _made_from
    from sim.fast.module import gathered
    from sim.plant import make_step

    hashed = {str(file) for file in _made_from(())}
    used = {str(Path(str(sys.modules[name].__file__)).resolve()) for name in gathered(1, make_step(1)).modules()}
    assert len(used) > 30
    assert used <= hashed, used - hashed


def test_old_modules_go(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from sim.fast.built import KEPT, _file
    from sim.plant import make_step

    monkeypatch.setenv("THWART_CACHE", str(tmp_path))
    for number in range(KEPT + 3):
        file = _file(f"{number:020}", 1, make_step(1), ())
        os.utime(file.parent, (number, number))
    kept = sorted(path.name for path in tmp_path.glob("fast-*"))
    assert len(kept) == KEPT
    assert kept[-1] == f"fast-{KEPT + 2:020}"


def test_a_model_that_holds_something_else_is_another_module() -> None:
    """Two closures of one name, one text and one module."""
    pytest.importorskip("numba")
    from sim.fast.built import _held

    def halved(share: float) -> object:
        def model(current_a: float) -> float:
            return share * current_a

        return model

    assert _held(halved(0.5)) != _held(halved(0.25))
    assert _held(halved(0.5)) == _held(halved(0.5))
