"""One module out of all functions that some entries call, as source text.

The functions are read from the files that they run from. Each gets a name of its own; what it calls of ours is called
by that name; constants are imported, or stand as numbers; loops over shafts are written out. Annotations, docstrings
and comments stay behind.
"""

import ast
import copy
import enum
import functools
import inspect
import types
from collections.abc import Callable, Iterable, Mapping
from typing import Any

from sim.fast.hands import CHARGES
from sim.fast.replaced import Replacement
from sim.fast.unroll import unrolled
from sim.nodes import readers

Function = Callable[..., Any]

OURS = ("sim.", "supervisor.")
"""Functions of modules that begin so are gathered; those of others are imported."""


class GatherError(Exception):
    """A function that cannot be gathered, by name and reason."""


@functools.cache
def _tree(file: str) -> ast.Module:
    with open(file, encoding="utf-8") as source:
        return ast.parse(source.read())


def _definition(function: types.FunctionType) -> ast.FunctionDef:
    """The function as it stands in its file."""
    line = function.__code__.co_firstlineno
    for node in ast.walk(_tree(inspect.getsourcefile(function) or "")):
        if isinstance(node, ast.Lambda) and node.lineno == line and function.__name__ == "<lambda>":
            body: list[ast.stmt] = [ast.Return(copy.deepcopy(node.body))]
            return ast.FunctionDef("", copy.deepcopy(node.args), body, [])
        if isinstance(node, ast.FunctionDef) and node.name == function.__name__ and node.lineno == line:
            return copy.deepcopy(node)
    raise GatherError(f"{function.__module__}.{function.__qualname__}: its source is not found")


def _without_given(node: ast.FunctionDef, function: types.FunctionType) -> dict[str, Function]:
    """Takes the last parameters out that have a function as their default: it is called for good then. A compiled
    function that is passed about has another identity in each process, and nothing around it is ever found in a cache
    (numba #6264)."""
    given: dict[str, Function] = {}
    defaults = list(function.__defaults__ or ())
    while defaults and isinstance(defaults[-1], types.FunctionType):
        given[node.args.args.pop().arg] = defaults.pop()
        node.args.defaults.pop()
    return given


class Gathering:
    """Collects functions. `shafts` is the number of shafts that loops are written out for; `sequences` are names of
    parameters with one entry a shaft; `replaced` gives functions that stand in for others; functions of `own_modules`
    are gathered too."""

    def __init__(
        self,
        shafts: int,
        sequences: Iterable[str],
        replaced: Mapping[Function, Replacement],
        own_modules: tuple[str, ...] = (),
    ) -> None:
        self._ours = (*OURS, *own_modules)
        self._shafts = shafts
        self._sequences = tuple(sequences)
        self._replaced = replaced
        self._names: dict[int, str] = {}
        self._kept: list[Any] = []
        self._imports: dict[str, str] = {}
        self._texts: list[str] = []
        self.modules: set[str] = set()
        """The modules of ours that something was taken from."""

    def add(self, function: Function) -> str:
        """Gather a function with all that it calls. Returns its name in the module."""
        if id(function) in self._names:
            return self._names[id(function)]
        if not isinstance(function, types.FunctionType):
            raise GatherError(f"{function!r} is no plain function")
        name = self._new_name(function)
        self.modules.add(function.__module__)
        self._names[id(function)] = name
        self._kept.append(function)  # so that no other function gets its id
        if function in self._replaced:
            text = self._replaced[function].text.replace("REPLACED", name).strip()
            for placeholder, called in self._replaced[function].calls.items():
                text = text.replace(placeholder, self.add(called))
            self._texts.append(f"@inner\n{text}\n")
            return name
        node = _definition(function)
        node.decorator_list, node.returns = [], None
        for one in (*node.args.args, *node.args.kwonlyargs):
            one.annotation = None
        if isinstance(node.body[0], ast.Expr) and isinstance(node.body[0].value, ast.Constant):
            node.body = node.body[1:]
        given = _without_given(node, function)
        node = unrolled(node, self._shafts, self._sequences)
        node.name = name
        node = _Renamer(self, function, given).visit(node)
        if function.__module__ == readers.__name__:
            node = _OnHands().visit(node)
        self._texts.append(f"@inner\n{ast.unparse(ast.fix_missing_locations(node))}\n")
        return name

    def source(self, head: str) -> str:
        """The module's text: `head`, which defines the decorator `inner`; imports; functions, the called ones first."""
        return "\n".join([head, *sorted(set(self._imports.values())), "", *self._texts])

    def _new_name(self, function: types.FunctionType) -> str:
        stem = f"{function.__module__.rsplit('.', 1)[-1]}_{function.__name__.strip('_<>')}"
        taken = set(self._names.values())
        if stem not in taken:
            return stem
        return next(name for number in range(2, 1000) if (name := f"{stem}_{number}") not in taken)

    def value(self, value: Any, name: str, module: str) -> ast.expr:
        """How a global or a closure's variable stands in the module. `module` is where it has that name."""
        if isinstance(value, types.FunctionType) and value.__module__.startswith(self._ours):
            return ast.Name(self.add(value), ast.Load())
        self._note(value, module)
        if isinstance(value, enum.Enum):
            return ast.Constant(value.value)
        if isinstance(value, bool | int | float | str):
            return ast.Constant(int(value) if isinstance(value, int) and not isinstance(value, bool) else value)
        if isinstance(value, tuple) and value and all(isinstance(row, tuple) and hasattr(row, "mask") for row in value):
            alias = f"rows_{module.replace('.', '_')}_{name}"
            self._imports[alias] = f"from {module} import {name} as _{alias}\n{alias} = records(_{alias})"
            return ast.Name(alias, ast.Load())
        if isinstance(value, type | types.FunctionType | types.BuiltinFunctionType):
            alias = f"{value.__module__.replace('.', '_')}_{value.__qualname__.replace('.', '_')}"
            self._imports[alias] = f"from {value.__module__} import {value.__name__} as {alias}"
            return ast.Name(alias, ast.Load())
        if isinstance(value, tuple):
            alias = f"{module.replace('.', '_')}_{name}"
            self._imports[alias] = f"from {module} import {name} as {alias}"
            return ast.Name(alias, ast.Load())
        raise GatherError(f"{module}: {name} is a {type(value).__name__}, which cannot be compiled")

    def _note(self, value: Any, module: str) -> None:
        """Where a constant, class or table comes from: where it stands, and where it was made."""
        self.modules |= {one for one in (module, getattr(value, "__module__", "")) if str(one).startswith(self._ours)}


class _Renamer(ast.NodeTransformer):
    """Puts in what the names of one function stand for that are not its own."""

    def __init__(self, gathering: Gathering, function: types.FunctionType, given: Mapping[str, Function]) -> None:
        self._gathering = gathering
        self._module = function.__module__
        code = function.__code__
        self._own = {*code.co_varnames, *code.co_cellvars} - set(given)
        self._outside: dict[str, Any] = {**function.__globals__, **given}
        for name, cell in zip(code.co_freevars, function.__closure__ or (), strict=True):
            self._outside[name] = cell.cell_contents

    def visit_Name(self, node: ast.Name) -> ast.expr:
        if isinstance(node.ctx, ast.Load) and node.id not in self._own and node.id in self._outside:
            return self._gathering.value(self._outside[node.id], node.id, self._module)
        return node

    def visit_Attribute(self, node: ast.Attribute) -> ast.expr:
        there = self._standing(node.value)
        if isinstance(there, types.ModuleType):
            return self._gathering.value(getattr(there, node.attr), node.attr, there.__name__)
        if isinstance(there, enum.Enum) or (isinstance(there, type) and issubclass(there, enum.Enum)):
            return self._gathering.value(getattr(there, node.attr), node.attr, self._module)
        self.generic_visit(node)
        return node

    def visit_Call(self, node: ast.Call) -> ast.expr:
        """A NamedTuple gets the values that it has by default, too: numba would make a shorter one."""
        kind = self._standing(node.func)
        self.generic_visit(node)
        if isinstance(kind, type):
            fields: tuple[str, ...] = getattr(kind, "_fields", ())
            defaults: dict[str, Any] = getattr(kind, "_field_defaults", {})
            given = {*fields[: len(node.args)], *(one.arg for one in node.keywords)}
            for name, value in defaults.items():
                if name not in given:
                    node.keywords.append(ast.keyword(name, self._gathering.value(value, name, kind.__module__)))
        return node

    def _standing(self, node: ast.expr) -> Any:
        """What stands outside the function under a dotted name; None where it is its own."""
        if isinstance(node, ast.Name):
            return None if node.id in self._own else self._outside.get(node.id)
        if isinstance(node, ast.Attribute):
            there = self._standing(node.value)
            return None if there is None else getattr(there, node.attr, None)
        return None

    def visit_AnnAssign(self, node: ast.AnnAssign) -> ast.stmt:
        if node.value is None:
            return ast.Pass()
        return ast.Assign([node.target], self.visit(node.value))

    def visit_For(self, node: ast.For) -> Any:
        """A loop over a table of integers is written out: numba would keep the table in memory and walk it."""
        if isinstance(node.iter, ast.Name) and node.iter.id not in self._own:
            table = self._outside.get(node.iter.id)
            if isinstance(table, tuple) and table and isinstance(node.target, ast.Tuple):
                if node.orelse or any(isinstance(one, ast.Break | ast.Continue) for one in ast.walk(node)):
                    raise GatherError(f"{self._module}: a loop over {node.iter.id} with break, continue or else")
                if not all(isinstance(value, int) for row in table for value in row):
                    raise GatherError(
                        f"{self._module}: a loop over {node.iter.id}, which holds more than whole numbers"
                    )
                return [one for row in table for one in self._round(node, node.target, row)]
        self.generic_visit(node)
        return node

    def _round(self, node: ast.For, target: ast.Tuple, row: tuple[int, ...]) -> list[ast.stmt]:
        fixed = {one.id: int(value) for one, value in zip(target.elts, row, strict=True) if isinstance(one, ast.Name)}
        return [self.visit(_Fixed(fixed).visit(copy.deepcopy(one))) for one in node.body]


class _OnHands(ast.NodeTransformer):
    """What a reader takes from the panel, taken from `Hands`: its dictionaries are fields there, the charge selector's
    positions numbers."""

    def visit_Call(self, node: ast.Call) -> ast.expr:
        if isinstance(node.func, ast.Attribute) and node.func.attr == "contact":
            return self._field(node.func.value, node.args[0])
        self.generic_visit(node)
        return node

    def visit_Subscript(self, node: ast.Subscript) -> ast.expr:
        if isinstance(node.value, ast.Attribute) and node.value.attr == "switches":
            return self._field(node.value.value, node.slice)
        self.generic_visit(node)
        return node

    def visit_Compare(self, node: ast.Compare) -> ast.expr:
        other = node.comparators[0]
        if isinstance(other, ast.Constant) and isinstance(other.value, str):
            node.comparators = [ast.Constant(CHARGES.index(other.value))]
        return node

    def visit_Return(self, node: ast.Return) -> ast.stmt:
        self.generic_visit(node)
        if isinstance(node.value, ast.Compare):  # numba makes no number of a truth value
            node.value = ast.IfExp(node.value, ast.Constant(1.0), ast.Constant(0.0))
        return node

    def visit_Constant(self, node: ast.Constant) -> ast.expr:
        """A sender that does not know says no number: numba would carry a flag beside each."""
        if node.value is None:
            return ast.Attribute(ast.Name("math", ast.Load()), "nan", ast.Load())
        return node

    @staticmethod
    def _field(panel: ast.expr, name: ast.expr) -> ast.expr:
        if not isinstance(name, ast.Constant) or not isinstance(name.value, str):
            raise GatherError("a reader asks the panel for something that is not fixed")
        return ast.Attribute(panel, name.value, ast.Load())


class _Fixed(ast.NodeTransformer):
    """Names that stand for numbers."""

    def __init__(self, fixed: Mapping[str, int]) -> None:
        self._fixed = fixed

    def visit_Name(self, node: ast.Name) -> ast.expr:
        return ast.Constant(self._fixed[node.id]) if node.id in self._fixed else node
