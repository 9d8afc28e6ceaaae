"""The compiled module of a boat with so many shafts: made once, kept in a cache folder, found there by later processes.

Its folder is named by a hash of all that it is made from, so that a changed rule, table or plant never meets an old
compilation. A thing that numba compiles in one process it finds again in another only where it stands in a file of its
own (numba #3501), and where nothing in it is a compiled function passed about (numba #6264).
"""

import functools
import hashlib
import importlib.util
import inspect
import os
import shutil
import sys
import tempfile
import types
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, NamedTuple

from sim.cache import cache_folder
from sim.plant.bank import bank_step
from sim.plant.boat import BankStep, ShaftStep, Step, make_step
from sim.plant.shaftline import shaft_step

KEPT = 6
"""So many compiled modules stay in the cache folder; those used longest ago go first."""

_MADE_FROM = (
    "sim/fast",
    "sim/nodes",
    "sim/plant",
    "sim/rig",
    "supervisor/config",
    "supervisor/modes",
    "supervisor/rules",
    "supervisor/signals",
)
"""The folders of all that a compiled module takes something from; a test holds them to what is gathered."""


class CompilerMissingError(Exception):
    """numba is not installed: the extra `fast` brings it."""


class Built(NamedTuple):
    """Compiled functions for a boat of so many shafts, each compiled, or found in the cache folder, at its first call.

    `step` is `sim.plant.step`, `tick` is `supervisor.rules.run_tick`, both for limits and parameters as
    `sim.fast.packed` makes them; `loops` are those of `sim.fast.loops`, by name.
    """

    shafts: int
    step: Callable[..., Any]
    tick: Callable[..., Any]
    loops: dict[str, Callable[..., Any]]
    file: Path


@functools.cache
def built(
    shafts: int,
    bank_model: BankStep = bank_step,
    shaft_model: ShaftStep = shaft_step,
    own_modules: tuple[str, ...] = (),
) -> Built:
    """The compiled functions for a boat of 1 to 4 shafts.

    `bank_model` and `shaft_model` are as in `sim.plant.make_step`; `own_modules` are the modules that models of your
    own are written in. Raises CompilerMissingError without numba, ValueError for another number of shafts, GatherError
    or UnrollError for a model that cannot be compiled, OSError where no folder can be written.
    """
    step = make_step(shafts, bank_model, shaft_model)
    try:
        import numba
    except ImportError as error:
        raise CompilerMissingError("numba is not installed: pip install 'thwart[fast]'") from error
    key = hashlib.sha256(f"{sys.version} {numba.__version__} {shafts}".encode())
    for model in (bank_model, shaft_model):  # closures of one name may hold different things
        key.update(f"{model.__module__} {inspect.getsource(model)} {_held(model)}".encode())
    for file in _made_from(own_modules):
        key.update(file.read_bytes())
    name = key.hexdigest()[:20]
    module = _import(_file(name, shafts, step, own_modules), f"thwart_fast_{name}")
    loops = {name[5:]: value for name, value in vars(module).items() if name.startswith("loop_")}
    return Built(shafts, module.entry_step, module.entry_tick, loops, Path(str(module.__file__)))


def _held(model: Any) -> list[str]:
    return [repr(cell.cell_contents) for cell in model.__closure__ or ()]


def _made_from(own_modules: tuple[str, ...]) -> Iterator[Path]:
    """The files that a compiled module is made from."""
    root = Path(__file__).resolve().parents[2]
    yield from (Path(str(sys.modules[name].__file__)) for name in own_modules)
    for folder in _MADE_FROM:
        yield from sorted((root / folder).rglob("*.py"))


def _file(name: str, shafts: int, step: Step, own_modules: tuple[str, ...]) -> Path:
    """The module's file, written if it is not there; in a folder of this process alone where none can be kept."""
    for folder in (cache_folder(), Path(tempfile.gettempdir()) / f"thwart-{os.getpid()}"):
        place = folder / f"fast-{name}"
        try:
            if not (place / "boat.py").exists():
                _write(folder, place, shafts, step, own_modules)
            os.utime(place)
        except OSError:
            continue
        return place / "boat.py"
    raise OSError(f"neither {cache_folder()} nor {tempfile.gettempdir()} can be written; set THWART_CACHE to a folder")


def _write(folder: Path, place: Path, shafts: int, step: Step, own_modules: tuple[str, ...]) -> None:
    from sim.fast.module import source  # reads and parses some fifty files: not where the module is there already

    folder.mkdir(parents=True, exist_ok=True)
    new = Path(tempfile.mkdtemp(dir=folder, prefix="new-"))
    (new / "boat.py").write_text(source(shafts, step, own_modules), encoding="utf-8")
    try:
        if place.exists() and not (place / "boat.py").exists():
            shutil.rmtree(place)  # left behind half made
        new.rename(place)
    except OSError:
        shutil.rmtree(new, ignore_errors=True)
        if not (place / "boat.py").exists():  # no other process was first
            raise
    by_age = sorted(folder.glob("fast-*"), key=lambda path: path.stat().st_mtime, reverse=True)
    for old in by_age[KEPT:]:
        shutil.rmtree(old, ignore_errors=True)


def _import(file: Path, name: str) -> types.ModuleType:
    spec = importlib.util.spec_from_file_location(name, file)
    if spec is None or spec.loader is None:
        raise OSError(f"{file} cannot be imported")
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module  # numba asks for it by name
    spec.loader.exec_module(module)
    return module
