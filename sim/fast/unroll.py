"""Loops over the shafts of a boat, written out for one number of shafts.

Numba compiles a tuple whose length is spelled out, and no list of tuples worth its time; LLVM makes registers of what
stands in variables of their own. So every list of one entry a shaft becomes so many variables, and every loop over
shafts its body so many times.
"""

import ast
import copy
from collections.abc import Iterable, Iterator, Sequence
from typing import NamedTuple

PER_SHAFT = frozenset({"shafts", "shaft_commands", "commands", "keys", "senses"})
"""Attributes that have one entry a shaft, wherever they stand."""


class UnrollError(Exception):
    """A loop over shafts that cannot be written out."""


def unrolled(function: ast.FunctionDef, shafts: int, sequences: Iterable[str] = ()) -> ast.FunctionDef:
    """`function` with its loops over shafts written out for so many shafts (1 to 4).

    `sequences` are the parameters that have one entry a shaft; attributes in PER_SHAFT have too. Raises UnrollError.
    """
    unroller = _Unroller(shafts, set(sequences) & {one.arg for one in function.args.args})
    function.body = list(unroller.block(function.body))
    return function


class _Loop(NamedTuple):
    """The name of a loop's counter ("" for none), and what is taken from which sequence in each round."""

    counter: str
    taken: list[tuple[ast.expr, ast.expr]]


class _Unroller(ast.NodeTransformer):
    def __init__(self, shafts: int, parameters: set[str]) -> None:
        self.shafts = shafts
        self.parameters = parameters
        self.filled: dict[str, int] = {}
        """Lists of one entry a shaft, and how many of these they have so far."""
        self.fixed: dict[str, int] = {}
        """Loop counters, and their value in the copy that is being written."""

    # ---- statements

    def block(self, statements: Sequence[ast.stmt]) -> Iterator[ast.stmt]:
        """The statements, written out."""
        for statement in statements:
            yield from self._statement(copy.deepcopy(statement))

    def _statement(self, node: ast.stmt) -> Iterator[ast.stmt]:
        if isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Name):
            name = node.targets[0].id
            if isinstance(node.value, ast.List) and not node.value.elts:
                self.filled[name] = 0
                return
            if isinstance(node.value, ast.ListComp):
                yield from self._each(name, node.value)
                return
            if name in self.filled:
                raise UnrollError(f"line {node.lineno}: {name} is a list of shafts, and is bound to something else")
        if isinstance(node, ast.Expr) and (added := _appended(node.value)) is not None and added[0] in self.filled:
            name, value = added
            index = self.filled[name]
            if index >= self.shafts:
                raise UnrollError(f"{name} gets more entries than there are shafts")
            yield _assign(_entry(name, index), self.visit(value))
            self.filled[name] = index + 1
        elif isinstance(node, ast.For) and (loop := self._over_shafts(node)) is not None:
            yield from self._written_out(node, loop)
        elif isinstance(node, ast.For | ast.While | ast.If):
            if isinstance(node, ast.For):
                node.iter = self.visit(node.iter)
            else:
                node.test = self.visit(node.test)
            node.body = list(self.block(node.body)) or [ast.Pass()]
            node.orelse = list(self.block(node.orelse))
            yield node
        else:
            yield self.visit(node)

    def _written_out(self, node: ast.For, loop: _Loop) -> Iterator[ast.stmt]:
        if node.orelse or any(isinstance(one, ast.Break | ast.Continue) for one in ast.walk(node)):
            raise UnrollError(f"line {node.lineno}: a loop over shafts with break, continue or else")
        for index in range(self.shafts):
            if loop.counter:
                self.fixed[loop.counter] = index
            for target, sequence in loop.taken:
                yield ast.Assign([copy.deepcopy(target)], self._item(sequence, index))
            yield from self.block(node.body)
        self.fixed.pop(loop.counter, None)

    def _each(self, name: str, node: ast.ListComp) -> Iterator[ast.stmt]:
        (generator,) = node.generators
        if generator.ifs or not self._is_sequence(generator.iter):
            raise UnrollError(f"{name}: a list that is not one of every shaft")
        for index in range(self.shafts):
            yield ast.Assign([copy.deepcopy(generator.target)], self._item(generator.iter, index))
            yield _assign(_entry(name, index), self.visit(copy.deepcopy(node.elt)))
        self.filled[name] = self.shafts

    # ---- what is looped over

    def _over_shafts(self, node: ast.For) -> _Loop | None:
        target, over, counter = node.target, node.iter, ""
        if (inside := _call_of("enumerate", over)) is not None and isinstance(target, ast.Tuple):
            if len(inside) != 1:
                raise UnrollError(f"line {node.lineno}: enumerate with a start of its own")
            first, target = target.elts
            over, counter = inside[0], first.id if isinstance(first, ast.Name) else ""
        if (inside := _call_of("range", over)) is not None and isinstance(target, ast.Name) and len(inside) == 1:
            length = _call_of("len", inside[0])
            return _Loop(target.id, []) if length is not None and self._is_sequence(length[0]) else None
        if (several := _call_of("zip", over)) is not None and isinstance(target, ast.Tuple):
            taken = list(zip(target.elts, several, strict=True))
        else:
            taken = [(target, over)]
        return _Loop(counter, taken) if all(self._is_sequence(one) for _, one in taken) else None

    def _is_sequence(self, node: ast.expr) -> bool:
        if isinstance(node, ast.Name):
            return node.id in self.filled or node.id in self.parameters
        return isinstance(node, ast.Attribute) and node.attr in PER_SHAFT

    def _item(self, sequence: ast.expr, index: int) -> ast.expr:
        if isinstance(sequence, ast.Name) and sequence.id in self.filled:
            if index >= self.filled[sequence.id]:
                raise UnrollError(f"{sequence.id} has no entry for shaft {index} yet")
            return ast.Name(_entry(sequence.id, index), ast.Load())
        return ast.Subscript(copy.deepcopy(sequence), ast.Constant(index), ast.Load())

    # ---- expressions

    def visit_Name(self, node: ast.Name) -> ast.expr:
        if isinstance(node.ctx, ast.Load):
            if node.id in self.fixed:
                return ast.Constant(self.fixed[node.id])
            if node.id in self.filled:
                entries: list[ast.expr] = [self._item(node, index) for index in range(self.shafts)]
                return ast.Tuple(entries, ast.Load())
        return node

    def visit_Subscript(self, node: ast.Subscript) -> ast.expr:
        node.slice = self.visit(node.slice)
        if isinstance(node.value, ast.Name) and node.value.id in self.filled:
            if not isinstance(node.slice, ast.Constant) or not isinstance(node.slice.value, int):
                raise UnrollError(f"line {node.lineno}: {node.value.id} is asked for a shaft that is not fixed")
            return ast.Name(_entry(node.value.id, node.slice.value), node.ctx)
        node.value = self.visit(node.value)
        return node

    def visit_Call(self, node: ast.Call) -> ast.expr:
        if (made := _call_of("tuple", node)) is not None and self._is_sequence(made[0]):
            entries: ast.expr = self.visit(made[0])
            return entries
        if (length := _call_of("len", node)) is not None and self._is_sequence(length[0]):
            return ast.Constant(self.shafts)
        self.generic_visit(node)
        return node


def _entry(name: str, index: int) -> str:
    return f"{name}__{index}"


def _assign(name: str, value: ast.expr) -> ast.Assign:
    return ast.Assign([ast.Name(name, ast.Store())], value)


def _call_of(name: str, node: ast.expr) -> list[ast.expr] | None:
    """The arguments where `node` calls the builtin `name`."""
    if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == name:
        return node.args
    return None


def _appended(node: ast.expr) -> tuple[str, ast.expr] | None:
    """List and value of `list.append(value)`."""
    if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr == "append":
        if isinstance(node.func.value, ast.Name):
            return node.func.value.id, node.args[0]
    return None
