"""The interlocks of one boat proven: steps of the tick by a solver, tables, product and reachability word by word.

The names below are loaded when they are first used: the command line reads every verb's module at each start, and the
prover brings numpy and numba with it.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from sim.prove.prover import prove_boat, prove_tables
    from sim.prove.result import Count, Proof, Shown

__all__ = ["Count", "Proof", "Shown", "prove_boat", "prove_tables"]

_HOME = {
    "Count": "sim.prove.result",
    "Proof": "sim.prove.result",
    "Shown": "sim.prove.result",
    "prove_boat": "sim.prove.prover",
    "prove_tables": "sim.prove.prover",
}


def __getattr__(name: str) -> Any:
    """Load one of the names of `__all__`. AttributeError for any other."""
    if name not in _HOME:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(_HOME[name]), name)
