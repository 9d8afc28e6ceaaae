"""What a shaft remembers after the tables have spoken: REARMED above all."""

from supervisor.config.limits import ShaftLimits
from supervisor.modes.shaft_table import PROPEL_MUST, PROPEL_MUST_NOT
from supervisor.rules.bits import (
    IS_CONTROL_LOST,
    IS_HANDSET_LOST,
    IS_THRUST_ORDER,
    LATCH_PRECHARGE_FAILED,
    LATCH_PRECHARGE_RETRIED,
    LATCH_REARMED,
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
from supervisor.rules.state import ShaftState

PROPEL_MASK = int(PROPEL_MUST) | int(PROPEL_MUST_NOT)
PROPEL_VALUE = int(PROPEL_MUST)


def after_mode(
    lim: ShaftLimits, state: ShaftState, word: int, new_mode: int, disarms: bool, to_propel: bool,
    neutral_dwell_s: float, boat_mode: int,
) -> ShaftState:  # fmt: skip
    """Latches after the tables have spoken: REARMED, the unload target, the slow ramp.

    REARMED is set by neutral held for `neutral_dwell_s`; it is cleared by whatever ends thrust other than the lever
    itself, by the boat not being READY, and by thrust asked while the shaft may not give it: only fresh neutral
    brings it back.
    """
    latches = state.latches
    if to_propel and new_mode == SHAFT_UNLOAD:
        latches = latches | LATCH_UNLOAD_TO_PROPEL
    elif new_mode != SHAFT_UNLOAD or state.mode != SHAFT_UNLOAD:
        latches = latches & ~LATCH_UNLOAD_TO_PROPEL

    armed = latches & LATCH_REARMED != 0
    if state.neutral_s >= neutral_dwell_s:
        armed = True
    asks = word & IS_THRUST_ORDER != 0
    going = new_mode == SHAFT_PROPEL
    if new_mode == SHAFT_UNLOAD and latches & LATCH_UNLOAD_TO_PROPEL:
        # on the way to thrust only while nothing that thrust needs is missing
        going = word & PROPEL_MASK == PROPEL_VALUE
    if disarms or boat_mode != MODE_READY or word & IS_CONTROL_LOST:
        armed = False
    if word & IS_HANDSET_LOST or (asks and not going):
        armed = False
    latches = latches | LATCH_REARMED if armed else latches & ~LATCH_REARMED

    if new_mode != SHAFT_UNLOAD:
        latches = latches & ~LATCH_UNLOADS_SOURCE
    elif state.mode in (SHAFT_GENERATE, SHAFT_HARVEST):
        latches = latches | LATCH_UNLOADS_SOURCE

    precharge_s = state.precharge_s
    if state.mode == SHAFT_ISOLATED and new_mode == SHAFT_REST and latches & LATCH_PRECHARGE_FAILED:
        latches = (latches | LATCH_PRECHARGE_RETRIED) & ~LATCH_PRECHARGE_FAILED
        precharge_s = 0.0

    ramp_nm_per_s = state.ramp_nm_per_s
    if new_mode != SHAFT_UNLOAD:
        latches = latches & ~LATCH_SLOW_RAMP
    elif state.mode == SHAFT_PROPEL and word & IS_CONTROL_LOST:
        # from wherever the thrust stands now to zero in the time given
        latches = latches | LATCH_SLOW_RAMP
        ramp_nm_per_s = abs(state.torque_nm) / lim.lever_ramp_s
    return ShaftState(
        new_mode, latches, state.neutral_s, state.lever_lost_s, state.unload_s, precharge_s, state.disobey_s,
        state.link_off_s, state.still_s, state.trail_s, state.zero_s, state.torque_nm, state.last_sign,
        state.charge_a, state.order_pct, state.sag_ref_rpm, state.lever_ref_pct, ramp_nm_per_s,
        state.steady_s,
        state.gear_lie_s,
        state.engine_lie_s,
    )  # fmt: skip
