"""Operator actions by name: what a procedure's `do` says, done to the panel.

Each takes effect on the next tick. What the boat does not have, and what a safety circuit bars, raises ValueError or is
answered with a reason.
"""

from collections.abc import Callable, Mapping

from sim.faults.base import Value
from sim.nodes.machinery import Nodes
from sim.nodes.panel import BUTTONS, ShaftPanel
from sim.rig.jumps import BOAT_JUMPS, SHAFT_JUMPS
from sim.rig.targets import Kind

START_KEY_S = 5.0
STOP_KEY_S = 10.0
"""How long the crew holds the key at most; they let go when the engine runs."""

_NEEDS = {
    "out_of_service": "shaft.out_of_service",
    "harvest": "shaft.harvest",
    "stop_and_lock": "shaft.stop_and_lock",
    "clutch": "clutch.closed",
    "lock": "lock.engaged",
}
"""What has to be fitted for an action on a shaft."""
_GEARS = {"ahead": 1, "neutral": 0, "astern": -1}


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
        targets: Mapping[str, Kind],
        fitted: Callable[[int, str], bool],
        reasons: Callable[[int, str], str],
    ) -> None:
        self._nodes = nodes
        self._targets = targets
        self._names = tuple(target.partition(".")[0] for target in targets if target.endswith(".lever_pct"))
        self._fitted = fitted
        self._reasons = reasons

    def act(self, target: str, value: Value, now_s: float) -> str:
        """Do it. Raises ValueError with a full sentence for an unknown target, a wrong value, a part not fitted."""
        first, _, rest = target.partition(".")
        kind = self._targets.get(target)
        if kind is None:
            raise ValueError(self._unknown(target, first))
        level = self._names.index(first) if first in self._names else -1
        self._refuse_not_fitted(target, first, rest, level, value)
        if first != "interlock" and not kind.accepts(value):
            raise ValueError(f"{target} = {value!r} is not allowed: {kind.allowed()}")
        if first == "helm":
            self._helm(rest, value, now_s)
        elif first == "handset":
            self._handset(rest, value)
        elif first == "interlock":
            self._nodes.own[rest].put(value)
        elif level >= 0:
            return self._shaft(level, rest, value, now_s)
        else:
            self._around(target, value)
        return ""

    def why_not(self, target: str, value: Value) -> str:
        """Why this boat cannot do `target` at all, for want of the part; "" where it can."""
        first, _, rest = target.partition(".")
        level = self._names.index(first) if first in self._names else -1
        try:
            self._refuse_not_fitted(target, first, rest, level, value)
        except ValueError as error:
            return str(error)
        return ""

    def position(self, target: str) -> Value | None:
        """Where a hand has left `target`, as `act` would be told; None where nothing stays (an own interlock)."""
        first, _, rest = target.partition(".")
        panel = self._nodes.panel
        if first == "helm":
            return bool(panel.contact(rest) if rest in BUTTONS else panel.switches[rest])
        if first == "handset":
            if rest in ("held", "link"):
                return bool(panel.handset_held if rest == "held" else panel.handset_link)
            return panel.shafts[0 if rest == "thrust_pct" else self._names.index(rest[: -len("_pct")])].handset_pct
        if first in self._names:
            return self._shaft_position(panel.shafts[self._names.index(first)], rest)
        if target in _AROUND:
            return float(getattr(panel, _AROUND[target]))
        return bool(panel.isolator) if target == "bank.isolator" else None

    def _shaft_position(self, shaft: ShaftPanel, name: str) -> Value:
        if name == "gear":
            return next(word for word, code in _GEARS.items() if code == shaft.gear)
        if name == "engine":
            return "start" if shaft.start_key else "stop" if shaft.stop_key else ""
        if name == "clutch":
            return "close" if shaft.clutch_close else "open"
        if name == "lock":
            return "engage" if shaft.lock_engage else "release"
        found = getattr(shaft, name)
        return bool(found) if isinstance(found, int) else found  # a number or a word

    def _unknown(self, target: str, first: str) -> str:
        if target in BOAT_JUMPS or target.partition(".")[2] in SHAFT_JUMPS:
            return f"{target} is not an action of the crew. Use: set {target} VALUE"
        near = [name for name in self._targets if name.startswith(f"{first}.")]
        if first == "interlock":
            near = near or ["none in the boat file"]
        return f"there is no {target}; allowed: {', '.join(near or self._targets)}"

    def _refuse_not_fitted(self, target: str, first: str, rest: str, level: int, value: Value) -> None:
        if first == "helm" and not self._fitted(-1, target):
            raise ValueError(f"this boat has no {target}: it is listed under not_fitted")
        if first == "handset" and not self._fitted(-1, "handset.held"):
            raise ValueError("this boat has no handset")
        need = "shaft.charge_at_rest" if rest == "charge" and value == "at_rest" else _NEEDS.get(rest, "")
        if level >= 0 and need and not self._fitted(level, need):
            raise ValueError(f"{target} cannot be done: {need} is listed under not_fitted")

    def _helm(self, name: str, value: Value, now_s: float) -> None:
        panel = self._nodes.panel
        if name not in BUTTONS:
            panel.switches[name] = int(value)
        elif value == "press":
            panel.press(name, now_s)
        else:
            panel.hold(name, int(value))

    def _handset(self, name: str, value: Value) -> None:
        panel = self._nodes.panel
        if name == "held":
            panel.handset_held = int(value)
        elif name == "link":
            panel.handset_link = int(value)
        else:
            shafts = panel.shafts if name == "thrust_pct" else [panel.shafts[self._names.index(name[: -len("_pct")])]]
            for shaft in shafts:
                shaft.handset_pct = float(value)

    def _shaft(self, level: int, name: str, value: Value, now_s: float) -> str:
        shaft = self._nodes.panel.shafts[level]
        if name in ("lever_pct", "throttle_pct"):
            setattr(shaft, name, float(value))
        elif name in ("out_of_service", "harvest", "stop_and_lock", "start_bridge"):
            setattr(shaft, name, int(value))
        elif name == "charge":
            shaft.charge = str(value)
        elif name == "gear":
            shaft.gear = _GEARS[str(value)]
        elif name == "engine":
            return self._engine(level, shaft, value == "start", now_s)
        elif name == "clutch":
            return self._clutch(level, shaft, value == "close", now_s)
        else:
            return self._lock(level, shaft, value == "engage", now_s)
        return ""

    def _engine(self, level: int, shaft: ShaftPanel, start: bool, now_s: float) -> str:
        shaft.start_key, shaft.stop_key = (1, 0) if start else (0, 1)
        shaft.key_until_s = now_s + (START_KEY_S if start else STOP_KEY_S)
        if start and shaft.start_bridge == 0 and not self._nodes.engines[level].start_permitted(now_s):
            return f"engine does not crank: {self._reasons(level, 'engine.start')}"
        if start and (shaft.gear != 0 or self._nodes.panel.switches["diver_lockout"]):
            return "engine does not crank: neutral switch or diver key opens its start circuit"
        return ""

    def _clutch(self, level: int, shaft: ShaftPanel, close: bool, now_s: float) -> str:
        if not close:
            shaft.clutch_close = 0
        elif self._nodes.contacts[level].clutch_permitted(now_s):
            shaft.clutch_close = 1
        elif not shaft.clutch_close:
            return f"shaft clutch does not close: {self._reasons(level, 'clutch.close')}"
        return ""

    def _lock(self, level: int, shaft: ShaftPanel, engage: bool, now_s: float) -> str:
        if not engage:
            shaft.lock_engage = 0
        elif self._nodes.contacts[level].lock_permitted(now_s):
            shaft.lock_engage = 1
        elif not shaft.lock_engage:
            return f"shaft lock does not engage: {self._reasons(level, 'lock.engage')}"
        return ""

    def _around(self, target: str, value: Value) -> None:
        panel = self._nodes.panel
        if target == "bank.isolator":
            panel.isolator = int(value)
        else:
            setattr(panel, _AROUND[target], float(value))


_AROUND = {
    "hotel.load_w": "hotel_load_w",
    "sail.force_n": "sail_force_n",
    "sun.irradiance_w_m2": "irradiance_w_m2",
    "shore.charge_a": "shore_charge_a",
}
"""Where the panel keeps what is around the boat."""
