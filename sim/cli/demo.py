"""`thwart demo`: a whole boat at work, nothing attached."""

import argparse
from typing import Any

from sim.cli.running import add_run_options, run_and_write
from supervisor.config import shipped_path

BOAT = "marsh_tern"
OWN = {BOAT: "procedures/demo_marsh_tern.toml"}
"""Boats with a demo of their own; every other one has the common one."""
ANY_BOAT = "procedures/demo.toml"


def add_parser(subparsers: Any) -> None:
    """Add the verb."""
    parser = subparsers.add_parser(
        "demo",
        description="From cold through every mode, with faults, on a simulated boat; ends with a verdict and a plot.",
        epilog="example:  thwart demo --boat reed_warbler",
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    parser.add_argument(
        "--boat", default=BOAT, metavar="CONFIG", help="a boat file, or a shipped boat's name (default: %(default)s)"
    )
    parser.add_argument("--table", action="store_false", dest="short", help="show each expectation, not only the steps")
    add_run_options(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """0 passed, 1 failed, 130 stopped by hand."""
    return run_and_write(args.boat, shipped_path(OWN.get(args.boat, ANY_BOAT)), args)
