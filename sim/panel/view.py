"""What a page is shown of the simulated boat and its supervisor, as plain values for JSON."""

import math
from collections.abc import Mapping, Sequence
from typing import Any

from sim.panel.drawing import drawing
from sim.rig.snapshot import Shown
from supervisor.controller import Controller, Event, Outcome
from supervisor.controller.events import EventKind
from supervisor.controller.status import Answer, BoatStatus, Rule, ShaftStatus
from supervisor.modes import (
    BOAT_TABLE,
    BOAT_WORDS,
    SHAFT_TABLE,
    SHAFT_WORDS,
    BoatCondition,
    BoatMode,
    ShaftCondition,
    ShaftMode,
)
from supervisor.signals import Alarm, ShaftPermit
from supervisor.signals.alarm_list import BY_ALARM

_GOALS = (ShaftMode.PROPEL, ShaftMode.GENERATE, ShaftMode.HARVEST)
_PERMITS = (ShaftPermit.ENGINE_START, ShaftPermit.CLUTCH_CLOSE, ShaftPermit.LOCK_ENGAGE)
_ANSWERS = {
    Answer.NEUTRAL: "lever to neutral",
    Answer.RESET: "press reset",
    Answer.ACKNOWLEDGE: "read the cause, then acknowledge",
}


def plain(signals: Mapping[str, Shown]) -> dict[str, float | str | None]:
    """Signals for JSON: five figures are enough to look at, and what is not a number is null."""
    return {
        key: value if isinstance(value, str) else (float(f"{value:.5g}") if math.isfinite(value) else None)
        for key, value in signals.items()
    }


def drawings(shafts: Sequence[str], signals: Mapping[str, Shown]) -> list[dict[str, Any]]:
    """Every shaft line."""
    return [drawing(shaft, signals) for shaft in shafts]


def rule_words(rule: int) -> str:
    """Which rule holds a limit."""
    return Rule(rule).name.lower().replace("_", " ").replace("soc", "SOC") if rule in set(Rule) else f"unknown ({rule})"


def limits(
    shafts: Sequence[str], charge_limit_a: float, boat: BoatStatus, each: Sequence[ShaftStatus]
) -> list[dict[str, Any]]:
    """The limits in force with the rule that holds each; `share` is what is left of the rating where that is known, so
    that the tightest can be told."""
    rows: list[dict[str, Any]] = [
        {"what": "charging, all sources together", "value": _finite(charge_limit_a), "unit": "A",
         "rule": rule_words(boat.charge_rule)},
        {"what": "braking, all shafts together", "value": _finite(boat.brake_a), "unit": "A",
         "rule": rule_words(boat.brake_rule)},
        {"what": "thrust, all shafts together", "value": _finite(boat.discharge_a), "unit": "A",
         "rule": rule_words(boat.discharge_rule)},
    ]  # fmt: skip
    for shaft, one in zip(shafts, each, strict=True):
        rows.append({"what": f"{shaft}: electric thrust", "value": _finite(one.limit_pct), "unit": "% of rated power",
                     "rule": rule_words(one.limit_rule)})  # fmt: skip
        rows.append({"what": f"{shaft}: braking available now", "value": _finite(one.brake_nm), "unit": "N m",
                     "rule": ""})  # fmt: skip
    return rows


def tightest(
    shafts: Sequence[str], boat: BoatStatus, each: Sequence[ShaftStatus], full_charge_a: float, charge_a: float
) -> str:
    """The one limit that leaves least of its full value: charging of its full current, thrust of each shaft's power."""
    held = [(charge_a / full_charge_a if full_charge_a > 0.0 else 1.0, "charging", boat.charge_rule)]
    held += [
        (one.limit_pct / 100.0, f"{shaft} thrust", one.limit_rule) for shaft, one in zip(shafts, each, strict=True)
    ]
    share, what, rule = min(held, key=lambda one: one[0] if math.isfinite(one[0]) else 9.0)
    if not math.isfinite(share):
        return "not known"
    return f"{what} {100.0 * share:.0f} % of full, held by {rule_words(rule)}" if share < 0.995 else "none below full"


def crew(shafts: Sequence[str], boat_mode: str, each: Sequence[ShaftStatus], alarms: Sequence[str]) -> list[str]:
    """What the crew must do now, most urgent first. `alarms` are the answers of alarms nobody has acknowledged."""
    found = []
    tripped = BY_ALARM[Alarm.BOAT_TRIPPED].answer
    if boat_mode == BoatMode.TRIPPED.name:
        found.append(f"boat is TRIPPED: {tripped}")
    for shaft, one in zip(shafts, each, strict=True):
        if one.answer in _ANSWERS:
            found.append(f"{shaft}: {_ANSWERS[Answer(one.answer)]}")
    return [*found, *dict.fromkeys(answer for answer in alarms if answer != tripped)]


def explanations(controller: Controller, shafts: Sequence[str], enable: Sequence[str]) -> list[dict[str, Any]]:
    """What is missing for each thing that may be asked, nearest way first; nothing missing: an empty list."""
    found: list[dict[str, Any]] = [{"subject": "boat", "goal": "READY", "missing": list(enable)}]
    for index, shaft in enumerate(shafts):
        for goal in _GOALS:
            if controller.shaft_modes[index] == goal:
                continue
            ways = controller.explain(shaft, goal.name)
            found.append({"subject": shaft, "goal": goal.name, "missing": list(ways[0].words) if ways else []})
        for permit in _PERMITS:
            ways = controller.explain_permit(index, permit)
            goal_words = f"permit: {str(permit.name).lower().replace('_', ' ')}"
            found.append({"subject": shaft, "goal": goal_words, "missing": list(ways[0].words) if ways else []})
    return found


class LastRows:
    """The row that fired last in each table, and the first-out of the last trip, taken from the events of each tick."""

    def __init__(self) -> None:
        self.rows: dict[str, dict[str, Any]] = {}
        self.first_out: list[dict[str, Any]] = []

    def take(self, outcome: Outcome, shafts: Sequence[str]) -> None:
        """One tick."""
        for event in outcome.events:
            if event.kind in (EventKind.MODE, EventKind.TRIP) and event.dest:
                self.rows[event.subject] = self._row(event, outcome, shafts)
            if event.kind == EventKind.TRIP:
                name = event.first_out.lower().replace("_", " ")
                words = {"time_s": event.time_s, "subject": event.subject, "first_out": name, "text": event.told}
                self.first_out = [*self.first_out[-4:], words]

    @staticmethod
    def _row(event: Event, outcome: Outcome, shafts: Sequence[str]) -> dict[str, Any]:
        head = {
            "time_s": event.time_s, "subject": event.subject, "source": event.source, "dest": event.dest,
            "text": event.told,
        }  # fmt: skip
        if event.subject == "boat":
            return {**head, **_needs(BOAT_TABLE, BoatMode, BoatCondition, BOAT_WORDS, event, outcome.boat_word)}
        word = outcome.shaft_words[list(shafts).index(event.subject)]
        return {**head, **_needs(SHAFT_TABLE, ShaftMode, ShaftCondition, SHAFT_WORDS, event, word)}


def _needs(table: Any, modes: Any, kind: Any, words: Any, event: Event, word: int) -> dict[str, Any]:
    """Number and conditions of the row: the first of its source that matches this word, as the executors have it."""
    for number, row in enumerate(table):
        if row.source != modes[event.source] or word & int(row.must) != int(row.must) or word & int(row.must_not):
            continue
        if row.dest != modes[event.dest]:
            break
        needed = [words[bit][0] for bit in kind if int(row.must) & int(bit)]
        needed += [words[bit][1] for bit in kind if int(row.must_not) & int(bit)]
        return {"row": number, "because": needed}
    return {"row": None, "because": []}


def _finite(value: float) -> float | None:
    return float(f"{value:.4g}") if math.isfinite(value) else None
