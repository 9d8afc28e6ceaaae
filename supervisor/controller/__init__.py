"""The live executor of the mode tables, and its explanations."""

from supervisor.controller.causes import OWN_BITS, Causes
from supervisor.controller.controller import Controller, Outcome, Saved, freeze
from supervisor.controller.events import Event, EventKind
from supervisor.controller.explain import Refusal, explain_boat, explain_permit, explain_shaft, name_bits
from supervisor.controller.machine import ExecutorsDisagreeError, TableMachine

__all__ = [
    "OWN_BITS",
    "Causes",
    "Controller",
    "Event",
    "EventKind",
    "ExecutorsDisagreeError",
    "Outcome",
    "Refusal",
    "Saved",
    "TableMachine",
    "explain_boat",
    "explain_permit",
    "explain_shaft",
    "freeze",
    "name_bits",
]
