"""All seeded defects, and what the claims say of each on concrete ticks."""

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from claim_boats import BOATS
from edits import Constant, Edit, seeded
from seeded_bank import BANK, LIMITS, READINGS
from seeded_coupling import COUPLING
from seeded_hold import HOLD
from seeded_pause import PAUSE
from seeded_sources import SOURCES
from seeded_times import LATCHES, ORDERS, TIMES
from seeded_torque import TORQUE
from seeded_wiring import OUTPUTS, PERMITS, WIRING

from sim.prove.claims_numbers import NUMBER_CLAIMS, violated
from sim.prove.step import Step, StepClaim
from sim.prove.streams import anywhere, frozen, histories

GROUPS: dict[str, dict[str, Edit | Constant]] = {
    "bank": BANK, "readings": READINGS, "limits": LIMITS, "torque": TORQUE, "times": TIMES, "latches": LATCHES,
    "orders": ORDERS, "outputs": OUTPUTS, "permits": PERMITS, "wiring": WIRING,
    "pause": PAUSE, "sources": SOURCES, "coupling": COUPLING, "hold": HOLD,
}  # fmt: skip

DEFECTS: dict[str, Edit | Constant] = {name: edit for group in GROUPS.values() for name, edit in group.items()}

STREAMS = (
    ("marsh_tern", "anywhere"), ("four shafts", "anywhere"), ("marsh_tern", "history"), ("reed_warbler", "anywhere"),
    ("four shafts", "history"), ("three shafts", "anywhere"),
)  # fmt: skip


class Catch(NamedTuple):
    """A claim that a step broke: where the step stands in which stream."""

    requirement: str
    claim: str
    boat: str
    stream: str
    number: int


def stream(boat: str, kind: str, steps: int, seed: int) -> Iterator[Step]:
    """Steps of that boat, its limits frozen by the rules as they are now."""
    config = BOATS[boat]
    make = anywhere if kind == "anywhere" else histories
    return make(config, frozen(config), seed, steps)


def catches(
    edit: Edit | Constant, claims: Sequence[StepClaim] = NUMBER_CLAIMS, steps: int = 500, seed: int = 1,
    streams: Sequence[tuple[str, str]] = STREAMS,
) -> Iterator[Catch]:  # fmt: skip
    """Each claim that a step breaks while the rules have the defect, once, in the order in which they are broken."""
    left = list(claims)
    with seeded(edit):
        for boat, kind in streams:
            for number, step in enumerate(stream(boat, kind, steps, seed)):
                for claim in [claim for claim in left if violated(claim, step) is not None]:
                    left.remove(claim)
                    yield Catch(claim.requirement, claim.name, boat, kind, number)
