"""A boat whose file has an own interlock of every effect: contacts and numbers, for all shafts and for one."""

from typing import Any

from boatyard.boats import boat_data
from supervisor.config import BoatConfig, parse_config

EFFECTS = (
    "warn", "inhibit_thrust", "stop_thrust", "ramp_thrust", "limit_thrust", "inhibit_charge", "unload_charge",
    "stop_charge", "stop_both", "inhibit_engine_start", "trip_shaft", "trip_boat",
)  # fmt: skip


def interlock(name: str, effect: str, *, number: bool = False, shafts: list[str] | None = None) -> dict[str, Any]:
    """One `[[interlock]]`: a contact that is good when on, or a number that is bad above 80 and good again at 70."""
    made: dict[str, Any] = {
        "name": name, "good": f"{name} is good", "bad": f"{name} is bad", "bus": "private", "message": "OWN",
        "signal": f"S_{name}", "stale_s": 0.2, "effect": effect,
    }  # fmt: skip
    made |= {"bad_above": 80.0, "hysteresis": 10.0, "debounce_s": 0.1} if number else {"good_when": "on"}
    if effect == "limit_thrust":
        made["limit_pct"] = 40.0
    if shafts is not None:
        made["shafts"] = shafts
    return made


def own_data(shafts: int = 2) -> dict[str, Any]:
    """The boat file's contents: each effect once, some of the port shaft alone; two shafts that are not alike."""
    data = boat_data(shafts)
    data["shaft"][1]["gearbox"]["trailing_limit_s"] = 60.0
    data["shaft"][1]["drive"]["rated_torque_nm"] = 140.0
    data["interlock"] = [
        interlock(f"own_{effect}", effect, number=place % 2 == 1,
                  shafts=["port"] if place % 3 == 2 and effect != "trip_boat" else None)
        for place, effect in enumerate(EFFECTS)
    ]  # fmt: skip
    return data


def own_config(shafts: int = 2) -> BoatConfig:
    """The same, validated."""
    return parse_config(own_data(shafts), "own")
