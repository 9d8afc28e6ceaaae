"""One tick of one boat as one formula, and claims on it."""

from collections.abc import Sequence
from typing import Any, NamedTuple

from sim.prove.invariants import Invariant
from sim.prove.solver import terms as t
from sim.prove.solver.symbols import Assumption, Maker, gather, symbols
from sim.prove.solver.terms import Term, Terms, Truth, cone
from sim.prove.solver.walker import Obligation, Walker
from sim.prove.step import Step, StepClaim
from supervisor.config import BoatConfig
from supervisor.controller.controller import freeze
from supervisor.rules import Boat, Memory, initial_memory, run_tick


class Stated(NamedTuple):
    """A claim on one shaft (or the boat) as formulas: when it speaks and what must be so then."""

    given: Truth
    then: Truth
    raises: tuple[Obligation, ...]
    """Places in the claim's own source where it would raise."""


class Formula:
    """`run_tick` of one boat, walked once, every input, latch and timer free. WalkError for source that the walker does
    not read."""

    def __init__(self, config: BoatConfig, invariants: Sequence[Invariant], boat: Boat | None = None) -> None:
        self.config, self.boat = config, freeze(config) if boat is None else boat
        self.invariants = tuple(invariants)
        self.terms = Terms()
        self.walker = Walker(self.terms)
        free = symbols(self.terms, self.boat)
        now = self.walker.call(run_tick, self.boat, free.was, free.boat_in, free.shaft_in, free.dt_s)
        dt_s: Any = free.dt_s  # a formula stands where the real step has a number
        self.step = Step(config, self.boat, free.was, free.boat_in, free.shaft_in, dt_s, now)
        self._anything = self.step._replace(now=Maker(self.terms, self.boat).tick("free"))
        self.obligations = tuple(self.walker.obligations)
        self.calls = self.walker.calls
        self.assumed = [*free.assumed, *self._of_memory(free.was)]
        self._names = [_variables(one.truth) for one in self.assumed]

    def _of_memory(self, memory: Memory) -> list[Assumption]:
        found = []
        for invariant in self.invariants:
            for i in invariant.indices(self.boat):
                truth = self.walker.values.truth(self.walker.call(invariant.holds, self.config, self.boat, memory, i))
                found.append(Assumption(truth, invariant.name))
        return found

    def state(self, claim: StepClaim, index: int, *, anything: bool = False) -> Stated:
        """The claim as formulas. `index` is the shaft's, 0 for a claim on the boat. With `anything` of a step whose
        outcome is free, as if the tick could give anything."""
        step = self._anything if anything else self.step
        before = len(self.walker.obligations)
        given = self.walker.values.truth(self.walker.call(claim.given, step, index))
        with self.walker.under(given):
            then = self.walker.values.truth(self.walker.call(claim.then, step, index))
        raises = tuple(self.walker.obligations[before:])
        del self.walker.obligations[before:]
        return Stated(given, then, raises)

    def related(self, roots: Sequence[Truth]) -> list[Truth]:
        """What is taken for granted of the variables under `roots`, and of those that hang together with them."""
        names = {name for root in roots for name in _variables(root)}
        found: list[Truth] = []
        left = [(one.truth, mine) for one, mine in zip(self.assumed, self._names, strict=True)]
        grown = True
        while grown:
            grown = False
            rest = []
            for truth, mine in left:
                if mine & names:
                    found.append(truth)
                    grown = grown or not mine <= names
                    names |= mine
                else:
                    rest.append((truth, mine))
            left = rest
        return found


class Real(NamedTuple):
    """One real tick, run by the real `run_tick`."""

    step: Step

    def keeps(self, invariants: Sequence[Invariant]) -> bool:
        """What was remembered before the tick keeps the invariants."""
        step = self.step
        return all(one.holds(step.config, step.boat, step.was, i) for one in invariants for i in one.indices(step.boat))


def real_tick(config: BoatConfig, boat: Boat, values: dict[str, bool | float]) -> Real:
    """The real tick for values of the variables."""
    was, boat_in, shaft_in, dt_s = gather(values, boat)
    return Real(Step(config, boat, was, boat_in, shaft_in, dt_s, run_tick(boat, was, boat_in, shaft_in, dt_s)))


def at_power_up(config: BoatConfig, boat: Boat, invariants: Sequence[Invariant]) -> list[str]:
    """Names of the invariants that do not hold at power-up."""
    memory = initial_memory(boat)
    return [one.name for one in invariants if not all(one.holds(config, boat, memory, i) for i in one.indices(boat))]


def _variables(truth: Truth) -> set[str]:
    if not isinstance(truth, Term):
        return set()
    return {term.label for term in cone([truth]) if term.op == t.VAR}
