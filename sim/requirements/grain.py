"""How finely a recording tells its numbers, and what that alone makes of a requirement's margin.

A current that is read in steps of 0.1 A, or a torque that is ordered in steps of 0.1 N m, comes to lie a step beyond a
limit that was kept. No verdict may hang on that: a margin below zero by no more than the grain counts as held, and
says so.
"""

import math
from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

from sim.requirements.record import Judgement
from supervisor.bus import BoatMap
from supervisor.rules import Boat
from supervisor.signals import BOAT

_RAD_S_PER_RPM = math.tau / 60.0
_COARSE_PART = 0.25
"""A rate is not judged on orders whose step in one tick is more than this part of the rate allowed."""
_RATES = {"SR-20": "drive.current_a", "SR-24": "drive.torque_nm"}
"""Requirements on how fast an order grows, and the order."""


class Order(NamedTuple):
    """An order as it is sent: shaft (BOAT for the boat's), name in the boat file, and the smallest step of its code."""

    level: int
    name: str
    step: float


def grain_of_readings(boat_map: BoatMap) -> dict[str, float]:
    """Grain by requirement, in its unit, of what was read: the hotel load (SR-15) is a difference of currents (A)."""
    step_a = 0.0
    for row in boat_map.inputs:
        if (row.level == BOAT and row.spec.name == "bank.current_a") or row.spec.name == "drive.current_a":
            step_a += abs(row.signal.scale * row.factor)
    return {"SR-15": step_a}


def grain_of_orders(boat_map: BoatMap, boat: Boat, tick_s: float, orders: Iterable[Order]) -> dict[str, float]:
    """The same for orders that were heard, on top of what was read. Power and current are those of a step of torque at
    the highest speed."""
    grain = grain_of_readings(boat_map)
    for order in orders:
        if order.level == BOAT or order.name not in _RATES.values():
            continue
        lim = boat.shafts[order.level]
        if order.name == "drive.torque_nm":
            power_w = order.step * lim.max_speed_rpm * _RAD_S_PER_RPM
            grain["SR-15"] += power_w * lim.efficiency / boat.limits.min_voltage_v
            grain["SR-18"] = max(grain.get("SR-18", 0.0), power_w)
            grain["SR-21"] = max(grain.get("SR-21", 0.0), order.step)
        for identifier, name in _RATES.items():
            if order.name == name:
                grain[identifier] = max(grain.get(identifier, 0.0), order.step / tick_s)
    return grain


def too_coarse(boat: Boat, grain: Mapping[str, float]) -> list[str]:
    """Requirements on rates that such orders cannot tell anything about."""
    least = {
        "SR-20": min((lim.charge_rise_a_per_s for lim in boat.shafts), default=math.inf),
        "SR-24": min((lim.torque_slew_nm_per_s for lim in boat.shafts), default=math.inf),
    }
    return [identifier for identifier, rate in least.items() if grain.get(identifier, 0.0) > _COARSE_PART * rate]


def within_grain(judgements: Sequence[Judgement], grain: Mapping[str, float]) -> list[Judgement]:
    """The verdicts, where a violation that the grain explains is none."""
    found = []
    for one in judgements:
        step = grain.get(one.id, 0.0)
        # the closest approach bounds every other violation of the same requirement
        if one.held is False and one.closest is not None and -one.closest <= step:
            words = f"{one.words} (within the {step:.3g} {one.unit} by which the recorded numbers are rounded)"
            found.append(one._replace(held=True, duration_s=0.0, words=words))
        else:
            found.append(one)
    return found
