"""How each bit of a shaft's word is formed: set exactly when, both ways, on every input, latch and timer.

Written from the sentences of docs/safety.md and docs/matrix/conditions.md. Dwells and latches are
read as the tick leaves them; that they run and are set as they should is the business of the claims they rest on
(`claims_times`), one step of an induction each.
"""

from collections.abc import Callable

from sim.prove.claims_bank import always
from sim.prove.claims_coupling import coupling_lost, jammed
from sim.prove.claims_pause import READ, pause_failed, paused, was_under_way
from sim.prove.claims_times import charged, took_too_long
from sim.prove.claims_trust import obedient, trusted
from sim.prove.forming_own import HELD_BAD, own_bad
from sim.prove.plain import OF_BOAT, OF_SHAFT
from sim.prove.step import Step, StepClaim
from sim.prove.terms import (
    HELD,
    KEPT,
    NEUTRAL_WAIT,
    PROPEL,
    READY,
    REST,
    clutch_closed,
    clutch_open,
    engine_running,
    engine_stopped,
    gear_ahead,
    gear_neutral,
    handset_asks,
    handset_now,
    in_service,
    is_held,
    lever_asks,
    lever_lost,
    lever_neutral,
    lock_engaged,
    lock_released,
    may_charge,
    may_discharge,
    out_of_service,
    propeller_still,
    shaft_still,
)
from sim.prove.terms import (
    engine_clear as uncoupled,
)
from sim.requirements.facts import BOAT, SHAFT, Bits, has, no, yes
from supervisor.modes import ShaftCondition

BIT = Bits(**{str(bit.name): bit.value for bit in ShaftCondition})
"""The bits as plain integers."""

LINK_AWAY_S = 0.2
"""A DC link away from the bank's voltage for longer than this is lost (s)."""

UNLOAD_LIMIT_S = 10.0
"""Unloading that takes longer than this and the ramp of a lost lever is overdue (s)."""


def said(step: Step, i: int, bit: int) -> bool:
    """The bit is set in the word of this shaft."""
    return step.now.shaft_words[i] & bit != 0


def latched(latches: int, bit: int) -> bool:
    """The latch stands."""
    return latches & bit != 0


# --- trips


def drive_fault(step: Step, i: int) -> bool:
    return said(step, i, BIT.DRIVE_FAULT) == yes(step.shaft_in[i], SHAFT.DRIVE_FAULT)


def disobeyed(step: Step, i: int) -> bool:
    stood_s = step.now.memory.shafts[i].dwells.disobey_s
    return said(step, i, BIT.DISOBEYED) == (stood_s >= step.config.limits.disobey_s)


def retried(step: Step, i: int) -> bool:
    """The one retry by hand has been used, and no link has been charged since."""
    return latched(step.was.shafts[i].latches, HELD.PRECHARGE_RETRIED) and not charged(step, i)


def precharge_failed(step: Step, i: int) -> bool:
    failed = latched(step.was.shafts[i].latches, HELD.PRECHARGE_FAILED) or took_too_long(step, i)
    first_reset = reset_pressed(step) and not retried(step, i)
    return said(step, i, BIT.PRECHARGE_FAILED) == (failed and not first_reset)


def reset_pressed(step: Step) -> bool:
    """Reset is seen on, and was seen off one tick before."""
    return latched(step.was.boat.latches, KEPT.RESET_WAS_OFF) and yes(step.boat_in, BOAT.RESET)


def input_lost(step: Step, i: int) -> bool:
    own = has(step.shaft_in[i], step.boat.shafts[i].react.trip_shaft)
    shared = has(step.boat_in, step.boat.limits.react.trip_shaft)
    return said(step, i, BIT.INPUT_LOST) == (not out_of_service(step, i) and not (own and shared))


def link_lost(step: Step, i: int) -> bool:
    return said(step, i, BIT.LINK_LOST) == (step.now.memory.shafts[i].dwells.link_off_s > LINK_AWAY_S)


# --- the boat's mode, and orders


def boat_ready(step: Step, i: int) -> bool:
    return said(step, i, BIT.BOAT_READY) == (step.now.memory.boat.mode == READY)


def boat_live(step: Step, i: int) -> bool:
    mode = step.now.memory.boat.mode
    return said(step, i, BIT.BOAT_LIVE) == (mode in (READY, NEUTRAL_WAIT))


def reset_edge(step: Step, i: int) -> bool:
    return said(step, i, BIT.RESET_EDGE) == reset_pressed(step)


def off_ordered(step: Step) -> bool:
    """Off is pressed now, or was while READY or on the way there."""
    kept = step.was.boat.mode == READY or step.was.boat.mode == NEUTRAL_WAIT
    return yes(step.boat_in, BOAT.DISABLE) or (kept and latched(step.was.boat.latches, KEPT.OFF_WANTED))


def off_order(step: Step, i: int) -> bool:
    return said(step, i, BIT.OFF_ORDER) == off_ordered(step)


def beyond_neutral(step: Step, i: int) -> bool:
    """The order that is remembered is beyond the neutral band."""
    return abs(step.now.memory.shafts[i].order_pct) > step.config.shaft[i].rules.neutral_band_pct


def thrust_asked(step: Step, i: int) -> bool:
    """The position in control asks; a lost lever goes on asking what it asked last; or the shaft is to be held."""
    if is_held(step, i):
        return True
    if handset_now(step):
        return handset_asks(step, i)
    return lever_asks(step, i) or (lever_lost(step, i) and beyond_neutral(step, i))


def thrust_order(step: Step, i: int) -> bool:
    return said(step, i, BIT.THRUST_ORDER) == thrust_asked(step, i)


def ramping_inputs(step: Step, i: int) -> bool:
    """All inputs whose loss ramps thrust down are known."""
    own = has(step.shaft_in[i], step.boat.shafts[i].react.ramp_down)
    return own and has(step.boat_in, step.boat.limits.react.ramp_down)


def held_out(step: Step, i: int) -> bool:
    """Under thrust, with the lever lost for less than its hold: the last order is still kept."""
    lost_s = step.now.memory.shafts[i].dwells.lever_lost_s
    under_thrust = step.was.shafts[i].mode == PROPEL
    return under_thrust and lever_lost(step, i) and lost_s < step.config.limits.lever_hold_s


def control_lost(step: Step, i: int) -> bool:
    lost = lever_lost(step, i) or not ramping_inputs(step, i)
    return said(step, i, BIT.CONTROL_LOST) == (lost and not held_out(step, i))


def handset_lost(step: Step, i: int) -> bool:
    return said(step, i, BIT.HANDSET_LOST) == handset_gone(step)


def handset_gone(step: Step) -> bool:
    """In READY the handset was in control, and is no longer heard as ours, or a serving lever left neutral."""
    was = step.was.boat
    if was.mode != READY or not latched(was.latches, KEPT.HANDSET_IN_CONTROL):
        return False
    heard = yes(step.boat_in, BOAT.HANDSET_OURS) and has(step.boat_in, BOAT.HANDSET_HELD)
    alone = True
    for k in range(len(step.shaft_in)):
        heard = heard and has(step.shaft_in[k], SHAFT.HANDSET_THRUST)
        alone = alone and (out_of_service(step, k) or lever_neutral(step, k))
    return not (heard and alone)


def charge_armed(step: Step, i: int) -> bool:
    """Both charge selectors have been seen off since READY."""
    return latched(step.now.memory.shafts[i].latches, HELD.CHARGE_ARMED)


def under_way_order(step: Step, i: int) -> bool:
    selected = charge_armed(step, i) and yes(step.shaft_in[i], SHAFT.CHARGE_UNDER_WAY)
    return said(step, i, BIT.UNDER_WAY_ORDER) == selected


def at_rest_order(step: Step, i: int) -> bool:
    selected = charge_armed(step, i) and yes(step.shaft_in[i], SHAFT.CHARGE_AT_REST)
    return said(step, i, BIT.AT_REST_ORDER) == selected


def harvest_order(step: Step, i: int) -> bool:
    armed = latched(step.now.memory.shafts[i].latches, HELD.HARVEST_ARMED)
    return said(step, i, BIT.HARVEST_ORDER) == (armed and yes(step.shaft_in[i], SHAFT.HARVEST))


# --- latches


def rearmed(step: Step, i: int) -> bool:
    return said(step, i, BIT.REARMED) == latched(step.was.shafts[i].latches, HELD.REARMED)


def unload_to_propel(step: Step, i: int) -> bool:
    return said(step, i, BIT.UNLOAD_TO_PROPEL) == latched(step.was.shafts[i].latches, HELD.UNLOAD_TO_PROPEL)


def unloads_source(step: Step, i: int) -> bool:
    return said(step, i, BIT.UNLOADS_SOURCE) == latched(step.was.shafts[i].latches, HELD.UNLOADS_SOURCE)


# --- the owner's own interlocks


def begun(step: Step, i: int) -> bool:
    """The shaft has propelled since the boat became READY."""
    return latched(step.was.shafts[i].latches, HELD.BEGUN)


def own_thrust_start(step: Step, i: int) -> bool:
    barred = own_bad(step, i, "inhibit_thrust") and not begun(step, i)
    return said(step, i, BIT.OWN_THRUST_START) == (not barred)


def own_thrust_stays(step: Step, i: int) -> bool:
    return said(step, i, BIT.OWN_THRUST_STAYS) == (not own_bad(step, i, "ramp_thrust"))


def own_thrust(step: Step, i: int) -> bool:
    stopped = own_bad(step, i, "stop_thrust") or own_bad(step, i, "stop_both")
    return said(step, i, BIT.OWN_THRUST) == (not stopped)


def own_charge_start(step: Step, i: int) -> bool:
    return said(step, i, BIT.OWN_CHARGE_START) == (not own_bad(step, i, "inhibit_charge"))


def own_charge_stays(step: Step, i: int) -> bool:
    return said(step, i, BIT.OWN_CHARGE_STAYS) == (not own_bad(step, i, "unload_charge"))


def own_charge(step: Step, i: int) -> bool:
    stopped = own_bad(step, i, "stop_charge") or own_bad(step, i, "stop_both")
    return said(step, i, BIT.OWN_CHARGE) == (not stopped)


def own_shaft(step: Step, i: int) -> bool:
    return said(step, i, BIT.OWN_SHAFT) == (not own_bad(step, i, "trip_shaft"))


# --- machinery


def serves(step: Step, i: int) -> bool:
    return said(step, i, BIT.IN_SERVICE) == in_service(step, i)


def link_charged(step: Step, i: int) -> bool:
    state = step.now.memory.shafts[i]
    off_s = state.dwells.link_off_s
    sound = off_s < 0.0 or (step.was.shafts[i].mode != REST and off_s <= LINK_AWAY_S)
    stands = latched(state.latches, HELD.LINK_WAS_CHARGED) and sound
    return said(step, i, BIT.LINK_CHARGED) == stands


def no_diver(step: Step, i: int) -> bool:
    return said(step, i, BIT.NO_DIVER) == no(step.boat_in, BOAT.DIVER_LOCKOUT)


def no_shore(step: Step, i: int) -> bool:
    return said(step, i, BIT.NO_SHORE) == (no(step.boat_in, BOAT.SHORE_CONNECTED) or was_under_way(step))


def released(step: Step, i: int) -> bool:
    return said(step, i, BIT.LOCK_RELEASED) == lock_released(step, i)


def settled(step: Step, i: int) -> bool:
    return said(step, i, BIT.LOCK_SETTLED) == (lock_released(step, i) or lock_engaged(step, i))


def closed(step: Step, i: int) -> bool:
    return said(step, i, BIT.CLUTCH_CLOSED) == clutch_closed(step, i)


def opened(step: Step, i: int) -> bool:
    return said(step, i, BIT.CLUTCH_OPEN) == clutch_open(step, i)


def engine_clear(step: Step, i: int) -> bool:
    return said(step, i, BIT.ENGINE_CLEAR) == uncoupled(step, i)


def stopped(step: Step, i: int) -> bool:
    return said(step, i, BIT.ENGINE_STOPPED) == engine_stopped(step, i)


def running(step: Step, i: int) -> bool:
    return said(step, i, BIT.ENGINE_RUNNING) == engine_running(step, i)


def neutral(step: Step, i: int) -> bool:
    return said(step, i, BIT.GEAR_NEUTRAL) == gear_neutral(step, i)


def ahead(step: Step, i: int) -> bool:
    return said(step, i, BIT.GEAR_AHEAD) == gear_ahead(step, i)


def propeller_stands(step: Step, i: int) -> bool:
    return said(step, i, BIT.PROPELLER_STILL) == propeller_still(step, i)


def shaft_stands(step: Step, i: int) -> bool:
    return said(step, i, BIT.SHAFT_STILL) == shaft_still(step, i)


def lever_in_neutral(step: Step, i: int) -> bool:
    return said(step, i, BIT.LEVER_NEUTRAL) == lever_neutral(step, i)


def obedient_now(step: Step, i: int) -> bool:
    return said(step, i, BIT.OBEDIENT) == obedient(step, i)


def trusted_now(step: Step, i: int) -> bool:
    return said(step, i, BIT.TRUSTED) == trusted(step, i)


def trailing_ok(step: Step, i: int) -> bool:
    box = step.config.shaft[i].gearbox
    in_time = box.trailing_limit_s <= 0.0 or step.now.memory.shafts[i].dwells.trail_s < box.trailing_limit_s
    return said(step, i, BIT.TRAILING_OK) == (box.trailing_allowed and in_time)


# --- bank


def discharge_permit(step: Step, i: int) -> bool:
    return said(step, i, BIT.DISCHARGE_PERMIT) == may_discharge(step)


def charge_permit(step: Step, i: int) -> bool:
    return said(step, i, BIT.CHARGE_PERMIT) == may_charge(step)


def cool(step: Step, i: int) -> bool:
    """No temperature of the shaft that is known stands at the end of its derate."""
    shaft, drive = step.shaft_in[i], step.config.shaft[i].drive
    motor = not has(shaft, SHAFT.MOTOR_TEMP) or shaft.motor_c < drive.motor_derate_end_c
    inverter = not has(shaft, SHAFT.INVERTER_TEMP) or shaft.inverter_c < drive.inverter_derate_end_c
    return motor and inverter and (not has(shaft, SHAFT.COOLANT_TEMP) or shaft.coolant_c < drive.coolant_derate_end_c)


def derate_open(step: Step, i: int) -> bool:
    """Above the lower limit, or by the override; thrust that runs outlasts a dip, and is led down to zero first."""
    by_hand, boat = yes(step.boat_in, BOAT.GET_HOME), step.now.memory.boat
    runs = step.was.shafts[i].mode == PROPEL
    above = not latched(boat.latches, KEPT.DERATE_ENDED) and (runs or boat.bank.low_s < 0.0)
    led_down = runs and boat.bank.derate_pct > 0.0
    return said(step, i, BIT.DERATE_OPEN) == ((above or by_hand or led_down) and cool(step, i))


def charge_wanted(step: Step, i: int) -> bool:
    ended = latched(step.now.memory.boat.latches, KEPT.CHARGE_ENDED)
    wanted = not ended and step.now.view.charge_limit_a >= step.config.limits.charge_end_a
    known = has(step.shaft_in[i], step.boat.shafts[i].react.inhibit_charge)
    return said(step, i, BIT.CHARGE_WANTED) == (wanted and known)


# --- torque


def torque_zero(step: Step, i: int) -> bool:
    shaft, drive = step.shaft_in[i], step.config.shaft[i].drive
    within_nm = step.config.limits.disobey_torque_pct / 100.0 * drive.rated_torque_nm
    measured = has(shaft, SHAFT.TORQUE) and abs(shaft.torque_nm) <= within_nm
    return said(step, i, BIT.TORQUE_ZERO) == (step.was.shafts[i].effort.torque_nm == 0.0 and measured)


def unload_overdue(step: Step, i: int) -> bool:
    limit_s = UNLOAD_LIMIT_S + step.config.limits.lever_ramp_s
    return said(step, i, BIT.UNLOAD_OVERDUE) == (step.now.memory.shafts[i].dwells.unload_s > limit_s)


def _forms(requirement: str, bit: str, when: str, then: Callable[[Step, int], bool], *rests: str) -> StepClaim:
    return StepClaim(
        requirement, f"{bit} is formed", f"set exactly when {when}", always, then, forms=f"shaft.{bit}",
        rests_on=rests, parity=False,
    )  # fmt: skip


SHAFT_FORMING: tuple[StepClaim, ...] = (
    # --- trips
    _forms("SR-30", "DRIVE_FAULT", "the drive's fault flag is known and on", drive_fault),
    _forms("SR-32", "DISOBEYED", "torque or current has stood against the order for its time", disobeyed,
           "disobeying counts"),
    _forms("SR-33", "PRECHARGE_FAILED", "a precharge took too long and has not been reset; its one retry lifts it in "
           "the tick of the reset", precharge_failed, "precharge counts", "precharge fails", "one retry",
           "link is latched"),
    _forms("SR-30", "INPUT_LOST", "the shaft is not out of service and an input is unknown whose loss trips a shaft",
           input_lost, "service is remembered", OF_BOAT, OF_SHAFT),
    _forms("SR-33", "LINK_LOST", "a link that was charged has been away from the bank's voltage for more than 0.2 s",
           link_lost, "link away counts", "link is latched"),
    _forms("SR-54", "COUPLING_LOST", "a shaft at work has been apart from its drive for its time, and get-home is not "
                                     "on",
           coupling_lost, "being apart counts", "being together ends it", "stretches of speed run",
           "highest speed is remembered", "lowest speed is remembered"),
    _forms("SR-55", "JAMMED", "torque has turned nothing for twice its time", jammed, "turning nothing counts"),
    # --- the boat's mode, and orders
    _forms("SR-02", "BOAT_READY", "the boat is READY after this tick", boat_ready),
    _forms("SR-30", "BOAT_LIVE", "the boat is READY or on its way there after this tick", boat_live),
    _forms("SR-06", "RESET_EDGE", "reset is seen on and was seen off one tick before", reset_edge, "seen off"),
    _forms("SR-45", "OFF_ORDER", "off is pressed, or was since the boat was enabled", off_order, "off is remembered"),
    _forms("SR-05", "THRUST_ORDER", "the position in control asks beyond its neutral band, or a lost lever did last, "
           "or the shaft is to be stopped and locked", thrust_order, "order is remembered", "handset in control",
           "handset is not denied", "a hold counts", "stop and lock is armed"),
    _forms("SR-26", "CONTROL_LOST", "the lever is lost, or an input whose loss ramps thrust down; under thrust a lost "
           "lever only after its hold", control_lost, "lost lever counts", OF_BOAT, OF_SHAFT),
    _forms("SR-27", "HANDSET_LOST", "in READY the handset was in control, and is not heard as ours or a serving lever "
           "has left neutral", handset_lost, "handset in control", "service is remembered"),
    _forms("SR-46", "UNDER_WAY_ORDER", "charging under way is selected, and both selectors were seen off since READY",
           under_way_order, "charge selector seen off"),
    _forms("SR-46", "AT_REST_ORDER", "charging at rest is selected, and both selectors were seen off since READY",
           at_rest_order, "charge selector seen off"),
    _forms("SR-46", "HARVEST_ORDER", "harvest is selected, and its selector was seen off since READY", harvest_order,
           "harvest selector seen off"),
    # --- latches
    _forms("SR-05", "REARMED", "the latch of fresh neutral stood before this tick", rearmed, "armed by fresh neutral",
           "disarmed outside READY", "disarmed by any other end", "armed by neutral", "neutral counts"),
    _forms("SR-24", "UNLOAD_TO_PROPEL", "the latch of the unload target stood before this tick", unload_to_propel,
           "unload's target"),
    _forms("SR-23", "UNLOADS_SOURCE", "what unloads came from GENERATE or HARVEST before this tick", unloads_source,
           "a source unloads as one"),
    # --- the owner's own interlocks
    _forms("SR-50", "OWN_THRUST_START", "the shaft has propelled since READY, or no interlock that inhibits its thrust "
           "is bad", own_thrust_start, HELD_BAD, "begun since READY"),
    _forms("SR-50", "OWN_THRUST_STAYS", "no interlock that ramps its thrust down is bad", own_thrust_stays, HELD_BAD),
    _forms("SR-50", "OWN_THRUST", "no interlock that stops its thrust is bad", own_thrust, HELD_BAD),
    _forms("SR-50", "OWN_CHARGE_START", "no interlock that inhibits its charging is bad", own_charge_start, HELD_BAD),
    _forms("SR-50", "OWN_CHARGE_STAYS", "no interlock that unloads its charging is bad", own_charge_stays, HELD_BAD),
    _forms("SR-50", "OWN_CHARGE", "no interlock that stops its charging is bad", own_charge, HELD_BAD),
    _forms("SR-50", "OWN_SHAFT", "no interlock that trips it is bad", own_shaft, HELD_BAD),
    # --- machinery
    _forms("SR-06", "IN_SERVICE", "the out-of-service contact is known and off, or said so last", serves,
           "service is remembered"),
    _forms("SR-33", "LINK_CHARGED", "the link was precharged and is not away from the bank's voltage", link_charged,
           "link is latched", "link away counts"),
    _forms("SR-10", "NO_DIVER", "the diver lockout is known and off", no_diver),
    _forms("SR-11", "NO_SHORE", "the shore contact is known and off, or the boat was under way", no_shore,
           "under way is remembered", "lying still counts"),
    _forms("SR-07", "LOCK_RELEASED", "both lock contacts are known and say released", released),
    _forms("SR-07", "LOCK_SETTLED", "both lock contacts are known and say released, or engaged", settled),
    _forms("SR-08", "CLUTCH_CLOSED", "both clutch contacts are known and say closed", closed),
    _forms("SR-08", "CLUTCH_OPEN", "both clutch contacts are known and say open", opened),
    _forms("SR-09", "ENGINE_CLEAR", "its gearbox is confirmed in neutral, or is declared open when stopped and the "
                                    "engine confirmed stopped", engine_clear),
    _forms("SR-09", "ENGINE_STOPPED", "the run contact is known and off, and no fresh speed contradicts it", stopped),
    _forms("SR-23", "ENGINE_RUNNING", "the run contact is on and the speed known to be half of idle or more", running),
    _forms("SR-09", "GEAR_NEUTRAL", "the neutral contact is on, and neither the ahead contact nor a fresh report "
           "contradicts it", neutral),
    _forms("SR-12", "GEAR_AHEAD", "the ahead contact is on, the neutral contact known and off, and no fresh report "
           "contradicts it", ahead),
    _forms("SR-12", "PROPELLER_STILL", "the propeller side is known to turn slower than still", propeller_stands),
    _forms("SR-35", "SHAFT_STILL", "both sides are known to turn slower than still", shaft_stands),
    _forms("SR-06", "LEVER_NEUTRAL", "the lever's neutral contact is on and its position within the band, both known",
           lever_in_neutral),
    _forms("SR-06", "OBEDIENT", "its drive has not isolated it by disobeying within ten minutes, or has been seen to "
           "obey for 2 s since", obedient_now, "obeying counts", "disobeying is remembered"),
    _forms("SR-06", "TRUSTED", "it has not done so twice within ten minutes, or both sides are still", trusted_now,
           "a relapse is remembered", "disobeying is remembered"),
    _forms("SR-41", "TRAILING_OK", "the gearbox may trail, and has not for longer than its limit", trailing_ok,
           "trailing counts"),
    # --- bank
    _forms("SR-14", "DISCHARGE_PERMIT", "permit, contactor, no opening and a limit above zero are proven, and the "
           "hotel load leaves something of it", discharge_permit, "load counts at least", "load counts no more",
           "load stands while unknown", "bank is remembered"),
    _forms("SR-13", "CHARGE_PERMIT", "permit, contactor, no opening and a limit above zero are proven", charge_permit),
    _forms("SR-18", "DERATE_OPEN", "the bank is above its lower limit (or get-home is on, or thrust is still being led "
           "down) and no temperature stands at the end of its derate", derate_open, "lower limit ends thrust",
           "low stays low", "low ends", "bank's latches are remembered", "derate within its band",
           "derate is no deeper", "bank is remembered"),
    _forms("SR-15", "CHARGE_WANTED", "charging has not ended, the limit in force reaches the end current, and every "
           "input of the shaft that charging needs is known", charge_wanted, "charging ends and stays ended",
           "charging restarts", "unknown neither ends nor restarts", "bank's latches are remembered",
           "limit within full", "limit within SOC taper", "limit within cell taper", "limit within heat taper",
           "limit when cool", "limit within monitor's", "unknown is no limit", "limit is given", OF_BOAT, OF_SHAFT),
    # --- contacts that bounce
    _forms("SR-62", "PAUSED", "thrust ran, unloaded or paused, by the lever, and lacks nothing but a contact of lock, "
           "clutch, gearbox or engine, and no pause has failed", paused, "a pause is remembered", "pauses are counted",
           "a pause's order is kept", "order is remembered", "handset in control", "a source unloads as one", *READ),
    _forms("SR-62", "PAUSE_FAILED", "a pause has lasted for its time, the lever is further out or the handset in "
           "control, or a third one would begin", pause_failed, "a pause is remembered", "pauses are counted",
           "a pause's order is kept", "order is remembered", "handset in control", "a source unloads as one",
           "shaft.THRUST_ORDER"),
    # --- torque
    _forms("SR-24", "TORQUE_ZERO", "zero was ordered in the tick before and the torque measured is within tolerance",
           torque_zero),
    _forms("SR-24", "UNLOAD_OVERDUE", "unloading has taken longer than 10 s and the ramp of a lost lever",
           unload_overdue, "unloading counts"),
)  # fmt: skip
