"""`thwart new`: a boat file, its simulated boat and a first procedure from a boat's ratings."""

import argparse
import re
import shutil
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any, NamedTuple

from sim.cli.new_boat import BASES, Ratings, boat_text, plant_text, ratings_of
from sim.console import say
from sim.errors import BenchError
from supervisor.config import ConfigError, load_config, shipped_path

_NAME = re.compile(r"[a-z][a-z0-9_]{0,30}")


class Question(NamedTuple):
    """One rating: option and field, what is asked, unit, range."""

    field: str
    text: str
    unit: str
    low: float
    high: float


QUESTIONS = (
    Question("capacity_ah", "capacity of the bank", "A h", 20.0, 5000.0),
    Question("cells", "cells in series, LFP", "", 4.0, 32.0),
    Question("max_charge_a", "highest charging current of the bank", "A", 5.0, 5000.0),
    Question("max_discharge_a", "highest discharging current of the bank", "A", 5.0, 5000.0),
    Question("torque_nm", "rated torque of a drive, at the propeller shaft", "N m", 5.0, 2000.0),
    Question("power_kw", "rated power of a drive", "kW", 0.5, 200.0),
    Question("generate_kw", "power of a drive as a generator", "kW", 0.2, 200.0),
    Question("speed_rpm", "highest speed of a drive, at the propeller shaft", "rpm", 200.0, 6000.0),
    Question("engine_kw", "rated power of an engine", "kW", 2.0, 500.0),
    Question("idle_rpm", "idle speed of an engine", "rpm", 500.0, 1500.0),
    Question("engine_rpm", "rated speed of an engine", "rpm", 1500.0, 6000.0),
    Question("ratio", "engine turns for one turn of the shaft", "", 1.0, 5.0),
    Question("waterline_m", "length of the waterline", "m", 4.0, 30.0),
    Question("displacement_kg", "displacement", "kg", 400.0, 80000.0),
)


def add_parser(subparsers: Any) -> None:
    """Add the verb."""
    parser = subparsers.add_parser(
        "new",
        description="Writes a folder with a boat file, its simulated boat, a first procedure and the DBC files. What "
        "is not given as an option is asked for; without a terminal it is scaled from the demonstration boat.",
        epilog="example:  thwart new grey_heron --shafts 1 --capacity-ah 400 --torque-nm 90 --power-kw 7",
        allow_abbrev=False,
    )  # fmt: skip
    parser.add_argument("name", metavar="NAME", help="name of the boat: small letters, digits, _")
    parser.add_argument("--folder", metavar="DIR", help="where (default: a folder of that name here)")
    parser.add_argument("--title", help="the boat in words (default: its name)")
    parser.add_argument("--shafts", type=int, choices=(1, 2), help="propeller shafts with a drive and an engine each")
    for one in QUESTIONS:
        option = "--" + one.field.replace("_", "-")
        parser.add_argument(option, type=float, metavar="NUMBER", help=f"{one.text}, {one.unit}".rstrip(", "))
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """0 written; raises BenchError for what cannot be."""
    if _NAME.fullmatch(args.name) is None:
        raise BenchError(f"{args.name!r} is no name for a boat: small letters, digits and _, a letter first")
    folder = Path(args.folder or args.name)
    if folder.exists():
        raise BenchError(f"{folder} is there already; name another --folder, or delete it")
    asks = _ask if sys.stdin.isatty() else None
    shafts = args.shafts or (round(_ask("propeller shafts, 1 or 2", "", 1.0, 1.0, 2.0)) if asks else 1)
    ratings = _ratings(args, ratings_of(shafts), asks)
    title = args.title or args.name.replace("_", " ")
    with tempfile.TemporaryDirectory() as place:
        made = Path(place) / "made"
        made.mkdir()
        _write(made, args.name, title, ratings)
        try:
            load_config(made / f"{args.name}.toml")
        except ConfigError as error:
            said = str(error).replace(f"{made / args.name}.toml: ", "")
            raise BenchError(f"these ratings do not go together, nothing is written:\n{said}") from error
        shutil.copytree(made, folder)
    file = folder / f"{args.name}.toml"
    say(f"written: {folder}: {', '.join(sorted(str(one.relative_to(folder)) for one in folder.rglob('*.*')))}")
    say("Everything that you did not enter is scaled from a demonstration boat: go through it with your data sheets.")
    say(f"next:  thwart check {file}")
    say(f"       thwart bench {file} {folder / 'first.toml'}")
    say(f"       thwart demo --boat {file}")
    return 0


def _ratings(args: argparse.Namespace, base: Ratings, ask: Callable[..., float] | None) -> Ratings:
    """As given, asked for, or the demonstration boat's. Raises BenchError for a number out of range."""
    found = base._asdict()
    for one in QUESTIONS:
        given = getattr(args, one.field)
        default = _default(one.field, found, base)
        if given is None:
            value = ask(one.text, one.unit, default, one.low, one.high) if ask is not None else default
        elif one.low <= given <= one.high:
            value = given
        else:
            option = "--" + one.field.replace("_", "-")
            raise BenchError(f"{option} {given:g} is not allowed: {one.low:g} to {one.high:g} {one.unit}".rstrip())
        if one.field == "cells" and value != round(value):
            raise BenchError(f"--cells {value:g} is not allowed: give a whole number")
        found[one.field] = value
    return Ratings(**{**found, "cells": round(found["cells"])})


def _default(field: str, found: dict[str, float], base: Ratings) -> float:
    """The demonstration boat's number, in proportion to what has been said before it."""
    parts = {
        "max_charge_a": "capacity_ah", "max_discharge_a": "capacity_ah", "power_kw": "torque_nm",
        "generate_kw": "power_kw",
    }  # fmt: skip
    own = float(getattr(base, field))
    if field not in parts:
        return own
    return float(f"{own * found[parts[field]] / getattr(base, parts[field]):.3g}")


def _ask(text: str, unit: str, default: float, low: float, high: float) -> float:
    """A number from the person at the terminal; asked again until it is one."""
    while True:
        try:
            said = input(f"{text}{', ' + unit if unit else ''} [{default:g}]: ").strip()
        except EOFError:
            raise BenchError("no answer, nothing is written. Give the ratings as options, or answer") from None
        if not said:
            return default
        try:
            value = float(said.replace(",", "."))
        except ValueError:
            value = float("nan")
        if low <= value <= high:
            return value
        say(f"  a number from {low:g} to {high:g} {unit}".rstrip())


def _write(folder: Path, name: str, title: str, ratings: Ratings) -> None:
    (folder / f"{name}.toml").write_text(boat_text(name, title, ratings), encoding="utf-8")
    (folder / "plant.toml").write_text(plant_text(name, ratings), encoding="utf-8")
    first = shipped_path("procedures/first.toml").read_text(encoding="utf-8")
    (folder / "first.toml").write_text(first, encoding="utf-8")
    (folder / "dbc").mkdir()
    for bus in load_config(BASES[ratings.shafts]).buses.values():
        for one in bus.dbc:
            shutil.copy(shipped_path(one), folder / one)
