"""Looking for a tick that breaks a claim among many: what is left where z3 comes to no end.

Worked out from the formula, which gives bit for bit what the tick gives (a test holds the two equal); what is found is
run on the real tick before it is believed.
"""

from collections.abc import Iterator, Sequence
from typing import Any, NamedTuple

import numpy as np

from sim.prove.solver.evaluate import Worked, roots_of
from sim.prove.solver.samples import Arrays, draw
from sim.prove.solver.symbols import Value
from sim.prove.solver.terms import Truth
from supervisor.rules import Boat

_BATCH = 4096
_MOST = 40
"""Batches looked at, at most."""
_CHANGED = (1, 2, 3, 6, 12, 30)


class Searched(NamedTuple):
    """`checked` ticks on which the claim speaks were looked at; `values` of one that breaks it, None if none did."""

    checked: int
    values: dict[str, Value] | None


def search(boat: Boat, given: Sequence[Truth], then: Truth, seeds: Sequence[dict[str, Value]], wanted: int) -> Searched:
    """Look at `wanted` ticks with all of `given`, near the `seeds` (ticks on which the claim speaks) with a few things
    changed, for one without `then`. Fewer, where hardly any has all of `given`."""
    checked = 0
    for arrays, speaks, worked in _batches(boat, given, [then], seeds):
        broken = np.flatnonzero(speaks & ~np.broadcast_to(worked(then), _BATCH))
        checked += int(speaks.sum())
        if broken.size:
            return Searched(checked, at(arrays, int(broken[0])))
        if checked >= wanted:
            break
    return Searched(checked, None)


def _batches(
    boat: Boat, given: Sequence[Truth], more: Sequence[Truth], seeds: Sequence[dict[str, Value]]
) -> Iterator[tuple[Arrays, Any, Worked]]:
    """Batches of ticks, which of them have all of `given`, and their formulas worked out."""
    rng = np.random.default_rng(20260)
    for _ in range(_MOST):
        arrays = draw(boat, rng, _BATCH)
        if seeds:
            arrays = _near(arrays, seeds, rng)
        worked = Worked([root for truth in (*given, *more) for root in roots_of(truth)], arrays)
        speaks = np.ones(_BATCH, dtype=bool)
        for truth in given:
            speaks &= worked(truth)
        yield arrays, speaks, worked


def _near(drawn: Arrays, seeds: Sequence[dict[str, Value]], rng: np.random.Generator) -> Arrays:
    """Each tick one of the seeds, with a few of its values taken from `drawn`."""
    chosen = rng.integers(0, len(seeds), _BATCH)
    part = rng.choice(_CHANGED, _BATCH) / len(drawn)
    near: Arrays = {}
    for name, values in drawn.items():
        kept = np.array([seed.get(name, values[0]) for seed in seeds], dtype=values.dtype)[chosen]
        near[name] = np.where(rng.random(_BATCH) < part, values, kept)
    return near


def at(arrays: Arrays, place: int) -> dict[str, Value]:
    """The values of one tick."""
    return {
        name: bool(values[place]) if values.dtype == bool else float(values[place]) for name, values in arrays.items()
    }
