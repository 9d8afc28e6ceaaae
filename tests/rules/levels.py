"""Inputs for rules that are called directly: what is named is known, nothing else is.

A number that is not known holds 0.0 and must not be believed; `hidden` keeps it in its field, so that a rule that
believes it is caught.
"""

from typing import Any, TypeVar

from supervisor.signals import BOAT_INPUTS, SHAFT_INPUTS, BoatInputs, ShaftInputs

LevelT = TypeVar("LevelT", BoatInputs, ShaftInputs)
_BOAT_BITS = {spec.field or spec.name: int(spec.bit) for spec in BOAT_INPUTS}
_SHAFT_BITS = {spec.field or spec.name: int(spec.bit) for spec in SHAFT_INPUTS}
ALL_BOAT = (1 << 28) - 1
ALL_SHAFT = (1 << 26) - 1


def boat(on: tuple[str, ...] = (), off: tuple[str, ...] = (), **numbers: float) -> BoatInputs:
    """The boat's inputs: contacts by name on and off, numbers by field."""
    return BoatInputs(*_bits(_BOAT_BITS, on, off, numbers), **numbers)


def shaft(on: tuple[str, ...] = (), off: tuple[str, ...] = (), **numbers: float) -> ShaftInputs:
    """A shaft's inputs: contacts by name on and off, numbers by field."""
    return ShaftInputs(*_bits(_SHAFT_BITS, on, off, numbers), **numbers)


def _bits(bits: dict[str, int], on: tuple[str, ...], off: tuple[str, ...], numbers: dict[str, Any]) -> tuple[int, int]:
    lit = sum(bits[name] for name in on)
    return lit + sum(bits[name] for name in (*off, *numbers)), lit


def crowded(level: LevelT) -> list[LevelT]:
    """The same, alone, and among all other inputs known: their contacts off, their contacts on."""
    everything = ALL_BOAT if isinstance(level, BoatInputs) else ALL_SHAFT
    others = everything & ~level.known
    return [level, level._replace(known=everything), level._replace(known=everything, on=level.on | others)]


def hidden(level: LevelT, name: str) -> list[LevelT]:
    """The same with one input no longer known: its field and contact as they were, alone and in a crowd."""
    bits = _BOAT_BITS if isinstance(level, BoatInputs) else _SHAFT_BITS
    bit = bits[name]
    assert level.known & bit
    return [one._replace(known=one.known & ~bit) for one in crowded(level)]
