"""The signals of a boat that is only listened to: what its boxes say, and what its supervisor says it decided."""

import math
from collections.abc import Sequence

from sim.bench.signal_words import BOAT_SIGNALS, SHAFT_SIGNALS
from sim.rig.snapshot import Decided, Shown, seen_key
from supervisor.signals import (
    BOAT_INPUTS,
    SHAFT_INPUTS,
    BoatInput,
    BoatInputs,
    InputSpec,
    ShaftInput,
    ShaftInputs,
    ShaftPermit,
)

_TWINS = {"speed_rpm": "machine_speed_rpm", "propeller_rpm": "propeller_speed_rpm", "engine_rpm": "engine_speed_rpm"}
"""Where a measured value has another name than the true one of a simulated boat."""


def heard_signals(
    shafts: Sequence[str], said: Decided, boat_in: BoatInputs, shaft_in: Sequence[ShaftInputs]
) -> dict[str, Shown]:
    """Every signal of the catalogue. What nobody says is NaN, or "unknown" for a word."""
    found: dict[str, Shown] = dict.fromkeys(BOAT_SIGNALS, math.nan)
    found.update(_numbers(BOAT_INPUTS, "", boat_in))
    for name in ("soc_pct", "current_a", "voltage_v", "cell_max_v", "cell_min_v"):
        found[f"bank.{name}"] = found[f"bank.seen_{name}"]
    command = said.boat
    found.update({
        "boat.mode": said.boat_mode,
        "boat.charge_limit_a": command.charge_limit_a,
        "boat.derate_pct": command.derate_pct,
        "boat.stop_sources": float(command.stop_sources),
        "boat.sounder": float(command.sounder),
        "boat.handset_in_control": float(command.handset_in_control),
        "bank.contactor": _contact(boat_in, BoatInput.CONTACTOR_CLOSED),
        "bank.charge_permit": _contact(boat_in, BoatInput.CHARGE_PERMIT),
        "bank.discharge_permit": _contact(boat_in, BoatInput.DISCHARGE_PERMIT),
    })  # fmt: skip
    for level, shaft in enumerate(shafts):
        found.update(_shaft(shaft, level, said, shaft_in[level], found))
    return found


def _shaft(shaft: str, level: int, said: Decided, seen: ShaftInputs, boat: dict[str, Shown]) -> dict[str, Shown]:
    found: dict[str, Shown] = {f"{shaft}.{name}": math.nan for name in SHAFT_SIGNALS}
    found.update(_numbers(SHAFT_INPUTS, f"{shaft}.", seen))
    for name in SHAFT_SIGNALS:
        twin = f"{shaft}.seen_{_TWINS.get(name, name)}"
        if twin in found:
            found[f"{shaft}.{name}"] = found[twin]
    order_nm, aim_a, permits = said.shafts[level]
    volts, amps = boat["bank.voltage_v"], found[f"{shaft}.current_a"]
    power_w = volts * amps if isinstance(volts, float) and isinstance(amps, float) else math.nan
    on = ShaftInput
    gear = _choice(seen, ((on.GEAR_NEUTRAL, "neutral"), (on.GEAR_AHEAD, "ahead")))
    if gear == "unknown" and seen.known & on.GEAR_REPORT and seen.gear_report < 0.0:
        gear = "astern"
    found.update({
        f"{shaft}.mode": said.shaft_modes[level],
        f"{shaft}.order_nm": order_nm,
        f"{shaft}.aim_a": aim_a,
        f"{shaft}.power_w": power_w,
        f"{shaft}.engine_running": _contact(seen, on.ENGINE_RUN),
        f"{shaft}.gear": gear,
        f"{shaft}.clutch": _choice(seen, ((on.CLUTCH_CLOSED, "closed"), (on.CLUTCH_OPEN, "open"))),
        f"{shaft}.lock": _choice(seen, ((on.LOCK_RELEASED, "released"), (on.LOCK_ENGAGED, "engaged"))),
        f"{shaft}.permits": ", ".join(str(p.name).lower().replace("_", " ") for p in ShaftPermit if permits & p),
    })  # fmt: skip
    return found


def _numbers(specs: Sequence[InputSpec], prefix: str, inputs: BoatInputs | ShaftInputs) -> dict[str, Shown]:
    return {
        prefix + seen_key(spec.name): float(getattr(inputs, spec.field)) if inputs.known & spec.bit else math.nan
        for spec in specs
        if spec.field
    }


def _contact(inputs: BoatInputs | ShaftInputs, bit: int) -> float:
    return float(bool(inputs.on & bit)) if inputs.known & bit else math.nan


def _choice(inputs: ShaftInputs, contacts: Sequence[tuple[int, str]]) -> str:
    """The word of the one contact that is made; none or two: unknown."""
    on = [word for bit, word in contacts if inputs.known & bit and inputs.on & bit]
    return on[0] if len(on) == 1 else "unknown"
