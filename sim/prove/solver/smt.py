"""Formulas handed to z3 with their products taken apart, and what z3 found handed back.

z3 decides conditions and linear numbers fast, and products of numbers slowly or not at all. So each product or quotient
of two numbers that hang on inputs is handed over as a number of its own, of which only plain facts are said: its sign,
and how it lies to its factors where these are under or over 1. Products are first multiplied out, so that few kinds
are left. What holds with so little said of products holds all the more; what does not is looked at closer
(`sim.prove.solver.decide`), product by product.
"""

from collections.abc import Iterable, Iterator
from fractions import Fraction
from typing import Any, NamedTuple

import z3

from sim.prove.solver import terms as t
from sim.prove.solver.terms import Term, Terms, Truth, cone

_MANY = 6
"""Sums of more parts than this are not multiplied out."""


class Product(NamedTuple):
    """`made` stands for `first` times `second`; `factors` are the numbers of the two terms. With `fixed` the first is a
    plain number, and `made` is exact."""

    made: Any
    first: Any
    second: Any
    factors: tuple[int, int]
    fixed: bool = False


class _Known(NamedTuple):
    """A product, what is said of it when it is multiplied out, and the products in that."""

    product: Product
    defined: list[Any]
    parts: list[tuple[int, int]]


class Translator:
    """Translates terms, each once, into one z3 context."""

    def __init__(self, terms: Terms) -> None:
        self.context = z3.Context()
        self.steps = 0
        """Steps that z3 has taken in this context, as last read."""
        self._terms = terms
        self._done: dict[int, Any] = {}
        self._products: dict[tuple[int, int], _Known] = {}
        self._quotients: dict[int, tuple[Term, Any]] = {}
        self._met: dict[int, list[tuple[int, int]]] = {}
        self._meeting: list[list[tuple[int, int]]] = []

    def truth(self, value: Truth) -> Any:
        """A condition in z3's form."""
        return self.term(value) if isinstance(value, Term) else z3.BoolVal(value, self.context)

    def term(self, root: Term) -> Any:
        """A term in z3's form."""
        if root.number not in self._done:
            for term in cone([root]):
                if term.number not in self._done:
                    self._meeting.append([])
                    self._done[term.number] = self._one(term, [self._done[arg.number] for arg in term.args])
                    met = self._meeting.pop()
                    if met:
                        self._met[term.number] = met
        return self._done[root.number]

    def said_under(self, roots: Iterable[Term]) -> tuple[list[Product], list[Any]]:
        """The products under `roots`, each once, and what they and the quotients are."""
        terms = cone(roots)
        reached: dict[tuple[int, int], _Known] = {}
        stack = [key for term in terms for key in self._met.get(term.number, ())]
        while stack:
            key = stack.pop()
            if key not in reached:
                reached[key] = self._products[key]
                stack.extend(reached[key].parts)
        defined = [one for known in reached.values() for one in known.defined]
        defined += [self._quotients[term.number][1] for term in terms if term.number in self._quotients]
        return [known.product for known in reached.values()], defined

    def _one(self, term: Term, args: list[Any]) -> Any:
        match term.op:
            case t.VAR:
                return z3.Bool(term.label, self.context) if term.truth else z3.Real(term.label, self.context)
            case t.CONST:
                return z3.RealVal(term.label, self.context)
            case t.NOT:
                return z3.Not(args[0])
            case t.AND:
                return z3.And(*args)
            case t.OR:
                return z3.Or(*args)
            case t.IFF | t.EQ:
                return args[0] == args[1]
            case t.ITE:
                return z3.If(*args)
            case t.LE:
                return args[0] <= args[1]
            case t.ADD:
                return args[0] + args[1]
            case t.SUB:
                return args[0] - args[1]
            case t.MUL:
                return self._product(*term.args)
            case t.DIV:
                return self._quotient(term, *term.args)
            case t.NEG:
                return -args[0]
        raise ValueError(f"no such operation: {term.op}")

    def _product(self, x: Term, y: Term) -> Any:
        """x y, multiplied out as far as that leaves less to be said."""
        for a, b in ((x, y), (y, x)):
            if a.op == t.CONST:
                return self._scaled(a, b)
        for a, b in ((x, y), (y, x)):
            match a.op:
                case t.NEG:
                    return -self._product(a.args[0], b)
                case t.MUL if t.CONST in (a.args[0].op, a.args[1].op):
                    scale, rest = a.args if a.args[0].op == t.CONST else (a.args[1], a.args[0])
                    return self.term(scale) * self._product(rest, b)
                case t.DIV if a.args[1].op == t.CONST:
                    return self._product(a.args[0], b) / self.term(a.args[1])
                case t.DIV:
                    self.term(a)
                    return self._product(self._quotients[a.number][0], b)
        return self._plain(x, y)

    def _scaled(self, number: Term, y: Term) -> Any:
        """A fixed number times y: linear, yet products with y may be compared with it."""
        key = (number.number, y.number)
        self._meeting[-1].append(key)
        if key not in self._products:
            fixed, free = self.term(number), self.term(y)
            self._products[key] = _Known(Product(fixed * free, fixed, free, key, fixed=True), [], [])
        return self._products[key].product.made

    def _taken_apart(self, a: Term, b: Term) -> Any | None:
        match a.op:
            case t.ITE if t.CONST in (a.args[1].op, a.args[2].op):
                return z3.If(self.term(a.args[0]), self._product(a.args[1], b), self._product(a.args[2], b))
            case t.ADD if _summands(a) <= _MANY:
                return self._product(a.args[0], b) + self._product(a.args[1], b)
            case t.SUB if _summands(a) <= _MANY:
                return self._product(a.args[0], b) - self._product(a.args[1], b)
        return None

    def _plain(self, x: Term, y: Term) -> Any:
        if x.number > y.number:
            x, y = y, x
        key = (x.number, y.number)
        self._meeting[-1].append(key)
        if key not in self._products:
            made = z3.Real(f"product {x.number} {y.number}", self.context)
            self._products[key] = _Known(Product(made, self.term(x), self.term(y), key), [], [])
            self._meeting.append(self._products[key].parts)
            for a, b in ((x, y), (y, x)):
                apart = self._taken_apart(a, b)
                if apart is not None:
                    self._products[key].defined.append(made == apart)
                    break
            self._meeting.pop()
        return self._products[key].product.made

    def _quotient(self, whole: Term, x: Term, y: Term) -> Any:
        """x / y, which is `whole`: the number that gives x when multiplied by y."""
        if y.op == t.CONST:
            return self.term(x) / self.term(y)
        scale: Any = 1
        if y.op == t.MUL and t.CONST in (y.args[0].op, y.args[1].op):
            number, y = y.args if y.args[0].op == t.CONST else (y.args[1], y.args[0])
            scale = self.term(number)
        quotient = self._terms.variable(f"quotient {x.number} {y.number}", truth=False)
        defined = z3.Implies(self.term(y) != 0, scale * self._product(quotient, y) == self.term(x))
        self._quotients[whole.number] = (quotient, defined)
        return self.term(quotient)


def _summands(term: Term) -> int:
    if term.op in (t.ADD, t.SUB):
        return sum(map(_summands, term.args))
    return 1


def facts(product: Product) -> Iterator[Any]:
    """What is always said of a product: its sign, and how it lies to a factor when the other is under or over 1."""
    if product.fixed:
        return
    p, x, y, *_ = product
    yield (p == 0) == z3.Or(x == 0, y == 0)
    yield (p > 0) == z3.Or(z3.And(x > 0, y > 0), z3.And(x < 0, y < 0))
    for a, b in ((x, y), (y, x)):
        yield z3.Implies(z3.And(a >= 0, a <= 1, b >= 0), p <= b)
        yield z3.Implies(z3.And(a >= 0, a <= 1, b <= 0), p >= b)
        yield z3.Implies(z3.And(a >= 1, b >= 0), p >= b)
        yield z3.Implies(z3.And(a >= 1, b <= 0), p <= b)


def monotone(one: Product, two: Product) -> Iterator[Any]:
    """Two products with a factor in common lie as their other factors do."""
    for place, number in enumerate(one.factors):
        if number in two.factors:
            common = (one.first, one.second)[place]
            a = (one.second, one.first)[place]
            b = (two.second, two.first)[two.factors.index(number)]
            p, q = one.made, two.made
            yield z3.Implies(common > 0, z3.And((a <= b) == (p <= q), (b <= a) == (q <= p)))
            yield z3.Implies(common < 0, z3.And((a <= b) == (p >= q), (b <= a) == (q >= p)))


def tangents(product: Product, x0: Fraction, y0: Fraction) -> Iterator[Any]:
    """(x - x0)(y - y0) has the sign that its factors give it."""
    p, x, y, *_ = product
    at_x, at_y = _number(x0, x.ctx), _number(y0, y.ctx)
    rest = p - at_x * y - at_y * x + at_x * at_y
    yield (rest == 0) == z3.Or(x == at_x, y == at_y)
    yield (rest > 0) == z3.Or(z3.And(x > at_x, y > at_y), z3.And(x < at_x, y < at_y))


def _number(value: Fraction, context: Any) -> Any:
    return z3.RealVal(f"{value.numerator}/{value.denominator}", context)


def value_of(model: Any, made: Any) -> Any:
    """A plain value from a model: bool, or Fraction (an irrational one to 20 digits).

    Raises ValueError for a fraction of more digits than Python reads: products compared again and again grow them.
    """
    found = model.eval(made, model_completion=True)
    if z3.is_true(found) or z3.is_false(found):
        return z3.is_true(found)
    if z3.is_algebraic_value(found):
        found = found.approx(20)
    return Fraction(found.numerator_as_long(), found.denominator_as_long())
