"""A tick that breaks a claim, shortened to what matters and said in words."""

from collections.abc import Callable, Iterator, Mapping
from enum import IntFlag
from typing import Any

from sim.prove.solver.symbols import Value, gather, spread
from sim.prove.step import Step
from supervisor.config import BoatConfig
from supervisor.modes import BoatMode, ShaftMode
from supervisor.rules import Boat, BoatLatch, Memory, ShaftLatch, initial_memory, run_tick
from supervisor.signals import (
    BOAT_INPUTS,
    SHAFT_INPUTS,
    Alarm,
    BoatInput,
    BoatInputs,
    InputSpec,
    ShaftInput,
    ShaftInputs,
    ShaftPermit,
)

_SOUND_NUMBERS = {
    "bank.soc_pct": 60.0, "bank.cell_max_v": 3.3, "bank.cell_min_v": 3.25, "bank.cell_hot_c": 20.0,
    "bank.cell_cold_c": 18.0, "bank.charge_limit_a": 5000.0, "bank.discharge_limit_a": 5000.0,
    "handset.minutes": 120.0, "drive.motor_c": 20.0, "drive.inverter_c": 20.0, "drive.coolant_c": 20.0,
}  # fmt: skip
_SOUND_BOAT = (
    BoatInput.CHARGE_PERMIT | BoatInput.DISCHARGE_PERMIT | BoatInput.CONTACTOR_CLOSED | BoatInput.RECEIVE_OK
    | BoatInput.DEADLINE_OK
)  # fmt: skip
_SOUND_SHAFT = ShaftInput.LEVER_NEUTRAL | ShaftInput.GEAR_NEUTRAL | ShaftInput.CLUTCH_CLOSED | ShaftInput.LOCK_RELEASED


def sound_inputs(config: BoatConfig, boat: Boat) -> tuple[BoatInputs, tuple[ShaftInputs, ...]]:
    """Everything known and sound: a bank in the middle, levers in neutral, shafts still, own interlocks good."""
    volts = (config.bank.min_voltage_v + config.bank.max_voltage_v) / 2.0
    helm = BoatInputs()._replace(
        known=_every(BOAT_INPUTS), on=int(_SOUND_BOAT), **_numbers(BOAT_INPUTS, voltage_v=volts)
    )
    count = boat.limits.own_count
    on = sum(1 << k for k in range(count) if not boat.limits.own[k].number and not boat.limits.own[k].bad_on)
    values = [0.0] * len(helm.own.values)
    for k in range(count):
        if boat.limits.own[k].number:
            values[k] = float(boat.limits.own[k].good_at)
    helm = helm._replace(own=helm.own._replace(known=(1 << count) - 1, on=on, values=tuple(values)))
    side = ShaftInputs()._replace(
        known=_every(SHAFT_INPUTS), on=int(_SOUND_SHAFT), **_numbers(SHAFT_INPUTS, link_v=volts)
    )
    return helm, (side,) * len(boat.shafts)


def _every(specs: tuple[InputSpec, ...]) -> int:
    return sum(int(spec.bit) for spec in specs)


def _numbers(specs: tuple[InputSpec, ...], **given: float) -> dict[str, Any]:
    return {spec.field: _SOUND_NUMBERS.get(spec.name, 0.0) for spec in specs if spec.field} | given


def shortened(config: BoatConfig, boat: Boat, values: Mapping[str, Value], breaks: Callable[[Step], bool]) -> Step:
    """A tick that breaks the claim as `values` do, with as much as can be made sound made sound."""
    helm, sides = sound_inputs(config, boat)
    calm = spread(initial_memory(boat), helm, sides, config.boat.tick_s)
    now = dict(spread(*gather(values, boat)))

    def step_of(tried: Mapping[str, Value]) -> Step:
        was, boat_in, shaft_in, dt_s = gather(tried, boat)
        return Step(config, boat, was, boat_in, shaft_in, dt_s, run_tick(boat, was, boat_in, shaft_in, dt_s))

    groups = [[name] for name in now]
    groups = [[name for name in now if name.startswith(f"shafts[{i}]")] for i in range(len(boat.shafts))] + groups
    for group in groups:
        tried = {**now, **{name: calm[name] for name in group if name in calm}}
        if tried != now and breaks(step_of(tried)):
            now = tried
    return step_of(now)


def step_words(step: Step) -> Iterator[str]:
    """The tick in lines: what was remembered, what was measured (where it is not sound), what came of it."""
    names = [shaft.name for shaft in step.config.shaft]
    helm, sides = sound_inputs(step.config, step.boat)
    rest = initial_memory(step.boat)
    yield f"before: {_state(step.was, rest, names)}"
    seen = [_inputs(step.boat_in, helm, BOAT_INPUTS)]
    seen += [f"{name}: {text}" for name, text in zip(names, _sides(step, sides), strict=True) if text]
    seen += [_own(step)]
    told = "; ".join(text for text in seen if text)
    yield f"measured, {step.dt_s:g} s after the last tick: {told or 'everything normal'}"
    yield f"after: {_state(step.now.memory, step.was, names)}; {_orders(step, names)}"


def _sides(step: Step, sides: tuple[ShaftInputs, ...]) -> list[str]:
    return [_inputs(side, sound, SHAFT_INPUTS) for side, sound in zip(step.shaft_in, sides, strict=True)]


def _inputs(inputs: Any, sound: Any, specs: tuple[InputSpec, ...]) -> str:
    said = []
    for spec in specs:
        bit = int(spec.bit)
        if not inputs.known & bit:
            said.append(f"{spec.text} unknown")
        elif spec.is_contact:
            if (inputs.on ^ sound.on) & bit:
                said.append(f"{spec.text}: {'on' if inputs.on & bit else 'off'}")
        elif getattr(inputs, spec.field) != getattr(sound, spec.field):
            said.append(f"{spec.text} {getattr(inputs, spec.field):.9g} {spec.unit}".rstrip())
    return ", ".join(said)


def _own(step: Step) -> str:
    said = []
    for k, interlock in enumerate(step.config.interlock):
        own = step.boat_in.own
        if not own.known >> k & 1:
            said.append(f"{interlock.name} unknown")
        elif step.boat.limits.own[k].number:
            said.append(f"{interlock.name} {own.values[k]:.9g}")
        else:
            said.append(f"{interlock.name}: {'on' if own.on >> k & 1 else 'off'}")
    return ", ".join(said)


def _state(memory: Memory, against: Memory, names: list[str]) -> str:
    parts = [f"boat {BoatMode(memory.boat.mode).name}{_rest(memory.boat, against.boat, BoatLatch)}"]
    for name, state, other in zip(names, memory.shafts, against.shafts, strict=True):
        parts.append(f"{name} {ShaftMode(state.mode).name}{_rest(state, other, ShaftLatch)}")
    return "; ".join(parts)


def _rest(state: Any, other: Any, latches: type[IntFlag]) -> str:
    said = [str(bit.name) for bit in latches if state.latches & int(bit)]
    said += _changed(state, other, "")
    return f" ({', '.join(said)})" if said else ""


def _changed(record: Any, other: Any, prefix: str) -> list[str]:
    said = []
    for field, value, before in zip(record._fields, record, other, strict=True):
        if hasattr(value, "_fields"):
            said += _changed(value, before, f"{prefix}{field}.")
        elif field not in ("mode", "latches") and value != before:
            said.append(f"{field} {_number(field, value)}")
    return said


def _number(field: str, value: Any) -> str:
    if field == "acknowledged":
        return _bits(value, Alarm) or "nothing"
    if isinstance(value, float):
        return f"{value:.9g}"
    return str(value)


def _bits(word: int, kind: type[IntFlag]) -> str:
    return " ".join(str(bit.name) for bit in kind if word & int(bit))


def _orders(step: Step, names: list[str]) -> str:
    said = []
    for name, command in zip(names, step.now.shaft_commands, strict=True):
        permits = _bits(command.permits, ShaftPermit) or "no permit"
        said.append(f"{name} ordered {command.torque_nm:.9g} N m, {command.current_a:.9g} A, {permits}")
    said.append(f"alarms: {_bits(step.now.boat_command.alarms, Alarm) or 'none'}")
    return "; ".join(said)
