"""The owner's own interlocks as signals: what each may do, and this tick's inputs of all of them.

Channel k is the k-th `[[interlock]]` of the boat file. What an interlock *is* (where its signal comes from, from where
on it is bad) stands in the boat file; here is only what the rules are given of it.
"""

from enum import IntEnum
from typing import NamedTuple

OWN_CHANNELS = 16
"""The most own interlocks that a boat has."""


class OwnEffect(IntEnum):
    """What an own interlock does while it is bad. Every one of them only restricts."""

    WARN = 0
    INHIBIT_THRUST = 1
    STOP_THRUST = 2
    RAMP_THRUST = 3
    LIMIT_THRUST = 4
    INHIBIT_CHARGE = 5
    UNLOAD_CHARGE = 6
    STOP_CHARGE = 7
    STOP_BOTH = 8
    INHIBIT_ENGINE_START = 9
    TRIP_SHAFT = 10
    TRIP_BOAT = 11


class OwnInputs(NamedTuple):
    """One tick's inputs of the own interlocks. Bit k of `known`: channel k is known; for a contact bit k of `on`, set
    only where `known` has it too; for a number `values[k]` in the signal's own unit, 0.0 while it is not known."""

    known: int = 0
    on: int = 0
    values: tuple[float, ...] = (0.0,) * OWN_CHANNELS
