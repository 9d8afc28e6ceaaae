"""`thwart bench`: a written procedure on a simulated boat, with a verdict and a run folder."""

import argparse
import textwrap
from pathlib import Path
from typing import Any

from sim.cli.running import add_run_options, run_and_write
from sim.errors import BenchError
from supervisor.config import shipped_root

_DESCRIPTION = """\
Run a procedure (operator actions, faults, expectations with deadlines) on the simulated boat and write a run folder:
bus log, signals, events, verdict and plot. Exit status 1 if an expectation was not met.
"""


def add_parser(subparsers: Any) -> None:
    """Add the verb."""
    parser = subparsers.add_parser(
        "bench",
        help="run a written test procedure",
        description=_DESCRIPTION,
        epilog=f"{_listed()}\n\nexample:  thwart bench marsh_tern soft_start --out runs/first",
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    parser.add_argument("config", metavar="CONFIG", help="a boat file, or the name of a shipped boat")
    parser.add_argument("procedure", metavar="PROCEDURE", help="a procedure file, or the name of a shipped one")
    add_run_options(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """0 passed, 1 failed, 130 stopped by hand."""
    return run_and_write(args.config, find_procedure(args.procedure), args)


def find_procedure(path_or_name: str) -> Path:
    """A path as given, or a shipped procedure by its bare name. Raises BenchError if neither is there."""
    path = Path(path_or_name)
    if path.is_file():
        return path
    shipped = _shipped()
    if path_or_name in shipped:
        return shipped[path_or_name]
    raise BenchError(f"{path_or_name}: no such procedure file; shipped ones: {', '.join(shipped) or 'none'}")


def _shipped() -> dict[str, Path]:
    return {one.stem: one for one in sorted((shipped_root() / "procedures").glob("*.toml"))}


def _listed() -> str:
    return textwrap.fill("shipped procedures: " + ", ".join(_shipped()), 100, subsequent_indent="  ")
