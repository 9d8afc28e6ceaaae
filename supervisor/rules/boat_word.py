"""Forming the condition word of the boat, and the handset's place as the one control position."""

from typing import NamedTuple

from supervisor.config.limits import BoatLimits
from supervisor.rules.bank import BankView, proven
from supervisor.rules.bits import (
    BOAT_CONTACTOR_CLOSED,
    BOAT_EMERGENCY_STOP,
    BOAT_ENABLE_EDGE,
    BOAT_IDLE_EXPIRED,
    BOAT_INPUT_LOST,
    BOAT_LATCH_ACKNOWLEDGE_WAS_OFF,
    BOAT_LATCH_CHARGE_ENDED,
    BOAT_LATCH_DERATE_ENDED,
    BOAT_LATCH_ENABLE_WAS_OFF,
    BOAT_LATCH_FULL_DONE,
    BOAT_LATCH_HANDSET_IN_CONTROL,
    BOAT_LATCH_HANDSET_WAS_LOST,
    BOAT_LATCH_HELD_WAS_OFF,
    BOAT_LATCH_OFF_WANTED,
    BOAT_LATCH_RESET_WAS_OFF,
    BOAT_LEVERS_NEUTRAL,
    BOAT_LINKS_CHARGED,
    BOAT_MONITOR_FAULT,
    BOAT_OFF_ORDER,
    BOAT_OFF_OVERDUE,
    BOAT_RESET_EDGE,
    BOAT_RUNTIME_FAULT,
    BOAT_SHAFT_AVAILABLE,
    BOAT_SHAFTS_AT_REST,
    BOAT_WAIT_EXPIRED,
    MODE_NEUTRAL_WAIT,
    MODE_READY,
)
from supervisor.rules.state import NOT_RUNNING_S, BoatState, count
from supervisor.signals.inputs import BoatInput, BoatInputs

ENABLE = BoatInput.ENABLE.value
DISABLE = BoatInput.DISABLE.value
RESET = BoatInput.RESET.value
ACKNOWLEDGE = BoatInput.ACKNOWLEDGE.value
EMERGENCY_STOP = BoatInput.EMERGENCY_STOP.value
MONITOR_FAULT = BoatInput.MONITOR_FAULT.value
CONTACTOR_CLOSED = BoatInput.CONTACTOR_CLOSED.value
HANDSET_HELD = BoatInput.HANDSET_HELD.value
HANDSET_OURS = BoatInput.HANDSET_OURS.value
HANDSET_MINUTES = BoatInput.HANDSET_MINUTES.value
RECEIVE_OK = BoatInput.RECEIVE_OK.value
DEADLINE_OK = BoatInput.DEADLINE_OK.value
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


class Summary(NamedTuple):
    """What the boat needs to know of its shafts, gathered by the executor from their words. All 0 or 1.

    `links_charged`: every available shaft's link, and at least one; `available`: a shaft is in service, not isolated,
    without a trip; `at_rest`: every shaft REST or ISOLATED; `ordered`: some shaft has an order.
    """

    links_charged: int
    available: int
    at_rest: int
    ordered: int


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


def boat_timers(
    lim: BoatLimits, state: BoatState, boat: BoatInputs, view: BankView, orders: Orders, shafts: Summary, dt_s: float
) -> BoatState:
    """Dwell timers of the boat, advanced by one tick, with the latches of `orders` and `view` taken over."""
    ready = state.mode == MODE_READY
    idle = ready and shafts.at_rest == 1 and shafts.ordered == 0 and orders.acknowledge == 0
    bank_bits = BOAT_LATCH_CHARGE_ENDED | BOAT_LATCH_DERATE_ENDED | BOAT_LATCH_FULL_DONE
    since_full_s = count(state.since_full_s, view.full_reached == 0, dt_s)
    return BoatState(
        state.mode,
        (orders.latches & ~bank_bits) | (view.latches & bank_bits),
        count(state.wait_s, state.mode == MODE_NEUTRAL_WAIT, dt_s),
        count(state.off_s, ready and orders.off_order == 1, dt_s),
        count(state.idle_s, idle, dt_s),
        since_full_s,
        view.derate_pct,
        view.hotel_a,
        view.load_a,
        view.drives_a,
        count(state.age_s, True, dt_s),
        state.acknowledged,
    )


def boat_word(
    lim: BoatLimits, state: BoatState, boat: BoatInputs, orders: Orders, levers: Levers, shafts: Summary
) -> int:
    """The condition word of the boat. `state` is the state after `boat_timers`."""
    known, on = boat.known, boat.on
    word = 0
    if proven(known, on, EMERGENCY_STOP):
        word |= BOAT_EMERGENCY_STOP
    if proven(known, on, MONITOR_FAULT):
        word |= BOAT_MONITOR_FAULT
    if not proven(known, on, RECEIVE_OK) or not proven(known, on, DEADLINE_OK):
        word |= BOAT_RUNTIME_FAULT
    if known & lim.react.trip_boat != lim.react.trip_boat or levers.inputs_lost == 1:
        word |= BOAT_INPUT_LOST
    if orders.enable_edge == 1:
        word |= BOAT_ENABLE_EDGE
    if orders.reset_edge == 1:
        word |= BOAT_RESET_EDGE
    if orders.off_order == 1:
        word |= BOAT_OFF_ORDER
    if levers.neutral == 1:
        word |= BOAT_LEVERS_NEUTRAL
    if proven(known, on, CONTACTOR_CLOSED):
        word |= BOAT_CONTACTOR_CLOSED
    if shafts.links_charged == 1:
        word |= BOAT_LINKS_CHARGED
    if shafts.available == 1:
        word |= BOAT_SHAFT_AVAILABLE
    if shafts.at_rest == 1:
        word |= BOAT_SHAFTS_AT_REST
    if state.wait_s >= lim.neutral_wait_s:
        word |= BOAT_WAIT_EXPIRED
    if state.off_s >= lim.disable_s:
        word |= BOAT_OFF_OVERDUE
    if state.idle_s >= lim.idle_reminder_s + lim.idle_off_s:
        word |= BOAT_IDLE_EXPIRED
    return word


def enter_boat_mode(state: BoatState, mode: int) -> BoatState:
    """The boat's state on entering a mode: its dwell timers start anew."""
    return BoatState(
        mode,
        state.latches,
        NOT_RUNNING_S,
        NOT_RUNNING_S,
        NOT_RUNNING_S,
        state.since_full_s,
        state.derate_pct,
        state.hotel_a,
        state.load_a,
        state.drives_a,
        state.age_s,
        state.acknowledged,
    )


def acknowledge(state: BoatState, orders: Orders, alarms: int) -> BoatState:
    """The crew's acknowledgement: what is shown now is silenced, until it has gone and come again."""
    acknowledged = state.acknowledged & alarms
    if orders.acknowledge == 1:
        acknowledged = alarms
    return BoatState(
        state.mode, state.latches, state.wait_s, state.off_s, state.idle_s, state.since_full_s, state.derate_pct,
        state.hotel_a, state.load_a, state.drives_a, state.age_s, acknowledged,
    )  # fmt: skip
