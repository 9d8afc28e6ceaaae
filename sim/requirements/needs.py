"""What each evaluator reads: inputs, and what the supervisor says. Found in the evaluators' own source, so that it is
written nowhere twice.

An evaluator whose inputs nobody recorded, or that reads what a supervisor elsewhere does not send, has judged nothing,
however clean its verdict looks. What is found here may be too much (a branch that was not taken). That it is not too
little is tried, not proven: tests/requirements/test_requirements_needs.py takes everything else away on recorded
voyages and asks whether a verdict moves.
"""

import ast
import inspect
import sys
from collections.abc import Iterable, Iterator
from functools import cache
from types import FunctionType, ModuleType
from typing import Any, NamedTuple

from sim.requirements import facts as facts_module
from sim.requirements.facts import BoatFacts, ShaftFacts
from sim.requirements.judge import Judge
from sim.requirements.tick import ShaftTick
from supervisor.bus import HARD_WIRED, PERMIT_OUTPUTS
from supervisor.config import BoatConfig
from supervisor.rules import Boat
from supervisor.signals import BOAT_INPUTS, SHAFT_INPUTS, STOPPED_ALARMS, Alarm, BoatInput, ShaftInput, ShaftPermit

_ROOM = "sim.requirements."
_PERMITS = {ShaftPermit(bit).name: name for name, bit in PERMIT_OUTPUTS.items() if name not in HARD_WIRED}
"""The output that carries a permit in a frame."""

_BOAT_COMMAND = {
    "stop_sources": "sources.stop",
    "sounder": "sounder.on",
    "charge_limit_a": "boat.charge_limit_a",
    "derate_pct": "boat.derate_pct",
    "handset_in_control": "handset.in_control",
}
_SHAFT_COMMAND = {"torque_nm": "drive.torque_nm", "current_a": "drive.current_a"}

_BOAT_FIELDS = {spec.field: BoatInput(spec.bit).name for spec in BOAT_INPUTS if spec.field}
_SHAFT_FIELDS = {spec.field: ShaftInput(spec.bit).name for spec in SHAFT_INPUTS if spec.field}


class Needs(NamedTuple):
    """What an evaluator reads. `boat` and `shaft` are bits of inputs, of the boat and of each shaft; `outputs` are
    what the supervisor orders and says, by the names of the boat file. Its condition words are no need: what reads
    them is passed over without them."""

    boat: int
    shaft: int
    outputs: frozenset[str]


def needs_of(judge: Judge, boat: Boat) -> Needs:
    """What this evaluator reads of a boat with these limits."""
    boat_bits = shaft_bits = 0
    outputs = set()
    judged: Any = type(judge)
    for kind, name in _reads_of(judged):
        if kind == "boat":
            boat_bits |= BoatInput[name].value
        elif kind == "shaft":
            shaft_bits |= ShaftInput[name].value
        elif kind == "boat reaction":
            boat_bits |= int(getattr(boat.limits.react, name))
        elif kind == "shaft reaction":
            for lim in boat.shafts:
                shaft_bits |= int(getattr(lim.react, name))
        else:
            outputs.add(name)
    return Needs(boat_bits, shaft_bits, frozenset(outputs))


@cache
def _reads_of(kind: Any) -> frozenset[tuple[str, str]]:
    found: set[tuple[str, str]] = set()
    for name in _gathered(kind):
        found |= _closure(name)
    return frozenset(found)


# ---- names, closed over what they call

Read = tuple[str, str]


def _gathered(kind: type) -> list[type]:
    """The class and its bases in this room, without the common base: what that reads, its methods say by name."""
    return [one for one in kind.__mro__ if one.__module__.startswith(_ROOM) and one is not Judge]


def _closure(start: Any) -> set[Read]:
    """All reads of a function or class, and of whatever of this room it names."""
    found: set[Read] = set()
    seen: set[Any] = set()
    todo = [start]
    while todo:
        one = todo.pop()
        if one in seen:
            continue
        seen.add(one)
        tree, module = _tree(one), sys.modules[one.__module__]
        found |= set(_direct(tree))
        constants = _constants(module)
        for name in {node.id for node in ast.walk(tree) if isinstance(node, ast.Name)}:
            if name in constants:
                found |= set(_direct(constants[name]))
        todo += _named(tree, module)
    return found


def _tree(one: FunctionType | type) -> ast.AST:
    """The source of a function or class, found in its module, which is read once."""
    module = sys.modules[one.__module__]
    return _defined(module)[one.__name__]


@cache
def _defined(module: ModuleType) -> dict[str, ast.AST]:
    kinds = (ast.FunctionDef, ast.ClassDef)
    return {node.name: node for node in _source(module).body if isinstance(node, kinds)}


@cache
def _source(module: ModuleType) -> ast.Module:
    return ast.parse(inspect.getsource(module))


@cache
def _constants(module: ModuleType) -> dict[str, ast.expr]:
    """Names that a module sets for all its functions."""
    assigned = (node for node in _source(module).body if isinstance(node, ast.Assign))
    return {one.id: node.value for node in assigned for one in node.targets if isinstance(one, ast.Name)}


def _named(tree: ast.AST, module: ModuleType) -> Iterator[Any]:
    """Functions and classes of this room that a piece of source names."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Name):
            one = vars(module).get(node.id)
            home = getattr(one, "__module__", "") or ""
            judged = home.startswith(_ROOM) and home != facts_module.__name__
            if judged and isinstance(one, FunctionType | type) and one is not Judge and one not in (ShaftTick,):
                yield one


# ---- what a piece of source reads


def _direct(tree: ast.AST) -> Iterator[Read]:
    for node in ast.walk(tree):
        if isinstance(node, ast.Attribute):
            yield from _attribute(node)
        elif isinstance(node, ast.Name) and node.id == "STOPPED_ALARMS":
            yield from {("output", _alarm_word(alarm)) for alarm in STOPPED_ALARMS}


def _base(node: ast.Attribute) -> str:
    """The last name before the dot."""
    value = node.value
    return value.attr if isinstance(value, ast.Attribute) else value.id if isinstance(value, ast.Name) else ""


def _root(node: ast.Attribute) -> str:
    """The first name of a dotted one."""
    while isinstance(node.value, ast.Attribute):
        node = node.value
    return node.value.id if isinstance(node.value, ast.Name) else ""


def _alarm_word(alarm: Alarm) -> str:
    """The word that an alarm is sent in."""
    return "boat.more_alarms" if alarm.value >> 32 else "boat.alarms"


def _attribute(node: ast.Attribute) -> Iterator[Read]:
    base, name = _base(node), node.attr
    if base == "BOAT":
        yield "boat", name
    elif base == "SHAFT":
        yield "shaft", name
    elif base == "react" and name != "mapped":
        yield f"{'shaft' if _root(node) in ('shaft', 's') else 'boat'} reaction", name
    elif base == "ShaftPermit":
        yield "output", _PERMITS[name]
    elif base == "Alarm":
        yield "output", _alarm_word(Alarm[name])
    elif base in ("bank", "was_bank") and name in _BOAT_FIELDS:
        yield "boat", str(_BOAT_FIELDS[name])
    elif base in ("inputs", "before") and name in _SHAFT_FIELDS:
        yield "shaft", str(_SHAFT_FIELDS[name])
    elif base == "command" and name in _BOAT_COMMAND:
        yield "output", _BOAT_COMMAND[name]
    elif base == "command" and name in _SHAFT_COMMAND:
        yield "output", _SHAFT_COMMAND[name]
    elif base == "facts":
        yield from _facts().get(name, ())
    elif base == "tick" and name in ("mode", "was_mode"):
        yield "output", "boat.mode"
    elif base != "tick" and name in ("mode", "unloads"):
        yield "output", "shaft.mode"
    elif name == "handset":
        yield "output", "handset.in_control"
    elif name in ("note_zero", "torque_nm") or name in _SHAFT_TICK:
        yield from _shaft_property(name)


_SHAFT_TICK = {name for name, value in vars(ShaftTick).items() if isinstance(value, property)}


@cache
def _shaft_property(name: str) -> frozenset[Read]:
    if name in ("note_zero", "torque_nm"):
        return frozenset({("output", "drive.torque_nm")})
    shaft = _tree(ShaftTick)
    return frozenset(
        read
        for node in ast.walk(shaft)
        if isinstance(node, ast.FunctionDef) and node.name == name
        for read in _direct(node)
    )


# ---- what the facts of a tick are made of


@cache
def _facts() -> dict[str, frozenset[Read]]:
    """By the name of a fact of boat or shaft: what it is read from."""
    functions = {node.name: node for node in _source(facts_module).body if isinstance(node, ast.FunctionDef)}
    found: dict[str, frozenset[Read]] = {}
    for function, kind in (("boat_facts", BoatFacts), ("shaft_facts", ShaftFacts)):
        made = _Made(functions, function.removesuffix("_facts"))
        for statement in functions[function].body:
            made.take(statement, frozenset())
        found |= made.keywords
        lost = set(kind._fields) - made.keywords.keys()
        if lost:
            raise TypeError(f"{function} makes {', '.join(sorted(lost))} where nobody looks for it")
    return found


class _Made:
    """The local names of one function, each with all that went into it, and the conditions it was set under."""

    def __init__(self, functions: dict[str, ast.FunctionDef], level: str) -> None:
        self._functions = functions
        self._level = level
        self._locals: dict[str, frozenset[Read]] = {}
        self.keywords: dict[str, frozenset[Read]] = {}

    def take(self, node: ast.stmt, under: frozenset[Read]) -> None:
        """One statement, in the order of the source."""
        if isinstance(node, ast.If):
            inside = under | self._reads(node.test)
            for part in (*node.body, *node.orelse):
                self.take(part, inside)
        elif isinstance(node, ast.Assign):
            for target in node.targets:
                for name in (one.id for one in ast.walk(target) if isinstance(one, ast.Name)):
                    self._locals[name] = self._locals.get(name, frozenset()) | under | self._reads(node.value)
        elif isinstance(node, ast.Return) and isinstance(node.value, ast.Call):
            for keyword in node.value.keywords:
                self.keywords[str(keyword.arg)] = under | self._reads(keyword.value)

    def _reads(self, node: ast.AST) -> frozenset[Read]:
        found: set[Read] = set()
        for one in ast.walk(node):
            if isinstance(one, ast.Attribute):
                base = _base(one)
                if base in ("BOAT", "SHAFT"):
                    found.add((base.lower(), one.attr))
                elif base == "react" and one.attr != "mapped":
                    found.add((f"{self._level} reaction", one.attr))
                elif base == "bank" and one.attr in _BOAT_FIELDS:
                    found.add(("boat", str(_BOAT_FIELDS[one.attr])))
                elif base == "shaft" and one.attr in _SHAFT_FIELDS:
                    found.add(("shaft", str(_SHAFT_FIELDS[one.attr])))
            elif isinstance(one, ast.Name):
                found |= self._locals.get(one.id, frozenset())
                if one.id in self._functions and one.id not in ("yes", "no", "has"):
                    found |= self._reads(self._functions[one.id])
        return frozenset(found)


# ---- what is missing


def heard(config: BoatConfig, outputs: Iterable[str]) -> frozenset[str]:
    """What a supervisor tells of itself that sends these outputs: a boat without a handset need not say that none is in
    control."""
    silent = {"handset.in_control"} if not config.boat.handset_id else set()
    return frozenset(outputs) | silent


def missing(needs: Needs, boat_known: int, shafts_known: Iterable[tuple[str, int]]) -> list[str]:
    """Names of inputs that are needed and not in `boat_known` or in a shaft's known bits."""
    found = [spec.name for spec in BOAT_INPUTS if needs.boat & spec.bit & ~boat_known]
    for name, known in shafts_known:
        found += [f"{name}.{spec.name}" for spec in SHAFT_INPUTS if needs.shaft & spec.bit & ~known]
    return found
