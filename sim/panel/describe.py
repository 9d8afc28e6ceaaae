"""What a page must know of a boat before it can show it: controls, jumps, faults, signals, conditions, alarms,
procedures. All of it read from the catalogues that bench, docs and kit read."""

from collections.abc import Iterable
from pathlib import Path
from typing import Any

from sim.bench.load import load_procedure
from sim.bench.signal_words import BOAT_SIGNALS, SHAFT_SIGNALS
from sim.bench.units import unit_of
from sim.errors import BenchError
from sim.faults import CATALOGUE
from sim.panel.control import BEAT_S, STALE_S
from sim.panel.drawing import PARTS
from sim.panel.pace import SPEEDS
from sim.panel.plots import PERIOD_S, pictures
from sim.rig.boat import SimulatedBoat
from sim.rig.jumps import BOAT_JUMPS, SHAFT_JUMPS
from sim.rig.targets import BUTTON, OWN_WORDS, Kind, targets_for
from supervisor.bus import BoatMap
from supervisor.config import BoatConfig, shipped_root
from supervisor.modes import BOAT_CONDITIONS, PERMIT_CONDITIONS, SHAFT_CONDITIONS, BoatMode, ShaftMode
from supervisor.signals import BOAT_INPUT_BY_NAME, alarm_texts
from supervisor.signals.alarm_list import BY_ALARM, SOUNDED

HOLD_TO_RUN = ("handset.held",)
"""Controls that are only held down: on the page they last as long as a finger, and as the page's heartbeat."""


def describe(config: BoatConfig, boat_map: BoatMap, mode: str) -> dict[str, Any]:
    """Of a boat whose hands nobody has: what can be shown. `mode` is simulated, watching or replaying."""
    shafts = list(boat_map.shaft_names)
    return {
        "boat": config.boat.name,
        "title": config.boat.title,
        "mode": mode,
        "tick_s": config.boat.tick_s,
        "shafts": shafts,
        "buses": list(config.buses),
        "beat_ms": round(BEAT_S * 1000),
        "stale_ms": round(STALE_S * 1000),
        "parts": list(PARTS),
        "signals": {
            **BOAT_SIGNALS,
            **{f"{shaft}.{k}": words for shaft in shafts for k, words in SHAFT_SIGNALS.items()},
        },
        "boat_modes": [one.name for one in BoatMode],
        "shaft_modes": [one.name for one in ShaftMode],
        "conditions": {
            "boat": [_condition(row) for row in BOAT_CONDITIONS],
            "shaft": [_condition(row) for row in SHAFT_CONDITIONS],
            "permit": [_condition(row) for row in PERMIT_CONDITIONS],
        },
        "alarms": _alarms(shafts),
        "interlocks": [
            {"name": one.name, "good": one.good, "bad": one.bad, "effect": str(one.effect)} for one in config.interlock
        ],
        "plots": pictures(shafts),
        "plot_period_s": PERIOD_S,
    }


def describe_hands(boat: SimulatedBoat) -> dict[str, Any]:
    """Of a simulated boat: what can be done to it."""
    targets = targets_for(boat.shafts, boat.interlocks)
    return {
        "targets": [_target(boat, name, kind) for name, kind in targets.items()],
        "jumps": [
            *(_jump(name, bounds) for name, bounds in BOAT_JUMPS.items()),
            *(_jump(f"{shaft}.{name}", bounds) for shaft in boat.shafts for name, bounds in SHAFT_JUMPS.items()),
        ],
        "faults": _faults(boat),
        "procedures": _procedures(boat.config),
        "speeds": list(SPEEDS),
    }  # fmt: skip


def _jump(name: str, bounds: tuple[float, float]) -> dict[str, Any]:
    return {"name": name, "low": bounds[0], "high": bounds[1], "unit": unit_of(name)}


def _condition(row: Any) -> dict[str, Any]:
    return {"name": row.bit.name, "bit": int(row.bit).bit_length() - 1, "set": row.when_set, "clear": row.when_clear}


def _alarms(shafts: Iterable[str]) -> list[dict[str, Any]]:
    return [
        {
            "name": alarm.name, "bit": int(alarm).bit_length() - 1, "priority": int(BY_ALARM[alarm].priority),
            "priority_words": BY_ALARM[alarm].priority.name.lower(), "text": text, "cause": BY_ALARM[alarm].cause,
            "consequence": BY_ALARM[alarm].consequence, "answer": BY_ALARM[alarm].answer, "goes": BY_ALARM[alarm].goes,
            "sounds": bool(SOUNDED & alarm),
        }
        for alarm, text in alarm_texts(tuple(shafts)).items()
    ]  # fmt: skip


def _target(boat: SimulatedBoat, name: str, kind: Kind) -> dict[str, Any]:
    own = name.startswith("interlock.")
    words = [word for word in kind.words if own or not boat.lacks(name, word)]
    number = kind.low <= kind.high
    some = words[0] if words else kind.low if number else True
    return {
        "name": name,
        "button": kind == BUTTON,
        "label": BOAT_INPUT_BY_NAME[name].text.removesuffix(" push-button") if kind == BUTTON else "",
        "hold": name in HOLD_TO_RUN,
        "words": list(OWN_WORDS) if own else words,
        "contact": kind.contact,
        "number": number,
        "low": kind.low,
        "high": kind.high,
        "unit": kind.unit,
        "lacks": boat.lacks(name, some),
    }


def _faults(boat: SimulatedBoat) -> list[dict[str, Any]]:
    fields = [field for node in boat.nodes.all.values() for field in node.fields()]
    inputs = sorted({name for field in fields if field.row for name in (field.key, *field.also)})
    places = {
        "node": list(boat.nodes.all), "bus": list(boat.bitrates), "input": inputs, "monitor": ["monitor"],
        "handset": ["handset"], "shaft": list(boat.shafts),
    }  # fmt: skip
    return [
        {
            "name": name, "words": entry.words, "targets": places[entry.targets], "required": dict(entry.required),
            "params": [
                {"name": key, "default": one.default, "low": one.low, "high": one.high, "words": list(one.words),
                 "unit": one.unit}
                for key, one in entry.params.items()
            ],
        }
        for name, entry in CATALOGUE.items() if name in boat.faults()
    ]  # fmt: skip


def _procedures(config: BoatConfig) -> list[dict[str, str]]:
    """The shipped procedures that are for any boat, or for this one."""
    found = []
    for path in shipped_procedures():
        try:
            procedure = load_procedure(path, config)
        except BenchError:  # numbers by name that this boat does not have: it is for another one
            continue
        if procedure.boat in (None, config.boat.name):
            found.append({"name": path.stem, "title": procedure.title})
    return found


def shipped_procedures() -> list[Path]:
    """The files of the shipped procedures."""
    return sorted((shipped_root() / "procedures").glob("*.toml"))
