"""What is commanded: the supervisor's outputs, and the alarm word shown to the crew."""

from collections.abc import Sequence
from enum import IntFlag
from typing import NamedTuple


class ShaftPermit(IntFlag):
    """Permits and outputs for one shaft."""

    DRIVE_ENABLE = 1 << 0
    """Drive may work; also drives the hard-wired enable output. Dropped on ISOLATED and while the boat is not live."""
    PRECHARGE = 1 << 1
    """Order to precharge the drive's DC link."""
    ENGINE_START = 1 << 2
    CLUTCH_CLOSE = 1 << 3
    LOCK_ENGAGE = 1 << 4


class Alarm(IntFlag):
    """What the crew is told. A bit says that it holds now; the journal says when it came and went."""

    SOC_UNKNOWN = 1 << 0
    LEVER_LOST = 1 << 1
    HANDSET_LOST = 1 << 2
    HANDSET_LOW = 1 << 3
    TIME_TO_LIMIT = 1 << 4
    DERATE_BAND = 1 << 5
    DERATE_ENDED = 1 << 6
    GET_HOME_ACTIVE = 1 << 7
    CHARGE_WITHDRAWN = 1 << 8
    DISCHARGE_WITHDRAWN = 1 << 9
    FULL_CHARGE_DUE = 1 << 10
    FULL_CHARGE_ACTIVE = 1 << 11
    IDLE_REMINDER = 1 << 12
    INPUT_LOST = 1 << 13
    CONTROL_CONFLICT = 1 << 14
    GEAR_CONTRADICTED = 1 << 15
    ENGINE_CONTRADICTED = 1 << 16
    TEMPERATURE_DERATE = 1 << 17
    OVERSPEED = 1 << 18
    SHAFT_ISOLATED = 1 << 19
    BOAT_TRIPPED = 1 << 20
    ENGINE_SAG = 1 << 21
    OWN_INTERLOCK = 1 << 22
    ASTERN_SHORT = 1 << 23
    STOPPED_1 = 1 << 24
    STOPPED_2 = 1 << 25
    STOPPED_3 = 1 << 26
    STOPPED_4 = 1 << 27
    """Thrust or charging of the first, second, ... shaft was stopped although it was asked for; until acknowledged."""
    SHORE_UNDER_WAY = 1 << 28
    """The shore contact is made, or not known, under way: nothing stops for it."""
    CONTACT_BOUNCED = 1 << 29
    """Thrust of a shaft has paused for a contact within the time in which the third pause ends it."""
    SOURCES_OVER = 1 << 32
    """Other sources fed more than the limit allows and are stopped for it."""
    THRUST_SHORT = 1 << 33
    """What the shafts ask exceeds what the bank may give beside the hotel load."""
    COUPLING_SLIPS = 1 << 34
    """Drive and shaft of a shaft have been apart in speed at work."""
    JAMMED = 1 << 35
    """A shaft does not turn under torque: its torque is cut."""
    CHARGE_DONE = 1 << 36
    """Charging at rest is selected and has ended, and an engine runs on."""
    HOLD_FAILED = 1 << 37
    """A shaft that was to be stopped and locked was not in its time."""
    HARVEST_DONE = 1 << 38
    """Harvest is selected and has ended because the bank is full; the shaft turns on."""
    CELL_DERATE = 1 << 39
    """The lowest cell sags, and power is reduced for it."""


STOPPED_ALARMS = (Alarm.STOPPED_1, Alarm.STOPPED_2, Alarm.STOPPED_3, Alarm.STOPPED_4)
"""One for each shaft of a boat, in their order."""

STOPPED_WORDS = "was stopped: see the cause, then press ACKNOWLEDGE"

ALARM_TEXT: dict[Alarm, str] = {
    Alarm.SOC_UNKNOWN: "state of charge unknown: no charging, electric thrust reduced",
    Alarm.LEVER_LOST: "lever signal lost, or it contradicts itself",
    Alarm.HANDSET_LOST: "handset link lost, or a lever left neutral, while the handset had control: thrust is zero",
    Alarm.HANDSET_LOW: "handset has little running time left",
    Alarm.TIME_TO_LIMIT: "bank reaches its lower limit soon at this load",
    Alarm.DERATE_BAND: "bank is low: electric thrust is being reduced",
    Alarm.DERATE_ENDED: "bank is at its lower limit: electric thrust has ended",
    Alarm.GET_HOME_ACTIVE: "get-home override is active",
    Alarm.CHARGE_WITHDRAWN: "no charging: the bank monitor has withdrawn its charge permit, or the permit is unknown",
    Alarm.DISCHARGE_WITHDRAWN: "no electric thrust: the bank monitor has withdrawn its discharge permit, or it is "
    "unknown",
    Alarm.FULL_CHARGE_DUE: "a full charge is due, for balancing and the re-zero of the coulomb count",
    Alarm.FULL_CHARGE_ACTIVE: "full charge requested: the upper SOC limit is lifted",
    Alarm.IDLE_REMINDER: "drives are enabled and idle: they will be switched off soon",
    Alarm.INPUT_LOST: "an input is missing",
    Alarm.CONTROL_CONFLICT: "handset held while a lever is not in neutral",
    Alarm.GEAR_CONTRADICTED: "gearbox frames and gearbox contacts disagree",
    Alarm.ENGINE_CONTRADICTED: "engine speed and run contact disagree",
    Alarm.TEMPERATURE_DERATE: "motor, inverter or coolant is hot: power is being reduced",
    Alarm.OVERSPEED: "shaft turns faster than the drive may be driven",
    Alarm.SHAFT_ISOLATED: "a shaft is ISOLATED: its drive is switched off by order. This is no electrical isolation: "
    "the DC link can still have voltage",
    Alarm.BOAT_TRIPPED: "boat is TRIPPED: find the cause, then press RESET",
    Alarm.ENGINE_SAG: "engine sags, or is below its idle speed: charging current held back",
    Alarm.OWN_INTERLOCK: "an own interlock is bad, or was and is not acknowledged",
    Alarm.ASTERN_SHORT: "electric astern is weak or absent at this shaft speed: the bank accepts too little charging "
    "current",
    Alarm.SHORE_UNDER_WAY: "the shore contact shows connected, or is unknown, under way: nothing stops; when the "
    "boat is "
    "still, it blocks thrust",
    Alarm.CONTACT_BOUNCED: "a contact of lock, clutch, gear or engine bounced: thrust paused, the third time ends it",
    Alarm.SOURCES_OVER: "other sources charge above the limit: stop signal until the limit exceeds what they gave",
    Alarm.THRUST_SHORT: "thrust is reduced: with the hotel load it asks for more than the bank may give",
    Alarm.COUPLING_SLIPS: "belt or coupling slips: drive and shaft turn at different speeds",
    Alarm.JAMMED: "a shaft does not turn under torque: torque reduced; a rope or log at its propeller?",
    Alarm.CHARGE_DONE: "charging at rest has ended, and an engine still runs for it",
    Alarm.HOLD_FAILED: "a shaft was not stopped and locked in its time: flow too strong, or its lock did not move",
    Alarm.HARVEST_DONE: "harvest has ended, the bank is full: the shaft goes on turning and may be locked",
    Alarm.CELL_DERATE: "the lowest cell sags under its load: electric thrust is being reduced",
    Alarm.STOPPED_1: f"first shaft {STOPPED_WORDS}",
    Alarm.STOPPED_2: f"second shaft {STOPPED_WORDS}",
    Alarm.STOPPED_3: f"third shaft {STOPPED_WORDS}",
    Alarm.STOPPED_4: f"fourth shaft {STOPPED_WORDS}",
}


def alarm_texts(shaft_names: Sequence[str]) -> dict[Alarm, str]:
    """ALARM_TEXT for a boat with these shafts, in the order of its file: a stopped shaft by its name."""
    texts = {alarm: text for alarm, text in ALARM_TEXT.items() if alarm not in STOPPED_ALARMS}
    for name, alarm in zip(shaft_names, STOPPED_ALARMS, strict=False):
        texts[alarm] = f"{name} {STOPPED_WORDS}"
    return texts


class ShaftCommand(NamedTuple):
    """Orders to one shaft. `torque_nm` at the propeller shaft, positive ahead; `permits` are ShaftPermit bits;
    `current_a` is the charging current that the rule aimed at (A, at least 0; 0 while driving), for the crew: the drive
    obeys torque."""

    torque_nm: float = 0.0
    current_a: float = 0.0
    permits: int = 0


class BoatCommand(NamedTuple):
    """Orders to the boat. `stop_sources` 1 asks shore charger, alternators and solar to stop; `sounder` 1 sounds;
    `alarms` are Alarm bits; `charge_limit_a` is the limit on bank current now in force (A, at least 0)."""

    stop_sources: int = 1
    sounder: int = 0
    alarms: int = 0
    charge_limit_a: float = 0.0
    derate_pct: float = 0.0
    handset_in_control: int = 0
