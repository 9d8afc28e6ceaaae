"""States with all their fields in one row, as tests like to write them, and back to how the rules keep them."""

from collections.abc import Callable
from typing import Any, NamedTuple

from supervisor.rules.state import (
    BankMemory,
    BoatDwells,
    BoatState,
    Coupling,
    Effort,
    Hold,
    Pause,
    ShaftDwells,
    ShaftState,
    SourcesState,
    Turned,
)


class FlatBoat(NamedTuple):
    """BoatState in one row, less its own interlocks."""

    mode: int = 0
    latches: int = 0
    wait_s: float = -1.0
    off_s: float = -1.0
    idle_s: float = -1.0
    since_full_s: float = 0.0
    derate_pct: float = 100.0
    hotel_a: float = 0.0
    load_a: float = 0.0
    drives_a: float = 0.0
    age_s: float = 0.0
    acknowledged: int = 0
    brake_a: float = 0.0
    brake_spent_s: float = 0.0
    lying_s: float = -1.0
    low_s: float = -1.0
    cell_pct: float = 100.0
    given_a: float = 0.0
    over_s: float = -1.0
    gave_a: float = 0.0
    stopped_s: float = -1.0
    held_s: float = 1e9
    faulted: int = 0
    stop: int = 1


class FlatShaft(NamedTuple):
    """ShaftState in one row."""

    mode: int = 0
    latches: int = 0
    neutral_s: float = -1.0
    lever_lost_s: float = -1.0
    unload_s: float = -1.0
    precharge_s: float = 0.0
    disobey_s: float = -1.0
    link_off_s: float = -1.0
    still_s: float = -1.0
    trail_s: float = 0.0
    zero_s: float = 1e9
    torque_nm: float = 0.0
    last_sign: int = 0
    charge_a: float = 0.0
    order_pct: float = 0.0
    sag_ref_rpm: float = 0.0
    lever_ref_pct: float = 0.0
    ramp_nm_per_s: float = 0.0
    steady_s: float = 0.0
    gear_contradicts_s: float = -1.0
    engine_contradicts_s: float = -1.0
    own_ahead_pct: float = 100.0
    own_astern_pct: float = 100.0
    obeyed_s: float = -1.0
    pardon_s: float = 1e9
    silent_s: float = -1.0
    lasts_s: float = -1.0
    last_s: float = 1e9
    before_last_s: float = 1e9
    began_pct: float = 0.0
    contradicts_s: float = -1.0
    off_s: float = -1.0
    slip_s: float = 0.0
    jam_s: float = -1.0
    low_rpm: float = 0.0
    high_rpm: float = 0.0
    before_low_rpm: float = 0.0
    before_high_rpm: float = 0.0
    runs_s: float = -1.0
    held_s: float = -1.0
    load_nm: float = 0.0


def kept_boat(flat: FlatBoat) -> BoatState:
    """As the rules keep it."""
    values = flat._asdict()
    return BoatState(
        mode=flat.mode,
        latches=flat.latches,
        acknowledged=flat.acknowledged,
        dwells=BoatDwells(**{name: values[name] for name in BoatDwells._fields}),
        bank=BankMemory(**{name: values[name] for name in BankMemory._fields}),
        sources=SourcesState(**{name: values[name] for name in SourcesState._fields}),
    )


def flat_boat(state: BoatState) -> FlatBoat:
    """In one row."""
    found = {**state.dwells._asdict(), **state.bank._asdict(), **state.sources._asdict(), **state._asdict()}
    return FlatBoat(**{name: found[name] for name in FlatBoat._fields})


def kept_shaft(flat: FlatShaft) -> ShaftState:
    """As the rules keep it."""
    values = flat._asdict()
    return ShaftState(
        mode=flat.mode,
        latches=flat.latches,
        order_pct=flat.order_pct,
        lever_ref_pct=flat.lever_ref_pct,
        own_ahead_pct=flat.own_ahead_pct,
        own_astern_pct=flat.own_astern_pct,
        dwells=ShaftDwells(**{name: values[name] for name in ShaftDwells._fields}),
        effort=Effort(**{name: values[name] for name in Effort._fields}),
        pause=Pause(**{name: values[name] for name in Pause._fields}),
        turned=Turned(**{name: values[name] for name in Turned._fields}),
        hold=Hold(**{name: values[name] for name in Hold._fields}),
        coupling=Coupling(**{name: values[name] for name in Coupling._fields}),
    )


def flat_shaft(state: ShaftState) -> FlatShaft:
    """In one row."""
    groups = (state.dwells, state.effort, state.pause, state.turned, state.hold, state.coupling, state)
    found = {name: value for group in groups for name, value in group._asdict().items()}
    return FlatShaft(**{name: found[name] for name in FlatShaft._fields})


def flat(rule: Callable[..., Any]) -> Callable[..., Any]:
    """`rule` for states in one row, given and returned."""

    def called(*args: Any, **named: Any) -> Any:
        result = rule(*map(_kept, args), **{name: _kept(value) for name, value in named.items()})
        if isinstance(result, ShaftState):
            return flat_shaft(result)
        return flat_boat(result) if isinstance(result, BoatState) else result

    return called


def _kept(value: Any) -> Any:
    if isinstance(value, FlatShaft):
        return kept_shaft(value)
    return kept_boat(value) if isinstance(value, FlatBoat) else value
