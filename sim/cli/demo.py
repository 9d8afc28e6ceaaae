"""`thwart demo`: a whole boat at work, nothing attached."""

import argparse
from typing import Any

from sim.cli.running import add_run_options, run_and_write
from supervisor.config import shipped_path

BOATS = ("marsh_tern", "reed_warbler")


def add_parser(subparsers: Any) -> None:
    """Add the verb."""
    parser = subparsers.add_parser(
        "demo",
        help="see it work on a simulated boat, nothing attached",
        description="From cold through every mode, with faults, on a simulated boat; ends with a verdict and a plot.",
        epilog="example:  thwart demo --boat reed_warbler",
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    parser.add_argument("--boat", choices=BOATS, default=BOATS[0], help="default: %(default)s")
    add_run_options(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """0 passed, 1 failed, 130 stopped by hand."""
    return run_and_write(args.boat, shipped_path(f"procedures/demo_{args.boat}.toml"), args)
