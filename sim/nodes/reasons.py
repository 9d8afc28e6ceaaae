"""Answers in the words of the trade: what is missing for a mode, for a permit, and what happened."""

from collections.abc import Sequence
from typing import NamedTuple

from supervisor.controller import Controller, Outcome
from supervisor.controller import Event as ControllerEvent
from supervisor.controller.events import EventKind
from supervisor.modes import SHAFT_WORDS, BoatMode, ShaftCondition, ShaftMode

_PERMIT_NEEDS = {
    "engine.start": (ShaftCondition.GEAR_NEUTRAL, ShaftCondition.TORQUE_ZERO, ShaftCondition.NO_DIVER),
    "clutch.close": (ShaftCondition.GEAR_NEUTRAL, ShaftCondition.TORQUE_ZERO),
    "lock.engage": (ShaftCondition.SHAFT_STILL, ShaftCondition.TORQUE_ZERO),
}
_PERMIT_ELSE = {
    "engine.start": "the supervisor gives no start permit",
    "clutch.close": "the lever is not in neutral, or both sides of the clutch turn too differently",
    "lock.engage": "the shaft has not been still for long enough",
}

_KINDS = {
    EventKind.MODE: "mode",
    EventKind.TRIP: "trip",
    EventKind.ALARM: "alarm",
    EventKind.ALARM_GONE: "gone",
    EventKind.REFUSAL: "refusal",
}


class RigEvent(NamedTuple):
    """Something that happened on the rig: `kind` is mode, trip, alarm, gone (an alarm that ends), refusal, action or
    fault."""

    time_s: float
    kind: str
    subject: str
    text: str


def told(event: ControllerEvent) -> RigEvent:
    """An event of the controller as the bench tells it."""
    text = event.text
    if event.kind is EventKind.MODE:
        text = f"{event.source} -> {event.dest}: {event.text}"
    elif event.kind is EventKind.TRIP:
        first = f" (first out: {event.first_out})" if event.first_out else ""
        text = f"{event.source} -> {event.dest}: {event.text}{first}" if event.dest else f"{event.text}{first}"
    return RigEvent(event.time_s, _KINDS[event.kind], event.subject, text)


def missing_permit(outcome: Outcome | None, shaft: int, what: str) -> str:
    """Why a permit is not given, as far as the shaft's condition word tells."""
    if outcome is None:
        return _PERMIT_ELSE[what]
    word = outcome.shaft_words[shaft]
    lacking = [SHAFT_WORDS[bit][1] for bit in _PERMIT_NEEDS[what] if not word & bit]
    return ", ".join(lacking) or _PERMIT_ELSE[what]


def explain(controller: Controller, shaft_names: Sequence[str], what: str) -> list[str]:
    """What is missing for `what`: "enable", a boat mode, or "SHAFT MODE" as in "port PROPEL". Empty: nothing.

    Raises ValueError for anything else, naming what is allowed.
    """
    first, _, second = what.partition(" ")
    if what == "enable":
        return _for_enable(controller, shaft_names)
    if first in shaft_names and second:
        if second not in ShaftMode.__members__:
            raise ValueError(f"{second!r} is no shaft mode; allowed: {', '.join(ShaftMode.__members__)}")
        if controller.shaft_modes[list(shaft_names).index(first)].name == second:
            return []
        return [words for refusal in controller.explain(first, second)[:1] for words in refusal.words]
    goal = second if first == "boat" else what
    if goal not in BoatMode.__members__:
        raise ValueError(
            f"{what!r} cannot be explained; allowed: enable, {', '.join(BoatMode.__members__)}, and a shaft with a "
            f"mode, as in {shaft_names[0]} PROPEL"
        )
    if controller.boat_mode.name == goal:
        return []
    if goal == "READY":
        return controller.missing_for(BoatMode.READY)
    return [words for refusal in controller.explain("boat", goal)[:1] for words in refusal.words]


def _for_enable(controller: Controller, shaft_names: Sequence[str]) -> list[str]:
    """What keeps a press of enable from leading to READY; precharging is not asked before it can have begun."""
    if controller.boat_mode == BoatMode.READY:
        return []
    if controller.boat_mode != BoatMode.STANDBY:
        return controller.missing_for(BoatMode.READY)
    found: list[str] = []
    for refusal in controller.explain("boat", "READY"):
        for bit, words in zip(refusal.bits, refusal.words, strict=True):
            if bit == "LEVERS_NEUTRAL":
                dwell_s = controller.boat.limits.neutral_s
                for name, state in zip(shaft_names, controller.memory.shafts, strict=True):
                    if not state.dwells.neutral_s >= dwell_s:
                        found.append(f"{name} lever is not in neutral")
            elif bit not in ("ENABLE_EDGE", "LINKS_CHARGED"):
                found.append(words)
    return list(dict.fromkeys(found))
