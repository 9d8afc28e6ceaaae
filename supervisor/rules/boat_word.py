"""Forming the condition word of the boat: after this, no timing and no floating point decides a mode."""

from collections.abc import Sequence
from typing import NamedTuple

from supervisor.config.limits import BoatLimits
from supervisor.modes.register import SHAFT_TRIPS
from supervisor.rules.bank import proven
from supervisor.rules.bits import (
    BOAT_CONTACTOR_CLOSED,
    BOAT_EMERGENCY_STOP,
    BOAT_ENABLE_EDGE,
    BOAT_IDLE_EXPIRED,
    BOAT_INPUT_LOST,
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
    IS_AT_REST_ORDER,
    IS_ENGINE_RUNNING,
    IS_HARVEST_ORDER,
    IS_IN_SERVICE,
    IS_LEVER_NEUTRAL,
    IS_LINK_CHARGED,
    IS_OWN_SHAFT,
    IS_SHAFT_STILL,
    IS_UNDER_WAY_ORDER,
    SHAFT_ISOLATED,
    SHAFT_REST,
)
from supervisor.rules.orders import Levers, Orders
from supervisor.rules.own import own_boat_bit
from supervisor.rules.state import BoatState, ShaftState
from supervisor.signals.inputs import BoatInput, BoatInputs

EMERGENCY_STOP = BoatInput.EMERGENCY_STOP.value
MONITOR_FAULT = BoatInput.MONITOR_FAULT.value
CONTACTOR_CLOSED = BoatInput.CONTACTOR_CLOSED.value
RECEIVE_OK = BoatInput.RECEIVE_OK.value
DEADLINE_OK = BoatInput.DEADLINE_OK.value

_SHAFT_TRIPS = sum(int(bit) for bit in SHAFT_TRIPS)


class Summary(NamedTuple):
    """What the boat needs to know of its shafts, gathered by the executor from their words. All 0 or 1.

    `links_charged`: every available shaft's link, and at least one; `available`: a shaft is in service, not isolated,
    without a trip; `at_rest`: every shaft REST or ISOLATED; `ordered`: some shaft has an order; `lies`: every shaft in
    service is still, with its lever in neutral, and there is one.
    """

    links_charged: int
    available: int
    at_rest: int
    ordered: int
    lies: int


def summary_of(states: Sequence[ShaftState], words: Sequence[int]) -> Summary:
    """What the boat needs to know of its shafts, from their states and words, each in the order of the shafts."""
    charged = available = ordered = 0
    all_charged = at_rest = lies = 1
    serving = 0
    for state, word in zip(states, words):
        if state.mode not in (SHAFT_REST, SHAFT_ISOLATED):
            at_rest = 0
        in_service = word & IS_IN_SERVICE != 0
        if in_service:
            serving = 1
        if in_service and (word & IS_SHAFT_STILL == 0 or word & IS_LEVER_NEUTRAL == 0):
            lies = 0
        # an order counts while it can come to something: a selector left on beside a stopped engine does not
        if word & (IS_UNDER_WAY_ORDER | IS_AT_REST_ORDER) and word & IS_ENGINE_RUNNING:
            ordered = 1
        if word & IS_HARVEST_ORDER and word & IS_SHAFT_STILL == 0:
            ordered = 1
        sound = word & _SHAFT_TRIPS == 0 and word & IS_OWN_SHAFT != 0
        if in_service and state.mode != SHAFT_ISOLATED and sound:
            available = 1
            if word & IS_LINK_CHARGED:
                charged = 1
            else:
                all_charged = 0
    return Summary(charged & all_charged, available, at_rest, ordered, lies & serving)


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
    word |= own_boat_bit(lim, state.own)
    if state.dwells.wait_s >= lim.neutral_wait_s:
        word |= BOAT_WAIT_EXPIRED
    if state.dwells.off_s >= lim.disable_s:
        word |= BOAT_OFF_OVERDUE
    if state.dwells.idle_s >= lim.idle_reminder_s + lim.idle_off_s:
        word |= BOAT_IDLE_EXPIRED
    return word
