"""The rules of charging, thrust and interlocks: pure functions, no I/O, no clock, no logging."""

from supervisor.rules.state import BoatLatch, BoatState, ShaftLatch, ShaftState
from supervisor.rules.tick import Boat, Decide, Memory, Tick, compiled_decide, initial_memory, run_tick

__all__ = [
    "Boat",
    "BoatLatch",
    "BoatState",
    "Decide",
    "Memory",
    "ShaftLatch",
    "ShaftState",
    "Tick",
    "compiled_decide",
    "initial_memory",
    "run_tick",
]
