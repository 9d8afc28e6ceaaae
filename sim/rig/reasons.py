"""Answers in the words of the trade: what is missing for a mode, for a permit, and what happened."""

from collections.abc import Sequence
from typing import NamedTuple

from supervisor.bus import PERMIT_OUTPUTS
from supervisor.controller import Controller
from supervisor.controller import Event as ControllerEvent
from supervisor.controller.events import EventKind
from supervisor.modes import BoatMode, ShaftMode
from supervisor.signals import ShaftPermit

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
    text = event.told
    if event.kind is EventKind.MODE:
        text = f"{event.source} -> {event.dest}: {event.told}"
    elif event.kind is EventKind.TRIP:
        first = f" (first out: {event.first_out})" if event.first_out else ""
        text = f"{event.source} -> {event.dest}: {event.told}{first}" if event.dest else f"{event.told}{first}"
    elif event.first_out.startswith("interlock "):
        text = f"{event.told} (own {event.first_out})"
    return RigEvent(event.time_s, _KINDS[event.kind], event.subject, text)


def missing_permit(controller: Controller, shaft: int, what: str) -> str:
    """Why a permit ("engine.start", "clutch.close", "lock.engage") is not given: its nearest way, by the causes that
    hold."""
    ways = controller.explain_permit(shaft, ShaftPermit(PERMIT_OUTPUTS[what]))
    return ", ".join(ways[0].words) or "no permit frame from the supervisor yet"


def explain(controller: Controller, shaft_names: Sequence[str], what: str) -> list[str]:
    """What is missing for `what`: "enable", a boat mode, "SHAFT MODE" or "SHAFT PERMIT", as in "port PROPEL" and
    "port ENGINE_START". Empty: it is so already, or nothing is missing.

    Raises ValueError for anything else, naming what is allowed.
    """
    first, _, second = what.partition(" ")
    if what == "enable":
        return _for_enable(controller, shaft_names)
    if first in shaft_names and second:
        if second not in ShaftMode.__members__ and second not in ShaftPermit.__members__:
            allowed = ", ".join((*ShaftMode.__members__, *ShaftPermit.__members__))
            raise ValueError(f"{second!r} is no shaft mode and no permit; allowed: {allowed}")
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
