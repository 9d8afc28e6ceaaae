"""Boats that claims are run on: the shipped ones, and boats of three and four unlike shafts built from them, one with
own interlocks of every effect and with inputs whose loss trips the boat."""

from typing import Any

from supervisor.config import BoatConfig, load_config
from supervisor.config.schema import Interlock, Shaft


def other(shaft: Shaft, name: str, **drive: Any) -> Shaft:
    """A shaft of another name whose drive has other ratings."""
    return shaft.model_copy(update={"name": name, "drive": shaft.drive.model_copy(update=drive)})


def interlock(name: str, effect: str, **keys: Any) -> Interlock:
    """An own interlock; a contact that is good when on, unless `keys` say otherwise."""
    if "bad_above" not in keys and "bad_below" not in keys:
        keys.setdefault("good_when", "on")
    return Interlock(
        name=name, good=f"{name} is good", bad=f"{name} is bad", bus="private", message="OWN", signal=name, stale_s=0.5,
        effect=effect, **keys,
    )  # fmt: skip


def _inputs_that_trip(shaft: Shaft) -> Shaft:
    mapped = shaft.inputs["lever.neutral"].model_copy(update={"reaction": "trip_boat"})
    return shaft.model_copy(update={"inputs": {**shaft.inputs, "lever.neutral": mapped}})


MARSH_TERN = load_config("marsh_tern")
REED_WARBLER = load_config("reed_warbler")
_PORT, _STARBOARD = MARSH_TERN.shaft
_MIDDLE = other(_STARBOARD, "middle", rated_torque_nm=60.0, generate_torque_nm=70.0, torque_slew_nm_per_s=111.0,
                max_current_a=90.0, efficiency=0.88)  # fmt: skip
_THIRD = other(REED_WARBLER.shaft[0], "third")
_TRAILS = _MIDDLE.model_copy(
    update={"gearbox": _MIDDLE.gearbox.model_copy(update={"trailing_limit_s": 30.0, "open_when_stopped": True})}
)

THREE = MARSH_TERN.model_copy(update={"shaft": [_PORT, _TRAILS, _THIRD]})
"""Three unlike shafts; the second may trail for half a minute, and its gearbox is open when its engine is stopped."""

FOUR = MARSH_TERN.model_copy(
    update={
        "shaft": [_inputs_that_trip(_PORT), _MIDDLE, _THIRD, other(_PORT, "fourth", max_current_a=40.0)],
        "limits": MARSH_TERN.limits.model_copy(update={"lever_hold_s": 0.5, "full_charge_a": 90.0}),
        "interlock": [
            interlock("ladder", "stop_thrust"),
            interlock("hatch", "inhibit_thrust", good_when="off", debounce_s=0.0),
            interlock("seal", "limit_thrust", bad_above=70.0, hysteresis=5.0, limit_pct=40.0, shafts=["third"]),
            interlock("bearing", "limit_thrust", bad_above=80.0, hysteresis=5.0, limit_pct=60.0, astern=True),
            interlock("oil", "ramp_thrust", bad_below=1.5, hysteresis=0.5, shafts=["port", "middle"]),
            interlock("bilge", "stop_charge", debounce_s=1.0),
            interlock("vent", "unload_charge"),
            interlock("fan", "inhibit_charge", unknown="bad"),
            interlock("smoke", "stop_both"),
            interlock("cover", "inhibit_engine_start"),
            interlock("belt", "trip_shaft", shafts=["fourth"]),
            interlock("heel", "trip_boat", bad_above=40.0, hysteresis=5.0, debounce_s=0.5),
            interlock("lamp", "warn", unknown="good"),
        ],
    }
)
"""Four unlike shafts, own interlocks of every effect, a lever of which the loss trips the boat."""

BOATS: dict[str, BoatConfig] = {
    "marsh_tern": MARSH_TERN, "reed_warbler": REED_WARBLER, "three shafts": THREE, "four shafts": FOUR,
}  # fmt: skip
