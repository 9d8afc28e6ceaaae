"""Where a claim restates what the rules work out, its parts are replaced by the rules' own, one by one.

A claim that says "no less than" restates a whole law, and z3 would have to find by itself that each of its parts is a
part of the rules. So parts are looked for that agree on many ticks; each pair is then decided by z3 for all ticks on
which the claim speaks; and what is proven equal is put in its place, from the inside out. What is left to decide is
the difference.
"""

from collections.abc import Callable, Sequence
from typing import Any

import numpy as np

from sim.prove.solver import terms as t
from sim.prove.solver.decide import NEVER, Decider
from sim.prove.solver.evaluate import Worked
from sim.prove.solver.samples import Arrays
from sim.prove.solver.terms import Term, Terms, Truth, cone

_TOLERANCE = 1e-9
_FEW = 3
"""At most so many of the rules' parts are tried for one part of the claim."""


class Alike:
    """Replaces parts of formulas by `parts` (of the rules' own) that are equal to them wherever `given` holds."""

    def __init__(
        self, terms: Terms, decider: Decider, parts: Sequence[Term], arrays: Arrays,
        related: Callable[[Sequence[Truth]], list[Truth]], given: Truth, effort_s: float,
    ) -> None:  # fmt: skip
        self._terms, self._decider, self._related = terms, decider, related
        self._given, self._effort_s = given, effort_s
        self._parts = list(parts)
        self._own = {part.number for part in parts}
        self._arrays = arrays
        count = len(next(iter(arrays.values())))
        worked = Worked(self._parts, arrays)
        self._values = {
            truth: [(part, np.broadcast_to(worked(part), count)) for part in self._parts if part.truth is truth]
            for truth in (False, True)
        }
        self._numbers = np.array([values for _, values in self._values[False]])
        self._truths = np.array([values for _, values in self._values[True]])
        self.replaced = 0
        self._now: dict[int, Any] = {}

    def put(self, root: Truth, left: Callable[[], bool]) -> Truth:
        """`root` with the rules' own parts in it, as far as there is time."""
        if not isinstance(root, Term):
            return root
        ordered = cone([root])
        worked = Worked([root], self._arrays)
        for term in ordered:
            if term.number in self._own or term.op in (t.VAR, t.CONST):
                self._now[term.number] = term
                continue
            made = self._rebuilt(term)
            self._now[term.number] = made
            if isinstance(made, Term) and made.number not in self._own and made.op not in (t.VAR, t.CONST) and left():
                self._now[term.number] = self._same(made, worked(term))
        found = self._now[root.number]
        return found if isinstance(found, (Term, bool)) else root

    def _same(self, made: Term, values: Any) -> Term:
        """A part of the rules that is proven equal to `made`, or `made` itself."""
        if made.op == t.NOT:
            return made
        count = len(next(iter(self._arrays.values())))
        mine = np.broadcast_to(values, count)
        if made.truth:
            places = np.flatnonzero((self._truths == mine).all(axis=1)) if mine.any() and not mine.all() else []
        elif np.ptp(mine) > 0.0:
            near = np.abs(self._numbers - mine) <= _TOLERANCE * (1.0 + np.abs(mine))
            places = np.flatnonzero(near.all(axis=1))
        else:
            places = []
        for place in places[:_FEW]:
            part = self._values[made.truth][place][0]
            same = self._terms.same_truth(made, part) if made.truth else self._terms.equal(made, part)
            if same is True:
                return part
            wanted = [self._given, self._terms.negation(same)]
            answer = self._decider.possible([*self._related(wanted), *wanted], self._effort_s, lambda _values: True)
            if answer.answer == NEVER:
                self.replaced += 1
                return part
        return made

    def _rebuilt(self, term: Term) -> Any:
        terms = self._terms
        args: list[Any] = [self._now[arg.number] for arg in term.args]
        if all(new is old for new, old in zip(args, term.args, strict=True)):
            return term
        match term.op:
            case t.NOT:
                return terms.negation(args[0])
            case t.AND:
                return terms.all(args)
            case t.OR:
                return terms.any(args)
            case t.IFF:
                return terms.same_truth(args[0], args[1])
            case t.ITE:
                return terms.if_truth(*args) if term.truth else terms.if_real(*args)
            case t.LE:
                return terms.at_most(args[0], args[1])
            case t.EQ:
                return terms.equal(args[0], args[1])
            case t.NEG:
                return terms.minus(terms.real(args[0]))
        return terms.arithmetic(term.op, args[0], args[1])
