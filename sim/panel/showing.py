"""The two views of the simulated boat: what moves, twenty times a second, and what is read, a few times a second."""

from typing import Any

from sim.panel.rig import PanelRig
from sim.panel.view import LastRows, crew, drawings, explanations, limits, plain, tightest
from supervisor.modes import BoatMode
from supervisor.signals import Alarm
from supervisor.signals.alarm_list import BY_ALARM, SOUNDED

UNACKNOWLEDGED, ACKNOWLEDGED, RETURNED = "unacknowledged", "acknowledged", "returned to normal, unacknowledged"
"""States of an alarm, in ISA-18.2's terms; one that is in none of them is normal and is not listed."""


NOT_TOLD = "stands; whether acknowledged is not on the bus"


def alarm_states(standing: int, acknowledged: int | None, returned: int) -> list[dict[str, Any]]:
    """Bit and state of each alarm that is not normal. `acknowledged` is None where nobody says it."""
    found = []
    for alarm in Alarm:
        if standing & alarm:
            state = UNACKNOWLEDGED if acknowledged is not None else NOT_TOLD
            state = ACKNOWLEDGED if acknowledged and acknowledged & alarm else state
        elif returned & alarm:
            state = RETURNED
        else:
            continue
        found.append({"bit": int(alarm).bit_length() - 1, "state": state})
    return found


def open_answers(states: list[dict[str, Any]]) -> list[str]:
    """What the crew is to do for alarms that sound and that nobody has acknowledged."""
    bits = [1 << one["bit"] for one in states if one["state"] in (UNACKNOWLEDGED, NOT_TOLD)]
    return [BY_ALARM[Alarm(bit)].answer for bit in bits if SOUNDED & bit]


class Showing:
    """Of one rig, from its power-up on."""

    def __init__(self, rig: PanelRig) -> None:
        self._rig = rig
        self.rows = LastRows()

    def fast(self) -> dict[str, Any]:
        """What moves."""
        rig = self._rig
        signals = rig.signals()
        return {
            "time_s": round(rig.now_s, 3),
            "signals": plain(signals),
            "hands": rig.positions(),
            "drawings": drawings(rig.shafts, signals),
        }

    def slow(self) -> dict[str, Any]:
        """What is read."""
        rig = self._rig
        controller, outcome = rig.supervisor.controller, rig.outcome
        boat, each = controller.status()
        charge_a = 0.0 if outcome is None else outcome.boat_command.charge_limit_a
        standing = 0 if outcome is None else outcome.boat_command.alarms
        states = alarm_states(standing, controller.memory.boat.acknowledged, controller.returned)
        full_a = controller.boat.limits.full_charge_a
        live = controller.boat_mode != BoatMode.STANDBY
        return {
            "alarms": states,
            "crew": crew(rig.shafts, controller.boat_mode.name, each, open_answers(states) if live else []),
            "limits": limits(rig.shafts, charge_a, boat, each),
            "tightest": tightest(rig.shafts, boat, each, full_a, charge_a),
            "words": _words(rig),
            "explain": explanations(controller, rig.shafts, rig.explain("enable")),
            "rows": list(self.rows.rows.values()),
            "first_out": list(reversed(self.rows.first_out)),
            "faults": [{"fault": fault, "target": target} for fault, target in rig.faults_at_work()],
        }


def _words(rig: PanelRig) -> dict[str, Any]:
    """The condition words as hexadecimal text: JSON's numbers are too short for them."""
    outcome = rig.outcome
    if outcome is None:
        return {"boat": "0", "shaft": ["0"] * len(rig.shafts), "permit": ["0"] * len(rig.shafts)}
    return {
        "boat": f"{outcome.boat_word:x}",
        "shaft": [f"{word:x}" for word in outcome.shaft_words],
        "permit": [f"{word:x}" for word in outcome.permit_words],
    }
