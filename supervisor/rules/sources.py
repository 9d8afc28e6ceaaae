"""Other sources on the bus bar: shore charger, alternators, sun. Only a stop output speaks to them.

They are stopped, in this order of reasons:

* while the bank takes no charge: its permit is withdrawn or not known, or charging has ended;
* when the boat was tripped by the bank's monitor, a dead receive path or an own interlock, until the reset. An
  emergency stop is for what turns: a boat that is left with it pressed must not come home to a flat bank;
* when they are seen to feed more than the limit in force for `source_over_s`: for `source_stop_s` at least, and until
  the limit exceeds what they gave. Reset lets them try again at once.

The output is set at once and stays set for `source_return_s` at least: a permit that toggles must not switch a charger
thirty times a minute.
"""

from supervisor.config.limits import BoatLimits
from supervisor.rules.bank import BankView
from supervisor.rules.bits import (
    BOAT_MONITOR_FAULT,
    BOAT_OWN_BOAT,
    BOAT_RUNTIME_FAULT,
    MODE_TRIPPED,
)
from supervisor.rules.state import NOT_RUNNING_S, BoatState, SourcesState, count, ramp_length


def up_to(time_s: float, most_s: float) -> float:
    """A time (s) that is counted no further than `most_s`, so that a state at rest stays the same."""
    if time_s > most_s:
        return most_s
    return time_s


def trip_of_sources(was: SourcesState, word: int, boat_mode: int) -> bool:
    """The boat is tripped, now or since then by something that may lie in the bank."""
    if boat_mode != MODE_TRIPPED:
        return False
    cause = word & (BOAT_MONITOR_FAULT | BOAT_RUNTIME_FAULT) != 0 or word & BOAT_OWN_BOAT == 0
    return cause or was.faulted == 1


def sources_state(
    lim: BoatLimits, was: SourcesState, view: BankView, word: int, boat_mode: int, reset_edge: bool, dt_s: float
) -> SourcesState:
    """The sources after this tick. `boat_mode` is the boat's new mode, `word` its word."""
    over_s = was.over_s
    if view.others >= 0:  # what cannot be said neither counts nor clears
        over_s = up_to(count(was.over_s, view.others == 1, ramp_length(dt_s)), lim.source_over_s)
    gave_a, stopped_s = was.gave_a, was.stopped_s
    if reset_edge:
        over_s, stopped_s = NOT_RUNNING_S, NOT_RUNNING_S
    if over_s >= lim.source_over_s:
        if view.others == 1 and (stopped_s < 0.0 or view.others_a > gave_a):
            gave_a = view.others_a
        stopped_s = 0.0  # the time begins when they have stopped
    elif stopped_s >= 0.0:
        stopped_s = up_to(stopped_s + ramp_length(dt_s), lim.source_stop_s)
        if stopped_s >= lim.source_stop_s and view.charge_limit_a > gave_a:
            stopped_s = NOT_RUNNING_S
    faulted = 1 if trip_of_sources(was, word, boat_mode) else 0
    stop, held_s = was.stop, up_to(was.held_s + ramp_length(dt_s), lim.source_return_s)
    if view.charge_permit == 0 or view.charge_wanted == 0 or faulted == 1 or stopped_s >= 0.0:
        if stop == 0:
            held_s = 0.0
        stop = 1
    elif held_s >= lim.source_return_s:
        stop = 0
    return SourcesState(
        over_s=over_s,
        gave_a=gave_a,
        stopped_s=stopped_s,
        held_s=held_s,
        faulted=faulted,
        stop=stop,
    )


def with_sources(state: BoatState, sources: SourcesState) -> BoatState:
    """The boat's state with these sources."""
    return BoatState(
        mode=state.mode,
        latches=state.latches,
        acknowledged=state.acknowledged,
        dwells=state.dwells,
        bank=state.bank,
        own=state.own,
        sources=sources,
    )
