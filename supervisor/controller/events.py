"""What the controller reports: mode changes with their cause, trips with their first-out, alarms, refusals."""

from collections.abc import Callable, Iterable
from enum import Enum
from typing import NamedTuple

Missing = tuple[tuple[int, int], ...]
"""Inputs: (-1 for the boat or the number of a shaft, from 0; the input's bit)."""


class EventKind(Enum):
    """Kinds of events."""

    MODE = "mode"
    TRIP = "trip"
    ALARM = "alarm"
    ALARM_GONE = "alarm gone"
    REFUSAL = "refusal"


class Event(NamedTuple):
    """One event. `time_s` is the time passed in; `subject` "boat" or the shaft's name; `first_out` names the condition
    that came first, for trips; `text` says it in the words of the trade. `inputs` are those that an event about missing
    inputs means, and `detail` says by key and age why they are missing. Decisions know no ages: `detail` is empty until
    one who heard the frames adds it, and is no part of what was decided."""

    time_s: float
    kind: EventKind
    subject: str
    text: str
    source: str = ""
    dest: str = ""
    first_out: str = ""
    inputs: Missing = ()
    detail: str = ""

    @property
    def told(self) -> str:
        """The text with its detail, for a person."""
        return f"{self.text} ({self.detail})" if self.detail else self.text


def with_details(events: Iterable[Event], why_missing: Callable[[Missing], str]) -> tuple[Event, ...]:
    """The same events; those about missing inputs say why these are missing."""
    return tuple(event._replace(detail=why_missing(event.inputs)) if event.inputs else event for event in events)
