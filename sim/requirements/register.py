"""The register of safety requirements, in the order of their identifiers."""

from sim.requirements.model import Requirement
from sim.requirements.register_astern import ASTERN_REQUIREMENTS
from sim.requirements.register_boat import BOAT_REQUIREMENTS
from sim.requirements.register_charge import CHARGE_REQUIREMENTS
from sim.requirements.register_machinery import MACHINERY_REQUIREMENTS
from sim.requirements.register_motion import MOTION_REQUIREMENTS

REGISTER: tuple[Requirement, ...] = tuple(
    sorted(
        (*BOAT_REQUIREMENTS, *MOTION_REQUIREMENTS, *CHARGE_REQUIREMENTS, *MACHINERY_REQUIREMENTS, *ASTERN_REQUIREMENTS),
        key=lambda requirement: requirement.id,
    )
)

BY_ID: dict[str, Requirement] = {requirement.id: requirement for requirement in REGISTER}


def title_of(identifier: str) -> str:
    """What a requirement is about; "" for an own interlock, whose name says it."""
    requirement = BY_ID.get(identifier)
    return requirement.title if requirement is not None else ""


def called(identifier: str) -> str:
    """A requirement as people read it: `SR-05 No path into motion`, `interlock swim_ladder`."""
    return f"{identifier} {title_of(identifier)}".rstrip()
