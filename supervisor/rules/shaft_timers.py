"""Dwell timers and input latches of a shaft: debounce and dwell end here."""

from supervisor.config.limits import BoatLimits, ShaftLimits
from supervisor.rules.bank import proven
from supervisor.rules.bits import (
    BOAT_LATCH_HANDSET_IN_CONTROL,
    LATCH_CHARGE_ARMED,
    LATCH_HARVEST_ARMED,
    LATCH_IN_SERVICE,
    LATCH_LINK_WAS_CHARGED,
    LATCH_OUT_OF_SERVICE,
    LATCH_PRECHARGE_FAILED,
    LATCH_PRECHARGE_RETRIED,
    LATCH_RELAPSED,
    MODE_NEUTRAL_WAIT,
    MODE_READY,
    SHAFT_HARVEST,
    SHAFT_ISOLATED,
    SHAFT_UNLOAD,
)
from supervisor.rules.coupling import coupling_timers, turned_of_late
from supervisor.rules.hold import hold_latches, hold_timers, hold_wanted
from supervisor.rules.own import OwnOnShaft, own_limit_pct
from supervisor.rules.pause import pause_timers
from supervisor.rules.readings import (
    CHARGE_AT_REST,
    CHARGE_UNDER_WAY,
    HANDSET_THRUST,
    HARVEST,
    LEVER,
    TORQUE,
    Lever,
    disobeys,
    engine_contradicts,
    engine_running,
    gear_contradicts,
    in_service,
    link_charged,
    out_of_service,
    shaft_still,
)
from supervisor.rules.state import LONGEST_S, RELAPSE_S, ShaftDwells, ShaftState, count, longer, ramp_length
from supervisor.signals.inputs import BoatInput, BoatInputs, ShaftInputs

PRECHARGE_COOLING = 0.2
"""Time on precharge is forgotten this much slower than it was spent."""

LEVER_STEADY_PCT = 2.0
"""A lever (throttle) that moved by more than this is not steady."""


def shaft_timers(
    boat_lim: BoatLimits, lim: ShaftLimits, state: ShaftState, boat: BoatInputs, shaft: ShaftInputs, lever: Lever,
    own: OwnOnShaft, boat_mode: int, boat_latches: int, bank_voltage_believed: bool, dt_s: float,
) -> ShaftState:  # fmt: skip
    """Dwell timers and input latches of one shaft, advanced by one tick. The mode is not touched.

    `boat_mode` is the boat's mode before this tick, `boat_latches` its latches with this tick's orders;
    `bank_voltage_believed` says whether the bank's voltage is a reading at all.
    """
    latches, was = state.latches, state.dwells
    known, on = shaft.known, shaft.on
    in_control = boat_latches & BOAT_LATCH_HANDSET_IN_CONTROL != 0
    ready = boat_mode == MODE_READY
    live = ready or boat_mode == MODE_NEUTRAL_WAIT

    # neutral is asked of every control position: of the lever always, of the handset while it is in control
    neutral = lever.neutral == 1
    if in_control and not (known & HANDSET_THRUST != 0 and abs(shaft.handset_thrust_pct) <= lim.neutral_band_pct):
        neutral = False

    # what thrust is asked: kept while the lever is lost, so that it can be ramped down instead of dropped
    order_pct = state.order_pct
    if in_control:
        order_pct = shaft.handset_thrust_pct if known & HANDSET_THRUST else 0.0
    elif lever.lost == 0:
        order_pct = shaft.lever_pct if lever.asks else 0.0

    # DC link and precharge
    was_charged = latches & LATCH_LINK_WAS_CHARGED != 0
    charged = link_charged(lim, boat, shaft, was_charged)
    if not bank_voltage_believed:
        # in READY the bank's voltage is lost, not the link: its own reaction answers for that; before READY nothing is
        # proven by a voltage that is not there
        was_charged = was_charged and ready
        charged = was_charged
        if not ready:
            latches = latches & ~LATCH_LINK_WAS_CHARGED
    link_off_s = count(was.link_off_s, was_charged and not charged, dt_s)
    if charged:
        latches = latches | LATCH_LINK_WAS_CHARGED
        latches = latches & ~LATCH_PRECHARGE_RETRIED
    serving = not out_of_service(shaft, latches)
    if not live or not serving or state.mode == SHAFT_ISOLATED:
        latches = latches & ~LATCH_LINK_WAS_CHARGED
    contactor = proven(boat.known, boat.on, BoatInput.CONTACTOR_CLOSED.value)
    ordered = live and contactor and state.mode != SHAFT_ISOLATED
    ordered = ordered and in_service(shaft, latches)
    precharge_s = was.precharge_s
    if charged:
        precharge_s = 0.0
    elif ordered and not was_charged:
        precharge_s = precharge_s + dt_s
    else:
        # the resistor cools slower than an impatient thumb: off and on again does not start the time anew
        precharge_s = precharge_s - PRECHARGE_COOLING * dt_s
        if precharge_s < 0.0:
            precharge_s = 0.0
    if precharge_s > lim.precharge_s:
        latches = latches | LATCH_PRECHARGE_FAILED

    # selectors act only when they were seen off since READY: a switch left on does nothing until it has been off
    isolated = state.mode == SHAFT_ISOLATED
    charge_known = known & CHARGE_UNDER_WAY != 0 and known & CHARGE_AT_REST != 0
    if not ready or isolated or not charge_known:
        latches = latches & ~LATCH_CHARGE_ARMED
    elif on & (CHARGE_UNDER_WAY | CHARGE_AT_REST) == 0:
        latches = latches | LATCH_CHARGE_ARMED
    if not ready or isolated or known & HARVEST == 0:
        latches = latches & ~LATCH_HARVEST_ARMED
    elif on & HARVEST == 0:
        latches = latches | LATCH_HARVEST_ARMED

    latches = hold_latches(shaft, latches, ready and not isolated, state.hold, boat_lim.hold_s)
    held = hold_wanted(shaft, latches, lever, in_control)

    if in_service(shaft, latches):
        latches = (latches | LATCH_IN_SERVICE) & ~LATCH_OUT_OF_SERVICE
    elif out_of_service(shaft, latches):
        latches = (latches | LATCH_OUT_OF_SERVICE) & ~LATCH_IN_SERVICE

    # the lever as throttle: how long it has been steady
    lever_ref_pct = state.lever_ref_pct
    steady_s = was.steady_s
    if known & LEVER and abs(shaft.lever_pct - lever_ref_pct) > LEVER_STEADY_PCT:
        lever_ref_pct = shaft.lever_pct
        steady_s = 0.0
    elif steady_s < LONGEST_S:
        steady_s = steady_s + ramp_length(dt_s)

    zero_ordered = state.effort.torque_nm == 0.0
    trailing = state.mode == SHAFT_HARVEST
    trail_s = was.trail_s
    if trailing and trail_s < LONGEST_S:
        trail_s = trail_s + dt_s
    elif shaft_still(lim, shaft) or engine_running(lim, shaft):
        trail_s = 0.0
    ahead_pct, astern_pct = state.own_ahead_pct, state.own_astern_pct
    if ahead_pct != own.ahead_pct or astern_pct != own.astern_pct:
        ahead_pct = own_limit_pct(ahead_pct, own.ahead_pct, boat_lim, dt_s)
        astern_pct = own_limit_pct(astern_pct, own.astern_pct, boat_lim, dt_s)
    # trust in a drive that disobeyed
    pardon_s = longer(was.pardon_s, dt_s)
    if not pardon_s < RELAPSE_S:
        latches = latches & ~LATCH_RELAPSED
    disobeying = disobeys(lim, shaft, state.effort.torque_nm)
    obeys = known & TORQUE != 0 and zero_ordered and not disobeying
    dropped = not ready or state.mode == SHAFT_ISOLATED  # DRIVE_ENABLE needs READY and a shaft that is not ISOLATED
    dwells = ShaftDwells(
        neutral_s=count(was.neutral_s, neutral, ramp_length(dt_s)),
        lever_lost_s=count(was.lever_lost_s, lever.lost == 1, dt_s),
        unload_s=count(was.unload_s, state.mode == SHAFT_UNLOAD, dt_s),
        precharge_s=precharge_s,
        disobey_s=count(was.disobey_s, disobeying, dt_s),
        link_off_s=link_off_s,
        still_s=count(was.still_s, shaft_still(lim, shaft), ramp_length(dt_s)),
        trail_s=trail_s,
        zero_s=count(was.zero_s, zero_ordered, ramp_length(dt_s)),
        steady_s=steady_s,
        gear_contradicts_s=count(was.gear_contradicts_s, gear_contradicts(lim, shaft), dt_s),
        engine_contradicts_s=count(was.engine_contradicts_s, engine_contradicts(shaft), dt_s),
        obeyed_s=count(was.obeyed_s, obeys, dt_s),
        pardon_s=pardon_s,
        silent_s=count(was.silent_s, known & TORQUE == 0 and dropped, dt_s),
    )
    turned = turned_of_late(lim, state.turned, shaft, dt_s)
    return ShaftState(
        mode=state.mode,
        latches=latches,
        order_pct=order_pct,
        lever_ref_pct=lever_ref_pct,
        own_ahead_pct=ahead_pct,
        own_astern_pct=astern_pct,
        dwells=dwells,
        effort=state.effort,
        pause=pause_timers(state.pause, lever.contradicts == 1, dt_s),
        turned=turned,
        coupling=coupling_timers(boat_lim, lim, state, turned, shaft, dt_s),
        hold=hold_timers(lim, state, shaft, held, dt_s),
    )
