"""What hands have done since power-up, kept by tick, and written as a procedure that does it again.

The simulated boat is the same whenever the same things are done in the same ticks, so that the procedure sees what was
seen. What it expects is what was seen, not what ought to be: whoever keeps it must read it.
"""

from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

from sim.bench.bind import described
from sim.bench.toml_text import procedure_toml
from sim.faults.base import Value
from sim.rig.reasons import RigEvent

MOST_STEPS = 1000
"""As many as a procedure may have."""
_ORDER = ("set", "clear", "inject", "do")
"""In which order a step of a procedure does things; what comes in another order waits for the next tick."""
_TOLD = ("trip", "refusal", "alarm")
_MOST_TOLD = 6
_AGAIN = ("press", "start", "stop", "close", "open", "engage", "release")
"""Done twice is not the same as done once: not in one tick."""
_LONG_S = 0.5
"""A step at least this long says at its end which modes were seen, even where none changed."""


class Deed(NamedTuple):
    """One thing done, before the tick after `tick`. `kind` is set, clear, inject or do."""

    tick: int
    kind: str
    target: str
    value: Value = ""
    fault: str = ""
    params: Mapping[str, Value] = {}


class Seen(NamedTuple):
    """Before the first deed of a tick: the modes by signal, and how many events there had been."""

    modes: tuple[tuple[str, str], ...]
    events: int


class Diary:
    """Deeds in their order, and what was seen before each tick that has some."""

    def __init__(self) -> None:
        self.deeds: list[Deed] = []
        self.seen: dict[int, Seen] = {}

    def fits(self, deed: Deed) -> bool:
        """Whether a procedure could do this as well in the same tick as what was done there already."""
        there = []
        for one in reversed(self.deeds):
            if one.tick != deed.tick:
                break
            there.append(one)
        if any(_ORDER.index(one.kind) > _ORDER.index(deed.kind) for one in there):
            return False
        same = [one for one in there if (one.kind, one.target, one.fault) == (deed.kind, deed.target, deed.fault)]
        return not same or (deed.kind == "do" and deed.value not in _AGAIN)

    def add(self, deed: Deed, seen: Seen) -> None:
        """It was done. `seen` counts for the first of its tick."""
        self.deeds.append(deed)
        self.seen.setdefault(deed.tick, seen)


def made_procedure(boat: str, diary: Diary, tick_s: float, ticks: int, now: Seen, events: Sequence[RigEvent]) -> str:
    """The procedure file of everything in the diary, for this boat. `ticks` have passed since power-up, `now` is what
    is seen, `events` are all since power-up.

    Raises ValueError where nothing was done, or more than a procedure may hold.
    """
    groups: dict[int, list[Deed]] = {}
    for deed in diary.deeds:
        groups.setdefault(deed.tick, []).append(deed)
    if not groups:
        raise ValueError("nothing has been done since power-up: there is nothing to make a procedure of")
    if len(groups) >= MOST_STEPS:
        raise ValueError(
            f"{len(groups)} steps have been done since power-up, a procedure holds {MOST_STEPS}: power up anew, do less"
        )
    starts = sorted(groups)
    before = diary.seen[starts[0]]
    steps: list[dict[str, Any]] = []
    if starts[0] > 0:
        first: dict[str, Any] = {"name": "From power-up: nothing is done", "wait_s": _s(starts[0], tick_s)}
        steps.append({**first, "expect": _modes(before)})
    for start, end in zip(starts, [*starts[1:], ticks], strict=True):
        seen = diary.seen[end] if end in diary.seen and end != start else now
        steps.append(_step(groups[start], end - start, tick_s, before, seen, events))
        before = seen
    head = {
        "title": f"Made on the panel: {sum(map(len, groups.values()))} actions in {_s(ticks, tick_s):g} s",
        "boat": boat,
        "purpose": "What hands did on the bench panel, done again in the same ticks. It expects what was seen then, "
        "not what ought to be: read each expectation before you keep it.",
    }
    return procedure_toml(head, steps)


def _step(
    deeds: Sequence[Deed], ticks: int, tick_s: float, before: Seen, after: Seen, events: Sequence[RigEvent]
) -> dict[str, Any]:
    do = {deed.target: deed.value for deed in deeds if deed.kind == "do"}
    jumps = {deed.target: deed.value for deed in deeds if deed.kind == "set"}
    inject = [{"fault": d.fault, "target": d.target, **d.params} for d in deeds if d.kind == "inject"]
    clear = [{"fault": deed.fault, "target": deed.target} for deed in deeds if deed.kind == "clear"]
    words = [described(do)] if do else []
    words += [f"boat set to {described(jumps)}"] if jumps else []
    words += [f"fault {one['fault']} on {one['target']}" for one in inject]
    words += [f"{one['fault']} on {one['target']} ends" for one in clear]
    step: dict[str, Any] = {
        "name": "; ".join(words)[:200], "set": jumps, "clear": clear, "inject": inject, "do": do,
        "wait_s": _s(max(ticks, 1), tick_s),
    }  # fmt: skip
    if ticks > 0:  # else the rerun goes on a tick further than was seen here
        told = [event for event in events[before.events : after.events] if event.kind in _TOLD][:_MOST_TOLD]
        expect = [{"event": one.kind, "subject": one.subject, "says": one.text} for one in told]
        if after.modes != before.modes or ticks * tick_s >= _LONG_S:
            expect += _modes(after)
        step["expect"] = expect
    return step


def _modes(seen: Seen) -> list[dict[str, Any]]:
    return [{"signal": signal, "value": mode} for signal, mode in seen.modes]


def _s(ticks: int, tick_s: float) -> float:
    return round(ticks * tick_s, 6)
