"""The property-testing kit: boats on the bench, strategies, a state machine, and failures handed over as procedures.

    from sim.testing import open_bench
    bench = open_bench("marsh_tern", buses=False).situation("generate")
    bench.inject("permit_withdrawn", "monitor", permit="charge").run(0.02).expect("each.order_nm", "==", 0)

Nothing is imported before it is used: the pytest plugin lives here too, and `strategies` and `machine` need Hypothesis.
See docs/testing.md.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from sim.rig.direct import DirectRig
    from sim.testing.bench import Bench, BenchFailedError, RequirementViolatedError, kept_bench, open_bench
    from sim.testing.handover import HandOver, hand_over, rerun
    from sim.testing.machine import Sailing, machine_for, sail
    from sim.testing.situations import SITUATIONS
    from sim.testing.strategies import (
        bus_faults,
        configurations,
        crew_sequences,
        durations,
        operator_actions,
        own_actions,
        plant_conditions,
        plant_jumps,
    )

_PLACES = {
    "Bench": "sim.testing.bench",
    "BenchFailedError": "sim.testing.bench",
    "DirectRig": "sim.rig.direct",
    "HandOver": "sim.testing.handover",
    "RequirementViolatedError": "sim.testing.bench",
    "SITUATIONS": "sim.testing.situations",
    "Sailing": "sim.testing.machine",
    "bus_faults": "sim.testing.strategies",
    "configurations": "sim.testing.strategies",
    "crew_sequences": "sim.testing.strategies",
    "durations": "sim.testing.strategies",
    "hand_over": "sim.testing.handover",
    "kept_bench": "sim.testing.bench",
    "machine_for": "sim.testing.machine",
    "open_bench": "sim.testing.bench",
    "operator_actions": "sim.testing.strategies",
    "own_actions": "sim.testing.strategies",
    "plant_conditions": "sim.testing.strategies",
    "plant_jumps": "sim.testing.strategies",
    "rerun": "sim.testing.handover",
    "sail": "sim.testing.machine",
}

__all__ = [
    "SITUATIONS",
    "Bench",
    "BenchFailedError",
    "DirectRig",
    "HandOver",
    "RequirementViolatedError",
    "Sailing",
    "bus_faults",
    "configurations",
    "crew_sequences",
    "durations",
    "hand_over",
    "kept_bench",
    "machine_for",
    "open_bench",
    "operator_actions",
    "own_actions",
    "plant_conditions",
    "plant_jumps",
    "rerun",
    "sail",
]


def __getattr__(name: str) -> Any:
    if name not in _PLACES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(_PLACES[name]), name)
