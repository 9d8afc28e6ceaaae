"""What is measured and what is commanded."""

from supervisor.signals.commands import (
    ALARM_TEXT,
    STOPPED_ALARMS,
    Alarm,
    BoatCommand,
    ShaftCommand,
    ShaftPermit,
    alarm_texts,
)
from supervisor.signals.inputs import (
    BOAT,
    BOAT_INPUT_BY_NAME,
    BOAT_INPUTS,
    LATER_INPUTS,
    SHAFT_INPUT_BY_NAME,
    SHAFT_INPUTS,
    BoatInput,
    BoatInputs,
    InputSpec,
    Reaction,
    ShaftInput,
    ShaftInputs,
)
from supervisor.signals.own import OWN_CHANNELS, OwnEffect, OwnInputs

__all__ = [
    "ALARM_TEXT",
    "BOAT",
    "BOAT_INPUTS",
    "BOAT_INPUT_BY_NAME",
    "LATER_INPUTS",
    "OWN_CHANNELS",
    "SHAFT_INPUTS",
    "SHAFT_INPUT_BY_NAME",
    "STOPPED_ALARMS",
    "Alarm",
    "BoatCommand",
    "BoatInput",
    "BoatInputs",
    "InputSpec",
    "OwnEffect",
    "OwnInputs",
    "Reaction",
    "ShaftCommand",
    "ShaftInput",
    "ShaftInputs",
    "ShaftPermit",
    "alarm_texts",
]
