"""What the controller reports: mode changes with their cause, trips with their first-out, alarms, refusals."""

from enum import Enum
from typing import NamedTuple


class EventKind(Enum):
    """Kinds of events."""

    MODE = "mode"
    TRIP = "trip"
    ALARM = "alarm"
    ALARM_GONE = "alarm gone"
    REFUSAL = "refusal"


class Event(NamedTuple):
    """One event. `time_s` is the time passed in; `subject` "boat" or the shaft's name; `first_out` names the condition
    that came first, for trips; `text` says it in the words of the trade."""

    time_s: float
    kind: EventKind
    subject: str
    text: str
    source: str = ""
    dest: str = ""
    first_out: str = ""
