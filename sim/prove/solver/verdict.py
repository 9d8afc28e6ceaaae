"""One claim on one shaft: proven, refuted on the real tick, or neither, with what was found on the way."""

import hashlib
import time
from collections.abc import Callable, Mapping
from typing import Any, NamedTuple

from sim.prove.result import CHECKED, EMPTY, ERROR, PROVEN, REFUTED, SILENT
from sim.prove.solver import terms as t
from sim.prove.solver.decide import NEVER, SOMETIMES, Answer, Decider, Values
from sim.prove.solver.formula import Formula, Stated, real_tick
from sim.prove.solver.search import search
from sim.prove.solver.symbols import Value, gather, spread
from sim.prove.solver.terms import Term, Truth, cone
from sim.prove.solver.values import WalkError
from sim.prove.step import Step, StepClaim, breaks
from supervisor.rules import run_tick

_REMEMBERED = 200
_CHECKS = 20_000
"""Where z3 comes to no end, this many ticks are looked at instead."""


class Verdict(NamedTuple):
    """What came of one claim on one shaft.

    `answer` (`sim.prove.result`) is PROVEN; REFUTED (by a tick that the real rules repeat: `values`); CHECKED (z3 came
    to no end; `over` ticks were looked at and none breaks it); SILENT (it speaks of no tick of this boat); EMPTY (no
    outcome of a tick whatever could break it: it claims nothing); ERROR (it could not be walked, or formula and tick
    differ). `over` is for PROVEN the number of inputs, latches and timers that the formula hangs on, each free; `words`
    says why, where it is neither; `key` names the question by what it says.
    """

    answer: str
    over: int
    seconds: float
    means: str = ""
    words: str = ""
    values: Values | None = None
    key: str = ""
    again: bool = False
    """It was shown in an earlier run, and nothing that it hangs on has changed since."""


class _Asked(NamedTuple):
    """A claim on one shaft while it is decided."""

    claim: StepClaim
    shaft: int
    stated: Stated
    raises: Truth
    assumed: list[Truth]

    def broken(self, step: Step) -> bool:
        """The step breaks it."""
        return breaks(self.claim, step, self.shaft)

    def speaks(self, step: Step) -> bool:
        """The step is one that it speaks of."""
        return bool(self.claim.given(step, self.shaft))


class Judging:
    """Gives verdicts on claims about one formula. Keeps ticks that it met: the next claim may speak of one of them."""

    def __init__(self, formula: Formula, kept: Callable[[str], Mapping[str, Any] | None] = lambda _key: None) -> None:
        self.formula = formula
        self._kept = kept
        self._decider = Decider(formula.terms)
        self._met: list[tuple[Values, Step]] = []

    def verdict(self, claim: StepClaim, index: int, effort_s: float) -> Verdict:
        """The verdict on a claim about one shaft (0 for the boat), in about so many seconds of a quiet core, or a few
        times that where it is a hard one."""
        began = time.perf_counter()
        try:
            stated = self.formula.state(claim, index)
            thought = self.formula.state(claim, index, anything=True)
        except WalkError as error:
            return Verdict(ERROR, 0, time.perf_counter() - began, words=str(error))
        key = question_key(self.formula, stated, thought)
        found = self._shown_before(claim, index, key, effort_s) or self._judged(claim, index, stated, thought, effort_s)
        return found._replace(seconds=time.perf_counter() - began, key=key)

    def raises(self, effort_s: float) -> Verdict:
        """The verdict on the tick itself: no place in its source is reached where it would raise."""
        began = time.perf_counter()
        terms = self.formula.terms
        places = [terms.both(one.path, terms.negation(one.must)) for one in self.formula.obligations]
        wrong = terms.any(places)
        answer = self._decider.possible([*self.formula.related([wrong]), wrong], effort_s, self._raising)
        took = time.perf_counter() - began
        if answer.answer == NEVER:
            return Verdict(PROVEN, free_in([wrong]), took, answer.means)
        if answer.shown:
            return Verdict(REFUTED, 1, took, answer.means, self._raised(answer.values), answer.values)
        return Verdict(CHECKED, 0, took, answer.means, "z3 came to no end, or breaks it in real numbers only")

    def _raising(self, values: Values) -> bool:
        return self._raised(values) != ""

    def _raised(self, values: Values) -> str:
        """What the real tick raises with these values, "" for nothing, or where they do not keep the invariants."""
        was, boat_in, shaft_in, dt_s = gather(values, self.formula.boat)
        boat, config = self.formula.boat, self.formula.config
        if not all(one.holds(config, boat, was, i) for one in self.formula.invariants for i in one.indices(boat)):
            return ""
        try:
            run_tick(boat, was, boat_in, shaft_in, dt_s)
        except Exception as error:  # noqa: BLE001 - whatever it raises is the finding
            return f"{type(error).__name__}: {error}, with {was}, {boat_in}, {shaft_in}"
        return ""

    def _shown_before(self, claim: StepClaim, index: int, key: str, effort_s: float) -> Verdict | None:
        """What an earlier run has shown of the same question, if its tick still shows it on the rules as they are."""
        told = self._kept(key)
        if told is None:
            return None
        if told["answer"] == CHECKED:  # no more will come of it with no more effort
            words = str(told["words"])
            return (
                Verdict(CHECKED, told["over"], 0.0, told["means"], words, again=True)
                if told["effort_s"] >= effort_s
                else None
            )
        values = told["values"]
        if values is not None:
            step = self._run(values)
            if step is None or not claim.given(step, index) or not claim.then(step, index):
                return None
        return Verdict(PROVEN, told["over"], 0.0, told["means"], told["words"], values, again=True)

    def _judged(self, claim: StepClaim, index: int, stated: Stated, thought: Stated, effort_s: float) -> Verdict:
        terms = self.formula.terms
        raises = terms.any(terms.both(one.path, terms.negation(one.must)) for one in stated.raises)
        asked = _Asked(claim, index, stated, raises, self.formula.related([stated.given, stated.then, raises]))
        answer = self._decider.possible(self._wrong(asked, stated.then), effort_s, self._shower(asked))
        if answer.answer == SOMETIMES and answer.shown:
            return Verdict(REFUTED, 1, 0.0, answer.means, values=answer.values)
        if answer.answer == NEVER:
            if claim.requirement and not self._could_fail(thought, effort_s):
                return Verdict(EMPTY, 0, 0.0, answer.means, "no outcome of a tick could break it")
            return self._not_silent(asked, answer, effort_s)
        return self._looked_at(asked, answer, effort_s)

    def _wrong(self, asked: "_Asked", then: Truth) -> list[Truth]:
        """What must be so for a tick to break the claim."""
        terms = self.formula.terms
        broken = terms.either(asked.raises, terms.both(asked.stated.given, terms.negation(then)))
        return [*asked.assumed, broken]

    def _not_silent(self, asked: "_Asked", answer: Answer, effort_s: float) -> Verdict:
        """The claim holds; and it speaks of a tick that there is."""
        over = free_in([asked.stated.given, asked.stated.then])
        witness = self._witness(asked, effort_s)
        if witness is None:
            return Verdict(SILENT, over, 0.0, answer.means, "no tick of this boat is one that it speaks of")
        if isinstance(witness, str):
            return Verdict(PROVEN, over, 0.0, answer.means, witness)
        return Verdict(PROVEN, over, 0.0, answer.means, values=witness)

    def _witness(self, asked: "_Asked", effort_s: float) -> Values | str | None:
        """A tick of which the claim speaks, run on the real rules; None if there is none; words if none was found."""
        for values, step in reversed(self._met):
            if asked.speaks(step):
                return values
        wanted = [*asked.assumed, asked.stated.given]
        answer = self._decider.possible(wanted, effort_s, self._trier(asked.speaks))
        if answer.answer == NEVER:
            return None
        return answer.values if answer.shown else "no tick that it speaks of was found"

    def _could_fail(self, thought: Stated, effort_s: float) -> bool:
        """Some outcome, were it one, would break the claim."""
        wanted = [thought.given, self.formula.terms.negation(thought.then)]
        assumed = self.formula.related(wanted)
        return self._decider.possible([*assumed, *wanted], effort_s, lambda _values: True).answer != NEVER

    def _looked_at(self, asked: "_Asked", answer: Answer, effort_s: float) -> Verdict:
        """Neither proven nor refuted by z3: look at many ticks."""
        why = "z3 came to no end"
        if answer.answer == SOMETIMES:
            why = "z3 breaks it in real numbers with a tick that, rounded to floats, does not"
        witness = self._witness(asked, effort_s)
        if witness is None:
            return Verdict(SILENT, 0, 0.0, answer.means, "no tick of this boat is one that it speaks of")
        seeds = [] if isinstance(witness, str) else [witness]
        if answer.values:
            seeds.append(answer.values)
        every = [one.truth for one in self.formula.assumed]
        found = search(self.formula.boat, [*every, asked.stated.given], asked.stated.then, seeds, _CHECKS)
        if found.values is None:
            return Verdict(CHECKED, found.checked, 0.0, answer.means, why)
        step = self._run(found.values)
        if step is None or not asked.broken(step):
            return Verdict(ERROR, 0, 0.0, answer.means, "the formula breaks it on a tick on which the rules do not")
        return Verdict(REFUTED, 1, 0.0, f"{answer.means}, then search", values=found.values)

    def _shower(self, asked: "_Asked") -> Callable[[Values], bool]:
        return self._trier(asked.broken)

    def _trier(self, asks: Callable[[Step], bool]) -> Callable[[Values], bool]:
        def shows(values: Values) -> bool:
            step = self._run(values)
            if step is None or not asks(step):
                return False
            self._met.append((spread(step.was, step.boat_in, step.shaft_in, step.dt_s), step))
            del self._met[:-_REMEMBERED]
            return True

        return shows

    def _run(self, values: dict[str, Value]) -> Step | None:
        """The real tick with these values; None if what it remembers does not keep the invariants, or if it raises."""
        try:
            real = real_tick(self.formula.config, self.formula.boat, values)
        except ArithmeticError:
            return None  # the claim that nothing raises is another one
        return real.step if real.keeps(self.formula.invariants) else None


def free_in(truths: list[Truth]) -> int:
    """How many inputs, latches and timers formulas hang on."""
    return sum(1 for term in cone([one for one in truths if isinstance(one, Term)]) if term.op == t.VAR)


def question_key(formula: Formula, stated: Stated, thought: Stated) -> str:
    """A name of the question by what it says: the same in every run as long as nothing that it hangs on changes."""
    parts = [stated.given, stated.then, thought.given, thought.then]
    parts += [one for raised in stated.raises for one in (raised.path, raised.must)]
    parts += formula.related(parts)
    digest = hashlib.sha256()
    for one in parts:
        digest.update(one.digest if isinstance(one, Term) else str(one).encode())
    return digest.hexdigest()
