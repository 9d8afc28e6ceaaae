"""Claims on what is told and commanded: each alarm exactly when its cause holds, sounder, and the commands."""

from sim.prove.claims_bank import always
from sim.prove.claims_orders import levers_now
from sim.prove.claims_torque import ordered_nm
from sim.prove.step import Step, StepClaim
from sim.prove.terms import (
    HELD,
    ISOLATED,
    KEPT,
    READY,
    STANDBY,
    TRIPPED,
    came_to_stop,
    lever_lost,
    live,
    near,
    out_of_service,
    temperature,
)
from sim.requirements.facts import BOAT, SHAFT, has, no, yes
from supervisor.signals import Alarm

SOC_UNKNOWN, LEVER_LOST = Alarm.SOC_UNKNOWN.value, Alarm.LEVER_LOST.value
INPUT_LOST, OWN_INTERLOCK = Alarm.INPUT_LOST.value, Alarm.OWN_INTERLOCK.value

FIRST_FRAMES_S = 1.0
"""Nothing is called lost before this time after power-up (s)."""

CONTRADICTED_S = 2.0
"""Frames and contacts may differ for this long before it is told (s)."""

SOUNDED = (
    Alarm.LEVER_LOST.value | Alarm.HANDSET_LOST.value | Alarm.TIME_TO_LIMIT.value | Alarm.DERATE_ENDED.value
    | Alarm.DISCHARGE_WITHDRAWN.value | Alarm.IDLE_REMINDER.value | Alarm.CONTROL_CONFLICT.value
    | Alarm.SHAFT_ISOLATED.value | Alarm.BOAT_TRIPPED.value | Alarm.HANDSET_LOW.value | Alarm.OWN_INTERLOCK.value
    | Alarm.ASTERN_SHORT.value | Alarm.STOPPED_1.value | Alarm.STOPPED_2.value | Alarm.STOPPED_3.value
    | Alarm.STOPPED_4.value | Alarm.SHORE_UNDER_WAY.value | Alarm.SOURCES_OVER.value | Alarm.THRUST_SHORT.value
    | Alarm.SOC_UNKNOWN.value | Alarm.DERATE_BAND.value | Alarm.TEMPERATURE_DERATE.value
    | Alarm.COUPLING_SLIPS.value | Alarm.JAMMED.value | Alarm.HOLD_FAILED.value | Alarm.CELL_DERATE.value
)  # fmt: skip
"""What asks the crew to act now, restated."""


def told(step: Step, bit: int) -> bool:
    return step.now.boat_command.alarms & bit != 0


def young(step: Step) -> bool:
    """So soon after power-up that a first frame may yet come."""
    return step.now.memory.boat.dwells.age_s < FIRST_FRAMES_S


def soc_alarm(step: Step, i: int) -> bool:
    return told(step, SOC_UNKNOWN) == (not has(step.boat_in, BOAT.SOC) and not young(step))


def lever_alarm(step: Step, i: int) -> bool:
    some = False
    for k in range(len(step.shaft_in)):
        some = some or lever_lost(step, k)
    return told(step, LEVER_LOST) == (some and not young(step))


def handset_lost_alarm(step: Step, i: int) -> bool:
    return told(step, Alarm.HANDSET_LOST.value) == (step.now.memory.boat.latches & KEPT.HANDSET_WAS_LOST != 0)


def handset_low_alarm(step: Step, i: int) -> bool:
    bank = step.boat_in
    ours = has(bank, BOAT.HANDSET_HELD) and yes(bank, BOAT.HANDSET_OURS) and has(bank, BOAT.HANDSET_MINUTES)
    low = ours and bank.handset_minutes < step.config.limits.handset_low_minutes
    return told(step, Alarm.HANDSET_LOW.value) == low


def time_left_low(step: Step) -> bool:
    """The bank reaches its lower limit within the time of the boat file, at the present current."""
    bank, c = step.boat_in, step.config.limits
    if not has(bank, BOAT.SOC | BOAT.CURRENT) or bank.current_a >= 0.0:
        return False
    left_as = max(0.0, bank.soc_pct - c.derate_end_pct) / 100.0 * step.config.bank.capacity_ah * 3600.0
    return left_as < c.time_to_limit_s * -bank.current_a


def time_alarm(step: Step, i: int) -> bool:
    return told(step, Alarm.TIME_TO_LIMIT.value)


def limit_is_near(step: Step, i: int) -> bool:
    return time_left_low(step)


def limit_is_far(step: Step, i: int) -> bool:
    bank, c = step.boat_in, step.config.limits
    if not has(bank, BOAT.SOC | BOAT.CURRENT) or bank.current_a >= 0.0:
        return True
    left_as = (bank.soc_pct - c.derate_end_pct) / 100.0 * step.config.bank.capacity_ah * 3600.0
    return left_as > c.time_to_limit_s * -bank.current_a * (1.0 + 1e-9)


def no_time_alarm(step: Step, i: int) -> bool:
    return not told(step, Alarm.TIME_TO_LIMIT.value)


def band_alarm(step: Step, i: int) -> bool:
    inside = has(step.boat_in, BOAT.SOC) and step.boat_in.soc_pct < step.config.limits.derate_start_pct
    return told(step, Alarm.DERATE_BAND.value) == inside


def cell_alarm(step: Step, i: int) -> bool:
    sags = step.now.memory.boat.mode == READY and step.now.memory.boat.bank.cell_pct < 100.0
    return told(step, Alarm.CELL_DERATE.value) == sags


def derate_end_alarm(step: Step, i: int) -> bool:
    return told(step, Alarm.DERATE_ENDED.value) == (step.now.view.derate_open == 0)


def home_alarm(step: Step, i: int) -> bool:
    return told(step, Alarm.GET_HOME_ACTIVE.value) == yes(step.boat_in, BOAT.GET_HOME)


def ready(step: Step) -> bool:
    return step.now.memory.boat.mode == READY


def charge_alarm(step: Step, i: int) -> bool:
    return told(step, Alarm.CHARGE_WITHDRAWN.value) == (ready(step) and step.now.view.charge_permit == 0)


def discharge_alarm(step: Step, i: int) -> bool:
    return told(step, Alarm.DISCHARGE_WITHDRAWN.value) == (ready(step) and step.now.view.discharge_permit == 0)


def full_alarms(step: Step, i: int) -> bool:
    due = step.now.memory.boat.dwells.since_full_s > step.config.limits.full_charge_reminder_days * 86400.0
    active = told(step, Alarm.FULL_CHARGE_ACTIVE.value) == (step.now.view.full_active == 1)
    return active and told(step, Alarm.FULL_CHARGE_DUE.value) == due


def idle_alarm(step: Step, i: int) -> bool:
    due = step.now.memory.boat.dwells.idle_s >= step.config.limits.idle_reminder_s
    return told(step, Alarm.IDLE_REMINDER.value) == due


def boat_lacks(step: Step) -> bool:
    """An input that the boat file maps is unknown; of the handset only while it is in control."""
    needed = step.boat.limits.react.mapped
    if step.now.memory.boat.latches & KEPT.HANDSET_IN_CONTROL == 0:
        needed = needed & ~(BOAT.HANDSET_HELD | BOAT.HANDSET_OURS | BOAT.HANDSET_MINUTES)
    return not has(step.boat_in, needed)


def shaft_lacks(step: Step, k: int) -> bool:
    """The same for a serving shaft. Gear frames and handset may be silent, engine frames with the ignition off."""
    needed = step.boat.shafts[k].react.mapped & ~(SHAFT.GEAR_REPORT | SHAFT.HANDSET_THRUST)
    if no(step.shaft_in[k], SHAFT.ENGINE_RUN):
        needed = needed & ~SHAFT.ENGINE_SPEED
    return not has(step.shaft_in[k], needed) and not out_of_service(step, k)


def input_alarm(step: Step, i: int) -> bool:
    lacks = boat_lacks(step)
    for k in range(len(step.shaft_in)):
        lacks = lacks or shaft_lacks(step, k)
    return told(step, INPUT_LOST) == (lacks and not young(step))


def conflict_alarm(step: Step, i: int) -> bool:
    bank = step.boat_in
    held = yes(bank, BOAT.HANDSET_HELD) and bank.on & BOAT.HANDSET_OURS != 0
    return told(step, Alarm.CONTROL_CONFLICT.value) == (held and not levers_now(step))


def gear_alarm(step: Step, i: int) -> bool:
    some = False
    for state in step.now.memory.shafts:
        some = some or state.dwells.gear_contradicts_s > CONTRADICTED_S
    return told(step, Alarm.GEAR_CONTRADICTED.value) == some


def engine_alarm(step: Step, i: int) -> bool:
    some = False
    for state in step.now.memory.shafts:
        some = some or state.dwells.engine_contradicts_s > CONTRADICTED_S
    return told(step, Alarm.ENGINE_CONTRADICTED.value) == some


def heat_alarm(step: Step, i: int) -> bool:
    some = False
    for k in range(len(step.shaft_in)):
        some = some or temperature(step, k, 1.0) < 1.0
    return told(step, Alarm.TEMPERATURE_DERATE.value) == some


def overspeed_alarm(step: Step, i: int) -> bool:
    some = False
    for k in range(len(step.shaft_in)):
        shaft = step.shaft_in[k]
        fast = abs(shaft.machine_speed_rpm) > step.config.shaft[k].drive.max_speed_rpm
        some = some or (has(shaft, SHAFT.MACHINE_SPEED) and fast)
    return told(step, Alarm.OVERSPEED.value) == some


def isolated_alarm(step: Step, i: int) -> bool:
    some = False
    for state in step.now.memory.shafts:
        some = some or state.mode == ISOLATED
    return told(step, Alarm.SHAFT_ISOLATED.value) == some


def tripped_alarm(step: Step, i: int) -> bool:
    return told(step, Alarm.BOAT_TRIPPED.value) == (step.now.memory.boat.mode == TRIPPED)


def sag_alarm(step: Step, i: int) -> bool:
    some = False
    for state in step.now.memory.shafts:
        some = some or state.latches & HELD.SAGGING != 0
    return told(step, Alarm.ENGINE_SAG.value) == some


def own_alarm(step: Step, i: int) -> bool:
    boat = step.now.memory.boat
    some = boat.own.bad != 0 or boat.latches & KEPT.OWN_TO_ACKNOWLEDGE != 0
    return told(step, OWN_INTERLOCK) == (some and not young(step))


def own_to_acknowledge(step: Step, i: int) -> bool:
    """An own interlock that does more than warn and went bad while the boat was enabled is told until acknowledged, be it
    over or not."""
    now = step.now.memory.boat.latches & KEPT.OWN_TO_ACKNOWLEDGE != 0
    if came_to_stop(step) != 0 and live(step.was.boat.mode):
        return now
    if step.now.orders.acknowledge == 1:
        return not now
    return now == (step.was.boat.latches & KEPT.OWN_TO_ACKNOWLEDGE != 0)


def acknowledged(step: Step, i: int) -> bool:
    """What is acknowledged is what stood at the press, until it has gone and come again."""
    alarms = step.now.boat_command.alarms
    if step.now.orders.acknowledge == 1:
        return step.now.memory.boat.acknowledged == alarms
    kept = step.was.boat.acknowledged & alarms
    if step.now.memory.boat.own.bad & ~step.was.boat.own.bad != 0:
        kept = kept & ~OWN_INTERLOCK
    return step.now.memory.boat.acknowledged == kept


def sounds(step: Step, i: int) -> bool:
    urgent = step.now.boat_command.alarms & SOUNDED & ~step.now.memory.boat.acknowledged
    want = step.now.memory.boat.mode != STANDBY and urgent != 0
    return (step.now.boat_command.sounder == 1) == want


def limits_shown(step: Step, i: int) -> bool:
    view, command = step.now.view, step.now.boat_command
    limit_a, derate_pct = 0.0, 0.0
    if view.charge_permit == 1:
        limit_a = view.charge_limit_a
    if view.discharge_permit == 1:
        derate_pct = view.derate_pct
    return near(command.charge_limit_a, limit_a) and near(command.derate_pct, derate_pct)


def order_sent(step: Step, i: int) -> bool:
    command, state = step.now.shaft_commands[i], step.now.memory.shafts[i]
    return command.torque_nm == ordered_nm(step, i) and command.current_a == state.effort.charge_a


def _boat(requirement: str, name: str, text: str, then, given=always) -> StepClaim:  # type: ignore[no-untyped-def]
    return StepClaim(requirement, name, text, given, then, per_shaft=False, parity=False)


TOLD_CLAIMS: tuple[StepClaim, ...] = (
    _boat("SR-40", "SOC alarm", "an unknown SOC is told, exactly then, from the first second on", soc_alarm),
    _boat("SR-26", "lever alarm", "a lost lever is told, whichever it is, from the first second on", lever_alarm),
    _boat("SR-27", "handset alarm", "the loss of the handset in control is told until it is acknowledged",
          handset_lost_alarm),
    _boat("SR-29", "handset low alarm", "little time left in our handset is told", handset_low_alarm),
    _boat("SR-43", "time alarm", "that the lower limit will be reached within the time of the boat file is told",
          time_alarm, limit_is_near),
    _boat("SR-49", "no time alarm", "and is not told otherwise", no_time_alarm, limit_is_far),
    _boat("SR-43", "band alarm", "a SOC within the derate band is told", band_alarm),
    _boat("SR-18", "cell alarm", "in READY power that is reduced for the lowest cell is told", cell_alarm),
    _boat("SR-19", "lower limit alarm", "that propulsion has ended at the lower limit is told", derate_end_alarm),
    _boat("SR-19", "get-home alarm", "the get-home override is told", home_alarm),
    _boat("SR-13", "charge permit alarm", "in READY a withdrawn charge permit is told", charge_alarm),
    _boat("SR-14", "discharge permit alarm", "in READY a withdrawn discharge permit is told", discharge_alarm),
    _boat("SR-17", "full charge alarms", "a full charge that is due, or active, is told", full_alarms),
    _boat("SR-35", "idle alarm", "the idle reminder is told at its time", idle_alarm),
    _boat("SR-30", "input alarm", "a mapped input that is unknown is told, from the first second on", input_alarm),
    _boat("SR-29", "conflict alarm", "a handset held beside a lever that is not in neutral is told", conflict_alarm),
    _boat("SR-09", "gear alarm", "gear frames that contradict contacts for 2 s are told", gear_alarm),
    _boat("SR-09", "engine alarm", "engine frames that contradict the run contact for 2 s are told", engine_alarm),
    _boat("SR-18", "heat alarm", "a derate by temperature is told", heat_alarm),
    _boat("SR-42", "overspeed alarm", "a shaft beyond its highest speed is told", overspeed_alarm),
    _boat("SR-06", "isolated alarm", "an isolated shaft is told", isolated_alarm),
    _boat("SR-03", "tripped alarm", "a trip of the boat is told", tripped_alarm),
    _boat("SR-22", "sag alarm", "a sagging engine is told", sag_alarm),
    _boat("SR-50", "own interlock alarm", "an own interlock that is bad, or was and is not acknowledged, is told, from "
          "the first second on", own_alarm),
    _boat("SR-50", "own interlock to acknowledge", "one that does more than warn and went bad while the boat was enabled is to be acknowledged",
          own_to_acknowledge),
    _boat("SR-35", "acknowledged", "an acknowledgement holds for what stood at the press, until that has gone, or comes "
          "for another own interlock",
          acknowledged),
    _boat("SR-35", "sounder", "what asks the crew to act now sounds until acknowledged, unless the boat is in STANDBY",
          sounds),
    _boat("SR-13", "limits are shown", "the limits shown are those in force, zero without their permit", limits_shown),
    StepClaim("SR-02", "the order is sent", "what is sent to a drive is what was decided for its shaft", always,
              order_sent, parity=False),
)  # fmt: skip
