"""`thwart prove`: the interlocks of this very configuration, proven."""

import argparse
import time
from pathlib import Path
from typing import Any

from sim.console import say
from sim.errors import BenchError
from supervisor.config import ConfigError, load_config
from supervisor.config.load import resolve_boat

_DESCRIPTION = """\
Prove the interlocks for this configuration: every mode with every combination of its bits, the whole reachable product
of boat, shafts and latches, and the numeric rules over their whole input range. Nothing is sampled.
Exit status 0: everything holds; 1: a counter-example, printed as a sequence in words; 2: bad input.
"""


def add_parser(subparsers: Any) -> None:
    """Add the verb."""
    parser = subparsers.add_parser(
        "prove",
        help="prove the interlocks for this very configuration",
        description=_DESCRIPTION,
        epilog="example:  thwart prove marsh_tern",
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    parser.add_argument("config", metavar="CONFIG", help="a boat file, or the name of a shipped boat")
    parser.add_argument(
        "--matrix", metavar="DIR", type=Path, nargs="?", const=Path("matrix"), default=None,
        help="write the cause-and-effect matrix and the state diagrams into DIR (default: ./matrix), and prove nothing",
    )  # fmt: skip
    parser.add_argument("--every-claim", action="store_true", help="list each claim, not only the requirements")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """0 proven, 1 refuted; ConfigError and OSError (status 2) are left to the command line."""
    path = resolve_boat(args.config)
    config = load_config(path)
    if args.matrix is not None:
        from sim.prove.matrix import write_matrix

        if args.matrix.exists() and not args.matrix.is_dir():
            raise BenchError(f"--matrix: {args.matrix} is a file; give a folder")
        for path in write_matrix(args.matrix, config):
            say(str(path))
        return 0
    if not config.shaft or config.boat.listen_only:
        raise ConfigError(
            str(path), "boat.listen_only", "a boat that only listens orders nothing: there is nothing to prove",
            "Give a boat with shafts and outputs",
        )  # fmt: skip
    # numpy and numba take their time: no other verb waits for them
    from sim.prove.prover import prove_boat
    from sim.prove.report import report_lines

    began = time.perf_counter()
    proof = prove_boat(config)
    for line in report_lines(proof, every_claim=args.every_claim):
        say(line)
    took_s = time.perf_counter() - began
    claims = len(proof.shown)
    verdict = "proven" if proof.holds else f"REFUTED: {len(proof.failed())} of {claims} claims fail"
    say(f"{config.boat.name}: {verdict} ({claims} claims, {took_s:.1f} s, {proof.executor})")
    return 0 if proof.holds else 1
