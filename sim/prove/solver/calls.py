"""Calls that the walker meets: functions of ours are walked, a few built-in ones are known, all else must be fixed."""

import ast
import functools
import math
from collections.abc import Callable, Sequence
from types import FunctionType, MethodType
from typing import TYPE_CHECKING, Any

from sim.prove.solver.terms import Term, Truth
from sim.prove.solver.values import Choice, Sometimes, WalkError, fixed, is_truth, whole

if TYPE_CHECKING:
    from sim.prove.solver.walker import Walker

_FOREIGN = ("builtins", "math", "functools", "collections", "typing", "enum", "operator", "itertools")
_LT = ast.Lt()


class Calls:
    """Calls on behalf of a walker."""

    def __init__(self, walker: "Walker") -> None:
        self._walker = walker
        self._known: dict[Any, Callable[..., Any]] = {
            abs: self._abs, bool: self._bool, int: self._int, float: self._float, min: self._min, max: self._max,
            sum: self._sum, any: self._any, all: self._all, len: self._len, tuple: self._tuple, list: self._list,
            zip: self._zip, enumerate: self._enumerate, reversed: self._reversed, getattr: walker.attribute,
            math.isfinite: self._isfinite,
        }  # fmt: skip

    def call(self, function: Any, args: Sequence[Any], named: dict[str, Any], node: ast.AST | None = None) -> Any:
        """function(*args, **named)."""
        walker = self._walker
        if isinstance(function, Choice):
            return walker.values.over(lambda one: self.call(one, args, named, node), function)
        if isinstance(function, functools.partial):
            return self.call(function.func, [*function.args, *args], {**function.keywords, **named}, node)
        if fixed(args) and fixed(named) and (not isinstance(function, MethodType) or fixed(function.__self__)):
            result = function(*args, **named)
            return list(result) if function in (zip, enumerate, reversed) else result
        known = self._known.get(function) if isinstance(function, type) or callable(function) else None
        if known is not None:
            if any(isinstance(arg, Choice) for arg in args):
                return walker.values.over(lambda *ways: known(*ways, **named), *args)
            return known(*args, **named)
        if isinstance(function, type) and issubclass(function, tuple) and hasattr(function, "_fields"):
            return function(*args, **named)
        if isinstance(function, MethodType):
            if function.__name__ in ("_replace", "_asdict") and isinstance(function.__self__, tuple):
                return function(*args, **named)
            if isinstance(function.__func__, FunctionType):
                return walker.function(function.__func__, [function.__self__, *args], named)
        if isinstance(function, FunctionType) and function.__module__.split(".")[0] not in _FOREIGN:
            return walker.function(function, args, named)
        raise WalkError(f"{getattr(function, '__name__', function)!r} is called with what hangs on an input")

    # --- the built-in ones, for values that hang on inputs

    def _abs(self, x: Any) -> Any:
        walker = self._walker
        if whole(x) or is_truth(x):
            return walker.values.compute_wholes(lambda a, _b: abs(a), x, 0)
        number = walker.terms.real(walker.values.real(x))
        return walker.terms.if_real(walker.terms.at_most(0.0, number), number, walker.terms.minus(number))

    def _bool(self, x: Any) -> Truth:
        return self._walker.settled(self._walker.values.truth(x))

    def _int(self, x: Any) -> Any:
        if isinstance(x, Term) and x.truth:
            return self._walker.values.cases(x)
        if whole(x):
            return x
        raise WalkError("int() of a number that is not whole and hangs on an input")

    def _float(self, x: Any) -> Any:
        return self._walker.values.real(x)

    def _isfinite(self, x: Any) -> bool:
        """Every number that hangs on an input is finite: what is not is refused before, and tried by tests."""
        del x
        return True

    def _min(self, *args: Any, **named: Any) -> Any:
        return self._extreme(args, named, lambda new, best: self._walker.compared(_LT, new, best))

    def _max(self, *args: Any, **named: Any) -> Any:
        return self._extreme(args, named, lambda new, best: self._walker.compared(_LT, best, new))

    def _extreme(self, args: Sequence[Any], named: dict[str, Any], better: Callable[[Any, Any], Truth]) -> Any:
        values = self._walker.values
        given = args[0] if len(args) == 1 else list(args)
        if set(named) - {"default"}:
            raise WalkError("min or max with a key")
        found: Truth = False
        best: Any = None
        for there, entry in values.entries(self._walker.iterated(given)):
            if found is False:
                best, found = entry, there
                continue
            wins = values.over(better, entry, best)
            takes = self._walker.terms.both(there, self._walker.terms.either(self._walker.terms.negation(found), wins))
            best, found = values.merged(takes, entry, best), self._walker.terms.either(found, there)
        if found is True:
            return best
        if "default" in named:
            return named["default"] if found is False else values.merged(found, best, named["default"])
        raise WalkError("min or max of what may be empty")

    def _sum(self, entries: Any, start: Any = 0) -> Any:
        total = start
        for there, entry in self._walker.values.entries(self._walker.iterated(entries)):
            more = self._walker.binary(ast.Pass(), ast.Add(), total, entry)
            total = self._walker.values.merged(there, more, total)
        return total

    def _any(self, entries: Any) -> Truth:
        values, terms = self._walker.values, self._walker.terms
        return terms.any(
            terms.both(there, values.truth(entry)) for there, entry in values.entries(self._walker.iterated(entries))
        )

    def _all(self, entries: Any) -> Truth:
        values, terms = self._walker.values, self._walker.terms
        return terms.all(
            terms.either(terms.negation(there), values.truth(entry))
            for there, entry in values.entries(self._walker.iterated(entries))
        )

    def _len(self, x: Any) -> Any:
        if isinstance(x, Sometimes):
            return self._sum([self._walker.values.cases(there) for there, _ in x])
        if isinstance(x, (tuple, list)):
            return len(x)
        raise WalkError("len() of what hangs on an input in its form")

    def _tuple(self, entries: Any = ()) -> Any:
        if isinstance(entries, Sometimes):
            return entries
        return tuple(self._walker.iterated(entries))

    def _list(self, entries: Any = ()) -> Any:
        if isinstance(entries, Sometimes):
            return entries
        return list(self._walker.iterated(entries))

    def _zip(self, *args: Any, strict: bool = False) -> list[Any]:
        if any(isinstance(arg, Sometimes) for arg in args):
            raise WalkError("zip() of a list whose form hangs on an input")
        return list(zip(*(self._walker.iterated(arg) for arg in args), strict=strict))

    def _enumerate(self, entries: Any, start: int = 0) -> list[Any]:
        if isinstance(entries, Sometimes):
            raise WalkError("enumerate() of a list whose form hangs on an input")
        return list(enumerate(self._walker.iterated(entries), start))

    def _reversed(self, entries: Any) -> list[Any]:
        listed = self._walker.iterated(entries)
        return Sometimes(reversed(listed)) if isinstance(listed, Sometimes) else list(reversed(listed))
