"""Operator actions by name: what a procedure's `do` says, done to the panel.

Each takes effect on the next tick. What the boat does not have, and what a safety circuit bars, raises ValueError or is
answered with a reason.
"""

from collections.abc import Callable, Sequence

from sim.nodes.machinery import Nodes
from sim.nodes.panel import BUTTONS, SWITCHES

START_KEY_S = 5.0
STOP_KEY_S = 10.0
"""How long the crew holds the key at most; they let go when the engine runs."""

Value = float | bool | str


def shown(value: Value) -> str:
    """An action's value in words."""
    if isinstance(value, bool):
        return "on" if value else "off"
    return value if isinstance(value, str) else f"{value:g}"


class Actions:
    """The operator's hands. `act` returns "" or, where a circuit of the boat bars the action, why nothing happens.

    `reasons(shaft, what)` gives the words for a missing permit ("engine.start", "clutch.close", "lock.engage").
    """

    def __init__(
        self,
        nodes: Nodes,
        shaft_names: Sequence[str],
        fitted: Callable[[int, str], bool],
        reasons: Callable[[int, str], str],
    ) -> None:
        self._nodes = nodes
        self._names = tuple(shaft_names)
        self._fitted = fitted
        self._reasons = reasons

    def act(self, target: str, value: Value, now_s: float) -> str:
        """Do it. Raises ValueError with a full sentence for an unknown target, a wrong value, a part not fitted."""
        first, _, rest = target.partition(".")
        if first == "helm":
            self._helm(rest, value, now_s)
            return ""
        if first == "handset":
            self._handset(rest, value)
            return ""
        if first == "interlock":
            self._own(rest, value)
            return ""
        if first in self._names:
            return self._shaft(self._names.index(first), rest, value, now_s)
        self._around(target, value)
        return ""

    def _helm(self, name: str, value: Value, now_s: float) -> None:
        panel = self._nodes.panel
        if name in BUTTONS:
            if value == "press":
                panel.press(name, now_s)
            else:
                panel.hold(name, _switch(f"helm.{name}", value))
        elif name in SWITCHES:
            if not self._fitted(-1, f"helm.{name}"):
                raise ValueError(f"this boat has no helm.{name}: it is listed under not_fitted")
            panel.switches[name] = _switch(f"helm.{name}", value)
        else:
            raise ValueError(f"there is no helm.{name}; allowed: {', '.join(BUTTONS + SWITCHES)}")

    def _handset(self, name: str, value: Value) -> None:
        panel = self._nodes.panel
        if not self._fitted(-1, "handset.held"):
            raise ValueError("this boat has no handset")
        if name == "held":
            panel.handset_held = _switch("handset.held", value)
        elif name == "link":
            panel.handset_link = _switch("handset.link", value)
        elif name == "minutes":
            panel.handset_minutes = _number("handset.minutes", value, 0.0, 60000.0)
        elif name == "thrust_pct":
            for shaft in panel.shafts:
                shaft.handset_pct = _number("handset.thrust_pct", value, -100.0, 100.0)
        elif name.endswith("_pct") and name[:-4] in self._names:
            shaft = panel.shafts[self._names.index(name[:-4])]
            shaft.handset_pct = _number(f"handset.{name}", value, -100.0, 100.0)
        else:
            raise ValueError(f"there is no handset.{name}")

    def _own(self, name: str, value: Value) -> None:
        control = self._nodes.own.get(name)
        if control is None:
            there = ", ".join(f"interlock.{one}" for one in self._nodes.own) or "none in the boat file"
            raise ValueError(f"there is no interlock.{name}; allowed: {there}")
        control.put(value)

    def _shaft(self, level: int, name: str, value: Value, now_s: float) -> str:
        shaft = self._nodes.panel.shafts[level]
        target = f"{self._names[level]}.{name}"
        if name == "lever_pct":
            shaft.lever_pct = _number(target, value, -100.0, 100.0)
        elif name == "throttle_pct":
            shaft.throttle_pct = _number(target, value, 0.0, 100.0)
        elif name == "out_of_service":
            self._need(level, "shaft.out_of_service", target)
            shaft.out_of_service = _switch(target, value)
        elif name == "harvest":
            self._need(level, "shaft.harvest", target)
            shaft.harvest = _switch(target, value)
        elif name == "stop_and_lock":
            self._need(level, "shaft.stop_and_lock", target)
            shaft.stop_and_lock = _switch(target, value)
        elif name == "charge":
            charge = _word(target, value, ("off", "under_way", "at_rest"))
            if charge == "at_rest":
                self._need(level, "shaft.charge_at_rest", target)
            shaft.charge = charge
        elif name == "gear":
            shaft.gear = {"ahead": 1, "neutral": 0, "astern": -1}[_word(target, value, ("ahead", "neutral", "astern"))]
        elif name == "start_bridge":
            shaft.start_bridge = _switch(target, value)
        elif name == "engine":
            return self._engine(level, target, value, now_s)
        elif name == "clutch":
            return self._clutch(level, target, value, now_s)
        elif name == "lock":
            return self._lock(level, target, value, now_s)
        else:
            raise ValueError(f"there is no {target}")
        return ""

    def _need(self, level: int, name: str, target: str) -> None:
        if not self._fitted(level, name):
            raise ValueError(f"{target} cannot be done: {name} is listed under not_fitted")

    def _engine(self, level: int, target: str, value: Value, now_s: float) -> str:
        shaft = self._nodes.panel.shafts[level]
        start = _word(target, value, ("start", "stop")) == "start"
        shaft.start_key, shaft.stop_key = (1, 0) if start else (0, 1)
        shaft.key_until_s = now_s + (START_KEY_S if start else STOP_KEY_S)
        if start and shaft.start_bridge == 0 and not self._nodes.engines[level].start_permitted(now_s):
            return f"engine does not crank: {self._reasons(level, 'engine.start')}"
        if start and (shaft.gear != 0 or self._nodes.panel.switches["diver_lockout"]):
            return "engine does not crank: neutral switch or diver key opens its start circuit"
        return ""

    def _clutch(self, level: int, target: str, value: Value, now_s: float) -> str:
        self._need(level, "clutch.closed", target)
        shaft = self._nodes.panel.shafts[level]
        if _word(target, value, ("close", "open")) == "open":
            shaft.clutch_close = 0
        elif self._nodes.contacts[level].clutch_permitted(now_s):
            shaft.clutch_close = 1
        elif not shaft.clutch_close:
            return f"shaft clutch does not close: {self._reasons(level, 'clutch.close')}"
        return ""

    def _lock(self, level: int, target: str, value: Value, now_s: float) -> str:
        self._need(level, "lock.engaged", target)
        shaft = self._nodes.panel.shafts[level]
        if _word(target, value, ("engage", "release")) == "release":
            shaft.lock_engage = 0
        elif self._nodes.contacts[level].lock_permitted(now_s):
            shaft.lock_engage = 1
        elif not shaft.lock_engage:
            return f"shaft lock does not engage: {self._reasons(level, 'lock.engage')}"
        return ""

    def _around(self, target: str, value: Value) -> None:
        panel = self._nodes.panel
        if target == "bank.isolator":
            panel.isolator = _switch(target, value)
        elif target == "hotel.load_w":
            panel.hotel_load_w = _number(target, value, 0.0, 20000.0)
        elif target == "sail.force_n":
            panel.sail_force_n = _number(target, value, -20000.0, 20000.0)
        elif target == "sun.irradiance_w_m2":
            panel.irradiance_w_m2 = _number(target, value, 0.0, 1400.0)
        elif target == "shore.charge_a":
            panel.shore_charge_a = _number(target, value, 0.0, 1000.0)
        else:
            raise ValueError(f"there is no {target} on this boat; shafts are {', '.join(self._names)}")


def _switch(target: str, value: Value) -> int:
    if isinstance(value, bool):
        return 1 if value else 0
    raise ValueError(f"{target} is a switch: true or false, not {value!r}")


def _number(target: str, value: Value, low: float, high: float) -> float:
    if isinstance(value, (bool, str)) or not low <= value <= high:
        raise ValueError(f"{target} = {value!r} is not allowed: a number from {low:g} to {high:g}")
    return float(value)


def _word(target: str, value: Value, allowed: tuple[str, ...]) -> str:
    if isinstance(value, str) and value in allowed:
        return value
    raise ValueError(f"{target} = {value!r} is not allowed: {', '.join(allowed)}")
