"""The text of the compiled module: which functions go into it, and what stands at its head."""

from typing import NamedTuple

from sim.fast import loops
from sim.fast.gathered import Gathering
from sim.fast.replaced import HEAD, replaced
from sim.fast.senses import replacements
from sim.plant.boat import Step
from supervisor.rules.tick import run_tick

_HEAD = f'''"""Written by sim.fast: do not edit."""
import math

import numba
import numpy as np
{HEAD}

inner = numba.njit(error_model="numpy", forceinline=True)
entry = numba.njit(error_model="numpy", cache=True)


def records(rows):
    """A table of integers as an array whose rows have names."""
    return np.array([tuple(row) for row in rows], dtype=[(name, np.int64) for name in rows[0]._fields])

'''


SEQUENCES = ("shaft_in", "shaft_limits", "states", "words", "read", "shafts", "moved")
"""Parameters of rules and plant that have one entry a shaft."""


class Gathered(NamedTuple):
    """A module's text, and the gathering that it came from."""

    text: str
    gathering: Gathering

    def modules(self) -> set[str]:
        """The modules of ours that functions, classes and constants come from."""
        return self.gathering.modules


def source(shafts: int, step: Step, own_modules: tuple[str, ...] = ()) -> str:
    """The module for a boat of so many shafts whose plant moves by `step`. Functions of `own_modules` are gathered as
    those of this package are.

    Raises GatherError or UnrollError for a function that cannot be compiled so.
    """
    return gathered(shafts, step, own_modules).text


def gathered(shafts: int, step: Step, own_modules: tuple[str, ...] = ()) -> Gathered:
    """The same, and what it was gathered from."""
    gathering = Gathering(shafts, SEQUENCES, replaced() | replacements(), own_modules)
    entries = {"entry_step": gathering.add(step), "entry_tick": gathering.add(run_tick)}
    entries |= {f"loop_{name}": gathering.add(function) for name, function in loops.entries(step).items()}
    ends = [f"{name} = entry({inside}.py_func)" for name, inside in entries.items()]
    return Gathered(gathering.source(_HEAD) + "\n" + "\n".join(ends) + "\n", gathering)
