"""Formulas: truths and real numbers that hang on variables, each made once.

A `Term` is what a condition or a number becomes when it hangs on an input that is not fixed. Numbers keep the order of
operations of the source that they were read from, and only what is exact in floating point is simplified: so a formula
worked out in floats gives what the source itself gives, bit for bit, and a test holds the two equal.

A truth is a `Term` or a plain bool, a number a `Term` or a plain float: what is fixed stays a Python value.
"""

import hashlib
from collections.abc import Iterable
from typing import Any, TypeAlias

VAR, CONST, NOT, AND, OR, IFF = "var", "const", "not", "and", "or", "iff"
ITE, LE, EQ = "ite", "<=", "=="
ADD, SUB, MUL, DIV, NEG = "+", "-", "*", "/", "neg"

_WIDE = 12
"""Conjunctions with more parts than this are not taken apart to be flattened or absorbed."""


class Term:
    """One node. `truth` tells a condition from a number; `number` counts up as terms are made, so that the parts of a
    term always have smaller numbers; `label` is the name of a variable or the text of a constant."""

    __slots__ = ("_digest", "args", "label", "number", "op", "truth")

    def __init__(self, op: str, args: tuple["Term", ...], label: str, truth: bool, number: int) -> None:
        self.op, self.args, self.label, self.truth, self.number = op, args, label, truth, number
        self._digest = b""

    def __repr__(self) -> str:
        if not self.args:
            return self.label
        return f"({self.op} {' '.join(map(repr, self.args))})" if self.number < 200 else f"<{self.op} {self.number}>"

    def __bool__(self) -> bool:
        raise TypeError("a condition that hangs on an input has no value of its own")

    def __eq__(self, other: object) -> bool:
        raise TypeError("formulas are compared by the walker, not by Python")

    __hash__ = None  # type: ignore[assignment]

    @property
    def digest(self) -> bytes:
        """A hash of what the term says, the same in every run."""
        if not self._digest:
            for term in cone([self]):
                if not term._digest:
                    text = "\0".join((term.op, term.label, "t" if term.truth else "n")).encode()
                    term._digest = hashlib.sha256(b"\0".join([text, *(arg._digest for arg in term.args)])).digest()
        return self._digest


Truth: TypeAlias = "bool | Term"
Real: TypeAlias = "float | Term"


def cone(roots: Iterable[Term]) -> list[Term]:
    """Every term that the roots consist of, parts before what is made of them."""
    seen: dict[int, Term] = {}
    stack = list(roots)
    while stack:
        term = stack.pop()
        if term.number not in seen:
            seen[term.number] = term
            stack.extend(term.args)
    return [seen[number] for number in sorted(seen)]


class Terms:
    """Makes terms, each once: equal terms are the same object."""

    def __init__(self) -> None:
        self._made: dict[Any, Term] = {}
        self._negations: dict[int, Term] = {}

    def _make(self, op: str, args: tuple[Term, ...], truth: bool, label: str = "") -> Term:
        key = (op, label, *(arg.number for arg in args))
        term = self._made.get(key)
        if term is None:
            term = self._made[key] = Term(op, args, label, truth, len(self._made))
        return term

    def variable(self, name: str, *, truth: bool) -> Term:
        """The variable of that name."""
        return self._make(VAR, (), truth, name)

    def real(self, value: Real) -> Term:
        """A number as a term."""
        return value if isinstance(value, Term) else self._make(CONST, (), False, repr(float(value)))

    # --- truths

    def negation(self, a: Truth) -> Truth:
        """Not `a`."""
        if not isinstance(a, Term):
            return not a
        if a.op == NOT:
            return a.args[0]
        return self._make(NOT, (a,), True)

    def both(self, a: Truth, b: Truth) -> Truth:
        """`a` and `b`."""
        return self.all((a, b))

    def either(self, a: Truth, b: Truth) -> Truth:
        """`a` or `b`."""
        return self.any((a, b))

    def all(self, parts: Iterable[Truth]) -> Truth:
        """Every part holds."""
        return self._joined(AND, OR, parts)

    def any(self, parts: Iterable[Truth]) -> Truth:
        """Some part holds."""
        return self._joined(OR, AND, parts)

    def _joined(self, op: str, dual: str, parts: Iterable[Truth]) -> Truth:
        ends = op == OR  # the value that decides the whole
        members: dict[int, Term] = {}
        for part in parts:
            if not isinstance(part, Term):
                if part is ends:
                    return ends
                continue
            for one in part.args if part.op == op and len(part.args) <= _WIDE else (part,):
                members[one.number] = one
        for one in members.values():
            if one.op == NOT and one.args[0].number in members:
                return ends
        if len(members) <= _WIDE:
            reduced = self._absorbed(members, dual, ends)
            if reduced is None:
                return self._joined(op, dual, self._resolved(members, dual))
            members = reduced
        if not members:
            return not ends
        if len(members) == 1:
            return next(iter(members.values()))
        return self._make(op, tuple(members[number] for number in sorted(members)), True)

    def _absorbed(self, members: dict[int, Term], dual: str, ends: bool) -> dict[int, Term] | None:
        """Without the parts that another part makes idle: a and (a or b) is a. None where a part can be shortened."""
        del ends
        kept = dict(members)
        for number, one in members.items():
            if one.op != dual or len(one.args) > _WIDE:
                continue
            if any(arg.number in members for arg in one.args):
                del kept[number]
            elif any(self._opposite(arg, members) for arg in one.args):
                return None
        return kept

    def _resolved(self, members: dict[int, Term], dual: str) -> list[Truth]:
        """a and (not a or b) is a and b."""
        parts: list[Truth] = []
        for one in members.values():
            if one.op == dual and len(one.args) <= _WIDE:
                left = [arg for arg in one.args if not self._opposite(arg, members)]
                parts.append(one if len(left) == len(one.args) else self._joined(dual, AND if dual == OR else OR, left))
            else:
                parts.append(one)
        return parts

    def _opposite(self, term: Term, members: dict[int, Term]) -> bool:
        if term.op == NOT:
            return term.args[0].number in members
        made = self._made.get((NOT, "", term.number))
        return made is not None and made.number in members

    def same_truth(self, a: Truth, b: Truth) -> Truth:
        """`a` exactly when `b`."""
        if a is b:
            return True
        if not isinstance(a, Term):
            return b if a else self.negation(b)
        if not isinstance(b, Term):
            return a if b else self.negation(a)
        turned = False
        if a.op == NOT:
            a, turned = a.args[0], not turned
        if b.op == NOT:
            b, turned = b.args[0], not turned
        if a is b:
            return not turned
        if a.number > b.number:
            a, b = b, a
        same = self._make(IFF, (a, b), True)
        return self.negation(same) if turned else same

    def if_truth(self, c: Truth, a: Truth, b: Truth) -> Truth:
        """`a` where `c` holds, else `b`, for truths."""
        if not isinstance(c, Term):
            return a if c else b
        if a is b:
            return a
        if c.op == NOT:
            c, a, b = c.args[0], b, a
        no = self.negation(c)
        if a is True or a is c:
            return self.either(c, b)
        if a is False or a is no:
            return self.both(no, b)
        if b is True or b is no:
            return self.either(no, a)
        if b is False or b is c:
            return self.both(c, a)
        if self.negation(a) is b:
            return self.same_truth(c, a)
        return self._make(ITE, (c, a, b), True)

    # --- numbers

    def if_real(self, c: Truth, a: Real, b: Real) -> Real:
        """`a` where `c` holds, else `b`, for numbers."""
        if not isinstance(c, Term):
            return a if c else b
        one, two = self.real(a), self.real(b)
        if one is two:
            return a
        if c.op == NOT:
            c, one, two = c.args[0], two, one
        # a choice under the same condition has been made already
        if one.op == ITE and one.args[0] is c:
            one = one.args[1]
        if two.op == ITE and two.args[0] is c:
            two = two.args[2]
        if one is two:
            return one
        return self._make(ITE, (c, one, two), False)

    def at_most(self, a: Real, b: Real) -> Truth:
        """a <= b."""
        if not isinstance(a, Term) and not isinstance(b, Term):
            return a <= b
        return self._at_most(self.real(a), self.real(b))

    def _at_most(self, a: Term, b: Term) -> Truth:
        if a is b:
            return True
        if a.op == CONST and b.op == CONST:
            return float(a.label) <= float(b.label)
        if a.op == ITE and b.op == CONST and CONST in (a.args[1].op, a.args[2].op):
            return self.if_truth(a.args[0], self._at_most(a.args[1], b), self._at_most(a.args[2], b))
        if b.op == ITE and a.op == CONST and CONST in (b.args[1].op, b.args[2].op):
            return self.if_truth(b.args[0], self._at_most(a, b.args[1]), self._at_most(a, b.args[2]))
        return self._make(LE, (a, b), True)

    def below(self, a: Real, b: Real) -> Truth:
        """a < b: no number here is NaN."""
        return self.negation(self.at_most(b, a))

    def equal(self, a: Real, b: Real) -> Truth:
        """a == b."""
        if not isinstance(a, Term) and not isinstance(b, Term):
            return a == b
        return self._equal(self.real(a), self.real(b))

    def _equal(self, a: Term, b: Term) -> Truth:
        if a is b:
            return True
        if a.op == CONST:
            a, b = b, a
        if a.op == CONST:
            return float(a.label) == float(b.label)
        if a.op == ITE and b.op == CONST and CONST in (a.args[1].op, a.args[2].op):
            return self.if_truth(a.args[0], self._equal(a.args[1], b), self._equal(a.args[2], b))
        if b.op != CONST and a.number > b.number:
            a, b = b, a
        return self._make(EQ, (a, b), True)

    def arithmetic(self, op: str, a: Real, b: Real) -> Term:
        """a `op` b with op one of ADD, SUB, MUL, DIV, in that very order."""
        return self._make(op, (self.real(a), self.real(b)), False)

    def minus(self, a: Term) -> Term:
        """-a."""
        return self._make(NEG, (a,), False)
