"""Words for condition bits in a replay: the register's, so that equal answers add up, and an own interlock's own."""

from collections.abc import Callable
from enum import IntFlag

from sim.replay.replayed import Change
from supervisor.config import BoatConfig
from supervisor.controller import OWN_BITS, Causes
from supervisor.modes import BOAT_WORDS, PERMIT_WORDS, SHAFT_WORDS, BoatCondition, PermitCondition, ShaftCondition

Told = Callable[[IntFlag, bool], str]


def told_in(config: BoatConfig, change: Change, index: int | None = None) -> Told:
    """Words for the bits at `change`, of the boat or (`index`) of a shaft."""
    causes = Causes(config)

    def told(bit: IntFlag, is_set: bool) -> str:
        if bit in OWN_BITS and not is_set:
            holding = causes.holding(change.outcome.own_bad, bit, index)
            if holding:
                return "; ".join(causes.interlock_words(k, change.boat) for k in holding)
        if isinstance(bit, BoatCondition):
            return BOAT_WORDS[bit][0 if is_set else 1]
        if isinstance(bit, ShaftCondition):
            return SHAFT_WORDS[bit][0 if is_set else 1]
        return PERMIT_WORDS[PermitCondition(bit)][0 if is_set else 1]

    return told
