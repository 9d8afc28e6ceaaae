"""Boats for tests, as a boat file's contents would be: plain dicts, numbers typed by hand.

What is left out takes its default, so that a test of a rule is a test of the default too.
"""

import copy
from functools import cache
from typing import Any

from supervisor.config import BoatConfig, parse_config
from supervisor.controller import freeze
from supervisor.rules import Boat
from supervisor.signals import BOAT_INPUTS, SHAFT_INPUTS, InputSpec

SHAFT_NAMES = ("port", "starboard", "middle", "wing")


def _map(specs: tuple[InputSpec, ...], message: str) -> dict[str, Any]:
    return {
        spec.name: {"bus": "private", "message": message, "signal": f"S{index}", "stale_s": 0.1}
        for index, spec in enumerate(specs)
        if not spec.name.startswith("runtime.")
    }


def shaft_data(name: str) -> dict[str, Any]:
    """One shaft: 10 kW and 110 N m of thrust, 6 kW and 90 N m of charging, a 40 kW diesel through 2.5 : 1."""
    return {
        "name": name,
        "drive": {
            "rated_torque_nm": 110.0,
            "rated_power_kw": 10.0,
            "generate_power_kw": 6.0,
            "generate_torque_nm": 90.0,
            "max_speed_rpm": 1300.0,
            "max_current_a": 250.0,
            "efficiency": 0.93,
            "back_emf_v_per_krpm": 32.0,
            "torque_slew_nm_per_s": 250.0,
        },
        "engine": {
            "rated_power_kw": 40.0,
            "idle_rpm": 800.0,
            "max_rpm": 3000.0,
            "torque_curve": [[800.0, 95.0], [1200.0, 125.0], [1600.0, 140.0], [2000.0, 145.0], [3000.0, 127.0]],
        },
        "gearbox": {"ratio": 2.5, "trailing_allowed": True, "trailing_limit_s": 0.0},
        "clutch": {"fitted": True},
        "lock": {"fitted": True},
        "rules": {"propeller_nm_per_krpm2": 205.0, "harvest_nm_per_krpm2": 90.0},
        "inputs": _map(SHAFT_INPUTS, f"SHAFT_{name.upper()}"),
    }


def boat_data(shafts: int = 2) -> dict[str, Any]:
    """A 51.2 V, 600 Ah boat of one to four shafts, every input fitted."""
    return {
        "boat": {"name": "test_boat", "title": "A boat for tests", "tick_s": 0.02, "handset_id": 7},
        "bank": {
            "capacity_ah": 600.0,
            "cells_in_series": 16,
            "min_voltage_v": 44.8,
            "max_voltage_v": 57.6,
            "max_charge_a": 300.0,
            "max_discharge_a": 600.0,
            "opening_warning_s": 2.0,
        },
        # shafts turn only where a test turns them: torque on one that stands is no jam here before its longest time
        "limits": {"full_charge_a": 240.0, "jam_s": 10.0},
        "buses": {"private": {"channel": "test_private", "dbc": ["none.dbc"]}},
        "inputs": _map(BOAT_INPUTS, "BOAT"),
        "shaft": [shaft_data(name) for name in SHAFT_NAMES[:shafts]],
    }


def changed(data: dict[str, Any], changes: dict[str, Any]) -> dict[str, Any]:
    """A copy with keys replaced, path by "/" since input names hold dots: {"shaft/0/drive/max_speed_rpm": 900.0}.

    The value `...` removes the key.
    """
    result = copy.deepcopy(data)
    for path, value in changes.items():
        here: Any = result
        *parts, last = path.split("/")
        for part in parts:
            here = here[int(part)] if isinstance(here, list) else here.setdefault(part, {})
        if value is ...:
            del here[last]
        elif isinstance(here, list):
            here[int(last)] = value
        else:
            here[last] = value
    return result


@cache
def _plain(shafts: int) -> BoatConfig:
    return parse_config(boat_data(shafts), "test_boat.toml")


def boat_config(changes: dict[str, Any] | None = None, shafts: int = 2) -> BoatConfig:
    """The test boat, validated. Configurations are frozen, so the unchanged one is made once."""
    if not changes:
        return _plain(shafts)
    return parse_config(changed(boat_data(shafts), changes), "test_boat.toml")


def frozen(changes: dict[str, Any] | None = None, shafts: int = 2) -> Boat:
    """The test boat's limits as the rules take them."""
    return freeze(boat_config(changes, shafts))
