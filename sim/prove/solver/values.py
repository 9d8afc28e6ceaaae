"""What a value of the source becomes while inputs are free: words bit by bit, small numbers case by case.

* a truth or a number: `Term` (`sim.prove.solver.terms`);
* a word of bits (`known`, `on`, latches, conditions, alarms): `Bits`, a truth for each bit;
* a small whole number (a mode, a sign, the number of a row): `Cases`, a truth for each value that it can have;
* anything else of which one or another is meant (a row, a tuple of rows, a text): `Choice`;
* a list whose entries may be absent: `Sometimes`;
* tuples, NamedTuples and lists hold such values; everything that is fixed stays as it is.
"""

from collections.abc import Callable, Iterable, Sequence
from typing import Any

from sim.prove.solver.terms import Real, Term, Terms, Truth


class WalkError(Exception):
    """The source uses something that the walker does not read. `place` is file and line, once they are known."""

    def __init__(self, text: str, place: str = "") -> None:
        super().__init__(f"{place}: {text}" if place else text)
        self.place = place


class Missing:
    """What a name holds that has not been given a value on this way."""

    def __repr__(self) -> str:
        return "MISSING"


MISSING = Missing()


class Bits:
    """A whole number, bit by bit. `rest` is the value of every bit that is not listed (True only after ~)."""

    __slots__ = ("bits", "rest")

    def __init__(self, bits: dict[int, Truth], rest: bool = False) -> None:
        self.bits = {place: bit for place, bit in bits.items() if bit is not rest}
        self.rest = rest

    def bit(self, place: int) -> Truth:
        """The bit of value 2**place."""
        return self.bits.get(place, self.rest)

    def __bool__(self) -> bool:
        raise TypeError("a word that hangs on an input has no value of its own")


class Cases:
    """A whole number, case by case: pairs of (value, condition), of which exactly one condition holds."""

    __slots__ = ("cases",)

    def __init__(self, cases: dict[int, Truth]) -> None:
        self.cases = {value: truth for value, truth in sorted(cases.items()) if truth is not False}

    def __bool__(self) -> bool:
        raise TypeError("a number that hangs on an input has no value of its own")

    def __index__(self) -> int:
        raise TypeError("a number that hangs on an input has no value of its own")


class Choice:
    """One of several things that have no common form: pairs of (condition, thing), of which exactly one holds."""

    __slots__ = ("ways",)

    def __init__(self, ways: Sequence[tuple[Truth, Any]]) -> None:
        self.ways = tuple(ways)

    def __bool__(self) -> bool:
        raise TypeError("a thing that hangs on an input has no value of its own")


class Sometimes(list[tuple[Truth, Any]]):
    """A list whose entries may be absent: pairs of (whether it is there, entry), in their order."""


def whole(value: Any) -> bool:
    """A whole number, fixed or not."""
    return isinstance(value, (int, Bits, Cases)) and not isinstance(value, bool)


def is_truth(value: Any) -> bool:
    """A truth, fixed or not."""
    return isinstance(value, bool) or (isinstance(value, Term) and value.truth)


def is_real(value: Any) -> bool:
    """A number that is not whole, fixed or not."""
    return isinstance(value, float) or (isinstance(value, Term) and not value.truth)


def fixed(value: Any) -> bool:
    """Nothing in it hangs on an input."""
    if isinstance(value, (Term, Bits, Cases, Choice, Sometimes, Missing)):
        return False
    if isinstance(value, (tuple, list)):
        return all(map(fixed, value))
    if isinstance(value, dict):
        return all(map(fixed, value.values()))
    return True


class Arithmetic:
    """Operations on such values. `terms` makes the formulas."""

    def __init__(self, terms: Terms) -> None:
        self.terms = terms

    # --- from one form to another

    def bits(self, value: Any) -> Bits:
        """A whole number or truth as a word. WalkError for a negative case."""
        if isinstance(value, Bits):
            return value
        if isinstance(value, Cases):
            found: dict[int, list[Truth]] = {}
            for number, truth in value.cases.items():
                if number < 0:
                    raise WalkError("a number that may be negative is used as a word of bits")
                for place in range(number.bit_length()):
                    if number >> place & 1:
                        found.setdefault(place, []).append(truth)
            return Bits({place: self.terms.any(truths) for place, truths in found.items()})
        if isinstance(value, Term):
            return Bits({0: value})
        number = int(value)
        rest = number < 0
        plain = ~number if rest else number
        return Bits({p: not rest for p in range(plain.bit_length()) if plain >> p & 1}, rest)

    def cases(self, value: Any) -> Cases:
        """A whole number or truth as cases. WalkError for a word of more than six bits."""
        if isinstance(value, Cases):
            return value
        if isinstance(value, Term) and value.truth:
            return Cases({1: value, 0: self.terms.negation(value)})
        if isinstance(value, Bits):
            if value.rest or len(value.bits) > 6:
                raise WalkError("a word of bits is used as a number")
            found: dict[int, Truth] = {0: True}
            for place, bit in sorted(value.bits.items()):
                no = self.terms.negation(bit)
                found = {
                    **{number: self.terms.both(truth, no) for number, truth in found.items()},
                    **{number | 1 << place: self.terms.both(truth, bit) for number, truth in found.items()},
                }
            return Cases(found)
        return Cases({int(value): True})

    def real(self, value: Any) -> Real:
        """Any number as a real."""
        if isinstance(value, Term) and not value.truth:
            return value
        if isinstance(value, (int, float)):
            return float(value)
        result: Real | None = None
        for number, truth in reversed(self.cases(value).cases.items()):
            result = float(number) if result is None else self.terms.if_real(truth, float(number), result)
        if result is None:
            raise WalkError("a number without a value")
        return result

    def truth(self, value: Any) -> Truth:
        """What `if value` asks."""
        if isinstance(value, Term):
            return value if value.truth else self.terms.negation(self.terms.equal(value, 0.0))
        if isinstance(value, Bits):
            return True if value.rest else self.terms.any(value.bits.values())
        if isinstance(value, Cases):
            return self.terms.negation(value.cases.get(0, False))
        if isinstance(value, Choice):
            return self.terms.any(self.terms.both(where, self.truth(thing)) for where, thing in value.ways)
        if isinstance(value, Sometimes):
            return self.terms.any(there for there, _ in value)
        return bool(value)

    # --- one or the other

    def merged(self, c: Truth, a: Any, b: Any) -> Any:
        """`a` where `c` holds, else `b`."""
        if not isinstance(c, Term):
            return a if c else b
        if a is b or b is MISSING:
            return a
        if a is MISSING:
            return b
        if isinstance(a, Choice) or isinstance(b, Choice):
            return self._choice(c, a, b)
        if is_truth(a) and is_truth(b):
            return self.terms.if_truth(c, a, b)
        if isinstance(a, Sometimes) or isinstance(b, Sometimes) or (isinstance(a, list) and isinstance(b, list)):
            return self._lists(c, a, b)
        if isinstance(a, tuple) and isinstance(b, tuple) and type(a) is type(b) and len(a) == len(b):
            values = [self.merged(c, x, y) for x, y in zip(a, b, strict=True)]
            if all(v is x for v, x in zip(values, a, strict=True)):
                return a
            if all(v is y for v, y in zip(values, b, strict=True)):
                return b
            return type(a)(*values) if hasattr(a, "_fields") else tuple(values)
        if (is_real(a) or is_real(b)) and all(is_real(x) or whole(x) or is_truth(x) for x in (a, b)):
            if isinstance(a, float) and isinstance(b, float) and repr(a) == repr(b):
                return a
            return self.terms.if_real(c, self.real(a), self.real(b))
        if (whole(a) or is_truth(a)) and (whole(b) or is_truth(b)):
            return self._wholes(c, a, b)
        if type(a) is type(b) and fixed(a) and fixed(b) and a == b:
            return a
        return self._choice(c, a, b)

    def _wholes(self, c: Term, a: Any, b: Any) -> Any:
        if isinstance(a, int) and isinstance(b, int) and a == b:
            return a
        no = self.terms.negation(c)
        if isinstance(a, Bits) or isinstance(b, Bits):
            one, two = self.bits(a), self.bits(b)
            if one.rest is not two.rest:
                raise WalkError("a word and the complement of a word are two ways of one value")
            places = {*one.bits, *two.bits}
            return Bits({p: self.terms.if_truth(c, one.bit(p), two.bit(p)) for p in places}, one.rest)
        ways: dict[int, list[Truth]] = {}
        for where, part in ((c, self.cases(a)), (no, self.cases(b))):
            for number, truth in part.cases.items():
                ways.setdefault(number, []).append(self.terms.both(where, truth))
        return Cases({number: self.terms.any(truths) for number, truths in ways.items()})

    def _choice(self, c: Term, a: Any, b: Any) -> Choice:
        no = self.terms.negation(c)
        ways: list[tuple[Truth, Any]] = []
        for where, part in ((c, a), (no, b)):
            for truth, thing in part.ways if isinstance(part, Choice) else ((True, part),):
                both = self.terms.both(where, truth)
                if both is False:
                    continue
                same = [place for place, (_, other) in enumerate(ways) if other is thing]
                if same:
                    ways[same[0]] = (self.terms.either(ways[same[0]][0], both), thing)
                else:
                    ways.append((both, thing))
        return Choice(ways)

    def _lists(self, c: Term, a: list[Any], b: list[Any]) -> list[Any]:
        if not isinstance(a, Sometimes) and not isinstance(b, Sometimes) and len(a) == len(b):
            return [self.merged(c, x, y) for x, y in zip(a, b, strict=True)]
        one, two = self.entries(a), self.entries(b)
        common = 0
        while common < min(len(one), len(two)) and _same_entry(one[common], two[common]):
            common += 1
        no = self.terms.negation(c)
        tail = [(self.terms.both(c, there), entry) for there, entry in one[common:]]
        tail += [(self.terms.both(no, there), entry) for there, entry in two[common:]]
        return Sometimes([*one[:common], *tail])

    def entries(self, value: Iterable[Any]) -> list[tuple[Truth, Any]]:
        """The entries of a list, each with whether it is there."""
        return list(value) if isinstance(value, Sometimes) else [(True, entry) for entry in value]

    def over(self, function: Callable[..., Any], *args: Any) -> Any:
        """The function of each way that a choice among the arguments can go, merged."""
        for place, arg in enumerate(args):
            if isinstance(arg, Choice):
                parts = [
                    (where, self.over(function, *args[:place], thing, *args[place + 1 :])) for where, thing in arg.ways
                ]
                return self.one_of(parts)
        return function(*args)

    def one_of(self, parts: Sequence[tuple[Truth, Any]]) -> Any:
        """The value whose condition holds: exactly one does."""
        if not parts:
            raise WalkError("nothing is left to choose from")
        result = parts[-1][1]
        for where, value in reversed(parts[:-1]):
            result = self.merged(where, value, result)
        return result

    # --- operations on whole numbers

    def bitwise(self, op: str, a: Any, b: Any) -> Any:
        """a & b, a | b or a ^ b."""
        if is_truth(a) and is_truth(b):
            if op == "^":
                return self.terms.negation(self.terms.same_truth(a, b))
            return self.terms.both(a, b) if op == "&" else self.terms.either(a, b)
        if not isinstance(a, Bits) and not isinstance(b, Bits):
            one, two = self.cases(a), self.cases(b)
            if {*one.cases, *two.cases} <= {0, 1}:
                x, y = one.cases.get(1, False), two.cases.get(1, False)
                both = self.bitwise(op, x, y)
                return Cases({1: both, 0: self.terms.negation(both)})
        x_bits, y_bits = self.bits(a), self.bits(b)
        places = {*x_bits.bits, *y_bits.bits}
        found = {p: self.bitwise(op, x_bits.bit(p), y_bits.bit(p)) for p in places}
        return Bits(found, bool(self.bitwise(op, x_bits.rest, y_bits.rest)))

    def shifted(self, value: Any, places: int) -> Bits:
        """value >> places; for negative `places` value << -places."""
        word = self.bits(value)
        return Bits({p - places: bit for p, bit in word.bits.items() if p >= places}, word.rest)

    def inverted(self, value: Any) -> Bits:
        """~value."""
        word = self.bits(value)
        return Bits({p: self.terms.negation(bit) for p, bit in word.bits.items()}, not word.rest)

    def equal_wholes(self, a: Any, b: Any) -> Truth:
        """a == b for whole numbers and truths."""
        if isinstance(a, Bits) or isinstance(b, Bits):
            one, two = self.bits(a), self.bits(b)
            if one.rest is not two.rest:
                return False
            places = sorted({*one.bits, *two.bits})
            return self.terms.all(self.terms.same_truth(one.bit(p), two.bit(p)) for p in places)
        first, second = self.cases(a).cases, self.cases(b).cases
        return self.terms.any(
            self.terms.both(truth, second[number]) for number, truth in first.items() if number in second
        )

    def compare_wholes(self, holds: Callable[[int, int], bool], a: Any, b: Any) -> Truth:
        """Any other comparison of whole numbers, by cases."""
        first, second = self.cases(a).cases, self.cases(b).cases
        return self.terms.any(self.terms.both(x, y) for m, x in first.items() for n, y in second.items() if holds(m, n))

    def compute_wholes(self, function: Callable[[int, int], Any], a: Any, b: Any) -> Any:
        """Any other operation on whole numbers, by cases. The results must be whole."""
        ways: dict[int, list[Truth]] = {}
        for m, x in self.cases(a).cases.items():
            for n, y in self.cases(b).cases.items():
                result = function(m, n)
                if not isinstance(result, int):
                    raise WalkError("whole numbers that hang on inputs give a number that is not whole")
                ways.setdefault(int(result), []).append(self.terms.both(x, y))
        return Cases({number: self.terms.any(truths) for number, truths in ways.items()})


def _same_entry(a: tuple[Truth, Any], b: tuple[Truth, Any]) -> bool:
    if a[0] is not b[0]:
        return False
    x, y = a[1], b[1]
    return x is y or (type(x) is type(y) and fixed(x) and fixed(y) and bool(x == y))
