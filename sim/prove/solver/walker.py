"""Walks the source of plain scalar functions, from the very file that runs, and gives what they return as a formula.

Where a condition hangs on an input, both branches are walked and their results merged, early returns too: one formula,
no forking. What the walker does not read it refuses by name; it never guesses. A test holds the formula of `run_tick`
against `run_tick` itself, bit for bit, on thousands of ticks.
"""

import ast
import builtins
import operator
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from inspect import signature
from types import FunctionType
from typing import Any, NamedTuple

from sim.prove.solver import terms as t
from sim.prove.solver.calls import Calls
from sim.prove.solver.source import Sources
from sim.prove.solver.terms import Term, Terms, Truth
from sim.prove.solver.values import (
    MISSING,
    Arithmetic,
    Bits,
    Cases,
    Choice,
    Sometimes,
    WalkError,
    fixed,
    is_real,
    is_truth,
    whole,
)

Scope = dict[str, Any]

_FIXED: dict[type[ast.operator], Callable[[Any, Any], Any]] = {
    ast.Add: operator.add, ast.Sub: operator.sub, ast.Mult: operator.mul, ast.Div: operator.truediv,
    ast.FloorDiv: operator.floordiv, ast.Mod: operator.mod, ast.BitAnd: operator.and_, ast.BitOr: operator.or_,
    ast.BitXor: operator.xor, ast.LShift: operator.lshift, ast.RShift: operator.rshift, ast.Pow: operator.pow,
}  # fmt: skip
_REAL = {ast.Add: t.ADD, ast.Sub: t.SUB, ast.Mult: t.MUL, ast.Div: t.DIV}
_BITWISE = {ast.BitAnd: "&", ast.BitOr: "|", ast.BitXor: "^"}
_ORDER: dict[type[ast.cmpop], Callable[[Any, Any], bool]] = {
    ast.Lt: operator.lt, ast.LtE: operator.le, ast.Gt: operator.gt, ast.GtE: operator.ge,
}  # fmt: skip


class Obligation(NamedTuple):
    """What must be so wherever this place is reached, or the source would raise: `must` under `path`."""

    path: Truth
    must: Truth
    place: str


class Flow(NamedTuple):
    """What became of some statements: the names after them; whether, and with what, they returned; whether they left
    the loop or its pass, and the names then."""

    scope: Scope
    returned: Truth = False
    value: Any = MISSING
    broke: Truth = False
    broke_scope: Scope | None = None
    continued: Truth = False
    continued_scope: Scope | None = None


class Walker:
    """Walks functions. `terms` makes the formulas; `obligations` gathers what must be so on the way."""

    def __init__(self, terms: Terms) -> None:
        self.terms = terms
        self.values = Arithmetic(terms)
        self.sources = Sources()
        self.obligations: list[Obligation] = []
        self.calls = 0
        self._calls = Calls(self)
        self._path: list[Truth] = []
        self._known: dict[int, int] = {}
        self._worlds: list[tuple[Scope, Scope, str]] = []

    # --- calling

    def call(self, function: Any, *args: Any, **named: Any) -> Any:
        """What `function` returns for these arguments. WalkError for what the walker does not read."""
        return self._calls.call(function, args, named)

    def function(self, function: FunctionType, args: Sequence[Any], named: dict[str, Any]) -> Any:
        """Walk one function of ours."""
        self.calls += 1
        tree = self.sources.tree(function)
        bound = signature(function).bind(*args, **named)
        bound.apply_defaults()
        code = function.__code__
        cells = zip(code.co_freevars, function.__closure__ or (), strict=True)
        closed = {name: cell.cell_contents for name, cell in cells}
        self._worlds.append((closed, function.__globals__, code.co_filename))
        try:
            if isinstance(tree, ast.Lambda):
                return self.value(tree.body, dict(bound.arguments))
            flow = self.block(tree.body, dict(bound.arguments))
        finally:
            self._worlds.pop()
        returned = self.settled(flow.returned)
        if returned is False or flow.value is MISSING:
            return None
        return self.values.merged(returned, flow.value, None)

    # --- the path on which the walk stands

    @contextmanager
    def under(self, *conditions: Truth) -> Iterator[None]:
        """While inside, `conditions` hold."""
        before = len(self._path)
        for condition in conditions:
            self.assume(condition)
        try:
            yield
        finally:
            self.forget(before)

    def assume(self, condition: Truth) -> None:
        """From here on `condition` holds."""
        self._path.append(condition)
        for part in _parts(condition):
            self._known[part.number] = self._known.get(part.number, 0) + 1

    def forget(self, length: int) -> None:
        """Back to the path of that length."""
        while len(self._path) > length:
            for part in _parts(self._path.pop()):
                left = self._known[part.number] - 1
                if left:
                    self._known[part.number] = left
                else:
                    del self._known[part.number]

    def settled(self, condition: Truth) -> Truth:
        """The condition, or a plain truth where the path says which."""
        if not isinstance(condition, Term) or not self._known:
            return condition
        plain = self._on_path(condition)
        if plain is not None:
            return plain
        if condition.op not in (t.AND, t.OR) or len(condition.args) > 40:
            return condition
        ends = condition.op == t.OR
        left: list[Truth] = []
        for arg in condition.args:
            one = self._on_path(arg)
            if one is ends:
                return ends
            if one is None:
                left.append(arg)
        if len(left) == len(condition.args):
            return condition
        return self.terms.any(left) if ends else self.terms.all(left)

    def _on_path(self, condition: Term) -> bool | None:
        if condition.number in self._known:
            return True
        no = self.terms.negation(condition)
        return False if isinstance(no, Term) and no.number in self._known else None

    def oblige(self, must: Truth, node: ast.AST, what: str) -> None:
        """Here `must` has to hold, or the source would raise."""
        must = self.settled(must)
        if must is not True:
            self.obligations.append(Obligation(self.terms.all(self._path), must, f"{what} at {self._place(node)}"))

    def _place(self, node: ast.AST) -> str:
        name = self._worlds[-1][2] if self._worlds else "?"
        return f"{name}:{getattr(node, 'lineno', '?')}"

    # --- statements

    def block(self, statements: Sequence[ast.stmt], scope: Scope) -> Flow:
        """Walk statements one after the other."""
        depth = len(self._path)
        alive: Truth = True
        returns: list[tuple[Truth, Any]] = []
        returned: list[Truth] = []
        breaks: list[tuple[Truth, Scope]] = []
        continues: list[tuple[Truth, Scope]] = []
        left: Truth = False
        for statement in statements:
            flow = self._statement(statement, scope)
            scope = flow.scope
            if flow.returned is not False:
                returns.append((flow.returned, flow.value))
                returned.append(self.terms.both(alive, flow.returned))
            if flow.broke is not False and flow.broke_scope is not None:
                breaks.append((self.terms.both(alive, flow.broke), flow.broke_scope))
            if flow.continued is not False and flow.continued_scope is not None:
                continues.append((self.terms.both(alive, flow.continued), flow.continued_scope))
            left = self.terms.any((flow.returned, flow.broke, flow.continued))
            if left is True:
                break
            if left is not False:
                stays = self.terms.negation(left)
                alive = self.terms.both(alive, stays)
                self.assume(stays)
        self.forget(depth)
        value = returns[-1][1] if returns else MISSING
        for where, one in reversed(returns[:-1]):
            value = self.values.merged(where, one, value)
        broke, broke_scope = self._left(breaks)
        continued, continued_scope = self._left(continues)
        whole_returned = self.terms.any(returned)
        if left is True:  # the end is never reached: what does not leave the loop returns
            whole_returned = self.terms.negation(self.terms.either(broke, continued))
        return Flow(scope, whole_returned, value, broke, broke_scope, continued, continued_scope)

    def _left(self, ways: list[tuple[Truth, Scope]]) -> tuple[Truth, Scope | None]:
        if not ways:
            return False, None
        scope = ways[-1][1]
        for where, other in reversed(ways[:-1]):
            scope = self._scopes(where, other, scope)
        return self.terms.any(where for where, _ in ways), scope

    def _scopes(self, c: Truth, one: Scope, two: Scope) -> Scope:
        if one is two:
            return one
        return {k: self.values.merged(c, one.get(k, MISSING), two.get(k, MISSING)) for k in {**one, **two}}

    def _branch(
        self, condition: Truth, yes: Callable[[Scope], Flow], no: Callable[[Scope], Flow], scope: Scope
    ) -> Flow:
        if not isinstance(condition, Term):
            return yes(scope) if condition else no(scope)
        other = self.terms.negation(condition)
        with self.under(condition):
            one = yes(dict(scope))
        with self.under(other):
            two = no(dict(scope))
        choose, merged = self.terms.if_truth, self.values.merged
        one_left = self.terms.any((one.returned, one.broke, one.continued))
        two_left = self.terms.any((two.returned, two.broke, two.continued))
        if one_left is True or two_left is True:
            after = two.scope if one_left is True else one.scope
        else:
            after = self._scopes(condition, one.scope, two.scope)

        def scopes(a: Scope | None, b: Scope | None) -> Scope | None:
            return a if b is None else b if a is None else self._scopes(condition, a, b)

        return Flow(
            after,
            choose(condition, one.returned, two.returned),
            merged(condition, one.value, two.value),
            choose(condition, one.broke, two.broke),
            scopes(one.broke_scope, two.broke_scope),
            choose(condition, one.continued, two.continued),
            scopes(one.continued_scope, two.continued_scope),
        )

    def _statement(self, node: ast.stmt, scope: Scope) -> Flow:
        try:
            return self._walk_statement(node, scope)
        except WalkError as error:
            if error.place:
                raise
            raise WalkError(str(error), self._place(node)) from error

    def _walk_statement(self, node: ast.stmt, scope: Scope) -> Flow:
        match node:
            case ast.Return():
                return Flow(scope, True, None if node.value is None else self.value(node.value, scope))
            case ast.If():
                test = self.settled(self.values.truth(self.value(node.test, scope)))
                return self._branch(
                    test, lambda s: self.block(node.body, s), lambda s: self.block(node.orelse, s), scope
                )
            case ast.For():
                if node.orelse:
                    raise WalkError("a loop with else")
                return self._loop(node, self.value(node.iter, scope), scope)
            case ast.Assign():
                value, scope = self.value(node.value, scope), dict(scope)
                for target in node.targets:
                    self._assign(target, value, scope)
                return Flow(scope)
            case ast.AnnAssign(value=given) if given is not None:
                value, scope = self.value(given, scope), dict(scope)
                self._assign(node.target, value, scope)
                return Flow(scope)
            case ast.AnnAssign() | ast.Pass():
                return Flow(scope)
            case ast.AugAssign():
                value = self.binary(node, node.op, self.value(node.target, scope), self.value(node.value, scope))
                scope = dict(scope)
                self._assign(node.target, value, scope)
                return Flow(scope)
            case ast.Expr(ast.Constant()):
                return Flow(scope)
            case ast.Expr(ast.Call(ast.Attribute(ast.Name() as name, "append"), [what], [])):
                return Flow({**scope, name.id: self._appended(scope, name.id, self.value(what, scope))})
            case ast.Delete() if all(isinstance(target, ast.Name) for target in node.targets):
                return Flow(scope)
            case ast.Break():
                return Flow(scope, broke=True, broke_scope=scope)
            case ast.Continue():
                return Flow(scope, continued=True, continued_scope=scope)
            case ast.Raise():
                self.oblige(False, node, "never raised")
                return Flow(scope, True, MISSING)
        raise WalkError(f"{type(node).__name__}: the walker does not read it")

    def _appended(self, scope: Scope, name: str, value: Any) -> list[Any]:
        was = scope.get(name)
        if not isinstance(was, list):
            raise WalkError(f"{name}.append: {name} is not a list made here")
        if isinstance(was, Sometimes):
            return Sometimes([*was, (True, value)])
        return [*was, value]

    def _assign(self, target: ast.expr, value: Any, scope: Scope) -> None:
        match target:
            case ast.Name():
                scope[target.id] = value
            case ast.Subscript(value=ast.Name() as name):
                was, place = scope.get(name.id), self.value(target.slice, scope)
                if not isinstance(was, list) or isinstance(was, Sometimes) or not isinstance(place, int):
                    raise WalkError(f"an entry of {name.id} is set, which is not a list made here at a fixed place")
                changed = list(was)
                changed[place] = value
                scope[name.id] = changed
            case ast.Tuple() | ast.List():
                if not isinstance(value, (tuple, list)) or isinstance(value, Sometimes):
                    raise WalkError("what is taken apart hangs on an input in its form")
                for one, part in zip(target.elts, value, strict=True):
                    self._assign(one, part, scope)
            case _:
                raise WalkError(f"assignment to {type(target).__name__}")

    def _loop(self, node: ast.For, over: Any, scope: Scope) -> Flow:
        if isinstance(over, Choice):
            return self._ways(node, list(over.ways), scope)
        depth = len(self._path)
        alive: Truth = True
        returns: list[tuple[Truth, Any]] = []
        returned: list[Truth] = []
        breaks: list[tuple[Truth, Scope]] = []
        left: Truth = False
        for there, item in self.values.entries(self.iterated(over)):

            def one_pass(names: Scope, item: Any = item) -> Flow:
                names = dict(names)
                self._assign(node.target, item, names)
                flow = self.block(node.body, names)
                after = flow.scope
                if flow.continued is not False and flow.continued_scope is not None:
                    after = self._scopes(flow.continued, flow.continued_scope, after)
                return Flow(after, flow.returned, flow.value, flow.broke, flow.broke_scope)

            flow = self._branch(self.settled(there), one_pass, Flow, scope)
            if flow.returned is not False:
                returns.append((flow.returned, flow.value))
                returned.append(self.terms.both(alive, flow.returned))
            if flow.broke is not False and flow.broke_scope is not None:
                breaks.append((self.terms.both(alive, flow.broke), flow.broke_scope))
            scope = flow.scope
            left = self.terms.either(flow.returned, flow.broke)
            if left is True:
                break
            if left is not False:
                stays = self.terms.negation(left)
                alive = self.terms.both(alive, stays)
                self.assume(stays)
        self.forget(depth)
        value = returns[-1][1] if returns else MISSING
        for where, one in reversed(returns[:-1]):
            value = self.values.merged(where, one, value)
        for where, other in reversed(breaks):
            scope = self._scopes(where, other, scope)
        whole_returned = self.terms.any(returned)
        if left is True:
            whole_returned = self.terms.negation(self.terms.any(where for where, _ in breaks))
        return Flow(scope, whole_returned, value)

    def _ways(self, node: ast.For, ways: list[tuple[Truth, Any]], scope: Scope) -> Flow:
        """The loop over each thing that is meant, in turn."""
        where, thing = ways[0]
        where = self.settled(where)
        if len(ways) == 1:
            return self._loop(node, thing, scope)
        return self._branch(where, lambda s: self._loop(node, thing, s), lambda s: self._ways(node, ways[1:], s), scope)

    def iterated(self, value: Any) -> list[Any]:
        """The entries of something that is looped over."""
        if isinstance(value, (Term, Bits, Cases, Choice)):
            raise WalkError("a loop over something that hangs on an input in its form")
        return value if isinstance(value, list) else list(value)

    # --- values

    def value(self, node: ast.expr, scope: Scope) -> Any:
        """The value of an expression."""
        match node:
            case ast.Constant():
                return node.value
            case ast.Name():
                return self._name(node.id, scope)
            case ast.Attribute():
                return self.attribute(self.value(node.value, scope), node.attr)
            case ast.BinOp():
                return self.binary(node, node.op, self.value(node.left, scope), self.value(node.right, scope))
            case ast.UnaryOp():
                return self.values.over(lambda x: self._unary(node.op, x), self.value(node.operand, scope))
            case ast.BoolOp():
                return self._bool_op(node, scope)
            case ast.Compare():
                return self._comparison(node, scope)
            case ast.IfExp():
                test = self.settled(self.values.truth(self.value(node.test, scope)))
                if not isinstance(test, Term):
                    return self.value(node.body if test else node.orelse, scope)
                with self.under(test):
                    yes = self.value(node.body, scope)
                with self.under(self.terms.negation(test)):
                    no = self.value(node.orelse, scope)
                return self.values.merged(test, yes, no)
            case ast.Call():
                return self._call(node, scope)
            case ast.Tuple():
                return tuple(self._elements(node.elts, scope))
            case ast.List():
                return self._elements(node.elts, scope)
            case ast.Dict() if all(key is not None for key in node.keys):
                keys = [self.value(key, scope) for key in node.keys if key is not None]
                return dict(zip(keys, [self.value(value, scope) for value in node.values], strict=True))
            case ast.Subscript():
                return self._subscript(node, scope)
            case ast.Slice():
                ends = [None if end is None else self.value(end, scope) for end in (node.lower, node.upper, node.step)]
                if not all(end is None or isinstance(end, int) for end in ends):
                    raise WalkError("a slice whose ends hang on an input")
                return slice(*ends)
            case ast.ListComp() | ast.GeneratorExp():
                return self._comprehension(node.elt, node.generators, scope)
            case ast.JoinedStr():
                return "".join(str(self.value(part, scope)) for part in node.values)
            case ast.FormattedValue():
                value = self.value(node.value, scope)
                if not fixed(value):
                    raise WalkError("a text that hangs on an input")
                return format(value, "" if node.format_spec is None else str(self.value(node.format_spec, scope)))
        raise WalkError(f"{type(node).__name__}: the walker does not read it")

    def _name(self, name: str, scope: Scope) -> Any:
        if name in scope:
            value = scope[name]
            if value is MISSING:
                raise WalkError(f"{name} may not have a value here")
            return value
        for world in self._worlds[-1][:2]:
            if name in world:
                return world[name]
        if hasattr(builtins, name):
            return getattr(builtins, name)
        raise WalkError(f"{name} is not known")

    def _elements(self, nodes: Iterable[ast.expr], scope: Scope) -> list[Any]:
        found: list[Any] = []
        for node in nodes:
            if isinstance(node, ast.Starred):
                found += self.iterated(self.value(node.value, scope))
            else:
                found.append(self.value(node, scope))
        return found

    def _call(self, node: ast.Call, scope: Scope) -> Any:
        function = self.value(node.func, scope)
        args = self._elements(node.args, scope)
        named: dict[str, Any] = {}
        for keyword in node.keywords:
            value = self.value(keyword.value, scope)
            if keyword.arg is None:
                named.update(value)
            else:
                named[keyword.arg] = value
        return self._calls.call(function, args, named, node)

    def attribute(self, value: Any, name: str) -> Any:
        """value.name."""
        if isinstance(value, Choice):
            return self.values.over(lambda thing: self.attribute(thing, name), value)
        if isinstance(value, (Term, Bits, Cases, Sometimes)):
            raise WalkError(f".{name} of a number that hangs on an input")
        found = getattr(type(value), name, None)
        if isinstance(found, property) and not fixed(value):
            if not isinstance(found.fget, FunctionType):
                raise WalkError(f".{name} of something that hangs on an input")
            return self.function(found.fget, [value], {})
        return getattr(value, name)

    def _subscript(self, node: ast.Subscript, scope: Scope) -> Any:
        return self.values.over(
            lambda rows, index: self._entry(node, rows, index),
            self.value(node.value, scope),
            self.value(node.slice, scope),
        )

    def _entry(self, node: ast.Subscript, rows: Any, index: Any) -> Any:
        if isinstance(rows, (Term, Bits, Cases, Sometimes)):
            raise WalkError("an entry of something that hangs on an input in its form")
        if fixed(index):
            return rows[index]
        found: list[tuple[Truth, Any]] = []
        for number, truth in self.values.cases(index).cases.items():
            where = self.settled(truth)
            if where is False:
                continue
            places = rows if isinstance(rows, dict) else range(-len(rows), len(rows))
            if number in places:
                found.append((where, rows[number]))
            else:
                self.oblige(self.terms.negation(where), node, f"no entry {number} is asked for")
        return self.values.one_of(found)

    def _unary(self, op: ast.unaryop, x: Any) -> Any:
        if isinstance(op, ast.Not):
            return self.terms.negation(self.settled(self.values.truth(x)))
        if isinstance(op, ast.Invert):
            return ~x if fixed(x) else self.values.inverted(x)
        if isinstance(op, ast.UAdd):
            return +x if fixed(x) else x
        if fixed(x):
            return -x
        if whole(x) or is_truth(x):
            return self.values.compute_wholes(operator.sub, 0, x)
        return self.terms.minus(self.terms.real(self.values.real(x)))

    def _bool_op(self, node: ast.BoolOp, scope: Scope) -> Any:
        stop = isinstance(node.op, ast.Or)
        depth = len(self._path)
        parts: list[Truth] = []
        for place, part in enumerate(node.values):
            value = self.value(part, scope)
            x = self.settled(self.values.truth(value))
            if not isinstance(x, Term) and fixed(value) and not parts:
                if x is stop or place == len(node.values) - 1:
                    self.forget(depth)
                    return value  # as Python gives it: the operand itself
                continue
            if is_real(value):
                raise WalkError("a number that hangs on an input is joined by and/or")
            parts.append(x)
            if x is stop:
                break
            self.assume(self.terms.negation(x) if stop else x)
        self.forget(depth)
        return self.terms.any(parts) if stop else self.terms.all(parts)

    def _comparison(self, node: ast.Compare, scope: Scope) -> Any:
        depth = len(self._path)
        left = self.value(node.left, scope)
        parts: list[Truth] = []
        for op, operand in zip(node.ops, node.comparators, strict=True):
            right = self.value(operand, scope)
            one = self.settled(
                self.values.truth(self.values.over(lambda a, b, o=op: self.compared(o, a, b), left, right))
            )
            parts.append(one)
            if one is False:
                break
            self.assume(one)
            left = right
        self.forget(depth)
        return self.terms.all(parts)

    def compared(self, op: ast.cmpop, a: Any, b: Any) -> Truth:
        """a op b."""
        if isinstance(op, (ast.Is, ast.IsNot)):
            if not (fixed(a) and fixed(b)) and a is not None and b is not None and a is not b:
                raise WalkError("identity of what hangs on an input")
            return (a is b) is isinstance(op, ast.Is)
        if isinstance(op, (ast.In, ast.NotIn)):
            if fixed(a) and fixed(b):
                found: Truth = a in b
            else:
                entries = self.values.entries(self.iterated(b))
                found = self.terms.any(
                    self.terms.both(there, self.compared(ast.Eq(), a, entry)) for there, entry in entries
                )
            return self.terms.negation(found) if isinstance(op, ast.NotIn) else found
        if isinstance(op, ast.NotEq):
            return self.terms.negation(self.compared(ast.Eq(), a, b))
        if fixed(a) and fixed(b):
            if isinstance(op, ast.Eq):
                return bool(a == b)
            return bool(_ORDER[type(op)](a, b))
        if isinstance(op, ast.Eq):
            return self._equal(a, b)
        if (whole(a) or is_truth(a)) and (whole(b) or is_truth(b)):
            return self.values.compare_wholes(_ORDER[type(op)], a, b)
        x, y = self.values.real(a), self.values.real(b)
        if isinstance(op, (ast.LtE, ast.Gt)):
            found = self.terms.at_most(x, y)
            return found if isinstance(op, ast.LtE) else self.terms.negation(found)
        found = self.terms.at_most(y, x)
        return found if isinstance(op, ast.GtE) else self.terms.negation(found)

    def _equal(self, a: Any, b: Any) -> Truth:
        if isinstance(a, (tuple, list)) and isinstance(b, (tuple, list)):
            if isinstance(a, Sometimes) or isinstance(b, Sometimes):
                raise WalkError("lists whose form hangs on an input are compared")
            if isinstance(a, list) is not isinstance(b, list) or len(a) != len(b):
                return False
            return self.terms.all(
                self.values.truth(self.values.over(lambda x, y: self.compared(ast.Eq(), x, y), x, y))
                for x, y in zip(a, b, strict=True)
            )
        if is_truth(a) and is_truth(b):
            return self.terms.same_truth(a, b)
        if (whole(a) or is_truth(a)) and (whole(b) or is_truth(b)):
            return self.values.equal_wholes(a, b)
        if all(is_real(x) or whole(x) or is_truth(x) for x in (a, b)):
            return self.terms.equal(self.values.real(a), self.values.real(b))
        if a is None or b is None or isinstance(a, str) or isinstance(b, str):
            return False  # one is a number, the other is none
        raise WalkError("things that hang on an input are compared")

    def binary(self, node: ast.AST, op: ast.operator, a: Any, b: Any) -> Any:
        """a op b."""
        return self.values.over(lambda x, y: self._binary(node, op, x, y), a, b)

    def _binary(self, node: ast.AST, op: ast.operator, a: Any, b: Any) -> Any:
        kind = type(op)
        if fixed(a) and fixed(b):
            return _FIXED[kind](a, b)
        if isinstance(a, (tuple, list)) or isinstance(b, (tuple, list)):
            if kind is ast.Add and not isinstance(a, Sometimes) and not isinstance(b, Sometimes):
                return a + b
            raise WalkError("lists that hang on an input are combined")
        if kind in _BITWISE:
            return self.values.bitwise(_BITWISE[kind], a, b)
        if kind in (ast.LShift, ast.RShift) and isinstance(a, Bits) and isinstance(b, int):
            return self.values.shifted(a, b if kind is ast.RShift else -b)
        wholes = all(whole(x) or is_truth(x) for x in (a, b))
        if wholes and kind is not ast.Div:
            return self.values.compute_wholes(_FIXED[kind], a, b)
        if kind not in _REAL:
            raise WalkError(f"{kind.__name__} of numbers that hang on an input")
        x, y = self.values.real(a), self.values.real(b)
        if kind is ast.Div:
            self.oblige(self.terms.negation(self.terms.equal(y, 0.0)), node, "the divisor is never zero")
        return self.terms.arithmetic(_REAL[kind], x, y)

    def _comprehension(self, element: ast.expr, generators: list[ast.comprehension], scope: Scope) -> list[Any]:
        found: list[tuple[Truth, Any]] = []

        def walk(rest: list[ast.comprehension], names: Scope, there: Truth) -> None:
            if not rest:
                found.append((there, self.value(element, names)))
                return
            first = rest[0]
            for here, item in self.values.entries(self.iterated(self.value(first.iter, names))):
                inner = dict(names)
                self._assign(first.target, item, inner)
                with self.under(here):
                    depth = len(self._path)
                    where: Truth = self.terms.both(there, here)
                    for test in first.ifs:
                        asked = self.settled(self.values.truth(self.value(test, inner)))
                        where = self.terms.both(where, asked)
                        self.assume(asked)
                    if where is not False:
                        walk(rest[1:], inner, where)
                    self.forget(depth)

        walk(generators, scope, True)
        if all(there is True for there, _ in found):
            return [value for _, value in found]
        return Sometimes(found)


def _parts(condition: Truth) -> tuple[Term, ...]:
    if not isinstance(condition, Term):
        return ()
    return (condition, *condition.args) if condition.op == t.AND else (condition,)
