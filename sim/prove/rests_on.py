"""What each requirement rests on: the condition bits that its rows, claims and rules read, and the lemmas behind them.

Derived, not typed: from the masks of the table claims, from the table rows and the rules that the register names, and
from the source of the step claims. A requirement may be called complete only when every bit found here has a forming
claim that is proven, and so has every lemma: `lacking` says which have not.
"""

import ast
import inspect
import sys
import textwrap
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from enum import IntFlag
from functools import cache, partial
from types import FunctionType, ModuleType, SimpleNamespace
from typing import Any, NamedTuple

from sim.prove.claims import Claim
from sim.prove.claims_boat import BOAT_CLAIMS
from sim.prove.claims_source import SHAFT_CLAIMS
from sim.prove.plain import PLAIN_FACTS
from sim.prove.result import PROVEN
from sim.prove.step import StepClaim
from sim.requirements import REGISTER, Requirement
from sim.requirements.model import row_numbers, rule
from supervisor.modes import BOAT_TABLE, SHAFT_TABLE, BoatCondition, ShaftCondition
from supervisor.modes.conditions import PermitCondition

WORDS: Mapping[str, type[IntFlag]] = {"boat": BoatCondition, "shaft": ShaftCondition, "permit": PermitCondition}
"""The condition words by the name that a bit's own name begins with: "shaft.NO_DIVER"."""

MODES_CLAIMS = {"boat": "boat's mode by the table", "shaft": "shaft's mode by the table"}
"""The step claims that tie the tables to the tick: what a table claim shows is so only if the tick runs the table."""


class Rests(NamedTuple):
    """What one requirement rests on: `bits` and `lemmas` (names of step claims), each with where that was read."""

    requirement: str
    bits: Mapping[str, tuple[str, ...]]
    lemmas: Mapping[str, tuple[str, ...]]


def named(word: str, mask: int) -> list[str]:
    """The bits of a mask by name: "shaft.NO_DIVER"."""
    return [f"{word}.{bit.name}" for bit in WORDS[word] if mask & int(bit)]


def every_bit() -> tuple[str, ...]:
    """Each bit of each word."""
    return tuple(name for word, bits in WORDS.items() for name in named(word, sum(int(bit) for bit in bits)))


# --- what a function reads


@cache
def _tree(function: FunctionType) -> ast.AST | None:
    try:
        return ast.parse(textwrap.dedent(inspect.getsource(function)).strip().rstrip(","))
    except (OSError, SyntaxError):
        return None  # a lambda in the middle of a line, or a function without a file: nothing can be read in it


@cache
def _module_tree(module: ModuleType) -> ast.Module:
    return ast.parse(inspect.getsource(module))


@cache
def _imports(module: ModuleType) -> Mapping[str, str]:
    """The names that a module imports, and from where."""
    return {
        alias.asname or alias.name: node.module
        for node in _module_tree(module).body
        if isinstance(node, ast.ImportFrom) and node.module is not None
        for alias in node.names
    }


@cache
def _constants(module: ModuleType) -> Mapping[str, frozenset[str]]:
    """The names that a module gives to condition bits, or to masks of them."""
    found: dict[str, frozenset[str]] = {}
    for node in _module_tree(module).body:
        pairs: list[tuple[ast.expr, ast.expr]] = []
        if isinstance(node, ast.AnnAssign) and node.value is not None:
            pairs.append((node.target, node.value))
        elif isinstance(node, ast.Assign):
            for target in node.targets:
                if isinstance(target, ast.Tuple) and isinstance(node.value, ast.Tuple):
                    pairs += zip(target.elts, node.value.elts, strict=True)
                else:
                    pairs.append((target, node.value))
        for name, value in pairs:
            bits = frozenset(_bits_in(value, module, found))
            if isinstance(name, ast.Name) and bits:
                found[name.id] = bits
    return found


def _bits_in(tree: ast.AST, module: ModuleType, so_far: Mapping[str, frozenset[str]] | None = None) -> set[str]:
    """The condition bits that a piece of a module's source names; `so_far` are the module's constants, if they are only
    being read."""
    found: set[str] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name):
            found |= _of_attribute(vars(module).get(node.value.id), node.attr)
        elif isinstance(node, ast.Name) and type(vars(module).get(node.id)) is int:
            home = sys.modules.get(_imports(module).get(node.id, ""))
            known = _constants(home) if home else _constants(module) if so_far is None else so_far
            found |= known.get(node.id, frozenset())
        elif isinstance(node, ast.Name) and isinstance(vars(module).get(node.id), IntFlag):
            value: Any = vars(module)[node.id]
            found |= {one for word, bits in WORDS.items() if isinstance(value, bits) for one in named(word, int(value))}
    return found


def _of_attribute(holder: Any, name: str) -> set[str]:
    for word, bits in WORDS.items():
        plain = isinstance(holder, SimpleNamespace) and vars(holder) == _plain(word)
        if (holder is bits or plain) and name in bits.__members__:
            return {f"{word}.{name}"}
    return set()


@cache
def _plain(word: str) -> Mapping[str, int]:
    return {str(bit.name): int(bit) for bit in WORDS[word]}


def called(function: FunctionType) -> Iterator[FunctionType]:
    """The functions of ours that its source names."""
    tree = _tree(function)
    if tree is None:
        return
    own = {*function.__code__.co_varnames, *function.__code__.co_cellvars}
    for node in ast.walk(tree):
        if isinstance(node, ast.Name) and node.id not in own:
            found = function.__globals__.get(node.id)
            if isinstance(found, FunctionType) and found.__module__.startswith(("sim.prove", "sim.requirements")):
                yield found


def read_by(function: Callable[..., Any]) -> frozenset[str]:
    """The condition bits that a claim's function reads, itself or through what it calls."""
    while isinstance(function, partial):
        function = function.func
    return _read_by(function) if isinstance(function, FunctionType) else frozenset()


@cache
def _read_by(function: FunctionType) -> frozenset[str]:
    found: set[str] = set()
    seen: set[FunctionType] = set()
    waiting = [function]
    while waiting:
        one = waiting.pop()
        if one in seen:
            continue
        seen.add(one)
        tree = _tree(one)
        if tree is not None:
            found |= _bits_in(tree, sys.modules[one.__module__])
        waiting += called(one)
    return frozenset(found)


def read_by_rule(function: Callable[..., Any]) -> frozenset[str]:
    """The condition bits that a rule asks (`word & BIT`), not those that it forms (`word |= BIT`)."""
    if not isinstance(function, FunctionType) or (tree := _tree(function)) is None:
        return frozenset()
    found: set[str] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.BinOp) and isinstance(node.op, ast.BitAnd):
            found |= _bits_in(node, sys.modules[function.__module__])
    return frozenset(found)


# --- what a requirement rests on


class Claims(NamedTuple):
    """The claims that a proof makes: on the tables, and on steps."""

    tables: Mapping[str, Sequence[Claim[Any]]]
    steps: Sequence[StepClaim]

    @property
    def by_name(self) -> Mapping[str, StepClaim]:
        """The step claims, by name."""
        return {claim.name: claim for claim in self.steps}

    @property
    def forming(self) -> Mapping[str, StepClaim]:
        """The step claims that show a bit's forming, by the bit."""
        return {claim.forms: claim for claim in self.steps if claim.forms}


def claims_with(steps: Sequence[StepClaim]) -> Claims:
    """The table claims as they are, with these step claims."""
    return Claims({"boat": BOAT_CLAIMS, "shaft": SHAFT_CLAIMS}, steps)


def rests_on(requirement: Requirement, claims: Claims) -> Rests:
    """The bits and lemmas that a requirement rests on, lemmas of lemmas and bits of bits included."""
    bits: dict[str, list[str]] = {}
    lemmas: dict[str, list[str]] = {}

    def note(found: Iterable[str], why: str) -> None:
        for name in found:
            place = lemmas if name not in _EVERY else bits
            if why not in place.setdefault(name, []):
                place[name].append(why)

    for word, table in claims.tables.items():
        for claim in table:
            if claim.requirement == requirement.id:
                note(named(word, claim.where.mask), f"{word} table: {claim.name}")
                note([MODES_CLAIMS[word]], f"{word} table")
    for pattern in requirement.rows:
        boat_rows, shaft_rows = row_numbers(pattern)
        for word, table_rows, numbers in (("boat", BOAT_TABLE, boat_rows), ("shaft", SHAFT_TABLE, shaft_rows)):
            for number in numbers:
                row: Any = table_rows[number]
                note(named(word, int(row.must) | int(row.must_not)), f"row {pattern}")
    for name in requirement.rules:
        note(read_by_rule(rule(name)), f"rule {name}")
    for step_claim in claims.steps:
        if step_claim.requirement == requirement.id and not step_claim.forms:
            note(_needs(step_claim), step_claim.name)
    _close(bits, lemmas, claims, note)
    return Rests(
        requirement.id,
        {name: tuple(bits[name]) for name in every_bit() if name in bits},
        {name: tuple(why) for name, why in sorted(lemmas.items())},
    )


def _needs(claim: StepClaim) -> list[str]:
    own = {claim.forms}
    return [*claim.rests_on, *((read_by(claim.given) | read_by(claim.then)) - own)]


def _close(
    bits: Mapping[str, Any], lemmas: Mapping[str, Any], claims: Claims, note: Callable[[Iterable[str], str], None]
) -> None:
    done: set[str] = set()
    while waiting := (set(bits) | set(lemmas)) - done:
        for name in waiting:
            done.add(name)
            claim = claims.forming.get(name) if name in _EVERY else claims.by_name.get(name)
            if claim is not None:
                note(_needs(claim), claim.name)


_EVERY = frozenset(every_bit())
_PLAIN = frozenset(fact.name for fact in PLAIN_FACTS)


def lacking(rests: Rests, claims: Claims, verdicts: Mapping[str, str]) -> list[str]:
    """What is missing for the requirement to be called complete, a sentence each; `verdicts` by the name of
    step claim or plain fact."""
    found = []
    for bit in rests.bits:
        forming = claims.forming.get(bit)
        if forming is None:
            found.append(f"{bit}: no claim says how it is formed")
        elif verdicts.get(forming.name) != PROVEN:
            found.append(f"{bit}: its forming is {verdicts.get(forming.name, 'not shown')}")
    for name in rests.lemmas:
        if name not in claims.by_name and name not in _PLAIN:
            found.append(f"{name}: no such claim")
        elif verdicts.get(name) != PROVEN:
            found.append(f"{name}: {verdicts.get(name, 'not shown')}")
    return found


def every_requirement(claims: Claims) -> Mapping[str, Rests]:
    """What each requirement of the register rests on."""
    return {requirement.id: rests_on(requirement, claims) for requirement in REGISTER}
