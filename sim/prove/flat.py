"""States by the names of their fields, whatever group they are kept in: for the grids of this package."""

from typing import Any

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


def shaft_state(**values: Any) -> ShaftState:
    """A shaft's state; what is not named has its default."""
    dwells = ShaftDwells(**{name: values.pop(name) for name in ShaftDwells._fields if name in values})
    effort = Effort(**{name: values.pop(name) for name in Effort._fields if name in values})
    pause = Pause(**{name: values.pop(name) for name in Pause._fields if name in values})
    turned = Turned(**{name: values.pop(name) for name in Turned._fields if name in values})
    coupling = Coupling(**{name: values.pop(name) for name in Coupling._fields if name in values})
    hold = Hold(**{name: values.pop(name) for name in Hold._fields if name in values})
    return ShaftState(dwells=dwells, effort=effort, pause=pause, turned=turned, coupling=coupling, hold=hold, **values)


def boat_state(**values: Any) -> BoatState:
    """A boat's state; what is not named has its default."""
    dwells = BoatDwells(**{name: values.pop(name) for name in BoatDwells._fields if name in values})
    bank = BankMemory(**{name: values.pop(name) for name in BankMemory._fields if name in values})
    sources = SourcesState(**{name: values.pop(name) for name in SourcesState._fields if name in values})
    return BoatState(dwells=dwells, bank=bank, sources=sources, **values)
