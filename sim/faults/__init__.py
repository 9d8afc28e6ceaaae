"""The fault catalogue: what can go wrong between boat and supervisor, on purpose."""

from sim.faults.base import Bench, Fault, Sent
from sim.faults.catalogue import CATALOGUE, Entry, Param, make_fault

__all__ = ["CATALOGUE", "Bench", "Entry", "Fault", "Param", "Sent", "make_fault"]
