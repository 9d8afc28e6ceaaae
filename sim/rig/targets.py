"""What an operator can do: the catalogue of `do` targets and the values each takes. Written nowhere else."""

from collections.abc import Iterable, Mapping
from typing import Any, NamedTuple

from sim.faults.base import Value
from sim.nodes.own import OwnKind


class Kind(NamedTuple):
    """One kind of value: `words` that are allowed, whether true/false are, and the `low` to `high` range of numbers.

    `low` greater than `high` means that no number is allowed.
    """

    words: tuple[str, ...] = ()
    contact: bool = False
    low: float = 1.0
    high: float = 0.0
    unit: str = ""

    def allowed(self) -> str:
        """What may be written, for an error message."""
        parts = [f'"{word}"' for word in self.words]
        if self.contact:
            parts += ["true", "false"]
        if self.low <= self.high:
            parts.append(f"a number from {self.low:g} to {self.high:g} {self.unit}".rstrip())
        return ", ".join(parts)

    def accepts(self, value: Value) -> bool:
        """True if `value` is one of those."""
        if isinstance(value, bool):
            return self.contact
        if isinstance(value, str):
            return value in self.words
        return self.low <= value <= self.high


BUTTON = Kind(words=("press",), contact=True)
SWITCH = Kind(contact=True)
LEVER = Kind(low=-100.0, high=100.0, unit="%")

BOAT_TARGETS: dict[str, Kind] = {
    "helm.enable": BUTTON,
    "helm.disable": BUTTON,
    "helm.reset": BUTTON,
    "helm.acknowledge": BUTTON,
    "helm.emergency_stop": SWITCH,
    "helm.get_home": SWITCH,
    "helm.full_charge": SWITCH,
    "helm.shore_connected": SWITCH,
    "helm.diver_lockout": SWITCH,
    "handset.held": SWITCH,
    "handset.thrust_pct": LEVER,
    "handset.link": SWITCH,
    "bank.isolator": SWITCH,
    "hotel.load_w": Kind(low=0.0, high=20000.0, unit="W"),
    "sail.force_n": Kind(low=-20000.0, high=20000.0, unit="N"),
    "sun.irradiance_w_m2": Kind(low=0.0, high=1400.0, unit="W/m2"),
    "shore.charge_a": Kind(low=0.0, high=1000.0, unit="A"),
}

SHAFT_TARGETS: dict[str, Kind] = {
    "lever_pct": LEVER,
    "charge": Kind(words=("off", "under_way", "at_rest")),
    "harvest": SWITCH,
    "stop_and_lock": SWITCH,
    "out_of_service": SWITCH,
    "engine": Kind(words=("start", "stop")),
    "start_bridge": SWITCH,
    "throttle_pct": Kind(low=0.0, high=100.0, unit="%"),
    "gear": Kind(words=("ahead", "neutral", "astern")),
    "clutch": Kind(words=("close", "open")),
    "lock": Kind(words=("engage", "release")),
}


OWN_WORDS = ("good", "bad", "unknown")


def targets_for(shafts: Iterable[str], interlocks: Mapping[str, OwnKind] | None = None) -> dict[str, Kind]:
    """All targets of a boat with these shafts and own interlocks: `helm.enable`, `port.lever_pct`, `handset.port_pct`,
    `interlock.swim_ladder`, ..."""
    found = dict(BOAT_TARGETS)
    for name, own in (interlocks or {}).items():
        numbers: dict[str, Any] = {"low": own.low, "high": own.high, "unit": own.unit} if own.number else {}
        found[f"interlock.{name}"] = Kind(words=OWN_WORDS, **numbers)
    for shaft in shafts:
        for name, kind in SHAFT_TARGETS.items():
            found[f"{shaft}.{name}"] = kind
        found[f"handset.{shaft}_pct"] = LEVER
    return found
