"""Claims on what is remembered: each dwell timer and each latch of boat and shaft, one step of an induction each.

A time is shown as a history: a timer runs only while its condition holds, grows by no more than the tick, and starts
anew when the condition has been away (the step, here); what waits for the time asks for the timer at its dwell (the use,
in `claims_outputs` and in the forming of the words). From power-up, where no timer runs, it follows that the condition
has stood for the dwell.
"""

from sim.prove.claims_bank import always
from sim.prove.step import Step, StepClaim
from sim.prove.terms import (
    GENERATE,
    HARVEST,
    HELD,
    ISOLATED,
    LONGEST_S,
    NEUTRAL_WAIT,
    PROPEL,
    READY,
    REST,
    UNLOAD,
    against,
    at_most,
    believed,
    counted,
    disobeys,
    engine_running,
    handset_now,
    in_service,
    length_s,
    lever_asks,
    lever_contradicts,
    lever_lost,
    link_near,
    live,
    near,
    out_of_service,
    position_neutral,
    ramp_s,
    rpm,
    shaft_still,
    speed_known,
)
from sim.requirements.facts import BOAT, SHAFT, has, no, yes
from supervisor.modes import SHAFT_TABLE, ShaftCondition

UNDER_WAY_ORDER, AT_REST_ORDER = ShaftCondition.UNDER_WAY_ORDER.value, ShaftCondition.AT_REST_ORDER.value
HARVEST_ORDER, ENGINE_RUNNING = ShaftCondition.HARVEST_ORDER.value, ShaftCondition.ENGINE_RUNNING.value
SHAFT_STILL, THRUST_ORDER = ShaftCondition.SHAFT_STILL.value, ShaftCondition.THRUST_ORDER.value
CONTROL_LOST, HANDSET_LOST = ShaftCondition.CONTROL_LOST.value, ShaftCondition.HANDSET_LOST.value
OWN_THRUST_STAYS, PAUSED = ShaftCondition.OWN_THRUST_STAYS.value, ShaftCondition.PAUSED.value

COOLING = 0.2
"""Time on precharge is forgotten this much slower than it was spent."""

STEADY_PCT, STEADY_S = 2.0, 3.0
"""A throttle that moved by more than this (% of the lever) is not steady for this long (s)."""


# --- the boat's timers


def moved_on(step: Step) -> bool:
    """A row of the boat's table was taken: its dwells start anew."""
    return step.now.boat_row >= 0


def wait_counts(step: Step, i: int) -> bool:
    runs = step.was.boat.mode == NEUTRAL_WAIT and not moved_on(step)
    return near(step.now.memory.boat.dwells.wait_s, counted(step.was.boat.dwells.wait_s, runs, length_s(step)))


def off_counts(step: Step, i: int) -> bool:
    runs = step.was.boat.mode == READY and step.now.orders.off_order == 1 and not moved_on(step)
    return near(step.now.memory.boat.dwells.off_s, counted(step.was.boat.dwells.off_s, runs, length_s(step)))


def resting(step: Step) -> bool:
    """Every shaft was at rest or isolated before this tick."""
    rests = True
    for state in step.was.shafts:
        rests = rests and (state.mode == REST or state.mode == ISOLATED)
    return rests


def ordered(step: Step) -> bool:
    """Some shaft has an order that can come to something."""
    some = False
    for word in step.now.shaft_words:
        charge = word & (UNDER_WAY_ORDER | AT_REST_ORDER) != 0 and word & ENGINE_RUNNING != 0
        some = some or charge or (word & HARVEST_ORDER != 0 and word & SHAFT_STILL == 0)
    return some


def idle_counts(step: Step, i: int) -> bool:
    runs = step.was.boat.mode == READY and resting(step) and not ordered(step) and not moved_on(step)
    runs = runs and step.now.orders.acknowledge == 0
    return near(step.now.memory.boat.dwells.idle_s, counted(step.was.boat.dwells.idle_s, runs, length_s(step)))


def full_counts(step: Step, i: int) -> bool:
    runs = step.now.view.full_reached == 0
    return near(
        step.now.memory.boat.dwells.since_full_s, counted(step.was.boat.dwells.since_full_s, runs, length_s(step))
    )


def age_counts(step: Step, i: int) -> bool:
    return near(step.now.memory.boat.dwells.age_s, counted(step.was.boat.dwells.age_s, True, length_s(step)))


# --- a shaft's timers


def neutral_counts(step: Step, i: int) -> bool:
    was, now = step.was.shafts[i], step.now.memory.shafts[i]
    return near(now.dwells.neutral_s, counted(was.dwells.neutral_s, position_neutral(step, i), ramp_s(step)))


def lost_counts(step: Step, i: int) -> bool:
    was, now = step.was.shafts[i], step.now.memory.shafts[i]
    return near(now.dwells.lever_lost_s, counted(was.dwells.lever_lost_s, lever_lost(step, i), length_s(step)))


def contradiction_counts(step: Step, i: int) -> bool:
    was, now = step.was.shafts[i].pause, step.now.memory.shafts[i].pause
    return near(now.contradicts_s, counted(was.contradicts_s, lever_contradicts(step, i), length_s(step)))


def unload_counts(step: Step, i: int) -> bool:
    was, now = step.was.shafts[i], step.now.memory.shafts[i]
    return near(now.dwells.unload_s, counted(was.dwells.unload_s, was.mode == UNLOAD, length_s(step)))


def disobey_counts(step: Step, i: int) -> bool:
    was, now = step.was.shafts[i], step.now.memory.shafts[i]
    return near(now.dwells.disobey_s, counted(was.dwells.disobey_s, disobeys(step, i), length_s(step)))


def still_counts(step: Step, i: int) -> bool:
    was, now = step.was.shafts[i], step.now.memory.shafts[i]
    return near(now.dwells.still_s, counted(was.dwells.still_s, shaft_still(step, i), ramp_s(step)))


def trail_counts(step: Step, i: int) -> bool:
    was, now = step.was.shafts[i], step.now.memory.shafts[i]
    if was.mode == HARVEST and was.dwells.trail_s < LONGEST_S:
        return near(now.dwells.trail_s, was.dwells.trail_s + length_s(step))
    if shaft_still(step, i) or engine_running(step, i):
        return now.dwells.trail_s == 0.0
    return near(now.dwells.trail_s, was.dwells.trail_s)


def zero_counts(step: Step, i: int) -> bool:
    was, now = step.was.shafts[i], step.now.memory.shafts[i]
    return near(now.dwells.zero_s, counted(was.dwells.zero_s, was.effort.torque_nm == 0.0, ramp_s(step)))


def gear_lie_counts(step: Step, i: int) -> bool:
    was, now = step.was.shafts[i], step.now.memory.shafts[i]
    return near(
        now.dwells.gear_contradicts_s, counted(was.dwells.gear_contradicts_s, gear_contradicts(step, i), length_s(step))
    )


def gear_contradicts(step: Step, i: int) -> bool:
    """The gearbox's fresh frames contradict its contacts."""
    shaft = step.shaft_in[i]
    if step.boat.shafts[i].react.mapped & shaft.known & SHAFT.GEAR_REPORT == 0:
        return False
    neutral = yes(shaft, SHAFT.GEAR_NEUTRAL) and shaft.gear_report != 0.0
    return neutral or (yes(shaft, SHAFT.GEAR_AHEAD) and shaft.gear_report != 1.0)


def engine_lie_counts(step: Step, i: int) -> bool:
    was, now, shaft = step.was.shafts[i], step.now.memory.shafts[i], step.shaft_in[i]
    lies = no(shaft, SHAFT.ENGINE_RUN) and has(shaft, SHAFT.ENGINE_SPEED) and shaft.engine_speed_rpm > 50.0
    return near(now.dwells.engine_contradicts_s, counted(was.dwells.engine_contradicts_s, lies, length_s(step)))


# --- link and precharge


def was_charged(step: Step, i: int) -> bool:
    """The link was charged before. With the bank's voltage lost that counts on in READY only."""
    charged = step.was.shafts[i].latches & HELD.LINK_WAS_CHARGED != 0
    if not believed(step):
        return charged and step.was.boat.mode == READY
    return charged


def charged(step: Step, i: int) -> bool:
    """The link counts as charged at this tick."""
    if not believed(step):
        return was_charged(step, i)
    return link_near(step, i, was_charged(step, i))


def link_off_counts(step: Step, i: int) -> bool:
    was, now = step.was.shafts[i], step.now.memory.shafts[i]
    runs = was_charged(step, i) and not charged(step, i)
    return near(now.dwells.link_off_s, counted(was.dwells.link_off_s, runs, length_s(step)))


def link_latched(step: Step, i: int) -> bool:
    """Charged is remembered while the boat is enabled, the shaft serves and is not isolated."""
    works = live(step.was.boat.mode) and not out_of_service(step, i) and step.was.shafts[i].mode != ISOLATED
    want = works and (charged(step, i) or was_charged(step, i))
    return (step.now.memory.shafts[i].latches & HELD.LINK_WAS_CHARGED != 0) == want


def retry_begins(step: Step, i: int) -> bool:
    """Reset of a failed precharge: the one retry by hand."""
    was, now = step.was.shafts[i], step.now.memory.shafts[i]
    failed = was.latches & HELD.PRECHARGE_FAILED != 0 or took_too_long(step, i)
    return was.mode == ISOLATED and now.mode == REST and failed


def precharged_for(step: Step, i: int) -> float:
    """Time spent on this precharge (s), forgotten slowly while it is not ordered."""
    was = step.was.shafts[i]
    if charged(step, i):
        return 0.0
    works = live(step.was.boat.mode) and yes(step.boat_in, BOAT.CONTACTOR_CLOSED) and in_service(step, i)
    if works and was.mode != ISOLATED and not was_charged(step, i):
        return was.dwells.precharge_s + length_s(step)
    return max(0.0, was.dwells.precharge_s - COOLING * length_s(step))


def took_too_long(step: Step, i: int) -> bool:
    return precharged_for(step, i) > step.config.shaft[i].drive.precharge_s


def precharge_counts(step: Step, i: int) -> bool:
    if retry_begins(step, i):
        return step.now.memory.shafts[i].dwells.precharge_s == 0.0
    return near(step.now.memory.shafts[i].dwells.precharge_s, precharged_for(step, i))


def precharge_fails(step: Step, i: int) -> bool:
    now = step.now.memory.shafts[i].latches & HELD.PRECHARGE_FAILED != 0
    if retry_begins(step, i):
        return not now
    was = step.was.shafts[i].latches & HELD.PRECHARGE_FAILED != 0
    return now == (was or took_too_long(step, i))


def one_retry(step: Step, i: int) -> bool:
    now = step.now.memory.shafts[i].latches & HELD.PRECHARGE_RETRIED != 0
    was = step.was.shafts[i].latches & HELD.PRECHARGE_RETRIED != 0
    return now == (retry_begins(step, i) or (was and not charged(step, i)))


# --- selectors, service


def selector_seen_off(step: Step, i: int) -> bool:
    """Charging's selectors are armed while READY, not isolated and known, by being seen off."""
    was, shaft = step.was.shafts[i], step.shaft_in[i]
    now = step.now.memory.shafts[i].latches & HELD.CHARGE_ARMED != 0
    both = SHAFT.CHARGE_UNDER_WAY | SHAFT.CHARGE_AT_REST
    if step.was.boat.mode != READY or was.mode == ISOLATED or not has(shaft, both):
        return not now
    off = shaft.on & both == 0
    return now == (off or was.latches & HELD.CHARGE_ARMED != 0)


def harvest_seen_off(step: Step, i: int) -> bool:
    was, shaft = step.was.shafts[i], step.shaft_in[i]
    now = step.now.memory.shafts[i].latches & HELD.HARVEST_ARMED != 0
    if step.was.boat.mode != READY or was.mode == ISOLATED or not has(shaft, SHAFT.HARVEST):
        return not now
    return now == (no(shaft, SHAFT.HARVEST) or was.latches & HELD.HARVEST_ARMED != 0)


def service_remembered(step: Step, i: int) -> bool:
    now = step.now.memory.shafts[i].latches
    serves, out = now & HELD.IN_SERVICE != 0, now & HELD.OUT_OF_SERVICE != 0
    return serves == in_service(step, i) and out == (out_of_service(step, i) and not in_service(step, i))


# --- orders, signs, throttle


def order_remembered(step: Step, i: int) -> bool:
    """The last good order of the position in control; a lost lever's stays, so that it can be ramped down."""
    was, now, shaft = step.was.shafts[i], step.now.memory.shafts[i], step.shaft_in[i]
    if handset_now(step):
        if has(shaft, SHAFT.HANDSET_THRUST):
            return now.order_pct == shaft.handset_thrust_pct
        return now.order_pct == 0.0
    if lever_lost(step, i):
        return now.order_pct == was.order_pct
    if lever_asks(step, i):
        return now.order_pct == shaft.lever_pct
    return now.order_pct == 0.0


def sign_remembered(step: Step, i: int) -> bool:
    now = step.now.memory.shafts[i]
    if now.effort.torque_nm > 0.0:
        return now.effort.last_sign == 1
    if now.effort.torque_nm < 0.0:
        return now.effort.last_sign == -1
    return now.effort.last_sign == step.was.shafts[i].effort.last_sign


def throttle_moved(step: Step, i: int) -> bool:
    shaft = step.shaft_in[i]
    return has(shaft, SHAFT.LEVER) and abs(shaft.lever_pct - step.was.shafts[i].lever_ref_pct) > STEADY_PCT


def steady_counts(step: Step, i: int) -> bool:
    was, now = step.was.shafts[i], step.now.memory.shafts[i]
    if throttle_moved(step, i):
        return now.dwells.steady_s == 0.0 and now.lever_ref_pct == step.shaft_in[i].lever_pct
    grown_s = was.dwells.steady_s + ramp_s(step)
    if was.dwells.steady_s >= LONGEST_S:
        grown_s = was.dwells.steady_s
    return near(now.dwells.steady_s, grown_s) and now.lever_ref_pct == was.lever_ref_pct


def works_as_source(step: Step, i: int) -> bool:
    mode = step.now.memory.shafts[i].mode
    return mode == GENERATE or mode == HARVEST


def turns_enough(step: Step, i: int) -> bool:
    return speed_known(step, i) and rpm(step, i) >= step.config.shaft[i].rules.generate_min_rpm


def stood_wrong(step: Step, i: int) -> bool:
    """The torque of the last tick no longer opposes: the shaft turns the other way."""
    stood_nm = step.was.shafts[i].effort.torque_nm
    return stood_nm != 0.0 and not against(step, i, stood_nm)


def engine_rpm(step: Step, i: int) -> float:
    if has(step.shaft_in[i], SHAFT.ENGINE_SPEED):
        return step.shaft_in[i].engine_speed_rpm
    return 0.0


def sag_reference(step: Step, i: int) -> bool:
    """The engine's speed at the start of the ramp, once its throttle has been steady."""
    was, now = step.was.shafts[i], step.now.memory.shafts[i]
    if not works_as_source(step, i) or not turns_enough(step, i) or stood_wrong(step, i):
        return now.effort.sag_ref_rpm == 0.0
    if was.effort.charge_a <= 0.0 or now.dwells.steady_s < STEADY_S:
        return now.effort.sag_ref_rpm == engine_rpm(step, i)
    return now.effort.sag_ref_rpm == was.effort.sag_ref_rpm


# --- unloading


def unload_target(step: Step, i: int) -> bool:
    was, now = step.was.shafts[i], step.now.memory.shafts[i]
    to_propel = now.latches & HELD.UNLOAD_TO_PROPEL != 0
    if now.mode != UNLOAD:
        return not to_propel
    asked = step.now.shaft_rows[i] >= 0 and SHAFT_TABLE[step.now.shaft_rows[i]].unload_to_propel
    return to_propel == (asked or (was.mode == UNLOAD and was.latches & HELD.UNLOAD_TO_PROPEL != 0))


def unloads_source(step: Step, i: int) -> bool:
    was, now = step.was.shafts[i], step.now.memory.shafts[i]
    source = now.latches & HELD.UNLOADS_SOURCE != 0
    if now.mode != UNLOAD:
        return not source
    came = was.mode == GENERATE or was.mode == HARVEST
    return source == (came or was.latches & HELD.UNLOADS_SOURCE != 0)


def slow_ramp(step: Step, i: int) -> bool:
    """A lost lever's thrust, or an own interlock's that ramps, comes down in the ramp's time from where it stands."""
    was, now = step.was.shafts[i], step.now.memory.shafts[i]
    slow = now.latches & HELD.SLOW_RAMP != 0
    if now.mode != UNLOAD:
        return not slow and now.effort.ramp_nm_per_s == was.effort.ramp_nm_per_s
    word = step.now.shaft_words[i]
    if was.mode == PROPEL and (word & CONTROL_LOST != 0 or word & OWN_THRUST_STAYS == 0):
        return slow and near(now.effort.ramp_nm_per_s, abs(was.effort.torque_nm) / step.config.limits.lever_ramp_s)
    return slow == (was.latches & HELD.SLOW_RAMP != 0) and now.effort.ramp_nm_per_s == was.effort.ramp_nm_per_s


# --- REARMED


def armed(step: Step, i: int) -> bool:
    return step.now.memory.shafts[i].latches & HELD.REARMED != 0


def anew(step: Step, i: int) -> bool:
    return armed(step, i) and step.was.shafts[i].latches & HELD.REARMED == 0


def fresh_neutral(step: Step, i: int) -> bool:
    """The dwell is at its time, and neutral holds at this very tick."""
    return at_most(step.config.limits.neutral_s, step.now.memory.shafts[i].dwells.neutral_s) and position_neutral(
        step, i
    )


def row_disarms(step: Step, i: int) -> bool:
    return step.now.shaft_rows[i] >= 0 and SHAFT_TABLE[step.now.shaft_rows[i]].disarms


def control_gone(step: Step, i: int) -> bool:
    return step.now.shaft_words[i] & (CONTROL_LOST | HANDSET_LOST) != 0


_THRUST = next(row for row in SHAFT_TABLE if row.source == REST and row.dest == PROPEL)
PERMITS_THRUST, BARS_THRUST = int(_THRUST.must & ~ShaftCondition.OWN_THRUST_START), int(_THRUST.must_not)
"""What thrust needs to go on, and what bars it: an own interlock that inhibits bars beginnings, it disarms nothing."""


def asks_in_vain(step: Step, i: int) -> bool:
    """Thrust is asked, and this tick does not give it: not in PROPEL, nor on the way there with nothing missing, nor in a
    pause that may end well."""
    now, word = step.now.memory.shafts[i], step.now.shaft_words[i]
    if word & THRUST_ORDER == 0 or now.mode == PROPEL or word & PAUSED != 0:
        return False
    on_the_way = now.mode == UNLOAD and now.latches & HELD.UNLOAD_TO_PROPEL != 0
    return not (on_the_way and word & PERMITS_THRUST == PERMITS_THRUST and word & BARS_THRUST == 0)


def not_ready(step: Step, i: int) -> bool:
    return step.now.memory.boat.mode != READY


def ended_otherwise(step: Step, i: int) -> bool:
    """Thrust ended, or was asked, with something other than the lever in the way."""
    return row_disarms(step, i) or control_gone(step, i) or asks_in_vain(step, i)


def disarmed(step: Step, i: int) -> bool:
    return not armed(step, i)


def may_arm(step: Step, i: int) -> bool:
    held = step.now.memory.shafts[i].dwells.neutral_s >= step.config.limits.neutral_s
    was = step.was.shafts[i].latches & HELD.REARMED != 0
    return (held or was) and not not_ready(step, i) and not ended_otherwise(step, i)


def _shaft(requirement: str, name: str, text: str, then, given=always) -> StepClaim:  # type: ignore[no-untyped-def]
    return StepClaim(requirement, name, text, given, then, parity=False)


def _boat(requirement: str, name: str, text: str, then, given=always) -> StepClaim:  # type: ignore[no-untyped-def]
    return StepClaim(requirement, name, text, given, then, per_shaft=False, parity=False)


_ANEW = "; it starts again when that has been away, and grows by the tick"
_DWELL = "; it starts again when that has been away, and a late tick is credited with a tenth of a second"

TIME_CLAIMS: tuple[StepClaim, ...] = (
    _boat("SR-44", "wait counts", "the time of waiting runs in NEUTRAL_WAIT only" + _ANEW, wait_counts),
    _boat("SR-45", "off counts", "the time since off runs while off is ordered in READY" + _ANEW, off_counts),
    _boat("SR-35", "idle counts", "the idle time runs in READY with every shaft at rest, no order and no "
          "acknowledgement" + _ANEW, idle_counts),
    _boat("SR-17", "time since full counts", "the time since the last full charge runs until one is complete",
          full_counts),
    _boat("SR-36", "age counts", "the time since power-up runs", age_counts),
    _shaft("SR-05", "neutral counts", "the neutral time runs while every control position of the shaft is in neutral, "
           "the handset's while it is in control" + _DWELL, neutral_counts),
    _shaft("SR-26", "lost lever counts", "the time of a lost lever runs while it is lost" + _ANEW, lost_counts),
    _shaft("SR-26", "a lever's contradiction counts", "the time runs for which a lever's contact says neutral and its "
           "position does not", contradiction_counts),
    _shaft("SR-24", "unloading counts", "the time of unloading runs in UNLOAD" + _ANEW, unload_counts),
    _shaft("SR-32", "disobeying counts", "the time of disobeying runs while torque or current stand against the order "
           "of the tick before" + _ANEW, disobey_counts),
    _shaft("SR-39", "still counts", "the still time runs while both sides are still" + _DWELL, still_counts),
    _shaft("SR-41", "trailing counts", "the time of trailing runs in HARVEST and is forgotten once the shaft stands or "
           "the engine runs", trail_counts),
    _shaft("SR-25", "zero counts", "the time at zero runs while the order is zero" + _DWELL, zero_counts),
    _shaft("SR-09", "gear's contradiction counts", "the time of a contradicted gear runs while frames contradict "
           "contacts" + _ANEW, gear_lie_counts),
    _shaft("SR-09", "engine's contradiction counts", "the time of a contradicted run contact runs while frames show an "
           "engine turning that its contact calls stopped" + _ANEW, engine_lie_counts),
    _shaft("SR-33", "link away counts", "the time of a link away from the bank's voltage runs once it was charged"
           + _ANEW, link_off_counts),
    _shaft("SR-33", "link is latched", "a charged link is remembered exactly while the boat is enabled, the shaft serves "
           "and is not isolated", link_latched),
    _shaft("SR-33", "precharge counts", "the time on precharge runs while it is ordered and the link not charged, and "
           "is forgotten slowly", precharge_counts),
    _shaft("SR-33", "precharge fails", "a precharge longer than its time has failed, until the reset of the isolated "
           "shaft", precharge_fails),
    _shaft("SR-33", "one retry", "that reset is the one retry, until a link has been charged", one_retry),
    _shaft("SR-46", "charge selector seen off", "the charge selectors act only after both were seen off while READY, "
           "known and not isolated", selector_seen_off),
    _shaft("SR-46", "harvest selector seen off", "likewise the harvest selector", harvest_seen_off),
    _shaft("SR-01", "service is remembered", "whether a shaft is out of service is as its contact says, or said last",
           service_remembered),
    _shaft("SR-26", "order is remembered", "the order is that of the position in control; a lost lever's last one "
           "stays", order_remembered),
    _shaft("SR-25", "sign is remembered", "the sign of the last torque that was not zero is remembered",
           sign_remembered),
    _shaft("SR-22", "throttle steady counts", "the throttle counts as steady from its last move of more than 2 %",
           steady_counts),
    _shaft("SR-22", "speed of ramp start", "the engine's speed at ramp start follows until current flows and the "
           "throttle has been steady for 3 s, then stands", sag_reference),
    _shaft("SR-24", "unload's target", "UNLOAD leads to PROPEL only if a row said so, until it ends", unload_target),
    _shaft("SR-23", "a source unloads as one", "what unloads from GENERATE or HARVEST is remembered as a source",
           unloads_source),
    _shaft("SR-26", "slow ramp", "thrust whose lever is lost, or that an own interlock ramps down, gets the slope that brings it to zero in the "
           "ramp's time",
           slow_ramp),
    _shaft("SR-05", "armed by fresh neutral", "REARMED comes anew only with neutral held for its dwell, at this very "
           "tick", fresh_neutral, anew),
    _shaft("SR-05", "disarmed outside READY", "REARMED stands in READY only", disarmed, not_ready),
    _shaft("SR-05", "disarmed by any other end", "REARMED is cleared by a row that disarms, by a lost lever or handset, "
           "and by thrust asked in vain", disarmed, ended_otherwise),
    _shaft("SR-49", "armed by neutral", "nor is it cleared, or denied after the dwell, without such a cause", armed,
           may_arm),
)  # fmt: skip
