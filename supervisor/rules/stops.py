"""Stops that nobody asked for: a boat that loses thrust, or the current it counts on, must be told."""

from supervisor.rules.bits import (
    IS_AT_REST_ORDER,
    IS_CHARGE_PERMIT,
    IS_CHARGE_WANTED,
    IS_HANDSET_LOST,
    IS_HARVEST_ORDER,
    IS_OFF_ORDER,
    IS_PAUSED,
    IS_THRUST_ORDER,
    IS_UNDER_WAY_ORDER,
    LATCH_PAUSED,
    LATCH_STOPPED,
    LATCH_UNLOAD_TO_PROPEL,
    MODE_READY,
    SHAFT_GENERATE,
    SHAFT_HARVEST,
    SHAFT_PROPEL,
    SHAFT_UNLOAD,
)
from supervisor.rules.state import ShaftState, shaft_with_latches


def stopped_unasked(was: ShaftState, new_mode: int, word: int, boat_mode: int) -> bool:
    """Thrust, charging or harvest has ended in this tick although the crew still asks for it.

    Not so where the crew ended it (lever, selector, off), where charging has done what it was to do, and where the
    whole boat has left READY, which has alarms of its own. A pause for a contact is no end until it has failed. `was`
    is the state before the tables spoke.
    """
    was_mode = was.mode
    if was.latches & LATCH_PAUSED or (was_mode == SHAFT_UNLOAD and was.latches & LATCH_UNLOAD_TO_PROPEL):
        was_mode = SHAFT_PROPEL  # that is what is asked of it
        if new_mode in (SHAFT_PROPEL, SHAFT_UNLOAD):
            return False
    if new_mode == was_mode or word & IS_PAUSED:
        return False
    if boat_mode != MODE_READY or word & IS_OFF_ORDER:
        return False
    if was_mode == SHAFT_PROPEL:
        return word & (IS_THRUST_ORDER | IS_HANDSET_LOST) != 0
    full = word & IS_CHARGE_PERMIT != 0 and word & IS_CHARGE_WANTED == 0
    if was_mode == SHAFT_GENERATE:
        return word & (IS_UNDER_WAY_ORDER | IS_AT_REST_ORDER) != 0 and not full
    if was_mode == SHAFT_HARVEST:
        return word & IS_HARVEST_ORDER != 0 and word & IS_THRUST_ORDER == 0 and not full
    return False


def remember_stop(state: ShaftState, stopped: bool, acknowledged: bool) -> ShaftState:
    """The state with a stop remembered until the crew acknowledges it."""
    latches = state.latches
    if stopped:
        latches = latches | LATCH_STOPPED
    elif acknowledged:
        latches = latches & ~LATCH_STOPPED
    return shaft_with_latches(state, latches)
