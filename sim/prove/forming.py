"""How every bit of every word is formed: the claims of one boat, in one list."""

from sim.prove.forming_boat import BOAT_FORMING
from sim.prove.forming_own import HELD_BAD, own_claims
from sim.prove.forming_permits import PERMIT_CLAIMS, PERMIT_FORMING
from sim.prove.forming_shaft import SHAFT_FORMING
from sim.prove.step import StepClaim
from supervisor.config import BoatConfig

FORMING: tuple[StepClaim, ...] = (*BOAT_FORMING, *SHAFT_FORMING, *PERMIT_FORMING)
"""One claim for each bit of the boat's word, the shaft's word and the permit word."""


def forming_claims(config: BoatConfig) -> tuple[StepClaim, ...]:
    """The forming of each bit, the permits on their bits, and the own interlocks of this boat. Where it has none,
    nothing rests on how they are held."""
    claims = (*FORMING, *PERMIT_CLAIMS, *own_claims(config))
    if config.interlock:
        return claims
    return tuple(
        claim._replace(rests_on=tuple(name for name in claim.rests_on if name != HELD_BAD)) for claim in claims
    )
