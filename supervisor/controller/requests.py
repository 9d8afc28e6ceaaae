"""What the crew asks of a shaft by lever and selectors, and whether it got it: a request in vain is answered,
always."""

from collections.abc import Callable, Sequence
from typing import NamedTuple

from supervisor.modes import BoatMode, ShaftMode
from supervisor.rules import Boat, Memory
from supervisor.rules.bank import proven
from supervisor.rules.readings import (
    CHARGE_AT_REST,
    CHARGE_UNDER_WAY,
    HARVEST,
    LEVER,
    LEVER_NEUTRAL,
    LOCK_RELEASED,
    STOP_AND_LOCK,
    engine_running,
    gear_engaged,
    out_of_service,
)
from supervisor.signals import ShaftInputs

WAIT_S = 0.5
"""A request that is not met within this time is answered (s): a shaft may have to unload first."""

AGAIN_S = 10.0
"""The same answer is not given again within this time (s), however often it is asked."""


class Request(NamedTuple):
    """One kind: its name for the answer, and the mode that meets it."""

    name: str
    goal: ShaftMode


REQUESTS = (
    Request("no thrust", ShaftMode.PROPEL),
    Request("no charging under way", ShaftMode.GENERATE),
    Request("no charging at rest", ShaftMode.GENERATE),
    Request("no harvest", ShaftMode.HARVEST),
    Request("no stop and lock", ShaftMode.PROPEL),
)

Missing = Callable[[int, ShaftMode], list[str]]
"""What is missing for a shaft to reach a mode, in words."""


class Pending(NamedTuple):
    """What is remembered between ticks: a bit for each request that stands, shaft by shaft, those still to be met with
    the time from which they are answered, and the last answers with their times (s)."""

    asked: tuple[int, ...] = ()
    waiting: tuple[tuple[int, int, float], ...] = ()
    said: tuple[tuple[int, str, float], ...] = ()


def asked_of(boat: Boat, memory: Memory, shaft_in: Sequence[ShaftInputs]) -> tuple[int, ...]:
    """A bit for each of REQUESTS, shaft by shaft, as lever and selectors say, whether it may count or not."""
    found = []
    for lim, state, shaft in zip(boat.shafts, memory.shafts, shaft_in, strict=True):
        bits = 0
        both = LEVER | LEVER_NEUTRAL
        out = shaft.known & both == both and not shaft.on & LEVER_NEUTRAL
        out = out and abs(shaft.lever_pct) > lim.neutral_band_pct
        throttle = engine_running(lim, shaft) and gear_engaged(lim, shaft)  # then the lever is the engine's
        if out and not throttle:
            bits = 1
        for place, contact in enumerate((CHARGE_UNDER_WAY, CHARGE_AT_REST, HARVEST)):
            if proven(shaft.known, shaft.on, contact):
                bits |= 2 << place
        if proven(shaft.known, shaft.on, STOP_AND_LOCK) and proven(shaft.known, shaft.on, LOCK_RELEASED):
            bits |= 2 << 3
        found.append(0 if out_of_service(shaft, state.latches) else bits)
    return tuple(found)


def answered(
    was: Pending, asked: tuple[int, ...], now_s: float, boat_mode: BoatMode, modes: Sequence[ShaftMode], missing:
    Missing
) -> tuple[Pending, list[tuple[int, str]]]:  # fmt: skip
    """What is pending after this tick, and the answers due in it: (shaft, text)."""
    waiting = [entry for entry in was.waiting if asked[entry[0]] >> entry[1] & 1]
    if asked != was.asked:
        before = was.asked or (0,) * len(asked)
        for shaft, (old, new) in enumerate(zip(before, asked, strict=True)):
            for kind in range(len(REQUESTS)):
                if new & ~old & 1 << kind:
                    waiting.append((shaft, kind, now_s + WAIT_S))
    if not waiting:
        return (was if asked == was.asked and not was.waiting else was._replace(asked=asked, waiting=())), []
    answers, kept = [], []
    said = [entry for entry in was.said if now_s - entry[2] < AGAIN_S]
    for shaft, kind, due_s in waiting:
        request = REQUESTS[kind]
        if modes[shaft] == request.goal:
            continue
        if now_s < due_s:
            kept.append((shaft, kind, due_s))
            continue
        words = missing(shaft, request.goal)
        if boat_mode != BoatMode.READY:
            words = [f"the boat is in {boat_mode.name}"]
        text = f"{request.name}: {'; '.join(words)}" if words else ""
        if text and (shaft, text) not in [(one, what) for one, what, _ in said]:
            said.append((shaft, text, now_s))
            answers.append((shaft, text))
    return Pending(asked, tuple(kept), tuple(said)), answers
