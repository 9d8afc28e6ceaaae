"""One line of the journal, and who asked for it."""

from typing import NamedTuple

from supervisor.controller import Event, EventKind, Outcome
from supervisor.modes import BoatCondition, BoatMode, ShaftMode

OWN = "interlock "
"""How the `first_out` of an own interlock's alarm begins: its name follows."""

_TORQUE_MODES = (ShaftMode.PROPEL, ShaftMode.GENERATE, ShaftMode.HARVEST)


class Entry(NamedTuple):
    """One event as kept. `time_s` is monotonic time since the run began; `kind` the words of EventKind, or `runtime`
    for what the clock, the adapters and the disk report; `asked_by` the control that asked, "" for a trip or what
    came by itself; `first_out` the condition that came first."""

    time_s: float
    kind: str
    subject: str
    text: str
    source: str = ""
    dest: str = ""
    first_out: str = ""
    asked_by: str = ""

    @property
    def line(self) -> str:
        """For a person, on one line."""
        change = f" {self.source} -> {self.dest}" if self.dest else ""
        first = f" [first out: {self.first_out}]" if self.first_out and self.kind == EventKind.TRIP.value else ""
        if self.first_out.startswith(OWN):
            first = f" [{self.first_out}]"
        asked = f" (asked by {self.asked_by})" if self.asked_by else ""
        return f"{self.time_s:10.3f} s  {self.kind:9} {self.subject}{change}: {self.text}{first}{asked}"


def asked_by(event: Event, outcome: Outcome) -> str:
    """The control whose order this event answers: what the words of this very tick show."""
    if event.kind is EventKind.REFUSAL:
        return "helm.reset" if event.text.startswith("no reset") else "helm.enable"
    if event.kind is not EventKind.MODE:
        return ""
    word = outcome.boat_word
    if event.subject == "boat":
        if event.dest == BoatMode.STANDBY.name and event.source == BoatMode.TRIPPED.name:
            return "helm.reset"
        if event.dest == BoatMode.STANDBY.name:
            return "helm.disable" if word & BoatCondition.OFF_ORDER else ""
        return "helm.enable"
    if event.source == ShaftMode.ISOLATED.name:
        return "helm.reset"
    if event.dest in {mode.name for mode in _TORQUE_MODES}:
        return "handset" if outcome.boat_command.handset_in_control else "lever"
    return ""


def entry_of(event: Event, outcome: Outcome, start_s: float) -> Entry:
    """The journal's line for a controller's event; `start_s` is when the run began, on the same clock."""
    return Entry(
        event.time_s - start_s, event.kind.value, event.subject, event.told, event.source, event.dest, event.first_out,
        asked_by(event, outcome),
    )  # fmt: skip
