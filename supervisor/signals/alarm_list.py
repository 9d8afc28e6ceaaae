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
        "lever to neutral, then ahead again; if that does not help, use the other shaft or an engine; read the "
        "cause in "
        "the journal, then press ACKNOWLEDGE",
        goes="when acknowledged",
    )  # fmt: skip


_P = Priority
ALARM_LIST: tuple[AlarmSpec, ...] = (
    AlarmSpec(Alarm.BOAT_TRIPPED, _P.URGENT, "emergency stop, a fault flag of the bank monitor, a dead receive path, "
              "a required input lost, or an own interlock that trips the boat",
              "no electric thrust, no charging by the drives", "in a fairway start the engines. Find the cause, then "
              "press RESET",
              goes="with RESET"),
    AlarmSpec(Alarm.SHAFT_ISOLATED, _P.URGENT, "drive fault or disobedience, a required input of the shaft lost, "
              "its DC link lost, a failed precharge, belt or coupling lost, a jammed propeller, or an own interlock",
              "no electric thrust or charging on that shaft", "use the other shaft or the engine. To recover: "
              "lever in neutral, press RESET",
              goes="with RESET"),
    _stopped("first", Alarm.STOPPED_1),
    _stopped("second", Alarm.STOPPED_2),
    _stopped("third", Alarm.STOPPED_3),
    _stopped("fourth", Alarm.STOPPED_4),
    AlarmSpec(Alarm.LEVER_LOST, _P.URGENT, "a lever's position or contact is lost or unknown, or they contradict "
                                           "each other",
              "its thrust is ramped to zero", "use the other lever, in harbour the handset, or the engine's own "
                                              "control"),
    AlarmSpec(Alarm.HANDSET_LOST, _P.URGENT, "the handset's link was lost, or a lever left neutral, while it had "
                                             "control",
              "thrust is zero at once", "steer with the levers; press ACKNOWLEDGE", goes="when acknowledged"),
    AlarmSpec(Alarm.CONTROL_CONFLICT, _P.URGENT, "the handset is held while a lever is not in neutral",
              "the handset gets no control", "release the handset button, or put every lever in neutral"),
    AlarmSpec(Alarm.DISCHARGE_WITHDRAWN, _P.URGENT, "the bank monitor has withdrawn its discharge permit, or it is "
        "unknown",
              "no electric thrust; thrust that ran has ended", "start the engines; look at the bank monitor"),
    AlarmSpec(Alarm.DERATE_ENDED, _P.URGENT, "the bank is at its lower limit by SOC or lowest cell",
              "thrust has ended, not the derating: no electric thrust",
              "start the engines, or switch GET-HOME on (thrust down to the bank monitor's permit); charge the bank"),
    AlarmSpec(Alarm.THRUST_SHORT, _P.URGENT, "thrust and hotel load together ask for more than the bank may give",
              "thrust is less than the lever asks", "switch off the load (thruster, galley); thrust comes "
                                                    "back by itself"),
    AlarmSpec(Alarm.JAMMED, _P.URGENT, "a shaft does not turn under torque", "its torque is reduced, then the "
              "shaft goes to ISOLATED",
              "lever in neutral. Before anybody goes to the propeller: diver lockout on, key out. Propeller free and "
              "nobody in the water: key back, press RESET"),
    AlarmSpec(Alarm.ASTERN_SHORT, _P.URGENT, "the bank accepts too little charging current for half of rated torque "
                                             "against rotation (braking)",
              "electric astern is weak or absent until the shaft has slowed",
              "electric astern may fail: have an engine running, slow down early, leave room"),
    AlarmSpec(Alarm.SHORE_UNDER_WAY, _P.URGENT, "the shore contact shows connected, or is unknown, under way",
              "nothing stops; when the boat has been still for the time of the boat file, it blocks thrust",
              "look for the cable and its contact"),
    AlarmSpec(Alarm.OWN_INTERLOCK, _P.URGENT, "an own interlock is bad, or was",
              "its effect in the boat file", "remove its cause; press ACKNOWLEDGE", goes="when acknowledged"),
    AlarmSpec(Alarm.TIME_TO_LIMIT, _P.SOON, "at this load the lower limit is near", "thrust will be derated, then end",
              "less thrust or load; start an engine"),
    AlarmSpec(Alarm.SOC_UNKNOWN, _P.SOON, "the SOC is unknown", "no charging, electric thrust reduced",
              "look at the bank monitor and its plug"),
    AlarmSpec(Alarm.DERATE_BAND, _P.SOON, "the SOC is in the derate band", "electric thrust is reduced",
              "less thrust, start an engine, charge"),
    AlarmSpec(Alarm.TEMPERATURE_DERATE, _P.SOON, "motor, inverter or coolant is hot",
              "electric thrust and charging are reduced", "less thrust; look at the cooling"),
    AlarmSpec(Alarm.SOURCES_OVER, _P.SOON, "shore charger, alternators and solar together charged above the limit in "
              "force", "they get the stop signal; a source without a stop input goes on charging",
              "set the charger lower, then press RESET; switch off by hand what has no stop input",
              goes="when the limit has exceeded what they gave, or with RESET"),
    AlarmSpec(Alarm.COUPLING_SLIPS, _P.SOON, "drive and shaft turn at different speeds",
              "at a larger difference the shaft goes to ISOLATED",
              "less thrust; look at belt and coupling, and at the speed sensor",
              goes="when no slip has been seen for a while"),
    AlarmSpec(Alarm.HANDSET_LOW, _P.SOON, "little running time is left in the handset", "its link will be lost soon",
              "take control with the levers, or put the handset on its charger"),
    AlarmSpec(Alarm.IDLE_REMINDER, _P.SOON, "the boat is READY and nobody gives an order", "READY ends by itself soon",
              "press OFF. To stay READY: move a lever, select charging or harvest, or press ACKNOWLEDGE"),
    AlarmSpec(Alarm.CELL_DERATE, _P.SOON, "the lowest cell sags under the load: a weak or cold bank, or a low one",
              "electric thrust is reduced until the cell recovers", "move the lever back; warm or charge the bank",
              goes="when all of it has been given back"),
    AlarmSpec(Alarm.HOLD_FAILED, _P.SOON, "a shaft was to be stopped and locked, and its lock had not moved in the "
              "time of the boat file: the flow is stronger than drive and bank hold, or the lock does not engage",
              "the shaft turns freely again", "slow the boat. Put the stop-and-lock selector to off, "
              "then on. Look at the lock",
              goes="with the selector off, or the lock engaged"),
    AlarmSpec(Alarm.INPUT_LOST, _P.NOTICE, "a mapped input is lost or unknown",
              "the reaction of that input (boat file)", "see which input: the event's text, on the screen or with "
              "`thwart log FOLDER`"),
    AlarmSpec(Alarm.CONTACT_BOUNCED, _P.NOTICE, "a contact of lock, clutch, gear or engine bounced",
              "thrust paused; the third pause in the time of the boat file ends it", "repair the contact"),
    AlarmSpec(Alarm.ENGINE_SAG, _P.NOTICE, "charging slows the engine down, or it runs below its idle speed",
              "charging current is held back",
              "give the engine more throttle, or do nothing"),
    AlarmSpec(Alarm.GEAR_CONTRADICTED, _P.NOTICE, "gearbox frames and gearbox contacts disagree",
              "what needs the gear is refused", "look at the contact and the gearbox"),
    AlarmSpec(Alarm.ENGINE_CONTRADICTED, _P.NOTICE, "engine speed and run contact disagree",
              "what needs a stopped engine is refused", "look at the run contact"),
    AlarmSpec(Alarm.OVERSPEED, _P.NOTICE, "the shaft turns faster than the drive may be driven",
              "no torque in the direction of rotation; braking torque stays", "slow down"),
    AlarmSpec(Alarm.CHARGE_WITHDRAWN, _P.NOTICE, "the bank monitor has withdrawn its charge permit, or it is unknown",
              "no charging, no electric braking",
              "look at the bank monitor; electric astern may fail: have an engine running"),
    AlarmSpec(Alarm.CHARGE_DONE, _P.NOTICE, "charging at rest is selected and has ended; its engine runs",
              "the engine runs for nothing", "stop the engine, or put the charge selector to off"),
    AlarmSpec(Alarm.HARVEST_DONE, _P.NOTICE, "harvest is selected and has ended, because the bank is full; the shaft "
              "goes on turning", "nothing is harvested",
              "if the propeller must not turn, use stop and lock; else put the harvest selector to off"),
    AlarmSpec(Alarm.GET_HOME_ACTIVE, _P.NOTICE, "the get-home override is on", "the bank is drawn below its lower "
                                                                               "limit",
              "switch GET-HOME off as soon as possible; charge the bank"),
    AlarmSpec(Alarm.FULL_CHARGE_DUE, _P.NOTICE, "no full charge for long", "the SOC drifts, cells are not balanced",
              "switch FULL CHARGE on at the next charging"),
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
