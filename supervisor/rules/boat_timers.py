"""Dwell timers of the boat: debounce and dwell end here."""

from supervisor.config.limits import BoatLimits
from supervisor.rules.bank import BankView
from supervisor.rules.bits import (
    BOAT_LATCH_ASTERN_SHORT,
    BOAT_LATCH_CHARGE_ENDED,
    BOAT_LATCH_DERATE_ENDED,
    BOAT_LATCH_FULL_DONE,
    BOAT_LATCH_OWN_TO_ACKNOWLEDGE,
    BOAT_LATCH_THRUST_SHORT,
    BOAT_LATCH_UNDER_WAY,
    MODE_NEUTRAL_WAIT,
    MODE_READY,
)
from supervisor.rules.boat_word import Summary
from supervisor.rules.orders import Orders
from supervisor.rules.state import NOT_RUNNING_S, BankMemory, BoatDwells, BoatState, OwnState, count, ramp_length

_BANK_LATCHES = BOAT_LATCH_CHARGE_ENDED | BOAT_LATCH_DERATE_ENDED | BOAT_LATCH_FULL_DONE


def boat_timers(
    lim: BoatLimits, state: BoatState, view: BankView, orders: Orders, shafts: Summary, own: OwnState, dt_s: float
) -> BoatState:
    """Dwell timers of the boat, advanced by one tick, with the latches of `orders` and `view` and the new state of the
    own interlocks taken over."""
    ready = state.mode == MODE_READY
    idle = ready and shafts.at_rest == 1 and shafts.ordered == 0 and orders.acknowledge == 0
    was = state.dwells
    dwells = BoatDwells(
        wait_s=count(was.wait_s, state.mode == MODE_NEUTRAL_WAIT, dt_s),
        off_s=count(was.off_s, ready and orders.off_order == 1, dt_s),
        idle_s=count(was.idle_s, idle, dt_s),
        since_full_s=count(was.since_full_s, view.full_reached == 0, dt_s),
        age_s=count(was.age_s, True, dt_s),
        lying_s=count(was.lying_s, shafts.lies == 1, ramp_length(dt_s)),
    )
    bank = BankMemory(
        derate_pct=view.led_pct,
        hotel_a=view.hotel_a,
        load_a=view.load_a,
        drives_a=view.drives_a,
        brake_a=view.brake_budget_a,
        brake_spent_s=view.brake_spent_s,
        low_s=view.low_s,
        cell_pct=view.cell_pct,
        given_a=view.given_a,
    )
    latches = (orders.latches & ~_BANK_LATCHES) | (view.latches & _BANK_LATCHES)
    # what it stops may be over before anyone looks: its alarm stays until the crew has acknowledged it
    if own.bad & ~state.own.bad & lim.own_stays != 0 and (ready or state.mode == MODE_NEUTRAL_WAIT):
        latches = latches | BOAT_LATCH_OWN_TO_ACKNOWLEDGE
    elif orders.acknowledge == 1:
        latches = latches & ~BOAT_LATCH_OWN_TO_ACKNOWLEDGE
    return BoatState(
        mode=state.mode,
        latches=latches,
        acknowledged=state.acknowledged,
        dwells=dwells,
        bank=bank,
        own=own,
        sources=state.sources,
    )


def remember_shafts(lim: BoatLimits, state: BoatState, short: bool, thrust_short: bool, moves: bool) -> BoatState:
    """The boat's state with what its shafts have come to in this tick: whether electric astern is `short`, whether
    thrust is cut because the bank cannot give it beside the hotel load (`thrust_short`), and whether the boat is under
    way. `moves`: a shaft propels or harvests."""
    latches = state.latches | BOAT_LATCH_ASTERN_SHORT if short else state.latches & ~BOAT_LATCH_ASTERN_SHORT
    latches = latches | BOAT_LATCH_THRUST_SHORT if thrust_short else latches & ~BOAT_LATCH_THRUST_SHORT
    if state.mode != MODE_READY or not state.dwells.lying_s < lim.shore_still_s:
        latches = latches & ~BOAT_LATCH_UNDER_WAY
    elif moves:
        latches = latches | BOAT_LATCH_UNDER_WAY
    if latches == state.latches:
        return state
    return BoatState(
        mode=state.mode,
        latches=latches,
        acknowledged=state.acknowledged,
        dwells=state.dwells,
        bank=state.bank,
        own=state.own,
        sources=state.sources,
    )


def enter_boat_mode(state: BoatState, mode: int) -> BoatState:
    """The boat's state on entering a mode: its dwell timers start anew."""
    dwells = BoatDwells(
        wait_s=NOT_RUNNING_S,
        off_s=NOT_RUNNING_S,
        idle_s=NOT_RUNNING_S,
        since_full_s=state.dwells.since_full_s,
        age_s=state.dwells.age_s,
        lying_s=state.dwells.lying_s,
    )
    return BoatState(
        mode=mode,
        latches=state.latches,
        acknowledged=state.acknowledged,
        dwells=dwells,
        bank=state.bank,
        own=state.own,
        sources=state.sources,
    )
