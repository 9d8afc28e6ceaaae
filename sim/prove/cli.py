"""`thwart prove`: the interlocks of this very configuration, proven."""

import argparse
import sys
import time
from collections.abc import Callable
from importlib.util import find_spec
from pathlib import Path
from typing import Any

from sim.console import say
from sim.errors import BenchError, installs
from supervisor.config import ConfigError, load_config
from supervisor.config.load import resolve_boat

PROVEN, REFUTED, BAD_INPUT, UNDECIDED = 0, 1, 2, 3

_DESCRIPTION = """\
Prove the interlocks of this boat file: for the program and the file, not for the wiring or the computer.
The source of a whole tick is read as one formula, and each claim on it is decided for every
input, latch and timer at once; the mode tables are gone through word by word, and the whole reachable product of boat,
shafts and latches besides. "Proven" is said of what was decided so; where the solver comes to no end it is said how
many ticks were looked at instead. Not covered: floating-point rounding (claims on numbers leave room of
1e-9 for it), the wiring, the computer. Results are kept: what is unchanged is not asked again.
At the end claims and evaluators of the requirements are compared with each other on some thousand ticks.
Exit status 0: everything is proven; 1: a counter-example, printed in words; 2: bad input; 3: nothing is refuted, but a
claim is neither proven nor refuted, or a claim and an evaluator say different things of a tick.
"""
_QUICK_S = 22.0
_QUICK_EACH_S = 3.0
_PARITY_TICKS, _QUICK_PARITY_TICKS = 10_000, 1_000
_PARITY_SEED = 17


def add_parser(subparsers: Any) -> None:
    """Add the verb."""
    parser = subparsers.add_parser(
        "prove",
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
    parser.add_argument(
        "--quick", action="store_true",
        help="short run (30 s) while you edit: short questions first, long ones only as far as the time goes",
    )  # fmt: skip
    parser.add_argument("--anew", action="store_true", help="ask everything again, whatever earlier runs have shown")
    parser.add_argument("--workers", metavar="N", type=int, default=0, help="processes (default: one for each core)")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """The exit status; ConfigError, BenchError and OSError (status 2) are left to the command line."""
    path = resolve_boat(args.config)
    config = load_config(path)
    if args.matrix is not None:
        from sim.prove.matrix import write_matrix

        if args.matrix.exists() and not args.matrix.is_dir():
            raise BenchError(f"--matrix: {args.matrix} is a file; give a folder")
        for path in write_matrix(args.matrix, config):
            say(str(path))
        return PROVEN
    if not config.shaft or config.boat.listen_only:
        raise ConfigError(
            str(path), "boat.listen_only", "a boat that only listens orders nothing: there is nothing to prove",
            "Give a boat with shafts and outputs",
        )  # fmt: skip
    if args.workers < 0:
        raise BenchError(f"--workers: {args.workers} is no number of processes; give 1 or more")
    if find_spec("z3") is None:
        raise BenchError(
            f"thwart prove: the solver z3 is not installed. It comes with the extra 'prove': {installs('prove')}"
        )
    # numpy, numba and z3 take their time: no other verb waits for them
    from sim.prove.parity import compare
    from sim.prove.prover import EACH_S, prove_boat, step_claims
    from sim.prove.report import parity_lines, report_lines, verdict
    from sim.prove.rests_on import claims_with
    from sim.prove.solver.claims import Plan, workers
    from sim.prove.solver.kept import Kept
    from sim.prove.streams import frozen

    began = time.perf_counter()
    count = args.workers or workers()
    plan = Plan(_QUICK_EACH_S, _QUICK_S, count) if args.quick else Plan(EACH_S, None, count)
    proof = prove_boat(config, plan=plan, kept=Kept(config.boat.name, read=not args.anew), told=_progress(began))
    for line in report_lines(proof, every_claim=args.every_claim):
        say(line)
    ticks = _QUICK_PARITY_TICKS if args.quick else _PARITY_TICKS
    parity = compare(config, frozen(config), claims_with(step_claims(config)), _PARITY_SEED, ticks)
    for line in parity_lines(parity):
        say(line)
    took_s = time.perf_counter() - began
    said = verdict(proof) + ("" if parity.holds else "; claims and evaluators disagree")
    say(f"{config.boat.name}: {said} ({len(proof.shown)} claims, {took_s:.1f} s)")
    if not proof.holds:
        return REFUTED
    return PROVEN if proof.decided and parity.holds else UNDECIDED


def _progress(began: float) -> Callable[[int, int, str], None]:
    """A line on stderr: on a terminal drawn over itself, elsewhere every quarter minute."""
    on_terminal = sys.stderr.isatty()
    last = [began]

    def told(done: int, every: int, name: str) -> None:
        now = time.perf_counter()
        if not on_terminal and now - last[0] < 15.0 and done < every:
            return
        if on_terminal and now - last[0] < 0.2 and done < every:
            return
        last[0] = now
        line = f"{done} of {every} questions answered, {now - began:.0f} s"
        if on_terminal:
            print(f"\r\x1b[K{line}: {name}"[:120], end="\n" if done == every else "", file=sys.stderr, flush=True)
        else:
            print(line, file=sys.stderr, flush=True)

    return told
