"""The mutants that cosmic-ray makes of the rules and the controller, less those that say nothing about the tests.

What is left out is left out by rule, whether it would be killed or not, and each rule is told and counted:

* `annotation`: a change inside a type annotation.
* `identity`: numbers compared by `is` and `is not`: the answer is the interpreter's, not the program's.
* `stillborn`: bit operations on fractions, which raise TypeError at once; powers and shifts of words of bits, which
  make numbers of millions of digits; the stars of `**values`, which are no operators.
* `mask`: `a & b != 0` made `> 0`, `a & b == 0` made `<= 0`: no word of bits is negative; `a & b != b` made `< b`,
  `a & b == b` made `>= b`: no part is more than the whole.
* `limit`: `if a < b: b = a` made `<=`, and its like: at equality both sides are the same.
* `flag`: what is only ever 0 or 1 (`FLAGS`), compared so that 0 and 1 get the same answer as before.
* `end`: a mode or row compared with the lowest or the highest there is, so that all there are get the same answer.
* `disjoint`: `|` between constants of different bits made `+` or `^`: the sum is the same.
"""

import ast
import subprocess
import sys
from collections import Counter
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, NamedTuple

FLAGS = frozenset({
    "acknowledge", "asks", "at_rest", "available", "charge_permit", "charge_wanted", "clutch_fitted", "derate_open",
    "derate_start", "discharge_permit", "enable_edge", "full_active", "full_reached", "handset_conflict",
    "handset_lost", "inputs_lost", "links_charged", "lost", "neutral", "now", "off_order", "ordered", "reset_edge",
    "thrust_known", "thrust_zero", "trailing_allowed",
})  # fmt: skip
"""Fields and names that their docstrings declare to be 0 or 1."""
LOWEST = frozenset({"MODE_STANDBY", "SHAFT_REST", "NO_ROW", "STANDBY", "REST"})
HIGHEST = frozenset({"MODE_TRIPPED", "SHAFT_ISOLATED", "TRIPPED", "ISOLATED"})
_SAME_AT_1 = {("Eq", "GtE"), ("NotEq", "Lt")}
_SAME_AT_0 = {("Eq", "LtE"), ("NotEq", "Gt")}
_SAME_AT_WHOLE = {("Eq", "GtE"), ("NotEq", "Lt")}
_SAME_AT_EQUAL = {("Lt", "LtE"), ("LtE", "Lt"), ("Gt", "GtE"), ("GtE", "Gt")}
_BITWISE = frozenset({"BitAnd", "BitOr", "BitXor", "LShift", "RShift"})
_HUGE = frozenset({"Pow", "LShift", "RShift"})

Place = tuple[int, int]


class Mutant(NamedTuple):
    """One change: the operator's occurrence `number` in a module; `start` and `end` are (line, column)."""

    module: str
    operator: str
    number: int
    start: Place
    end: Place
    definition: str

    @property
    def key(self) -> str:
        """What names it in a file of results."""
        return f"{self.module}:{self.start[0]}:{self.start[1]} {self.operator.removeprefix('core/')} {self.number}"


class Source:
    """The places of one module's operators and annotations."""

    def __init__(self, text: str) -> None:
        self.operations: list[tuple[Place, Place, ast.expr, ast.expr]] = []
        self.annotations: list[tuple[Place, Place]] = []
        self.limits: list[tuple[Place, Place]] = []
        for node in ast.walk(ast.parse(text)):
            if isinstance(node, ast.BinOp):
                self.operations.append((_end(node.left), _start(node.right), node.left, node.right))
            elif isinstance(node, ast.Compare):
                left = node.left
                for right in node.comparators:
                    self.operations.append((_end(left), _start(right), left, right))
                    left = right
            elif isinstance(node, ast.If) and _is_limit(node):
                self.limits.append((_start(node.test), _end(node.test)))
            for name in ("annotation", "returns"):
                found = getattr(node, name, None)
                if isinstance(found, ast.expr):
                    self.annotations.append((_start(found), _end(found)))

    def operands(self, place: Place) -> tuple[ast.expr, ast.expr] | None:
        """Left and right of the operator at a place."""
        around = [(a, b, left, right) for a, b, left, right in self.operations if a <= place < b]
        if not around:
            return None
        _, _, left, right = max(around, key=lambda one: one[0])
        return left, right


def _start(node: ast.expr) -> Place:
    return node.lineno, node.col_offset


def _end(node: ast.expr) -> Place:
    return node.end_lineno or node.lineno, node.end_col_offset or node.col_offset


def _name(node: ast.expr) -> str:
    if isinstance(node, ast.Attribute):
        return node.attr
    return node.id if isinstance(node, ast.Name) else ""


def _value(node: ast.expr) -> object:
    return node.value if isinstance(node, ast.Constant) else None


def _is_mask(node: ast.expr) -> bool:
    return isinstance(node, ast.BinOp) and isinstance(node.op, ast.BitAnd)


def _parts(node: ast.expr) -> list[str]:
    return [ast.unparse(node.left), ast.unparse(node.right)] if isinstance(node, ast.BinOp) else []


def _is_limit(node: ast.If) -> bool:
    """`if a < b: b = a` and its like, negated or not."""
    test = node.test.operand if isinstance(node.test, ast.UnaryOp) else node.test
    done = node.body[0]
    if not isinstance(test, ast.Compare) or len(node.body) != 1 or not isinstance(done, ast.Assign) or node.orelse:
        return False
    compared = sorted([ast.unparse(test.left), *map(ast.unparse, test.comparators)])
    return compared == sorted([ast.unparse(done.targets[0]), ast.unparse(done.value)])


def _constants(node: ast.expr) -> frozenset[str] | None:
    """Names of the constants that are or-ed together, None if it is anything else."""
    if isinstance(node, ast.BinOp) and isinstance(node.op, ast.BitOr):
        left, right = _constants(node.left), _constants(node.right)
        return None if left is None or right is None or left & right else left | right
    name = _name(node)
    return frozenset({name}) if name.isupper() else None


def _rule_of_comparison(left: ast.expr, right: ast.expr, change: tuple[str, str]) -> str:
    if _is_mask(left) and _value(right) == 0 and change in _SAME_AT_0:
        return "mask"
    if _is_mask(left) and ast.unparse(right) in _parts(left) and change in _SAME_AT_WHOLE:
        return "mask"
    if _name(left) in FLAGS:
        if (_value(right) == 1 and change in _SAME_AT_1) or (_value(right) == 0 and change in _SAME_AT_0):
            return "flag"
    if (_name(right) in LOWEST and change in _SAME_AT_0) or (_name(right) in HIGHEST and change in _SAME_AT_1):
        return "end"
    return ""


def rule(mutant: Mutant, source: Source) -> str:
    """The rule by which a mutant is left out, or ""."""
    if any(a <= mutant.start < b for a, b in source.annotations):
        return "annotation"
    words = mutant.operator.removeprefix("core/").split("_")
    if words[0] not in ("ReplaceBinaryOperator", "ReplaceComparisonOperator"):
        return ""
    change = words[1], words[2]
    if words[0] == "ReplaceBinaryOperator":
        if change[1] == "Pow" or change[0] == "Pow":
            return "stillborn"
        if (change[1] in _BITWISE) != (change[0] in _BITWISE) and change[1] in _BITWISE:
            return "stillborn"
        if change[1] in _HUGE and change[0] not in _HUGE:
            return "stillborn"
    elif change[1] in ("Is", "IsNot") and change[0] not in ("Is", "IsNot"):
        return "identity"
    if change in _SAME_AT_EQUAL and any(a <= mutant.start < b for a, b in source.limits):
        return "limit"
    sides = source.operands(mutant.start)
    if sides is None:
        return ""
    if words[0] == "ReplaceComparisonOperator":
        return _rule_of_comparison(*sides, change)
    one, other = _constants(sides[0]), _constants(sides[1])
    if change in (("BitOr", "Add"), ("BitOr", "BitXor")) and one and other and not one & other:
        return "disjoint"
    return ""


def all_mutants(copy: Path) -> Iterator[Mutant]:
    """Every mutant of the modules named in the copy's `cosmic-ray.toml`, in an order that does not depend on chance."""
    from cosmic_ray.work_db import WorkDB, use_db

    tool = Path(sys.executable).with_name("cosmic-ray")
    subprocess.run([tool, "init", "cosmic-ray.toml", "session.sqlite"], cwd=copy, check=True, capture_output=True)
    found = []
    with use_db(str(copy / "session.sqlite"), WorkDB.Mode.open) as database:
        for item in database.work_items:
            one = item.mutations[0]
            where = one.definition_name or ""
            found.append(
                Mutant(Path(one.module_path).as_posix(), one.operator_name, one.occurrence, tuple(one.start_pos),
                       tuple(one.end_pos), where)
            )  # fmt: skip
    return iter(sorted(found))


def sort_out(copy: Path) -> tuple[list[Mutant], Counter[str]]:
    """The mutants worth testing, and how many were left out by each rule."""
    kept = []
    left_out: Counter[str] = Counter()
    sources: dict[str, Source] = {}
    for mutant in all_mutants(copy):
        if mutant.module not in sources:
            sources[mutant.module] = Source((copy / mutant.module).read_text(encoding="utf-8"))
        why = rule(mutant, sources[mutant.module])
        if why:
            left_out[why] += 1
        else:
            kept.append(mutant)
    return kept, left_out


def mutated(mutant: Mutant, text: str) -> str:
    """The module's text with the change made."""
    import cosmic_ray.plugins
    from cosmic_ray.mutating import mutate_code

    make: Callable[[], Any] = cosmic_ray.plugins.get_operator(mutant.operator)
    changed: str | None = mutate_code(text, make(), mutant.number)
    if changed is None:
        raise ValueError(f"{mutant.key}: no such mutant; was the module changed since the mutants were listed?")
    return changed


def same_program(one: str, other: str) -> bool:
    """Whether two texts compile to the same bytecode, wherever the lines are: then they are one program."""
    return _shape(compile(one, "module", "exec")) == _shape(compile(other, "module", "exec"))


def _shape(code: Any) -> tuple[Any, ...]:
    constants = tuple(_shape(c) if hasattr(c, "co_code") else (type(c).__name__, repr(c)) for c in code.co_consts)
    return code.co_code, constants, code.co_names, code.co_varnames, code.co_freevars, code.co_name
