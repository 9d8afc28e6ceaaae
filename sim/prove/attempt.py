"""Claims tried on the solver while one writes them: `python -m sim.prove.attempt BOAT MODULE:NAME [PATTERN]`.

NAME is a tuple of StepClaims in MODULE; PATTERN a part of the names wanted. Prints a verdict for each claim and shaft,
and the tick that breaks a refuted one. Results are not kept. Status 0 all proven, 1 not, 2 bad input.
"""

import argparse
import re
import sys
from collections.abc import Sequence
from functools import partial
from importlib import import_module

from sim.prove.counterexample import shortened, step_words
from sim.prove.invariants import INVARIANTS, as_claims
from sim.prove.result import PROVEN, REFUTED
from sim.prove.solver.formula import Formula
from sim.prove.solver.verdict import Judging
from sim.prove.step import Step, StepClaim, breaks
from supervisor.config import load_config


def _breaks_at(claim: StepClaim, index: int, step: Step) -> bool:
    return breaks(claim, step, index)


def main(argv: Sequence[str] | None = None) -> int:
    """Try the claims."""
    parser = argparse.ArgumentParser(prog="python -m sim.prove.attempt", description=__doc__)
    parser.add_argument("boat")
    parser.add_argument("claims", metavar="MODULE:NAME", help="'invariants' for those of the state")
    parser.add_argument("pattern", nargs="?", default="")
    parser.add_argument("--shaft", type=int, default=None, help="only this one")
    parser.add_argument("--seconds", type=float, default=20.0, help="for each claim and shaft")
    args = parser.parse_args(argv)
    formula = Formula(load_config(args.boat), INVARIANTS)
    if args.claims == "invariants":
        claims = as_claims()
    else:
        module, _, name = args.claims.partition(":")
        claims = list(getattr(import_module(module), name))
    judging = Judging(formula)
    bad = 0
    for claim in claims:
        if not re.search(args.pattern, claim.name):
            continue
        for index in range(len(formula.boat.shafts) if claim.per_shaft else 1):
            if args.shaft not in (None, index):
                continue
            verdict = judging.verdict(claim, index, args.seconds)
            bad += verdict.answer != PROVEN
            print(
                f"{verdict.answer:8} {verdict.seconds:6.2f} s {claim.requirement} {claim.name} [{index}]: "
                f"{verdict.means}{': ' * bool(verdict.words)}{verdict.words}, over {verdict.over}",
                flush=True,
            )
            if verdict.answer == REFUTED and verdict.values is not None:
                step = shortened(formula.config, formula.boat, verdict.values, partial(_breaks_at, claim, index))
                print("\n".join(f"    {line}" for line in step_words(step)))
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
