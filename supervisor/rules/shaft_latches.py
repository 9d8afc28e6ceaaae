"""What a shaft remembers after the tables have spoken: REARMED above all."""

from supervisor.config.limits import ShaftLimits
from supervisor.modes.shaft_table import PROPEL_MUST, PROPEL_MUST_NOT
from supervisor.rules.bits import (
    IS_CONTROL_LOST,
    IS_DISOBEYED,
    IS_HANDSET_LOST,
    IS_OWN_THRUST_START,
    IS_OWN_THRUST_STAYS,
    IS_PAUSED,
    IS_REARMED,
    IS_THRUST_ORDER,
    LATCH_BEGUN,
    LATCH_PAUSED,
    LATCH_PRECHARGE_FAILED,
    LATCH_PRECHARGE_RETRIED,
    LATCH_REARMED,
    LATCH_RELAPSED,
    LATCH_SLOW_RAMP,
    LATCH_UNLOAD_TO_PROPEL,
    LATCH_UNLOADS_SOURCE,
    MODE_READY,
    SHAFT_GENERATE,
    SHAFT_HARVEST,
    SHAFT_ISOLATED,
    SHAFT_PROPEL,
    SHAFT_REST,
    SHAFT_UNLOAD,
)
from supervisor.rules.pause import after_pause
from supervisor.rules.state import NOT_RUNNING_S, RELAPSE_S, Effort, ShaftDwells, ShaftState

PROPEL_VALUE = int(PROPEL_MUST) & ~IS_OWN_THRUST_START  # an interlock that inhibits bars beginnings, it disarms nothing
PROPEL_MASK = PROPEL_VALUE | int(PROPEL_MUST_NOT)
PAUSE_VALUE = IS_PAUSED | IS_REARMED
PAUSE_MASK = PAUSE_VALUE | int(PROPEL_MUST_NOT)


def after_mode(
    lim: ShaftLimits, state: ShaftState, word: int, new_mode: int, disarms: bool, to_propel: bool,
    neutral_dwell_s: float, boat_mode: int,
) -> ShaftState:  # fmt: skip
    """Latches after the tables have spoken: REARMED, the unload target, the slow ramp, trust in the drive.

    REARMED is set by neutral held for `neutral_dwell_s`; it is cleared by whatever ends thrust other than the lever
    itself, by the boat not being READY, and by thrust asked while the shaft may not give it: only fresh neutral
    brings it back. A pause is no end: it clears nothing until it has failed.
    """
    latches = state.latches
    if to_propel and new_mode == SHAFT_UNLOAD:
        latches = latches | LATCH_UNLOAD_TO_PROPEL
    elif new_mode != SHAFT_UNLOAD or state.mode != SHAFT_UNLOAD:
        latches = latches & ~LATCH_UNLOAD_TO_PROPEL

    armed = latches & LATCH_REARMED != 0
    if state.dwells.neutral_s >= neutral_dwell_s:
        armed = True
    asks = word & IS_THRUST_ORDER != 0
    going = new_mode == SHAFT_PROPEL
    if new_mode == SHAFT_UNLOAD and latches & LATCH_UNLOAD_TO_PROPEL:
        # on the way to thrust only while nothing that thrust needs is missing
        going = word & PROPEL_MASK == PROPEL_VALUE
    if disarms or boat_mode != MODE_READY or word & IS_CONTROL_LOST:
        armed = False
    if word & IS_HANDSET_LOST or (asks and not going and word & PAUSE_MASK != PAUSE_VALUE):
        armed = False
    latches = latches | LATCH_REARMED if armed else latches & ~LATCH_REARMED

    if boat_mode != MODE_READY or new_mode == SHAFT_ISOLATED:
        latches = latches & ~LATCH_BEGUN
    elif new_mode == SHAFT_PROPEL:
        latches = latches | LATCH_BEGUN

    if new_mode != SHAFT_UNLOAD:
        latches = latches & ~LATCH_UNLOADS_SOURCE
    elif state.mode in (SHAFT_GENERATE, SHAFT_HARVEST):
        latches = latches | LATCH_UNLOADS_SOURCE

    pause = after_pause(state, word, new_mode)
    if pause.lasts_s < 0.0:
        latches = latches & ~LATCH_PAUSED
    else:
        latches = latches | LATCH_PAUSED

    dwells, effort = state.dwells, state.effort
    changed = new_mode != state.mode or latches != state.latches or pause != state.pause
    if state.mode == SHAFT_ISOLATED and new_mode == SHAFT_REST and latches & LATCH_PRECHARGE_FAILED:
        latches = (latches | LATCH_PRECHARGE_RETRIED) & ~LATCH_PRECHARGE_FAILED
        dwells = precharge_anew(dwells)
        changed = True

    if new_mode == SHAFT_ISOLATED and state.mode != SHAFT_ISOLATED and word & IS_DISOBEYED:
        if dwells.pardon_s < RELAPSE_S:
            latches = latches | LATCH_RELAPSED
        dwells = trust_anew(dwells)

    if new_mode != SHAFT_UNLOAD:
        latches = latches & ~LATCH_SLOW_RAMP
    elif state.mode == SHAFT_PROPEL and (word & IS_CONTROL_LOST or word & IS_OWN_THRUST_STAYS == 0):
        # from wherever the thrust stands now to zero in the time given
        latches = latches | LATCH_SLOW_RAMP
        effort = with_ramp(effort, abs(effort.torque_nm) / lim.lever_ramp_s)
    if not changed and latches == state.latches:
        return state  # as in most ticks
    return ShaftState(
        mode=new_mode,
        latches=latches,
        order_pct=state.order_pct,
        lever_ref_pct=state.lever_ref_pct,
        own_ahead_pct=state.own_ahead_pct,
        own_astern_pct=state.own_astern_pct,
        dwells=dwells,
        effort=effort,
        pause=pause,
        turned=state.turned,
        coupling=state.coupling,
        hold=state.hold,
    )


def precharge_anew(dwells: ShaftDwells) -> ShaftDwells:
    """The dwells with the precharge resistor cold again."""
    return dwells_with(dwells, 0.0, dwells.obeyed_s, dwells.pardon_s)


def trust_anew(dwells: ShaftDwells) -> ShaftDwells:
    """The dwells of a drive that has just been found disobeying: what it obeyed before counts for nothing."""
    return dwells_with(dwells, dwells.precharge_s, NOT_RUNNING_S, 0.0)


def dwells_with(dwells: ShaftDwells, precharge_s: float, obeyed_s: float, pardon_s: float) -> ShaftDwells:
    """The dwells with these three."""
    return ShaftDwells(
        neutral_s=dwells.neutral_s,
        lever_lost_s=dwells.lever_lost_s,
        unload_s=dwells.unload_s,
        precharge_s=precharge_s,
        disobey_s=dwells.disobey_s,
        link_off_s=dwells.link_off_s,
        still_s=dwells.still_s,
        trail_s=dwells.trail_s,
        zero_s=dwells.zero_s,
        steady_s=dwells.steady_s,
        gear_contradicts_s=dwells.gear_contradicts_s,
        engine_contradicts_s=dwells.engine_contradicts_s,
        obeyed_s=obeyed_s,
        pardon_s=pardon_s,
        silent_s=dwells.silent_s,
    )


def with_ramp(effort: Effort, ramp_nm_per_s: float) -> Effort:
    """The effort with the slope (N m/s) at which its thrust goes down."""
    return Effort(
        torque_nm=effort.torque_nm,
        last_sign=effort.last_sign,
        charge_a=effort.charge_a,
        sag_ref_rpm=effort.sag_ref_rpm,
        ramp_nm_per_s=ramp_nm_per_s,
    )
