"""Whether something can be so for any values of its variables, decided by z3.

First with little said of products. Where that finds values, they may be none, for the products may be wrong in them: so
they are tried on the real tick. If they do not show there what was asked for, more is said of the products: how those
with a factor in common lie to each other, then how each lies about the values that were wrong.

How long z3 may take is counted in its own steps, not by the clock: a busy machine changes no verdict.
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

STEPS_A_SECOND = 4_000_000
"""z3's own steps in about a second of one quiet core (measured)."""

_PATIENCE = 20.0
"""And no longer by the clock than so many times that."""
_ROUNDS = 40

Values = dict[str, Value]


class Answer(NamedTuple):
    """What came of it: NEVER, SOMETIMES or UNKNOWN. `values` of the variables where it is SOMETIMES; `shown` says that
    the real tick shows it with them; by what means, in words."""

    answer: str
    values: Values
    shown: bool
    means: str


class Decider:
    """Asks z3. Keeps what was translated, so that many questions on the same formulas are cheap."""

    def __init__(self, terms: Terms) -> None:
        self._translator = Translator(terms)
        self.spent_s = 0.0
        """Seconds of effort so far, counted in z3's steps."""

    def possible(self, wanted: Sequence[Truth], effort_s: float, shows: Callable[[Values], bool]) -> Answer:
        """Whether there are values with which all of `wanted` hold, in about so many seconds of a quiet core. `shows`
        tries values on the real tick."""
        if any(one is False for one in wanted):
            return Answer(NEVER, {}, False, "plain")
        question = _Question(self._translator, [one for one in wanted if isinstance(one, Term)], effort_s)
        answer = question.ask(shows)
        self.spent_s += question.spent / STEPS_A_SECOND
        return answer


class _Question:
    """One question, with little said of products, then more."""

    def __init__(self, translator: Translator, roots: list[Term], effort_s: float) -> None:
        self.spent = 0
        self._variables = [term for term in cone(roots) if term.op == t.VAR]
        self._translator = translator
        self._most = max(1, int(effort_s * STEPS_A_SECOND))
        self._ends = time.perf_counter() + _PATIENCE * effort_s
        self._solver = z3.Solver(ctx=translator.context)
        self._solver.add(*(translator.truth(one) for one in roots))
        self._products, defined = translator.said_under(roots)
        self._solver.add(*defined, *(fact for product in self._products for fact in facts(product)))
        self._paired: list[tuple[Product, Product]] | None = None
        self._said: set[Any] = set()

    def ask(self, shows: Callable[[Values], bool]) -> Answer:
        """The answer, UNKNOWN where it takes too long."""
        means = "linear"
        for round_ in range(_ROUNDS):
            found = self._check()
            if found == z3.unsat:
                return Answer(NEVER, {}, False, means)
            if found != z3.sat:
                break
            model = self._solver.model()
            try:
                values = _values(model, self._translator, self._variables)
                if shows(values):
                    return Answer(SOMETIMES, values, True, means)
                if not self._say_more(model):
                    return Answer(SOMETIMES, values, False, means)
            except ValueError:  # numbers of more digits than Python reads: this refines for ever
                break
            means = f"products compared{f', {round_} rounds' * (round_ > 0)}"
        return Answer(UNKNOWN, {}, False, "out of time")

    def _check(self) -> Any:
        left_s = self._ends - time.perf_counter()
        if self.spent >= self._most or left_s <= 0.0:
            return z3.unknown
        self._solver.set("rlimit", self._most - self.spent)
        self._solver.set("timeout", max(1, int(1000 * left_s)))
        before = self._translator.steps
        found = self._solver.check()
        statistics = self._solver.statistics()
        if "rlimit count" in statistics.keys():  # noqa: SIM118 - z3's statistics are no dict
            self._translator.steps = statistics.get_key_value("rlimit count")
        self.spent += self._translator.steps - before
        return found

    def _say_more(self, model: Any) -> bool:
        """Say more of the products that the model gets wrong. False if it gets none wrong."""
        values: dict[int, tuple[Fraction, Fraction, Fraction]] = {}
        wrong = []
        for product in self._products:
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
            self._paired = [(a, b) for a, b in combinations(self._products, 2) if set(a.factors) & set(b.factors)]
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
