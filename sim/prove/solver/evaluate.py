"""Formulas worked out in floating point, for many ticks at once: what the source itself would give, bit for bit."""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

import numpy as np

from sim.prove.solver import terms as t
from sim.prove.solver.terms import Term, cone
from sim.prove.solver.values import Bits, Cases, Choice, Sometimes

Arrays = Mapping[str, Any]
"""Name of a variable -> its values, one for each tick (bool or float64)."""


class Worked:
    """The values of the formulas under `roots` for each tick of `arrays`. Unknown variables raise KeyError."""

    def __init__(self, roots: Iterable[Term], arrays: Arrays) -> None:
        self._values: dict[int, Any] = {}
        with np.errstate(all="ignore"):  # both ways of a choice are worked out, the one not meant too
            for term in cone(roots):
                self._values[term.number] = _work(term, [self._values[arg.number] for arg in term.args], arrays)

    def __call__(self, value: Any) -> Any:
        """A value of the walked source, as an array (or plain, where it is fixed); tuples entry by entry."""
        if isinstance(value, Term):
            return self._values[value.number]
        if isinstance(value, Bits):
            total: Any = -1 if value.rest else 0
            for place, bit in value.bits.items():
                if value.rest:
                    total = total - np.where(self(bit), 0, 1 << place)
                else:
                    total = total + np.where(self(bit), 1 << place, 0)
            return total
        if isinstance(value, Cases):
            result: Any = 0
            for number, truth in value.cases.items():
                result = np.where(self(truth), number, result)
            return result
        if isinstance(value, tuple):
            parts = [self(part) for part in value]
            return type(value)(*parts) if hasattr(value, "_fields") else tuple(parts)
        return value


def roots_of(value: Any) -> list[Term]:
    """The formulas that a value of the walked source consists of."""
    if isinstance(value, Term):
        return [value]
    parts: Sequence[Any] = ()
    if isinstance(value, Bits):
        parts = list(value.bits.values())
    elif isinstance(value, Cases):
        parts = list(value.cases.values())
    elif isinstance(value, Choice):
        parts = [one for way in value.ways for one in way]
    elif isinstance(value, Sometimes):
        parts = [one for entry in value for one in entry]
    elif isinstance(value, (tuple, list)):
        parts = value
    return [root for part in parts for root in roots_of(part)]


def _work(term: Term, args: list[Any], arrays: Arrays) -> Any:
    match term.op:
        case t.VAR:
            return arrays[term.label]
        case t.CONST:
            return np.float64(term.label)
        case t.NOT:
            return np.logical_not(args[0])
        case t.AND:
            return np.logical_and.reduce(np.broadcast_arrays(*args))
        case t.OR:
            return np.logical_or.reduce(np.broadcast_arrays(*args))
        case t.IFF:
            return np.equal(args[0], args[1])
        case t.ITE:
            return np.where(args[0], args[1], args[2])
        case t.LE:
            return np.less_equal(args[0], args[1])
        case t.EQ:
            return np.equal(args[0], args[1])
        case t.ADD:
            return args[0] + args[1]
        case t.SUB:
            return args[0] - args[1]
        case t.MUL:
            return args[0] * args[1]
        case t.DIV:
            return args[0] / args[1]
        case t.NEG:
            return -args[0]
    raise ValueError(f"no such operation: {term.op}")
