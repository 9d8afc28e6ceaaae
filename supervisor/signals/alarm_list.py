"""Each alarm's cause, consequence, answer and priority: one declaration, which the sounder and the page read.

The terms (priority, consequence, operator action, latched) are those of ISA-18.2, from memory; the priorities are the
authors' judgement.
"""

from enum import IntEnum
from typing import NamedTuple

from supervisor.signals.commands import Alarm


class Priority(IntEnum):
    """URGENT: thrust or a trip, answer now; SOON: within minutes; NOTICE: no sound, nothing is lost by waiting."""

    URGENT = 1
    SOON = 2
    NOTICE = 3


class AlarmSpec(NamedTuple):
    """One alarm. `goes` says when it goes. The sounder sounds for priorities 1 and 2 until acknowledged, unless the
    boat
    is in STANDBY."""

    alarm: Alarm
    priority: Priority
    cause: str
    consequence: str
    answer: str
    goes: str = "with its cause"


def _stopped(number: str, alarm: Alarm) -> AlarmSpec:
    return AlarmSpec(
        alarm, Priority.URGENT,
        f"thrust or charging of the {number} shaft ended although it was asked for",
        "no electric thrust, or no charging, on that shaft",
        "lever to neutral, then ahead again; the other shaft or an engine if that does not help; read the cause in the "
        "journal, then acknowledge",
        goes="when acknowledged",
    )  # fmt: skip


_P = Priority
ALARM_LIST: tuple[AlarmSpec, ...] = (
    AlarmSpec(Alarm.BOAT_TRIPPED, _P.URGENT, "emergency stop, a fault flag of the bank's monitor, a dead receive path, "
              "a required input lost, or an own interlock that trips the boat",
              "no electric thrust, no charging by the drives", "engines if in a fairway; find the cause, then reset",
              goes="with the reset"),
    AlarmSpec(Alarm.SHAFT_ISOLATED, _P.URGENT, "drive fault or disobedience, a required input of the shaft lost, "
              "its DC link lost, a failed precharge, belt or coupling lost, a jammed propeller, or an own interlock",
              "no electric thrust or charging on that shaft", "the other shaft or the engine; lever to neutral, reset",
              goes="with the reset"),
    _stopped("first", Alarm.STOPPED_1),
    _stopped("second", Alarm.STOPPED_2),
    _stopped("third", Alarm.STOPPED_3),
    _stopped("fourth", Alarm.STOPPED_4),
    AlarmSpec(Alarm.LEVER_LOST, _P.URGENT, "a lever's position or contact is not heard, or they contradict each other",
              "its thrust is ramped to zero", "the other lever, the handset in harbour, or the engine's own control"),
    AlarmSpec(Alarm.HANDSET_LOST, _P.URGENT, "the handset's link was lost, or a lever moved, while it had control",
              "thrust is zero at once", "take the helm; acknowledge", goes="when acknowledged"),
    AlarmSpec(Alarm.CONTROL_CONFLICT, _P.URGENT, "the handset is held while a lever is not in neutral",
              "the handset gets no control", "let go of the one, or put the lever to neutral"),
    AlarmSpec(Alarm.DISCHARGE_WITHDRAWN, _P.URGENT, "the monitor has withdrawn its discharge permit, or is not heard",
              "no electric thrust; thrust that ran has ended", "the engines; look at the monitor"),
    AlarmSpec(Alarm.DERATE_ENDED, _P.URGENT, "the bank is at its lower limit by SOC or lowest cell",
              "no electric thrust", "the engines, or get-home down to the monitor's permit; charge"),
    AlarmSpec(Alarm.THRUST_SHORT, _P.URGENT, "thrust and hotel load together ask for more than the bank may give",
              "thrust is less than the lever asks", "switch off the load (thruster, galley); thrust comes back by "
                                                    "itself"),
    AlarmSpec(Alarm.JAMMED, _P.URGENT, "a shaft does not turn under torque", "its torque is cut, then the shaft "
                                                                             "isolated",
              "lever to neutral; look for a rope or log; the diver's key first, then reset"),
    AlarmSpec(Alarm.ASTERN_SHORT, _P.URGENT, "the bank takes too little for half of rated torque against rotation",
              "electric astern is weak or absent until the shaft has slowed",
              "slow down early; stop with an engine in gear; leave room"),
    AlarmSpec(Alarm.SHORE_UNDER_WAY, _P.URGENT, "the shore contact is made, or not known, under way",
              "nothing stops; once the boat has lain still it bars thrust", "look for the cable and its contact"),
    AlarmSpec(Alarm.OWN_INTERLOCK, _P.URGENT, "an interlock of the boat's owner is bad, or was",
              "what the owner declared", "what the owner declared; acknowledge", goes="when acknowledged"),
    AlarmSpec(Alarm.TIME_TO_LIMIT, _P.SOON, "at this load the lower limit is near", "thrust will be derated, then end",
              "less thrust or load; start an engine"),
    AlarmSpec(Alarm.SOC_UNKNOWN, _P.SOON, "the SOC is not heard", "no charging, propulsion reduced",
              "look at the monitor and its plug"),
    AlarmSpec(Alarm.DERATE_BAND, _P.SOON, "the SOC stands in the derate band", "propulsion power is reduced",
              "less thrust, start an engine, charge"),
    AlarmSpec(Alarm.TEMPERATURE_DERATE, _P.SOON, "motor, inverter or coolant is hot",
              "propulsion and charging are reduced", "less thrust; look at the cooling"),
    AlarmSpec(Alarm.SOURCES_OVER, _P.SOON, "other sources fed more than the limit in force",
              "shore charger, alternators and sun are stopped",
              "set the charger lower, then reset; switch off by hand what has no stop input",
              goes="when the limit has exceeded what they gave, or with a reset"),
    AlarmSpec(Alarm.COUPLING_SLIPS, _P.SOON, "drive and shaft turn at different speeds",
              "further apart, the shaft is isolated", "less thrust; look at belt and coupling, and at the speed sensor",
              goes="when no slip has been seen for a while"),
    AlarmSpec(Alarm.HANDSET_LOW, _P.SOON, "little running time is left in the handset", "its link will be lost soon",
              "take the helm, or charge it"),
    AlarmSpec(Alarm.IDLE_REMINDER, _P.SOON, "the drives are live and idle", "READY ends by itself soon",
              "off, or any order"),
    AlarmSpec(Alarm.CELL_DERATE, _P.SOON, "the lowest cell sags under the load: a weak or cold bank, or a low one",
              "propulsion power is reduced until the cell stands well again", "less lever; warm or charge the bank",
              goes="when all of it has been given back"),
    AlarmSpec(Alarm.HOLD_FAILED, _P.SOON, "a shaft was to be stopped and locked, and its lock had not moved in the "
              "time of the boat file: the flow is stronger than drive and bank hold, or the lock does not engage",
              "the shaft turns freely again", "slow the boat, then selector off and on; look at the lock",
              goes="with the selector off, or the lock engaged"),
    AlarmSpec(Alarm.INPUT_LOST, _P.NOTICE, "a mapped input is bad, comes no longer, or has not come yet",
              "what its reaction says", "the journal and `explain` name it"),
    AlarmSpec(Alarm.CONTACT_BOUNCED, _P.NOTICE, "a contact of lock, clutch, gear or engine bounced",
              "thrust paused; the third time in the time of the boat file ends it", "mend the contact"),
    AlarmSpec(Alarm.ENGINE_SAG, _P.NOTICE, "the engine sags under its generator, or runs below its idle speed",
              "charging current is held back",
              "more throttle, or let it be"),
    AlarmSpec(Alarm.GEAR_CONTRADICTED, _P.NOTICE, "the gearbox's frames contradict its contacts",
              "what needs the gear is refused", "look at the contact and the gearbox"),
    AlarmSpec(Alarm.ENGINE_CONTRADICTED, _P.NOTICE, "the engine's speed contradicts its run contact",
              "what needs a stopped engine is refused", "look at the run contact"),
    AlarmSpec(Alarm.OVERSPEED, _P.NOTICE, "the shaft turns faster than the drive may be driven",
              "no torque with rotation", "slow down"),
    AlarmSpec(Alarm.CHARGE_WITHDRAWN, _P.NOTICE, "the monitor has withdrawn its charge permit, or is not heard",
              "no charging, no electric braking", "look at the monitor; expect no astern"),
    AlarmSpec(Alarm.CHARGE_DONE, _P.NOTICE, "charging at rest is selected and the bank wants no more; its engine runs",
              "the engine runs for nothing", "stop the engine, or take the selector back"),
    AlarmSpec(Alarm.HARVEST_DONE, _P.NOTICE, "harvest is selected and has ended, because the bank is full; the shaft "
              "turns on", "nothing is harvested, and what should be locked under sail turns",
              "stop and lock the shaft where its propeller must stand, or take the selector back"),
    AlarmSpec(Alarm.GET_HOME_ACTIVE, _P.NOTICE, "the get-home override is on", "the bank is drawn below its lower "
                                                                               "limit",
              "off again as soon as may be; charge"),
    AlarmSpec(Alarm.FULL_CHARGE_DUE, _P.NOTICE, "no full charge for long", "the SOC drifts, cells are not balanced",
              "ask for a full charge at the next occasion"),
    AlarmSpec(Alarm.FULL_CHARGE_ACTIVE, _P.NOTICE, "a full charge is asked for", "the upper SOC limit is lifted",
              "none"),
)  # fmt: skip
"""In order of priority."""


class AlarmListError(Exception):
    """An alarm that is declared twice or not at all: raised at import, never at sea."""


def _checked(rows: tuple[AlarmSpec, ...]) -> dict[Alarm, AlarmSpec]:
    declared = [row.alarm for row in rows]
    if sorted(declared) != sorted(Alarm):
        wrong = [str(alarm.name) for alarm in Alarm if declared.count(alarm) != 1]
        raise AlarmListError(f"not declared exactly once: {', '.join(wrong)}")
    return {row.alarm: row for row in rows}


BY_ALARM = _checked(ALARM_LIST)

SOUNDED = sum(int(row.alarm) for row in ALARM_LIST if row.priority != Priority.NOTICE)
"""Alarms that sound, unless the boat is in STANDBY."""
