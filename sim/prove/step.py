"""What a claim may look at: one step of the real tick, from outside.

A claim is a pair of plain scalar functions of a `Step` and a shaft's index. The same two functions are walked together
with `run_tick` into one formula and decided for all inputs, latches and timers at once; run on concrete ticks of the
real controller; and asked for a witness, so that no claim is vacuous.

They are written in what the walker reads (`sim.prove.solver.walker`): `if`, `return`, `and`, `or`, `not`, comparisons,
`+ - * /`, `& | ~`, `abs`, `min`, `max`, `bool`, `int`, `len`, `range`, attributes, indices (constant or the shaft's),
`for` over tuples and ranges, and calls of module-level functions of `sim.prove`, `sim.requirements.facts` and
`supervisor`. A claim never calls the rule that it judges, and takes its bounds from the boat file (`Step.config`).
"""

from collections.abc import Callable
from typing import NamedTuple

from supervisor.config import BoatConfig
from supervisor.rules import Boat, Memory, Tick
from supervisor.signals import BoatInputs, ShaftInputs


class Step(NamedTuple):
    """One tick, seen from outside.

    `config` is the boat file, where claims take their bounds from; `boat` its frozen limits, of which a claim reads
    only shapes (number of shafts, masks of reactions); `was` what was remembered before; `boat_in` and `shaft_in` the
    inputs as they were given to `run_tick` (finite); `dt_s` the time since the last tick (s, at least 0, as given);
    `now` what came of it.
    """

    config: BoatConfig
    boat: Boat
    was: Memory
    boat_in: BoatInputs
    shaft_in: tuple[ShaftInputs, ...]
    dt_s: float
    now: Tick


class StepClaim(NamedTuple):
    """Whenever `given` holds of a step, `then` holds of it.

    `requirement` is an identifier of the register ("SR-07"); `name` short and unique; `text` one sentence in the
    trade's words. `given` and `then` are told the step and a shaft's index (0 for a claim on the boat, which has
    `per_shaft` False and is shown once). `forms` names the bit whose forming this shows, both ways
    ("shaft.LOCK_RELEASED", "boat.OWN_BOAT", "permit.STILL_LONG") or is ""; `rests_on` names conditions and other claims
    that it uses as lemmas; `parity` says whether it may be compared with the requirement's evaluator on the same tick.
    """

    requirement: str
    name: str
    text: str
    given: Callable[[Step, int], bool]
    then: Callable[[Step, int], bool]
    per_shaft: bool = True
    forms: str = ""
    rests_on: tuple[str, ...] = ()
    parity: bool = True


def breaks(claim: StepClaim, step: Step, index: int) -> bool:
    """The step breaks the claim: it speaks and does not hold, or cannot be worked out."""
    try:
        return bool(claim.given(step, index)) and not claim.then(step, index)
    except ArithmeticError:
        return True
