"""Random ticks, many at once, crowded where rules change their mind: at zero, at limits of the boat, just beside."""

from typing import Any

import numpy as np

from sim.prove.solver.symbols import CONTACTS, field_names
from supervisor.rules import Boat, BoatState, ShaftState
from supervisor.signals import BoatInput, BoatInputs, ShaftInput, ShaftInputs

Arrays = dict[str, Any]

_NEVER = 1e9
BITS: dict[str, Any] = {"BoatInputs": BoatInput, "ShaftInputs": ShaftInput}


def draw(boat: Boat, rng: np.random.Generator, count: int) -> Arrays:
    """Values of all variables for `count` ticks: inputs as the bus would hand them over, states of any kind (they need
    not keep the invariants)."""
    pool = np.unique(np.array([0.0, 1.0, *_numbers(boat)]))
    arrays: Arrays = {}
    arrays["dt_s"] = np.where(
        rng.random(count) < 0.8, boat.limits.tick_s, rng.choice([0.0, 0.001, 0.1, 0.3, 2.0, 70.0], count)
    )
    _record(arrays, "boat", BoatInputs, boat, pool, rng, count)
    _record(arrays, "was", BoatState, boat, pool, rng, count)
    for i in range(len(boat.shafts)):
        _record(arrays, f"shafts[{i}]", ShaftInputs, boat, pool, rng, count)
        _record(arrays, f"was.shafts[{i}]", ShaftState, boat, pool, rng, count)
    return arrays


def _record(
    arrays: Arrays, prefix: str, kind: Any, boat: Boat, pool: Any, rng: np.random.Generator, count: int
) -> None:
    specs = CONTACTS.get(kind.__name__, ())
    by_field = {spec.field: spec for spec in specs if spec.field}
    # whole ticks in which much is unknown, and whole ticks in which nothing is
    loss = rng.choice([0.0, 0.02, 0.2, 0.6], count)
    for name, what, field in field_names(kind, prefix, boat):
        if what == "truth":
            likely = 1.0 - loss if field.endswith("known") else rng.choice([0.05, 0.5, 0.95], count)
            arrays[name] = rng.random(count) < likely
        elif field in by_field:
            spec = by_field[field]
            arrays[name] = np.clip(_crowded(pool, rng, count, spec.low, spec.high), spec.low, spec.high)
        else:
            arrays[name] = _state(pool, rng, count)
    for spec in specs:
        if spec.field:
            known = arrays[f"{prefix}.known.{BITS[kind.__name__](spec.bit).name}"]
            arrays[f"{prefix}.{spec.field}"] = np.where(known, arrays[f"{prefix}.{spec.field}"], 0.0)
    for k in range(boat.limits.own_count if kind is BoatInputs else 0):
        name = f"{prefix}.own.values[{k}]"
        known = arrays[f"{prefix}.own.known.{k}"] & bool(boat.limits.own[k].number)
        arrays[name] = np.where(known, arrays[name], 0.0)


def _crowded(pool: Any, rng: np.random.Generator, count: int, low: float, high: float) -> Any:
    beside = rng.choice([0.0, 0.0, 1e-9, -1e-9, 0.1, -0.1, 1.0, -1.0], count)
    sign = np.where(rng.random(count) < 0.5 if low < 0.0 else np.zeros(count, dtype=bool), -1.0, 1.0)
    near = sign * (rng.choice(pool, count) * rng.choice([1.0, 1.0, 0.5, 3.0], count) + beside)
    near = np.where((near < low) | (near > high), rng.uniform(low, high, count), near)
    return np.where(rng.random(count) < 0.6, near, rng.uniform(low, high, count))


def _state(pool: Any, rng: np.random.Generator, count: int) -> Any:
    way = rng.random(count)
    near = rng.choice(pool, count) * np.where(rng.random(count) < 0.3, -1.0, 1.0)
    near = near + rng.choice([0.0, 0.0, 1e-9, -1e-9, 0.02, -0.02], count)
    value = np.where(way < 0.25, -1.0, near)
    value = np.where((way >= 0.25) & (way < 0.45), 0.0, value)
    value = np.where((way >= 0.45) & (way < 0.6), rng.uniform(0.0, 3.0, count), value)
    return np.where(way > 0.98, _NEVER, value)


def _numbers(value: Any) -> list[float]:
    if isinstance(value, float):
        return [value] if abs(value) < 1e6 else []
    if isinstance(value, tuple):
        return [number for part in value for number in _numbers(part)]
    return []
