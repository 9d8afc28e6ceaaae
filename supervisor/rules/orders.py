"""What the crew orders: levers and handset thrusts gathered, edges of push-buttons, the one control position."""

from collections.abc import Sequence
from typing import NamedTuple

from supervisor.config.limits import BoatLimits, ShaftLimits
from supervisor.rules.bank import proven
from supervisor.rules.bits import (
    BOAT_LATCH_ACKNOWLEDGE_WAS_OFF,
    BOAT_LATCH_ENABLE_WAS_OFF,
    BOAT_LATCH_HANDSET_IN_CONTROL,
    BOAT_LATCH_HANDSET_WAS_LOST,
    BOAT_LATCH_HELD_WAS_OFF,
    BOAT_LATCH_OFF_WANTED,
    BOAT_LATCH_RESET_WAS_OFF,
    MODE_NEUTRAL_WAIT,
    MODE_READY,
)
from supervisor.rules.readings import HANDSET_THRUST, Lever, out_of_service
from supervisor.rules.state import BoatState, ShaftState
from supervisor.signals.inputs import BoatInput, BoatInputs, ShaftInputs

ENABLE = BoatInput.ENABLE.value
DISABLE = BoatInput.DISABLE.value
RESET = BoatInput.RESET.value
ACKNOWLEDGE = BoatInput.ACKNOWLEDGE.value
HANDSET_HELD = BoatInput.HANDSET_HELD.value
HANDSET_OURS = BoatInput.HANDSET_OURS.value
HANDSET_MINUTES = BoatInput.HANDSET_MINUTES.value
HANDSET = HANDSET_HELD | HANDSET_OURS


class Levers(NamedTuple):
    """The levers and handset thrusts of the boat, gathered by the executor before anything else. All 0 or 1.

    `neutral`: every shaft not deliberately out of service has had neutral for the dwell; `now`: the same at this very
    tick; `thrust_known`: every handset thrust is fresh; `thrust_zero`: and asks nothing; `inputs_lost`: a shaft input
    whose loss trips the boat.
    """

    neutral: int
    now: int
    thrust_known: int
    thrust_zero: int
    inputs_lost: int


class Orders(NamedTuple):
    """Edges and orders of this tick, and the boat's latches after them."""

    enable_edge: int
    reset_edge: int
    off_order: int
    handset_lost: int
    handset_conflict: int
    acknowledge: int
    latches: int


def _edge(known: int, on: int, bit: int, was_off: bool) -> bool:
    return was_off and known & on & bit != 0


def _was_off(known: int, on: int, bit: int) -> bool:
    return known & bit != 0 and on & bit == 0


def read_orders(lim: BoatLimits, state: BoatState, boat: BoatInputs, levers: Levers) -> Orders:
    """Edges since the last tick. A push-button counts only when it was *seen* off one tick before it is seen on: what
    is maintained, stuck or comes back pressed after a gap passes nothing."""
    known, on = boat.known, boat.on
    latches = state.latches
    enable = _edge(known, on, ENABLE, latches & BOAT_LATCH_ENABLE_WAS_OFF != 0)
    reset = _edge(known, on, RESET, latches & BOAT_LATCH_RESET_WAS_OFF != 0)
    held = _edge(known, on, HANDSET_HELD, latches & BOAT_LATCH_HELD_WAS_OFF != 0)
    acknowledged = _edge(known, on, ACKNOWLEDGE, latches & BOAT_LATCH_ACKNOWLEDGE_WAS_OFF != 0)
    off = proven(known, on, DISABLE)
    if off:
        latches = latches | BOAT_LATCH_OFF_WANTED
    elif state.mode != MODE_READY and state.mode != MODE_NEUTRAL_WAIT:
        latches = latches & ~BOAT_LATCH_OFF_WANTED
    off_order = off or latches & BOAT_LATCH_OFF_WANTED != 0

    ready = state.mode == MODE_READY
    in_control = latches & BOAT_LATCH_HANDSET_IN_CONTROL != 0
    ours = known & HANDSET == HANDSET and on & HANDSET_OURS != 0 and levers.thrust_known == 1
    lost = in_control and (not ours or levers.now == 0)
    conflict = proven(known, on, HANDSET_HELD) and on & HANDSET_OURS != 0 and levers.now == 0
    charged = known & HANDSET_MINUTES != 0 and boat.handset_minutes >= lim.handset_low_minutes
    take = ready and held and ours and charged and levers.neutral == 1 and not off_order
    # never with thrust already selected: common rule of start-in-gear protection
    take = take and levers.thrust_zero == 1
    keep = in_control and ready and not lost and proven(known, on, HANDSET_HELD)
    if take or keep:
        latches = latches | BOAT_LATCH_HANDSET_IN_CONTROL
    else:
        latches = latches & ~BOAT_LATCH_HANDSET_IN_CONTROL

    # the alarm of a lost handset stays until the crew acknowledges it or takes the handset again
    if lost and ready:
        latches = latches | BOAT_LATCH_HANDSET_WAS_LOST
    elif take or acknowledged:
        latches = latches & ~BOAT_LATCH_HANDSET_WAS_LOST

    latches = _remember(latches, BOAT_LATCH_ENABLE_WAS_OFF, _was_off(known, on, ENABLE))
    latches = _remember(latches, BOAT_LATCH_RESET_WAS_OFF, _was_off(known, on, RESET))
    # a neighbour's handset that is let go says nothing about ours
    latches = _remember(latches, BOAT_LATCH_HELD_WAS_OFF, ours and _was_off(known, on, HANDSET_HELD))
    latches = _remember(latches, BOAT_LATCH_ACKNOWLEDGE_WAS_OFF, _was_off(known, on, ACKNOWLEDGE))
    return Orders(
        1 if enable else 0,
        1 if reset else 0,
        1 if off_order else 0,
        1 if lost and ready else 0,
        1 if conflict else 0,
        1 if acknowledged else 0,
        latches,
    )


def _remember(latches: int, bit: int, on: bool) -> int:
    if on:
        return latches | bit
    return latches & ~bit


def gather_levers(
    limits: BoatLimits,
    shaft_limits: Sequence[ShaftLimits],
    states: Sequence[ShaftState],
    read: Sequence[Lever],
    shafts: Sequence[ShaftInputs],
) -> Levers:
    """The levers and handset thrusts of every shaft, each sequence in the order of the boat's shafts."""
    neutral = now = thrust_known = thrust_zero = 1
    lost = 0
    for lim, state, lever, shaft in zip(shaft_limits, states, read, shafts):
        if not out_of_service(shaft, state.latches):
            if lever.neutral == 0:
                neutral = now = 0
            elif not state.dwells.neutral_s >= limits.neutral_s:
                neutral = 0
            if shaft.known & lim.react.trip_boat != lim.react.trip_boat:
                lost = 1
        if shaft.known & HANDSET_THRUST == 0:
            thrust_known = thrust_zero = 0
        elif not abs(shaft.handset_thrust_pct) <= lim.neutral_band_pct:
            thrust_zero = 0
    return Levers(neutral, now, thrust_known, thrust_zero, lost)
