"""Every claim on numbers, times, orders and outputs, in one list."""

from sim.prove.claims_astern import ASTERN_CLAIMS
from sim.prove.claims_bank import BANK_CLAIMS
from sim.prove.claims_coupling import COUPLING_CLAIMS
from sim.prove.claims_given import GIVEN_CLAIMS
from sim.prove.claims_hold import HOLD_CLAIMS
from sim.prove.claims_orders import ORDER_CLAIMS
from sim.prove.claims_outputs import OUTPUT_CLAIMS
from sim.prove.claims_pause import PAUSE_CLAIMS
from sim.prove.claims_sources import SOURCE_CLAIMS
from sim.prove.claims_stops import STOP_CLAIMS
from sim.prove.claims_times import TIME_CLAIMS
from sim.prove.claims_told import TOLD_CLAIMS
from sim.prove.claims_torque import TORQUE_CLAIMS
from sim.prove.claims_trust import TRUST_CLAIMS
from sim.prove.step import Step, StepClaim

NUMBER_CLAIMS: tuple[StepClaim, ...] = (
    *OUTPUT_CLAIMS, *ORDER_CLAIMS, *BANK_CLAIMS, *TIME_CLAIMS, *TORQUE_CLAIMS, *GIVEN_CLAIMS, *TOLD_CLAIMS,
    *ASTERN_CLAIMS, *TRUST_CLAIMS, *STOP_CLAIMS, *PAUSE_CLAIMS, *SOURCE_CLAIMS, *COUPLING_CLAIMS,
    *HOLD_CLAIMS,
)  # fmt: skip


def sides(claim: StepClaim, step: Step) -> range:
    """The shafts that `claim` speaks of."""
    return range(len(step.shaft_in) if claim.per_shaft else 1)


def violated(claim: StepClaim, step: Step) -> int | None:
    """The first shaft on which this step breaks the claim, None if it holds."""
    for i in sides(claim, step):
        if claim.given(step, i) and not claim.then(step, i):
            return i
    return None
