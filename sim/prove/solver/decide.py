"""Whether something can be so for any values of its variables, decided by z3.

First with little said of products. Where that finds values, they may be none, for the products may be wrong in them: so
they are tried on the real tick. If they do not show there what was asked for, more is said of the products: how those
with a factor in common lie to each other, then how each lies about the values that were wrong. Where this comes to no
end, z3 is given the products as they are, for the time left.
"""

import time
from collections.abc import Callable, Sequence
from fractions import Fraction
from itertools import combinations
from typing import Any, NamedTuple

import z3

from sim.prove.solver import terms as t
from sim.prove.solver.smt import Product, Translator, facts, monotone, tangents, value_of
from sim.prove.solver.symbols import Value
from sim.prove.solver.terms import Term, Terms, Truth, cone

NEVER, SOMETIMES, UNKNOWN = "never", "sometimes", "unknown"

_ROUNDS = 40
_EXACT_SHARE = 0.3
"""This part of the time is kept for the question with its products as they are."""

Values = dict[str, Value]


class Answer(NamedTuple):
    """What came of it: NEVER, SOMETIMES or UNKNOWN. `values` of the variables where it is SOMETIMES; `shown` says that
    the real tick shows it with them; how long it took and by what means, in words."""

    answer: str
    values: Values
    shown: bool
    seconds: float
    means: str


class Decider:
    """Asks z3. Keeps what was translated, so that many questions on the same formulas are cheap."""

    def __init__(self, terms: Terms) -> None:
        self._terms = terms
        self._linear = Translator(terms)
        self._exact: Translator | None = None

    def possible(self, wanted: Sequence[Truth], seconds: float, shows: Callable[[Values], bool]) -> Answer:
        """Whether there are values with which all of `wanted` hold. `shows` tries values on the real tick."""
        began = time.perf_counter()
        if any(one is False for one in wanted):
            return Answer(NEVER, {}, False, 0.0, "plain")
        question = _Question(self._linear, [one for one in wanted if isinstance(one, Term)], began, seconds)
        answer = question.ask(shows)
        if answer.answer != UNKNOWN or not question.products:
            return answer
        return self._exactly(question, shows, answer)

    def _exactly(self, question: "_Question", shows: Callable[[Values], bool], before: Answer) -> Answer:
        left = question.left()
        if left < 0.05:
            return before
        if self._exact is None:
            self._exact = Translator(self._terms, exact=True)
        solver = z3.Solver(ctx=self._exact.context)
        solver.add(*(self._exact.truth(one) for one in question.roots))
        solver.set("timeout", max(1, int(1000 * left)))
        found = solver.check()
        took = time.perf_counter() - question.began
        if found == z3.unsat:
            return Answer(NEVER, {}, False, took, "exact")
        if found == z3.sat:
            values = _values(solver.model(), self._exact, question.variables)
            return Answer(SOMETIMES, values, shows(values), took, "exact")
        return before._replace(seconds=took)


class _Question:
    """One question, with little said of products, then more."""

    def __init__(self, translator: Translator, roots: list[Term], began: float, seconds: float) -> None:
        self.roots, self.began, self._seconds = roots, began, seconds
        self.variables = [term for term in cone(roots) if term.op == t.VAR]
        self._translator = translator
        self._solver = z3.Solver(ctx=translator.context)
        self._solver.add(*(translator.truth(one) for one in roots))
        self.products, defined = translator.said_under(roots)
        self._solver.add(*defined, *(fact for product in self.products for fact in facts(product)))
        self._paired: list[tuple[Product, Product]] | None = None
        self._said: set[Any] = set()

    def left(self) -> float:
        """Seconds left."""
        return self._seconds - (time.perf_counter() - self.began)

    def ask(self, shows: Callable[[Values], bool]) -> Answer:
        """The answer, UNKNOWN where it takes too long."""
        means = "linear"
        for round_ in range(_ROUNDS):
            left = self.left() - _EXACT_SHARE * self._seconds * bool(self.products)
            if left <= 0.0:
                break
            self._solver.set("timeout", max(1, int(1000 * left)))
            found = self._solver.check()
            if found == z3.unsat:
                return self._answer(NEVER, {}, False, means)
            if found != z3.sat:
                break
            model = self._solver.model()
            values = _values(model, self._translator, self.variables)
            if shows(values):
                return self._answer(SOMETIMES, values, True, means)
            if not self._say_more(model):
                return self._answer(SOMETIMES, values, False, means)
            means = f"products compared{f', {round_} rounds' * (round_ > 0)}"
        return self._answer(UNKNOWN, {}, False, "out of time")

    def _answer(self, answer: str, values: Values, shown: bool, means: str) -> Answer:
        return Answer(answer, values, shown, time.perf_counter() - self.began, means)

    def _say_more(self, model: Any) -> bool:
        """Say more of the products that the model gets wrong. False if it gets none wrong."""
        values: dict[int, tuple[Fraction, Fraction, Fraction]] = {}
        wrong = []
        for product in self.products:
            p, x, y = (value_of(model, one) for one in product[:3])
            values[id(product)] = (p, x, y)
            if p != x * y:
                wrong.append(product)
        if not wrong:
            return False
        disordered = [
            (a, b) for a, b in self._pairs() if (a.factors, b.factors) not in self._said and _disordered(a, b, values)
        ]
        for a, b in disordered:
            self._said.add((a.factors, b.factors))
            self._solver.add(*monotone(a, b))
        if disordered:
            return True
        for product in wrong:
            _, x, y = values[id(product)]
            for point in ((_short(x), _short(y)), (x, y)):
                if (product.factors, point) not in self._said:
                    self._said.add((product.factors, point))
                    self._solver.add(*tangents(product, *point))
                    break
        return True

    def _pairs(self) -> list[tuple[Product, Product]]:
        """Products with a factor in common."""
        if self._paired is None:
            self._paired = [(a, b) for a, b in combinations(self.products, 2) if set(a.factors) & set(b.factors)]
        return self._paired


def _disordered(one: Product, two: Product, values: dict[int, tuple[Fraction, Fraction, Fraction]]) -> bool:
    """Two products with a factor in common do not lie to each other as their other factors do."""
    p, *mine = values[id(one)]
    q, *others = values[id(two)]
    for place, number in enumerate(one.factors):
        if number in two.factors:
            common, a, b = mine[place], mine[1 - place], others[1 - two.factors.index(number)]
            if common and _sign(common) * _sign(a - b) != _sign(p - q):
                return True
    return False


def _sign(value: Fraction) -> int:
    return (value > 0) - (value < 0)


def _short(value: Fraction) -> Fraction:
    return value.limit_denominator(1000)


def _values(model: Any, translator: Translator, variables: Sequence[Term]) -> Values:
    found: Values = {}
    for term in variables:
        value = value_of(model, translator.term(term))
        found[term.label] = value if isinstance(value, bool) else float(value)
    return found
