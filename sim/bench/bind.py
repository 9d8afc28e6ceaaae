"""A procedure meets a boat: shaft words are replaced, every name is checked before anything moves."""

import difflib
import re
from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

from sim.bench.procedure import Expectation, FaultCall, FaultEnd, Need, Procedure, Step
from sim.bench.rig import Rig
from sim.errors import BenchError
from sim.faults.base import Value
from sim.requirements import OWN_PREFIX
from sim.rig.targets import targets_for
from supervisor.config import BoatConfig
from supervisor.modes import BoatMode, ShaftMode

BOAT_MODES = tuple(mode.name for mode in BoatMode)
SHAFT_MODES = tuple(mode.name for mode in ShaftMode)

_WORD = re.compile(r"^(handset\.)?(each|first|others)(?=[. _]|$)")


class BoundStep(NamedTuple):
    """One step for one boat: names checked, shaft words replaced."""

    number: int
    name: str
    do: tuple[tuple[str, Value], ...]
    jumps: tuple[tuple[str, float], ...]
    inject: tuple[FaultCall, ...]
    clear: tuple[FaultEnd, ...]
    wait_s: float
    hold_s: float
    expect: tuple[Expectation, ...]


def expand(name: str, shafts: Sequence[str]) -> list[str]:
    """`each.lever_pct` -> one name a shaft; `first.` the first; `others.` all but the first; other names unchanged."""
    found = _WORD.match(name)
    if found is None or (found[1] and not name.endswith("_pct")):
        return [name]
    chosen = {"each": shafts, "first": shafts[:1], "others": shafts[1:]}[found[2]]
    return [f"{found[1] or ''}{shaft}{name[found.end() :]}" for shaft in chosen]


def bind(procedure: Procedure, rig: Rig, file: str = "procedure") -> list[BoundStep]:
    """Fit a procedure to a boat.

    Raises BenchError with all complaints: unknown targets, signals, faults, values out of range, the wrong boat.
    """
    if procedure.boat is not None and procedure.boat != rig.boat:
        raise BenchError(
            f"{file}: key 'boat': the procedure is written for {procedure.boat!r}, this boat is {rig.boat!r}"
        )
    config = getattr(rig, "config", None)  # a rig without a boat file is taken to have all
    lacks = [] if config is None else [need for need in procedure.needs if not has(config, need)]
    if lacks:
        raise BenchError(
            f"{file}: key 'needs': the procedure needs {', '.join(lacks)}, and {rig.boat!r} has none fitted"
        )
    complaints: list[str] = []
    for one in procedure.requirements:
        name = one.removeprefix(OWN_PREFIX)
        if one.startswith(OWN_PREFIX) and name not in rig.interlocks:
            there = ", ".join(rig.interlocks) or "none"
            complaints.append(f"{file}: requirements: this boat has no interlock {name!r}; it has: {there}")
    binder = _Binder(rig, complaints)
    steps = [binder.step(number, step, f"{file}: step {number}") for number, step in enumerate(procedure.step, 1)]
    if complaints:
        raise BenchError("\n".join(dict.fromkeys(complaints)))
    return steps


_SELECTORS: Mapping[str, str] = {
    "stop and lock": "shaft.stop_and_lock",
    "harvest": "shaft.harvest",
    "charging under way": "shaft.charge_under_way",
    "charging at rest": "shaft.charge_at_rest",
}


def has(config: BoatConfig, need: Need) -> bool:
    """Whether every shaft of the boat, or the boat itself, has what a procedure needs."""
    shafts = config.shaft
    if need == "handset":
        return "handset.held" not in config.not_fitted
    if need == "two shafts":
        return len(shafts) > 1
    if need == "shaft clutch":
        return all(shaft.clutch.fitted for shaft in shafts)
    if need == "shaft lock":
        return all(shaft.lock.fitted for shaft in shafts)
    return all(_SELECTORS[need] not in shaft.not_fitted for shaft in shafts)


class _Binder:
    """Collects complaints while it replaces names."""

    def __init__(self, rig: Rig, complaints: list[str]) -> None:
        self.shafts = tuple(rig.shafts)
        self.targets = targets_for(self.shafts, rig.interlocks)
        self.plant_targets = tuple(rig.plant_targets())
        self.faults = rig.faults()
        self.signals = rig.signals()
        self.complaints = complaints

    def step(self, number: int, step: Step, where: str) -> BoundStep:
        """One step; complaints are collected."""
        do = [(name, value) for key, value in step.do.items() for name in expand(key, self.shafts)]
        for target, value in do:
            self._action(target, value, f"{where}, do")
        jumps = [(name, value) for key, value in step.set.items() for name in expand(key, self.shafts)]
        for target, _ in jumps:
            self._known(target, self.plant_targets, f"{where}, set", "target")
        inject = [
            call.model_copy(update={"target": t}) for call in step.inject for t in expand(call.target, self.shafts)
        ]
        clear = [end.model_copy(update={"target": t}) for end in step.clear for t in expand(end.target, self.shafts)]
        for number_in, call in enumerate(inject, 1):
            self._known(call.fault, tuple(self.faults), f"{where}, inject {number_in}", "fault")
        for number_in, end in enumerate(clear, 1):
            self._known(end.fault, tuple(self.faults), f"{where}, clear {number_in}", "fault")
        expect: list[Expectation] = []
        for number_in, expectation in enumerate(step.expect, 1):
            for one in self._each(expectation):
                self._expectation(one, f"{where}, expect {number_in}")
                expect.append(one)
        return BoundStep(
            number, step.name, tuple(do), tuple(jumps), tuple(inject), tuple(clear), step.wait_s, step.hold_s,
            tuple(expect),
        )  # fmt: skip

    def _each(self, expectation: Expectation) -> Iterable[Expectation]:
        """One expectation for each shaft that its first shaft word names; `each` in all its keys goes together."""
        keys = {key: name for key in ("signal", "against", "explain", "subject") if (name := getattr(expectation, key))}
        spread = {key: names for key, name in keys.items() if (names := expand(name, self.shafts)) != [name]}
        if not spread:
            return [expectation]
        count = max(len(names) for names in spread.values())
        return [
            expectation.model_copy(update={k: names[min(i, len(names) - 1)] for k, names in spread.items() if names})
            for i in range(count)
        ]

    def _questions(self) -> list[str]:
        """What can be asked: enable, a boat mode (with or without `boat`), a shaft with a mode."""
        modes = [f"{shaft} {mode}" for shaft in self.shafts for mode in SHAFT_MODES]
        return ["enable", *BOAT_MODES, *(f"boat {mode}" for mode in BOAT_MODES), *modes]

    def _known(self, name: str, allowed: Sequence[str], where: str, what: str) -> bool:
        if name in allowed:
            return True
        close = difflib.get_close_matches(name, allowed, n=3, cutoff=0.6)
        hint = f"did you mean {' or '.join(close)}? " if close else ""
        listed = ", ".join(sorted(allowed)) or "none"
        self.complaints.append(f"{where}: unknown {what} {name!r}; {hint}allowed: {listed}")
        return False

    def _action(self, target: str, value: Value, where: str) -> None:
        if self._known(target, tuple(self.targets), where, "target"):
            kind = self.targets[target]
            if not kind.accepts(value):
                shown = repr(value) if isinstance(value, str) else f"{value:g}"
                if isinstance(value, bool):
                    shown = str(value).lower()
                self.complaints.append(f"{where}, {target}: {shown} is not allowed; allowed: {kind.allowed()}")

    def _expectation(self, one: Expectation, where: str) -> None:
        for name in (one.signal, one.against):
            if name is not None and not self._known(name, tuple(self.signals), where, "signal"):
                return
        if one.explain is not None:
            self._known(one.explain, self._questions(), where, "question")
        if one.subject is not None and one.event not in (None, "fault", "jump", "step"):
            # a misspelled subject would make `never` pass for good
            self._known(one.subject, ("boat", *self.shafts), where, "subject")
        if one.signal is None:
            return
        text = isinstance(self.signals[one.signal], str)
        if text and (one.of != "value" or one.op not in ("==", "!=", "has", "lacks")):
            self.complaints.append(f"{where}: {one.signal} is a text; compare it with ==, !=, has or lacks")
        elif one.value is not None and isinstance(one.value, str) != text:
            kind = "a text" if text else "a number"
            self.complaints.append(f"{where}: {one.signal} is {kind}, the value {one.value!r} is not")
        elif one.against is not None and isinstance(self.signals[one.against], str) != text:
            self.complaints.append(f"{where}: {one.signal} and {one.against} cannot be compared")
        elif one.signal.endswith(".mode") and isinstance(one.value, str) and one.op in ("==", "!="):
            # a misspelled mode would make `never` pass for good
            modes = BOAT_MODES if one.signal == "boat.mode" else SHAFT_MODES
            self._known(one.value, modes, where, "mode")


def described(values: Mapping[str, Value]) -> str:
    """`key value, key value` for a table."""
    return ", ".join(f"{key} {_shown(value)}" for key, value in values.items())


def _shown(value: Value) -> str:
    if isinstance(value, bool):
        return "on" if value else "off"
    return value if isinstance(value, str) else f"{value:g}"
