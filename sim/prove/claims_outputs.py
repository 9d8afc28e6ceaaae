"""Claims from end to end: from what is measured to what is ordered in the same tick, whatever the words say between.

Each is a requirement's own sentence as one step: modes, orders and permits against the inputs. Where a requirement
needs time, this is the use of a timer whose step `claims_times` shows.
"""

from sim.prove.claims_bank import always, cold_or_hot, ended, home, low
from sim.prove.claims_coupling import came_loose, held_fast
from sim.prove.claims_orders import handset_fails, linked, pressed
from sim.prove.claims_own import works_as_source
from sim.prove.claims_pause import was_under_way
from sim.prove.claims_torque import charges, drives, is_source
from sim.prove.claims_trust import SILENT_S, disobeyed_long, obedient, silent_s, trusted
from sim.prove.step import Step, StepClaim
from sim.prove.terms import (
    GENERATE,
    HARVEST,
    HELD,
    ISOLATED,
    KEPT,
    NEUTRAL_WAIT,
    PROPEL,
    READY,
    REST,
    STANDBY,
    TRIPPED,
    UNLOAD,
    at_most,
    believed,
    boat_stop_cause,
    clutch_closed,
    clutch_open,
    engine_clear,
    engine_running,
    engine_stopped,
    gear_ahead,
    gear_engaged,
    gear_neutral,
    handset_asks,
    handset_now,
    in_service,
    is_held,
    lever_asks,
    lever_lost,
    lever_neutral,
    link_near,
    live,
    lock_engaged,
    lock_released,
    may_charge,
    may_discharge,
    out_of_service,
    propeller_still,
    shaft_still,
)
from sim.requirements.facts import BOAT, SHAFT, has, no, yes
from supervisor.modes import BoatCondition, PermitCondition, ShaftCondition
from supervisor.signals import ShaftPermit

ENABLE, PRECHARGE = ShaftPermit.DRIVE_ENABLE.value, ShaftPermit.PRECHARGE.value
START, CLOSE, ENGAGE = ShaftPermit.ENGINE_START.value, ShaftPermit.CLUTCH_CLOSE.value, ShaftPermit.LOCK_ENGAGE.value

OWN_BOAT, OWN_SHAFT = BoatCondition.OWN_BOAT.value, ShaftCondition.OWN_SHAFT.value
OWN_ENGINE_START = PermitCondition.OWN_ENGINE_START.value

LINK_AWAY_S, UNLOAD_S = 0.2, 10.0
"""A link away from the bank's voltage for longer is lost; unloading beyond this, and a lost lever's ramp, ends (s)."""


def boat_was(step: Step) -> int:
    return step.was.boat.mode


def boat_now(step: Step) -> int:
    return step.now.memory.boat.mode


def mode_was(step: Step, i: int) -> int:
    return step.was.shafts[i].mode


def mode_now(step: Step, i: int) -> int:
    return step.now.memory.shafts[i].mode


def no_torque(step: Step, i: int) -> bool:
    return step.now.shaft_commands[i].torque_nm == 0.0


def permits(step: Step, i: int, bit: int) -> bool:
    return step.now.shaft_commands[i].permits & bit != 0


# --- enabling, tripping, resetting


def enters_ready(step: Step, i: int) -> bool:
    return boat_was(step) != READY and boat_now(step) == READY


def enters_ready_serving(step: Step, i: int) -> bool:
    return enters_ready(step, i) and not out_of_service(step, i)


def lever_dwelt(step: Step, i: int) -> bool:
    return lever_neutral(step, i) and step.was.shafts[i].dwells.neutral_s >= step.config.limits.neutral_s


def enters_ready_working(step: Step, i: int) -> bool:
    return enters_ready(step, i) and in_service(step, i) and ISOLATED not in (mode_was(step, i), mode_now(step, i))


def link_proven(step: Step, i: int) -> bool:
    return believed(step) and link_near(step, i, True)


def contactor_proven(step: Step, i: int) -> bool:
    return yes(step.boat_in, BOAT.CONTACTOR_CLOSED)


def not_ready(step: Step, i: int) -> bool:
    return boat_now(step) != READY


def dead(step: Step, i: int) -> bool:
    return no_torque(step, i) and not permits(step, i, ENABLE)


def any_stop_cause(step: Step) -> bool:
    """A cause of a boat trip: the boat's, an input of a serving shaft whose loss trips the boat, an own interlock."""
    cause = boat_stop_cause(step)
    for k in range(len(step.shaft_in)):
        lost = not has(step.shaft_in[k], step.boat.shafts[k].react.trip_boat)
        cause = cause or (lost and not out_of_service(step, k))
    return cause or step.now.boat_word & OWN_BOAT == 0


def stop_cause(step: Step, i: int) -> bool:
    return any_stop_cause(step)


def live_stop_cause(step: Step, i: int) -> bool:
    return any_stop_cause(step) and live(boat_was(step))


def pressed_or_fault(step: Step, i: int) -> bool:
    return yes(step.boat_in, BOAT.EMERGENCY_STOP) or yes(step.boat_in, BOAT.MONITOR_FAULT)


def is_tripped(step: Step, i: int) -> bool:
    return boat_now(step) == TRIPPED


def trips(step: Step, i: int) -> bool:
    return boat_was(step) != TRIPPED and boat_now(step) == TRIPPED


def trip_has_cause(step: Step, i: int) -> bool:
    """A boat trips only for a cause of the boat; READY also when its contactor opens."""
    opened = boat_was(step) == READY and not yes(step.boat_in, BOAT.CONTACTOR_CLOSED)
    return any_stop_cause(step) or opened


def changes(step: Step, i: int) -> bool:
    return boat_was(step) != boat_now(step)


def allowed_change(step: Step, i: int) -> bool:
    was, now = boat_was(step), boat_now(step)
    if was == STANDBY:
        return now == NEUTRAL_WAIT or now == TRIPPED
    if was == NEUTRAL_WAIT:
        return now == READY or now == STANDBY or now == TRIPPED
    if was == READY:
        return now == STANDBY or now == TRIPPED
    return now == STANDBY


def leaves_tripped(step: Step, i: int) -> bool:
    return boat_was(step) == TRIPPED and boat_now(step) != TRIPPED


def reset_without_cause(step: Step, i: int) -> bool:
    return pressed(step, BOAT.RESET, KEPT.RESET_WAS_OFF) and not any_stop_cause(step)


def enables(step: Step, i: int) -> bool:
    return boat_was(step) != NEUTRAL_WAIT and boat_now(step) == NEUTRAL_WAIT


def enabled_by_press(step: Step, i: int) -> bool:
    return pressed(step, BOAT.ENABLE, KEPT.ENABLE_WAS_OFF) and not yes(step.boat_in, BOAT.DISABLE)


def waits(step: Step, i: int) -> bool:
    return boat_now(step) == NEUTRAL_WAIT


def wait_in_time(step: Step, i: int) -> bool:
    return step.now.memory.boat.dwells.wait_s < step.config.limits.neutral_wait_s


def is_ready(step: Step, i: int) -> bool:
    return boat_now(step) == READY


def off_in_time(step: Step, i: int) -> bool:
    return step.now.memory.boat.dwells.off_s < step.config.limits.disable_s


def idle_in_time(step: Step, i: int) -> bool:
    c = step.config.limits
    return step.now.memory.boat.dwells.idle_s < c.idle_reminder_s + c.idle_off_s


def contactor_unproven(step: Step, i: int) -> bool:
    return not yes(step.boat_in, BOAT.CONTACTOR_CLOSED)


def first_tick(step: Step, i: int) -> bool:
    """Nothing was remembered: no button seen off, STANDBY, no torque."""
    boat = step.was.boat
    return boat.mode == STANDBY and boat.latches == 0 and boat.dwells.age_s <= 0.0


def stands_by(step: Step, i: int) -> bool:
    return (boat_now(step) == STANDBY or boat_now(step) == TRIPPED) and dead(step, i)


# --- one shaft's trips


def was_isolated(step: Step, i: int) -> bool:
    return mode_was(step, i) == ISOLATED


def stays_or_reset(step: Step, i: int) -> bool:
    if not no_torque(step, i):
        return False
    if mode_now(step, i) == ISOLATED:
        return True
    sound = lever_neutral(step, i) and torque_gone(step, i) and not own_cause(step, i)
    sound = sound and obedient(step, i) and trusted(step, i)
    return mode_now(step, i) == REST and sound and pressed(step, BOAT.RESET, KEPT.RESET_WAS_OFF)


def disobeyed(step: Step, i: int) -> bool:
    return disobeyed_long(step, i)


def isolated_dead(step: Step, i: int) -> bool:
    return mode_now(step, i) == ISOLATED and dead(step, i)


def lost_input(step: Step, i: int) -> bool:
    """An input is lost whose loss trips this shaft, while it serves."""
    own = has(step.shaft_in[i], step.boat.shafts[i].react.trip_shaft)
    return not out_of_service(step, i) and not (own and has(step.boat_in, step.boat.limits.react.trip_shaft))


def faulty(step: Step, i: int) -> bool:
    return yes(step.shaft_in[i], SHAFT.DRIVE_FAULT)


def link_fell(step: Step, i: int) -> bool:
    return step.now.memory.shafts[i].dwells.link_off_s > LINK_AWAY_S


def precharge_failed(step: Step, i: int) -> bool:
    """A precharge has failed, and this is not the one retry by hand."""
    retried = step.now.memory.shafts[i].latches & HELD.PRECHARGE_RETRIED != 0
    retry = pressed(step, BOAT.RESET, KEPT.RESET_WAS_OFF) and not retried
    return step.now.memory.shafts[i].latches & HELD.PRECHARGE_FAILED != 0 and not retry


def own_cause(step: Step, i: int) -> bool:
    """A cause of this shaft's own to be isolated."""
    own = step.now.shaft_words[i] & OWN_SHAFT == 0
    turns = came_loose(step, i) or held_fast(step, i)
    return faulty(step, i) or disobeyed(step, i) or lost_input(step, i) or link_fell(step, i) or turns or own


def isolates(step: Step, i: int) -> bool:
    return mode_was(step, i) != ISOLATED and mode_now(step, i) == ISOLATED


def isolated_for_cause(step: Step, i: int) -> bool:
    return own_cause(step, i) or step.now.memory.shafts[i].latches & HELD.PRECHARGE_FAILED != 0


def lost_or_faulty(step: Step, i: int) -> bool:
    return faulty(step, i) or lost_input(step, i)


def live_and_lost(step: Step, i: int) -> bool:
    return faulty(step, i) or (lost_input(step, i) and live(boat_now(step)))


def is_isolated(step: Step, i: int) -> bool:
    return mode_now(step, i) == ISOLATED


def stops_for_it(step: Step, i: int) -> bool:
    return no_torque(step, i) and (mode_now(step, i) == ISOLATED or not live(boat_now(step)))


# --- machinery


def is_propel(step: Step, i: int) -> bool:
    return mode_now(step, i) == PROPEL


def is_generate(step: Step, i: int) -> bool:
    return mode_now(step, i) == GENERATE


def is_harvest(step: Step, i: int) -> bool:
    return mode_now(step, i) == HARVEST


def begins_propel(step: Step, i: int) -> bool:
    return mode_was(step, i) != PROPEL and mode_now(step, i) == PROPEL


def begins_generate(step: Step, i: int) -> bool:
    return mode_was(step, i) != GENERATE and mode_now(step, i) == GENERATE


def begins_harvest(step: Step, i: int) -> bool:
    return mode_was(step, i) != HARVEST and mode_now(step, i) == HARVEST


def begins_source(step: Step, i: int) -> bool:
    return begins_generate(step, i) or begins_harvest(step, i)


def was_armed(step: Step, i: int) -> bool:
    return step.was.shafts[i].latches & HELD.REARMED != 0


def lock_bars(step: Step, i: int) -> bool:
    if clutch_open(step, i):
        return not lock_released(step, i) and not lock_engaged(step, i)
    return not lock_released(step, i)


def clutch_moves(step: Step, i: int) -> bool:
    return not clutch_closed(step, i) and not clutch_open(step, i)


def thrust_or_harvest(step: Step, i: int) -> bool:
    return mode_now(step, i) == PROPEL or mode_now(step, i) == HARVEST


def closed(step: Step, i: int) -> bool:
    return clutch_closed(step, i)


def diver(step: Step, i: int) -> bool:
    return not no(step.boat_in, BOAT.DIVER_LOCKOUT)


def cable_in(step: Step, i: int) -> bool:
    """The shore cable is not confirmed out, the boat was not under way, and what works is not generating, nor unloads from
    it."""
    from_generating = clutch_open(step, i) or mode_was(step, i) == GENERATE
    turns = mode_now(step, i) != GENERATE and not (mode_now(step, i) == UNLOAD and from_generating)
    return not no(step.boat_in, BOAT.SHORE_CONNECTED) and not was_under_way(step) and turns


def at_rest_generating(step: Step, i: int) -> bool:
    return mode_now(step, i) == GENERATE and not clutch_closed(step, i)


def stands_still(step: Step, i: int) -> bool:
    return clutch_open(step, i) and propeller_still(step, i)


def runs(step: Step, i: int) -> bool:
    return engine_running(step, i)


def runs_ahead(step: Step, i: int) -> bool:
    return engine_running(step, i) and gear_ahead(step, i)


def may_trail(step: Step, i: int) -> bool:
    gearbox, now = step.config.shaft[i].gearbox, step.now.memory.shafts[i]
    in_time = gearbox.trailing_limit_s <= 0.0 or now.dwells.trail_s < gearbox.trailing_limit_s
    return gearbox.trailing_allowed and in_time


def trails(step: Step, i: int) -> bool:
    still = engine_stopped(step, i) and gear_neutral(step, i)
    return still and clutch_closed(step, i) and lock_released(step, i) and may_trail(step, i)


def cannot_charge(step: Step, i: int) -> bool:
    return not may_charge(step)


def not_charging(step: Step, i: int) -> bool:
    return not charges(step, i) and not works_as_source(step, i)


def cannot_discharge(step: Step, i: int) -> bool:
    return not may_discharge(step)


def not_driving(step: Step, i: int) -> bool:
    return not drives(step, i) and mode_now(step, i) != PROPEL


def no_source_opposing(step: Step, i: int) -> bool:
    """No source's order opposes its shaft. Braking is not charging: what it may feed is SR-51's."""
    return not (charges(step, i) and is_source(step, i))


def no_soc(step: Step, i: int) -> bool:
    return not has(step.boat_in, BOAT.SOC)


def wanted_and_open(step: Step, i: int) -> bool:
    return step.now.view.charge_wanted == 1 and not ended(step.now.view.latches)


def not_low_or_home(step: Step, i: int) -> bool:
    return home(step) or not low(step.now.view.latches)


def thrust_asked(step: Step, i: int) -> bool:
    """The position in control asks; while a lever is held, the last it asked; or the shaft is to be held."""
    if is_held(step, i):
        return True
    if handset_now(step):
        return handset_asks(step, i)
    kept = abs(step.now.memory.shafts[i].order_pct) > step.config.shaft[i].rules.neutral_band_pct
    return lever_asks(step, i) or (lever_lost(step, i) and kept)


def asked_and_clear(step: Step, i: int) -> bool:
    """Thrust is asked, the shaft serves, its link is charged, and nothing has ordered off."""
    off = step.now.orders.off_order == 1
    link = step.now.memory.shafts[i].latches & HELD.LINK_WAS_CHARGED != 0
    return thrust_asked(step, i) and in_service(step, i) and link and not off


def still_asked(step: Step, i: int) -> bool:
    return thrust_asked(step, i) and step.now.orders.off_order == 0 and in_service(step, i)


def loses_control(step: Step, i: int) -> bool:
    """A lost lever, kept for its hold in PROPEL only; or another input whose loss ramps thrust down."""
    held = mode_was(step, i) == PROPEL
    held = held and step.now.memory.shafts[i].dwells.lever_lost_s < step.config.limits.lever_hold_s
    if lever_lost(step, i):
        return not held
    own = has(step.shaft_in[i], step.boat.shafts[i].react.ramp_down)
    return not (own and has(step.boat_in, step.boat.limits.react.ramp_down))


def not_propel(step: Step, i: int) -> bool:
    return mode_now(step, i) != PROPEL


def handset_gone(step: Step, i: int) -> bool:
    """Lost in READY; what worked as a source goes on, or unloads."""
    source = mode_was(step, i) == GENERATE or mode_was(step, i) == HARVEST
    return handset_fails(step) and boat_was(step) == READY and not source and not works_as_source(step, i)


def is_unload(step: Step, i: int) -> bool:
    return mode_now(step, i) == UNLOAD


def unload_in_time(step: Step, i: int) -> bool:
    """In time; or thrust is asked at this very tick, which is looked at first."""
    in_time = at_most(step.now.memory.shafts[i].dwells.unload_s, UNLOAD_S + step.config.limits.lever_ramp_s)
    return in_time or step.was.shafts[i].latches & HELD.UNLOAD_TO_PROPEL == 0


def charge_selected(step: Step, i: int) -> bool:
    shaft = step.shaft_in[i]
    some = yes(shaft, SHAFT.CHARGE_UNDER_WAY) or yes(shaft, SHAFT.CHARGE_AT_REST)
    return some and step.was.shafts[i].latches & HELD.CHARGE_ARMED != 0 and boat_was(step) == READY


def harvest_selected(step: Step, i: int) -> bool:
    armed = step.was.shafts[i].latches & HELD.HARVEST_ARMED != 0 and boat_was(step) == READY
    return yes(step.shaft_in[i], SHAFT.HARVEST) and armed


def by_handset(step: Step, i: int) -> bool:
    return step.now.boat_command.handset_in_control == 1


def held_alone(step: Step, i: int) -> bool:
    held = linked(step) and yes(step.boat_in, BOAT.HANDSET_HELD)
    return held and (out_of_service(step, i) or lever_neutral(step, i))


def through_rest(step: Step, i: int) -> bool:
    """Work begins at rest, or for PROPEL from UNLOAD at zero: nothing passes from one work to another."""
    was, now = mode_was(step, i), mode_now(step, i)
    if now == PROPEL and was != PROPEL:
        return was == REST or (was == UNLOAD and step.was.shafts[i].effort.torque_nm == 0.0)
    if (now == GENERATE or now == HARVEST) and now != was:
        return was == REST
    if now == UNLOAD and was != UNLOAD:
        return was == PROPEL or was == GENERATE or was == HARVEST
    return True


# --- permits


def enable_given(step: Step, i: int) -> bool:
    return permits(step, i, ENABLE)


def precharge_given(step: Step, i: int) -> bool:
    return permits(step, i, PRECHARGE)


def may_precharge(step: Step, i: int) -> bool:
    works = live(boat_now(step)) and in_service(step, i) and mode_now(step, i) != ISOLATED
    failed = step.now.memory.shafts[i].latches & HELD.PRECHARGE_FAILED != 0
    return works and yes(step.boat_in, BOAT.CONTACTOR_CLOSED) and not failed


def may_enable(step: Step, i: int) -> bool:
    linked_up = step.now.memory.shafts[i].latches & HELD.LINK_WAS_CHARGED != 0
    return may_precharge(step, i) and boat_now(step) == READY and linked_up


def torque_gone(step: Step, i: int) -> bool:
    """At rest with nothing ordered now or a tick ago, and the drive says so."""
    shaft = step.shaft_in[i]
    most_nm = step.config.limits.disobey_torque_pct / 100.0 * step.config.shaft[i].drive.rated_torque_nm
    silent = has(shaft, SHAFT.TORQUE) and abs(shaft.torque_nm) <= most_nm
    at_rest = mode_now(step, i) == REST or mode_now(step, i) == ISOLATED
    return at_rest and no_torque(step, i) and step.was.shafts[i].effort.torque_nm == 0.0 and silent


def switched_off(step: Step, i: int) -> bool:
    """Out of service with nothing ordered, and the drive does not say otherwise."""
    shaft = step.shaft_in[i]
    most_nm = step.config.limits.disobey_torque_pct / 100.0 * step.config.shaft[i].drive.rated_torque_nm
    pulls = has(shaft, SHAFT.TORQUE) and abs(shaft.torque_nm) > most_nm
    return out_of_service(step, i) and no_torque(step, i) and not pulls


def silent_long(step: Step, i: int) -> bool:
    """Nothing is ordered, and the drive has been silent with its enable dropped for its time."""
    return no_torque(step, i) and silent_s(step, i) >= SILENT_S


def start_given(step: Step, i: int) -> bool:
    return permits(step, i, START)


def may_start(step: Step, i: int) -> bool:
    safe = not gear_engaged(step, i) and not yes(step.boat_in, BOAT.DIVER_LOCKOUT)
    safe = safe and step.now.permit_words[i] & OWN_ENGINE_START != 0
    return safe and (torque_gone(step, i) or switched_off(step, i) or silent_long(step, i))


def close_given(step: Step, i: int) -> bool:
    return permits(step, i, CLOSE)


def may_close(step: Step, i: int) -> bool:
    shaft = step.shaft_in[i]
    known = has(shaft, SHAFT.MACHINE_SPEED) and has(shaft, SHAFT.PROPELLER_SPEED)
    apart_rpm = abs(shaft.machine_speed_rpm - shaft.propeller_speed_rpm)
    matched = known and apart_rpm <= step.config.shaft[i].clutch.close_within_rpm
    calm = gear_neutral(step, i) and lever_neutral(step, i) and no(step.boat_in, BOAT.DIVER_LOCKOUT)
    return calm and matched and torque_gone(step, i)


def engage_given(step: Step, i: int) -> bool:
    return permits(step, i, ENGAGE)


def may_engage(step: Step, i: int) -> bool:
    long = step.now.memory.shafts[i].dwells.still_s >= step.config.shaft[i].lock.still_s
    held = step.now.memory.shafts[i].mode == PROPEL and is_held(step, i)
    return long and shaft_still(step, i) and (torque_gone(step, i) or held)


def _shaft(requirement: str, name: str, text: str, given, then, parity: bool = False) -> StepClaim:  # type: ignore[no-untyped-def]
    return StepClaim(requirement, name, text, given, then, parity=parity)


def _boat(requirement: str, name: str, text: str, given, then, parity: bool = False) -> StepClaim:  # type: ignore[no-untyped-def]
    return StepClaim(requirement, name, text, given, then, per_shaft=False, parity=parity)


OUTPUT_CLAIMS: tuple[StepClaim, ...] = (
    # --- enabling, tripping, resetting
    _shaft("SR-01", "READY after neutral", "READY is entered only with this lever in neutral now and for the dwell "
           "before, unless the shaft is out of service: each lever of the boat", enters_ready_serving, lever_dwelt, True),
    _shaft("SR-33", "READY after precharge", "READY is entered only with the link of each serving shaft near the bank's "
           "voltage", enters_ready_working, link_proven, True),
    _boat("SR-34", "READY with contactor", "READY is entered only with the bank's contactor confirmed closed",
          enters_ready, contactor_proven),
    _shaft("SR-02", "off means off", "unless the boat is READY after the tick, no torque is ordered and no drive is "
           "enabled", not_ready, dead, True),
    _shaft("SR-03", "stopped in its tick", "a cause of a boat trip makes every order zero in the tick in which it is "
           "seen, in every mode", stop_cause, no_torque, True),
    _boat("SR-03", "live trips", "and trips a boat that is READY or on its way there", live_stop_cause, is_tripped, True),
    _boat("SR-03", "pressed trips", "emergency stop and the monitor's fault trip from every mode", pressed_or_fault,
          is_tripped),
    _boat("SR-31", "trips only for a cause", "the boat trips only for a cause of the boat, or READY when its contactor "
          "opens", trips, trip_has_cause),
    _boat("SR-04", "allowed changes", "the boat's mode changes only the ways that are allowed", changes, allowed_change,
          True),
    _boat("SR-04", "TRIPPED until reset", "TRIPPED ends only by a press of reset with every cause gone", leaves_tripped,
          reset_without_cause, True),
    _boat("SR-04", "enabled by a press", "NEUTRAL_WAIT is entered only by a press of enable, with off not pressed",
          enables, enabled_by_press, True),
    _boat("SR-44", "gives up in time", "NEUTRAL_WAIT ends when its time is over", waits, wait_in_time, True),
    _boat("SR-45", "off in time", "READY ends when off has been ordered for its time", is_ready, off_in_time, True),
    _boat("SR-35", "idle ends in time", "READY ends when it has been idle for reminder and grace", is_ready,
          idle_in_time, True),
    _shaft("SR-34", "no torque without contactor", "no torque is ordered while the contactor is not confirmed closed",
           contactor_unproven, no_torque, True),
    _boat("SR-34", "READY ends without contactor", "nor is the boat READY", contactor_unproven, not_ready),
    _shaft("SR-36", "first tick", "in the first tick after power-up nothing is ordered or enabled, whatever levers and "
           "switches say", first_tick, stands_by),
    # --- one shaft's trips
    _shaft("SR-06", "ISOLATED until reset", "ISOLATED gives no torque and ends only by a press of reset, in REST, with "
           "its cause gone, lever in neutral, torque zero, and its drive trusted", was_isolated, stays_or_reset, True),
    _shaft("SR-30", "lost input stops", "a lost required input or a fault flag makes the order zero in its tick, "
           "and isolates while the boat is enabled", lost_or_faulty, stops_for_it, True),
    _shaft("SR-32", "disobeying isolates", "a drive that has disobeyed for its time is isolated, its enable dropped",
           disobeyed, isolated_dead, True),
    _shaft("SR-33", "a lost link isolates", "a link that was charged and is away for longer than 0.2 s isolates",
           link_fell, is_isolated),
    _shaft("SR-33", "a failed precharge isolates", "a failed precharge isolates, but for one retry by hand",
           precharge_failed, is_isolated),
    _shaft("SR-31", "isolated for its own cause", "a shaft is isolated only for a cause of its own, whatever another "
           "does", isolates, isolated_for_cause),
    # --- motion
    _shaft("SR-05", "thrust begins rearmed", "PROPEL begins only where REARMED stood before", begins_propel, was_armed),
    _shaft("SR-05", "through rest", "PROPEL begins at REST or from UNLOAD at zero, GENERATE and HARVEST at REST, UNLOAD "
           "only after work", always, through_rest),
    _shaft("SR-05", "thrust is asked", "PROPEL lasts only while thrust is asked, the shaft serves and off is not "
           "ordered", is_propel, still_asked),
    _shaft("SR-07", "no torque against the lock", "no torque with the lock not confirmed released, unless the clutch is "
           "confirmed open and the lock confirmed at rest", lock_bars, no_torque, True),
    _shaft("SR-08", "no torque through transit", "no torque with the clutch in transit or unknown", clutch_moves,
           no_torque, True),
    _shaft("SR-08", "thrust with clutch closed", "PROPEL and HARVEST last only with the clutch confirmed closed",
           thrust_or_harvest, closed),
    _shaft("SR-09", "one prime mover", "PROPEL lasts only with the engine confirmed stopped or its gearbox in neutral",
           is_propel, engine_clear),
    _shaft("SR-10", "nothing turns with a diver", "no torque with the lockout set or not confirmed clear", diver, no_torque,
           True),
    _shaft("SR-11", "no thrust with shore cable", "no thrust and no harvest with the cable in or not confirmed out, "
           "unless under way",
           cable_in, no_torque),
    _shaft("SR-12", "at rest stands still", "without the clutch confirmed closed GENERATE lasts only with it confirmed open "
           "and the propeller side still", at_rest_generating, stands_still),
    _shaft("SR-23", "GENERATE with engine running", "GENERATE lasts only with the engine confirmed running", is_generate,
           runs),
    _shaft("SR-23", "GENERATE begins ahead", "and begins only with the gear confirmed ahead", begins_generate, runs_ahead),
    _shaft("SR-41", "harvest as allowed", "HARVEST lasts only with engine stopped, gear neutral, clutch closed, lock "
           "released, and a gearbox that may trail, within its time", is_harvest, trails),
    _shaft("SR-26", "a lost lever ends thrust", "PROPEL ends when the lever is lost beyond its hold, or another input "
           "is lost whose loss ramps thrust down", loses_control, not_propel),
    _shaft("SR-27", "a lost handset stops thrust", "with the handset in control lost, thrust is zero in that tick",
           handset_gone, no_torque),
    _shaft("SR-29", "held alone", "the handset is shown in control only while held and heard, with this lever in "
           "neutral: each lever of the boat", by_handset, held_alone),
    _shaft("SR-24", "unloading is not overdue", "UNLOAD ends when it has taken longer than 10 s and the ramp",
           is_unload, unload_in_time),
    # --- bank
    _shaft("SR-13", "no charging without permit", "with the charge permit withdrawn or unknown, its limit zero, or the "
           "contactor not closed or about to open, nothing opposes and no source works", cannot_charge, not_charging),
    _shaft("SR-14", "no thrust without permit", "likewise for discharging, nothing drives and PROPEL ends",
           cannot_discharge, not_driving),
    _shaft("SR-16", "nothing charges cold or hot", "with a cell too cold, too hot or unknown no source opposes rotation",
           cold_or_hot, no_source_opposing, True),
    _shaft("SR-40", "nothing charges without SOC", "with the SOC unknown no source opposes rotation", no_soc,
           no_source_opposing),
    _shaft("SR-17", "a source begins as wanted", "GENERATE and HARVEST begin only while charging is wanted and has not "
           "ended", begins_source, wanted_and_open),
    _shaft("SR-19", "thrust begins above the limit", "PROPEL begins only above the lower limit, or by the override",
           begins_propel, not_low_or_home),
    _shaft("SR-46", "charging begins selected", "GENERATE begins only by a selector that was seen off since READY",
           begins_generate, charge_selected),
    _shaft("SR-46", "harvest begins selected", "HARVEST begins only by a selector that was seen off since READY",
           begins_harvest, harvest_selected),
    # --- permits
    _shaft("SR-02", "drive enable", "a drive is enabled only in READY, serving, not isolated, contactor closed, its "
           "link charged and no precharge failed", enable_given, may_enable),
    _shaft("SR-49", "drive enable is given", "and then it is", may_enable, enable_given),
    _shaft("SR-33", "precharge order", "precharge is ordered only while live, serving, not isolated, contactor closed "
           "and no precharge failed", precharge_given, may_precharge),
    _shaft("SR-49", "precharge is ordered", "and then it is", may_precharge, precharge_given),
    _shaft("SR-37", "start permit", "engine start is permitted only unless in gear or with the diver lockout set, and with "
           "the drive at rest with no torque, out of service and not said to pull, or silent with its enable dropped", start_given, may_start),
    _shaft("SR-49", "start is permitted", "and then it is", may_start, start_given),
    _shaft("SR-38", "clutch permit", "closing is permitted only with gear and lever neutral, no diver, no torque, both "
           "speeds known and within the limit", close_given, may_close),
    _shaft("SR-49", "closing is permitted", "and then it is", may_close, close_given),
    _shaft("SR-39", "lock permit", "the lock may engage only after its time on a still shaft, without torque or held for "
           "it",
           engage_given, may_engage),
    _shaft("SR-49", "engaging is permitted", "and then it is", may_engage, engage_given),
)  # fmt: skip
