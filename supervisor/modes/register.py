"""The register of conditions: each bit of the three words declared once.

Explanations, events, alarms, the cause-and-effect matrix, the proof and the pages read these declarations. `formed`
says when the bit is set, and is claimed *exactly so*: set then and only then.
"""

from enum import IntFlag
from typing import Generic, NamedTuple, TypeVar

from supervisor.modes.conditions import BoatCondition, PermitCondition, ShaftCondition
from supervisor.signals.commands import Alarm

BitT = TypeVar("BitT", bound=IntFlag)


class Condition(NamedTuple, Generic[BitT]):
    """One bit: its words when set and when clear; the rule that forms it (dotted, below `supervisor`); when it is set;
    the alarm that is raised where it makes itself felt (Alarm(0): none)."""

    bit: BitT
    when_set: str
    when_clear: str
    rule: str
    formed: str
    alarm: Alarm = Alarm(0)


class RegisterError(Exception):
    """A register in which a bit is missing or declared twice: raised at import, never at sea."""


def _complete(rows: tuple[Condition[BitT], ...], kind: type[BitT]) -> dict[BitT, tuple[str, str]]:
    """The words of each bit (when set, when clear). Raises RegisterError unless each is declared exactly once."""
    declared = [row.bit for row in rows]
    if sorted(declared) != sorted(kind):
        wrong = [str(bit.name) for bit in kind if declared.count(bit) != 1]
        raise RegisterError(f"{kind.__name__}: not declared exactly once: {', '.join(wrong)}")
    return {row.bit: (row.when_set, row.when_clear) for row in rows}


OtherT = TypeVar("OtherT", bound=IntFlag)


def _same(bit: BitT, rows: tuple[Condition[OtherT], ...], other: OtherT) -> Condition[BitT]:
    """The declaration of a bit of another word, for the bit of this word that says the same."""
    row = next(row for row in rows if row.bit == other)
    return Condition(bit, row.when_set, row.when_clear, row.rule, row.formed, row.alarm)


BOAT_CONDITIONS: tuple[Condition[BoatCondition], ...] = (
    Condition(
        BoatCondition.EMERGENCY_STOP,
        "emergency stop is pressed",
        "emergency stop is not pressed",
        "rules.boat_word.boat_word",
        "its contact is known and on",
        Alarm.BOAT_TRIPPED,
    ),
    Condition(
        BoatCondition.MONITOR_FAULT,
        "bank monitor reports a fault",
        "bank monitor reports no fault",
        "rules.boat_word.boat_word",
        "the monitor's fault flag is known and on",
        Alarm.BOAT_TRIPPED,
    ),
    Condition(
        BoatCondition.RUNTIME_FAULT,
        "receive path or deadlines failed",
        "receive path and deadlines are good",
        "rules.boat_word.boat_word",
        "the receive path or the keeping of deadlines is not known to be good",
        Alarm.BOAT_TRIPPED,
    ),
    Condition(
        BoatCondition.INPUT_LOST,
        "a required input is missing",
        "no required input is missing",
        "rules.boat_word.boat_word",
        "an input whose reaction is to trip the boat is unknown, of the boat or of a shaft that is not out of service",
        Alarm.INPUT_LOST,
    ),
    Condition(
        BoatCondition.ENABLE_EDGE,
        "ENABLE was pressed",
        "ENABLE has not been pressed",
        "rules.orders.read_orders",
        "enable is on and was seen off in the tick before",
    ),
    Condition(
        BoatCondition.RESET_EDGE,
        "RESET was pressed",
        "RESET has not been pressed",
        "rules.orders.read_orders",
        "reset is on and was seen off in the tick before",
    ),
    Condition(
        BoatCondition.OFF_ORDER,
        "OFF was pressed",
        "OFF has not been pressed",
        "rules.orders.read_orders",
        "OFF is pressed, or was pressed since the boat was enabled",
    ),
    Condition(
        BoatCondition.LEVERS_NEUTRAL,
        "every lever is in neutral",
        "a lever is not in neutral",
        "rules.orders.gather_levers",
        "each lever of a shaft that is not out of service has been in neutral for the dwell",
    ),
    Condition(
        BoatCondition.CONTACTOR_CLOSED,
        "bank contactor is closed",
        "bank contactor is not confirmed closed",
        "rules.boat_word.boat_word",
        "its contact is known and on",
    ),
    Condition(
        BoatCondition.LINKS_CHARGED,
        "every drive's DC link is precharged",
        "a drive's DC link is not precharged",
        "rules.boat_word.summary_of",
        "the link of each available shaft is precharged, and there is such a shaft",
    ),
    Condition(
        BoatCondition.SHAFT_AVAILABLE,
        "a shaft is available",
        "no shaft is available",
        "rules.boat_word.summary_of",
        "a shaft is in service, not ISOLATED, and has no cause to go to ISOLATED",
    ),
    Condition(
        BoatCondition.SHAFTS_AT_REST,
        "every shaft is at rest",
        "a shaft is not at rest",
        "rules.boat_word.summary_of",
        "each shaft is at REST or ISOLATED",
    ),
    Condition(
        BoatCondition.WAIT_EXPIRED,
        "waited too long for the permissives",
        "still waiting for the permissives",
        "rules.boat_timers.boat_timers",
        "NEUTRAL_WAIT has lasted for its time",
    ),
    Condition(
        BoatCondition.OFF_OVERDUE,
        "OFF was pressed, and its time is over",
        "OFF was not pressed, or its time is not over",
        "rules.boat_timers.boat_timers",
        "OFF was pressed in READY, longer ago than its time",
    ),
    Condition(
        BoatCondition.IDLE_EXPIRED,
        "idle for too long",
        "not idle for too long",
        "rules.boat_timers.boat_timers",
        "READY has been without an order for the reminder and the time after it",
        Alarm.IDLE_REMINDER,
    ),
    Condition(
        BoatCondition.OWN_BOAT,
        "no own interlock trips the boat",
        "an own interlock trips the boat",
        "rules.own.own_word",
        "no own interlock with the effect trip_boat is bad",
        Alarm.OWN_INTERLOCK,
    ),
)

SHAFT_CONDITIONS: tuple[Condition[ShaftCondition], ...] = (
    Condition(
        ShaftCondition.DRIVE_FAULT,
        "drive reports a fault",
        "drive reports no fault",
        "rules.shaft_word.shaft_word",
        "the drive's fault flag is known and on",
        Alarm.SHAFT_ISOLATED,
    ),
    Condition(
        ShaftCondition.DISOBEYED,
        "drive gave torque that was not ordered",
        "drive obeys",
        "rules.readings.disobeys",
        "the drive has given torque or current that was not ordered for its time",
        Alarm.SHAFT_ISOLATED,
    ),
    Condition(
        ShaftCondition.PRECHARGE_FAILED,
        "precharge took too long",
        "precharge has not failed",
        "rules.shaft_timers.shaft_timers",
        "precharging took longer than its time, and this is not the first reset after it",
        Alarm.SHAFT_ISOLATED,
    ),
    Condition(
        ShaftCondition.INPUT_LOST,
        "a required shaft input is missing",
        "no required shaft input is missing",
        "rules.shaft_word.shaft_word",
        "an input whose reaction is to trip the shaft is unknown, and the shaft is not out of service",
        Alarm.INPUT_LOST,
    ),
    Condition(
        ShaftCondition.LINK_LOST,
        "voltage of the precharged DC link differs from the bank voltage",
        "DC link is not lost",
        "rules.shaft_timers.shaft_timers",
        "a link that was precharged has been away from the bank voltage for its time",
        Alarm.SHAFT_ISOLATED,
    ),
    Condition(
        ShaftCondition.COUPLING_LOST,
        "belt or coupling is lost: drive and shaft turn at different speeds",
        "drive and shaft turn together",
        "rules.coupling.coupling_timers",
        "under torque drive and shaft have been further apart in speed than allowed for the time, and get-home is not "
        "on",
        Alarm.SHAFT_ISOLATED,
    ),
    Condition(
        ShaftCondition.JAMMED,
        "propeller is jammed: torque does not turn the shaft",
        "torque turns the shaft",
        "rules.coupling.coupling_timers",
        "torque has turned nothing for twice the time of the boat file",
        Alarm.SHAFT_ISOLATED,
    ),
    Condition(
        ShaftCondition.BOAT_READY,
        "boat is READY",
        "boat is not READY",
        "rules.shaft_word.with_boat",
        "the boat's new mode is READY",
    ),
    Condition(
        ShaftCondition.BOAT_LIVE,
        "boat is enabled (NEUTRAL_WAIT or READY)",
        "boat is not enabled",
        "rules.shaft_word.with_boat",
        "the boat's new mode is READY or NEUTRAL_WAIT",
    ),
    _same(ShaftCondition.RESET_EDGE, BOAT_CONDITIONS, BoatCondition.RESET_EDGE),
    _same(ShaftCondition.OFF_ORDER, BOAT_CONDITIONS, BoatCondition.OFF_ORDER),
    Condition(
        ShaftCondition.THRUST_ORDER,
        "thrust is asked",
        "no thrust is asked",
        "rules.shaft_word.shaft_word",
        "the position in control asks for thrust, or did when it was lost, or the shaft is to be stopped and locked",
    ),
    Condition(
        ShaftCondition.CONTROL_LOST,
        "lever signal is lost",
        "lever signal is good",
        "rules.shaft_word.shaft_word",
        "an input whose reaction is to ramp thrust down is unknown, or the lever is lost and its time of holding over",
        Alarm.LEVER_LOST,
    ),
    Condition(
        ShaftCondition.HANDSET_LOST,
        "handset link is lost or a lever was moved while it had control",
        "handset link is not lost",
        "rules.orders.read_orders",
        "the handset in control has lost its link, or a lever has left neutral",
        Alarm.HANDSET_LOST,
    ),
    Condition(
        ShaftCondition.UNDER_WAY_ORDER,
        "charging under way is selected",
        "charging under way is not selected",
        "rules.shaft_timers.shaft_timers",
        "its selector is on, and the charge selectors were seen off since READY",
    ),
    Condition(
        ShaftCondition.AT_REST_ORDER,
        "charging at rest is selected",
        "charging at rest is not selected",
        "rules.shaft_timers.shaft_timers",
        "its selector is on, and the charge selectors were seen off since READY",
    ),
    Condition(
        ShaftCondition.HARVEST_ORDER,
        "harvest is selected",
        "harvest is not selected",
        "rules.shaft_timers.shaft_timers",
        "its selector is on and was seen off since READY",
    ),
    Condition(
        ShaftCondition.REARMED,
        "shaft is rearmed by fresh neutral",
        "first put the lever in neutral (fresh neutral)",
        "rules.shaft_latches.after_mode",
        "fresh neutral has been held since thrust last ended other than by the lever",
    ),
    Condition(
        ShaftCondition.UNLOAD_TO_PROPEL,
        "unloading on the way to PROPEL",
        "unloading on the way to REST",
        "rules.shaft_latches.after_mode",
        "the row that led to UNLOAD, or kept it there, aims at thrust",
    ),
    Condition(
        ShaftCondition.IN_SERVICE,
        "shaft is in service",
        "shaft is taken out of service",
        "rules.readings.in_service",
        "its contact says in service, or did when it was last heard",
    ),
    Condition(
        ShaftCondition.LINK_CHARGED,
        "DC link is precharged",
        "DC link is not precharged",
        "rules.shaft_timers.shaft_timers",
        "the link has come within its tolerance of the bank voltage and is not lost",
    ),
    Condition(
        ShaftCondition.NO_SHORE,
        "no shore cable, or under way",
        "shore cable is connected, or its contact is unknown",
        "rules.shaft_word.shaft_word",
        "the shore contact is known and off, or the boat was under way in the tick before",
        Alarm.SHORE_UNDER_WAY,
    ),
    Condition(
        ShaftCondition.LOCK_RELEASED,
        "shaft lock is released",
        "shaft lock is not confirmed released",
        "rules.shaft_word.shaft_word",
        "the released contact is on and the engaged contact off, both known",
    ),
    Condition(
        ShaftCondition.LOCK_SETTLED,
        "shaft lock is at rest",
        "shaft lock is in transit or unknown",
        "rules.shaft_word.shaft_word",
        "one of the lock's contacts is on and the other off, both known",
    ),
    Condition(
        ShaftCondition.CLUTCH_CLOSED,
        "shaft clutch is closed",
        "shaft clutch is not confirmed closed",
        "rules.shaft_word.shaft_word",
        "the closed contact is on and the open contact off, both known",
    ),
    Condition(
        ShaftCondition.CLUTCH_OPEN,
        "shaft clutch is open",
        "shaft clutch is not confirmed open",
        "rules.shaft_word.shaft_word",
        "the open contact is on and the closed contact off, both known",
    ),
    Condition(
        ShaftCondition.ENGINE_CLEAR,
        "engine is not coupled to the shaft",
        "gearbox is not confirmed in neutral: the drive would turn the engine",
        "rules.readings.engine_clear",
        "the gearbox is confirmed in neutral, or it is declared open when stopped and the engine is confirmed stopped",
    ),
    Condition(
        ShaftCondition.ENGINE_STOPPED,
        "engine is stopped",
        "engine is not confirmed stopped",
        "rules.readings.engine_stopped",
        "its run contact is known and off, and no frame shows it turning",
        Alarm.ENGINE_CONTRADICTED,
    ),
    Condition(
        ShaftCondition.ENGINE_RUNNING,
        "engine is running",
        "engine is not confirmed running",
        "rules.readings.engine_running",
        "its run contact is on and its speed known and at least half idle",
    ),
    Condition(
        ShaftCondition.GEAR_NEUTRAL,
        "gearbox is in neutral",
        "gearbox is not confirmed in neutral",
        "rules.readings.gear_neutral",
        "its neutral contact is on, the ahead contact not, and no frame says otherwise",
        Alarm.GEAR_CONTRADICTED,
    ),
    Condition(
        ShaftCondition.GEAR_AHEAD,
        "gearbox is ahead",
        "gearbox is not confirmed ahead",
        "rules.readings.gear_ahead",
        "its ahead contact is on, the neutral contact known and off, and no frame says otherwise",
        Alarm.GEAR_CONTRADICTED,
    ),
    Condition(
        ShaftCondition.PROPELLER_STILL,
        "propeller side is still",
        "propeller side is not confirmed still",
        "rules.readings.propeller_still",
        "its speed is known and below the still speed",
    ),
    Condition(
        ShaftCondition.SHAFT_STILL,
        "shaft is still",
        "shaft is not confirmed still",
        "rules.readings.shaft_still",
        "the speeds of both sides are known and below the still speed",
    ),
    Condition(
        ShaftCondition.TRAILING_OK,
        "gearbox may turn with its engine stopped",
        "this gearbox is not allowed to turn with its engine stopped, or has done so for too long",
        "rules.shaft_word.shaft_word",
        "it is allowed to turn with its engine stopped, and the time for that is not over",
    ),
    Condition(
        ShaftCondition.DISCHARGE_PERMIT,
        "bank monitor permits discharging",
        "bank monitor does not permit discharging",
        "rules.bank.bank_view",
        "permit, closed contactor, no opening and a limit above zero are known, and the hotel load leaves some of it",
        Alarm.DISCHARGE_WITHDRAWN,
    ),
    Condition(
        ShaftCondition.CHARGE_PERMIT,
        "bank monitor permits charging",
        "bank monitor does not permit charging",
        "rules.bank.bank_view",
        "permit, closed contactor, no opening and a limit above zero are known",
        Alarm.CHARGE_WITHDRAWN,
    ),
    Condition(
        ShaftCondition.DERATE_OPEN,
        "bank is above its lower limit",
        "bank is at its lower limit",
        "rules.bank.bank_view",
        "no derate has reached zero (while thrust runs) or none has ended thrust (before it begins)",
        Alarm.DERATE_ENDED,
    ),
    Condition(
        ShaftCondition.CHARGE_WANTED,
        "bank accepts charging current",
        "bank accepts no charging current",
        "rules.bank.charge_ended",
        "the charge limit is at least the end of charging, charging has not ended, and no input it needs is unknown",
    ),
    Condition(
        ShaftCondition.TORQUE_ZERO,
        "torque is zero",
        "torque is not yet zero",
        "rules.shaft_word.shaft_word",
        "the order is zero and the torque known and within the tolerance",
    ),
    Condition(
        ShaftCondition.UNLOAD_OVERDUE,
        "unloading takes too long",
        "unloading is in time",
        "rules.shaft_word.shaft_word",
        "UNLOAD has lasted longer than its time and the ramp of a lost lever",
    ),
    Condition(
        ShaftCondition.NO_DIVER,
        "no diver lockout",
        "diver lockout is set, or its contact is unknown",
        "rules.shaft_word.shaft_word",
        "the diver contact is known and off",
    ),
    Condition(
        ShaftCondition.UNLOADS_SOURCE,
        "unloading from charging",
        "unloading from thrust",
        "rules.shaft_latches.after_mode",
        "UNLOAD was entered from GENERATE or HARVEST",
    ),
    Condition(
        ShaftCondition.OWN_THRUST_START,
        "no own interlock blocks the start of thrust",
        "an own interlock blocks the start of thrust",
        "rules.own.own_word",
        "no own interlock of this shaft with the effect inhibit_thrust is bad, or the shaft has propelled since READY",
        Alarm.OWN_INTERLOCK,
    ),
    Condition(
        ShaftCondition.OWN_THRUST_STAYS,
        "no own interlock ramps thrust down",
        "an own interlock ramps thrust down",
        "rules.own.own_word",
        "no own interlock of this shaft with the effect ramp_thrust is bad",
        Alarm.OWN_INTERLOCK,
    ),
    Condition(
        ShaftCondition.OWN_THRUST,
        "no own interlock stops thrust",
        "an own interlock stops thrust",
        "rules.own.own_word",
        "no own interlock of this shaft with the effect stop_thrust or stop_both is bad",
        Alarm.OWN_INTERLOCK,
    ),
    Condition(
        ShaftCondition.OWN_CHARGE_START,
        "no own interlock blocks the start of charging",
        "an own interlock blocks the start of charging",
        "rules.own.own_word",
        "no own interlock of this shaft with the effect inhibit_charge is bad",
        Alarm.OWN_INTERLOCK,
    ),
    Condition(
        ShaftCondition.OWN_CHARGE_STAYS,
        "no own interlock unloads charging",
        "an own interlock unloads charging",
        "rules.own.own_word",
        "no own interlock of this shaft with the effect unload_charge is bad",
        Alarm.OWN_INTERLOCK,
    ),
    Condition(
        ShaftCondition.OWN_CHARGE,
        "no own interlock stops charging",
        "an own interlock stops charging",
        "rules.own.own_word",
        "no own interlock of this shaft with the effect stop_charge or stop_both is bad",
        Alarm.OWN_INTERLOCK,
    ),
    Condition(
        ShaftCondition.OWN_SHAFT,
        "no own interlock trips this shaft",
        "an own interlock trips this shaft",
        "rules.own.own_word",
        "no own interlock of this shaft with the effect trip_shaft is bad",
        Alarm.OWN_INTERLOCK,
    ),
    Condition(
        ShaftCondition.LEVER_NEUTRAL,
        "lever is in neutral",
        "lever is not in neutral",
        "rules.readings.read_lever",
        "its contact is on and its position within the band, both known",
    ),
    Condition(
        ShaftCondition.OBEDIENT,
        "drive obeys its zero order",
        "drive must first obey its zero order for 2 s",
        "rules.shaft_word.shaft_word",
        "the drive has not isolated this shaft by disobeying of late, or has been seen to obey since for its time",
    ),
    Condition(
        ShaftCondition.PAUSED,
        "thrust is paused because a contact changed",
        "thrust is not paused",
        "rules.pause.with_pause",
        "thrust ran or unloaded, by the lever, and lacks nothing but what contacts of lock, clutch, gearbox or engine "
        "say, for less than its time and not for the third time",
        Alarm.CONTACT_BOUNCED,
    ),
    Condition(
        ShaftCondition.PAUSE_FAILED,
        "a contact stayed changed for too long, or changed too often, or the lever was moved further out meanwhile",
        "no pause has ended thrust",
        "rules.pause.with_pause",
        "a pause has lasted for its time, the lever has moved further out or the handset taken control in it, or a "
        "third one would begin",
    ),
    Condition(
        ShaftCondition.TRUSTED,
        "drive has not disobeyed twice, or the shaft is still",
        "drive has disobeyed twice: the shaft must be still",
        "rules.shaft_word.shaft_word",
        "the drive has not isolated this shaft twice within the time by disobeying, or both its sides are still",
    ),
)

PERMIT_CONDITIONS: tuple[Condition[PermitCondition], ...] = (
    _same(PermitCondition.BOAT_LIVE, SHAFT_CONDITIONS, ShaftCondition.BOAT_LIVE),
    _same(PermitCondition.BOAT_READY, SHAFT_CONDITIONS, ShaftCondition.BOAT_READY),
    Condition(
        PermitCondition.SERVING,
        "shaft is in service and not ISOLATED",
        "shaft is ISOLATED or taken out of service",
        "rules.permits.permit_word",
        "the shaft is in service and not ISOLATED",
    ),
    _same(PermitCondition.CONTACTOR_CLOSED, BOAT_CONDITIONS, BoatCondition.CONTACTOR_CLOSED),
    Condition(
        PermitCondition.PRECHARGE_SOUND,
        "precharge has not failed",
        "precharge took too long",
        "rules.permits.permit_word",
        "no precharge has failed since the last reset",
    ),
    Condition(
        PermitCondition.LINK_WAS_CHARGED,
        "DC link is precharged",
        "DC link is not precharged",
        "rules.shaft_timers.shaft_timers",
        "the link has come within its tolerance of the bank voltage since the boat was enabled",
    ),
    _same(PermitCondition.GEAR_NEUTRAL, SHAFT_CONDITIONS, ShaftCondition.GEAR_NEUTRAL),
    _same(PermitCondition.NO_DIVER, SHAFT_CONDITIONS, ShaftCondition.NO_DIVER),
    Condition(
        PermitCondition.TORQUE_ENDED,
        "drive torque is zero",
        "drive torque is not zero",
        "rules.permits.permit_word",
        "the shaft is at REST or ISOLATED, its order zero, and its torque known and within the tolerance",
    ),
    Condition(
        PermitCondition.DRIVE_OFF,
        "drive is out of service and gives no torque",
        "drive is in service, or gives torque",
        "rules.permits.permit_word",
        "the shaft is out of service, its order zero, and no torque beyond the tolerance is heard",
    ),
    _same(PermitCondition.LEVER_NEUTRAL, SHAFT_CONDITIONS, ShaftCondition.LEVER_NEUTRAL),
    Condition(
        PermitCondition.SPEEDS_MATCHED,
        "both sides of the clutch turn alike",
        "both sides of the clutch turn too differently, or a speed is unknown",
        "rules.permits.permit_word",
        "both speeds are known and within the limit of each other",
    ),
    Condition(
        PermitCondition.STILL_LONG,
        "shaft has been still for long enough",
        "shaft has not been still for long enough",
        "rules.permits.permit_word",
        "the shaft is still and has been for the lock's time",
    ),
    Condition(
        PermitCondition.OWN_ENGINE_START,
        "no own interlock blocks the engine start",
        "an own interlock blocks the engine start",
        "rules.own.own_word",
        "no own interlock of this shaft with the effect inhibit_engine_start is bad",
        Alarm.OWN_INTERLOCK,
    ),
    Condition(
        PermitCondition.GEAR_NOT_ENGAGED,
        "gearbox is not said to be in gear",
        "gearbox is said to be in gear",
        "rules.readings.gear_engaged",
        "neither a contact nor a fresh report says that it is in gear; unknown does not count",
    ),
    Condition(
        PermitCondition.DIVER_NOT_SET,
        "diver lockout is not set",
        "diver lockout is set",
        "rules.permits.permit_word",
        "the diver contact is not known to be on; unknown does not count",
    ),
    Condition(
        PermitCondition.DRIVE_SILENT,
        "drive is silent with its enable dropped",
        "drive is heard, or has not been without its enable for long enough",
        "rules.shaft_timers.shaft_timers",
        "nothing is ordered, and the drive's torque has not been heard for 1 s while its enable was dropped",
    ),
    Condition(
        PermitCondition.HOLDS,
        "drive holds the shaft for its lock",
        "drive does not hold the shaft for its lock",
        "rules.permits.permit_word",
        "the shaft is in PROPEL after this tick because it is asked to be stopped and locked",
    ),
)

BOAT_WORDS = _complete(BOAT_CONDITIONS, BoatCondition)
SHAFT_WORDS = _complete(SHAFT_CONDITIONS, ShaftCondition)
PERMIT_WORDS = _complete(PERMIT_CONDITIONS, PermitCondition)
"""Each bit in the words of the trade: (when set, when clear)."""

BOAT_TRIPS = (
    BoatCondition.EMERGENCY_STOP,
    BoatCondition.MONITOR_FAULT,
    BoatCondition.RUNTIME_FAULT,
    BoatCondition.INPUT_LOST,
)
SHAFT_TRIPS = (
    ShaftCondition.DRIVE_FAULT,
    ShaftCondition.DISOBEYED,
    ShaftCondition.PRECHARGE_FAILED,
    ShaftCondition.INPUT_LOST,
    ShaftCondition.LINK_LOST,
    ShaftCondition.COUPLING_LOST,
    ShaftCondition.JAMMED,
)
"""Bits that trip while they are set; OWN_BOAT and OWN_SHAFT trip while they are clear."""
