"""Which inputs carry which reaction: the frozen masks are held against the boat file and the register of inputs.

Every other claim may then read the masks.
"""

from sim.prove.claims_bank import always
from sim.prove.step import Step, StepClaim
from supervisor.config import BoatConfig
from supervisor.config.limits import Reactions
from supervisor.config.schema import InputMap
from supervisor.signals import BOAT_INPUTS, SHAFT_INPUTS, InputSpec, Reaction

OF_BOAT, OF_SHAFT = "reactions of the boat's inputs", "reactions of the shaft's inputs"
"""Names of the two claims, for those that rest on them."""

def chosen(spec: InputSpec, inputs: dict[str, InputMap]) -> Reaction:
    """The reaction to the loss of one input: the boat file's, or the register's own."""
    mapped = inputs.get(spec.name)
    if mapped is None or mapped.reaction is None:
        return spec.default
    return Reaction[mapped.reaction.upper()]


def carrying(specs: tuple[InputSpec, ...], inputs: dict[str, InputMap], reaction: Reaction) -> int:
    """The inputs that carry a reaction. A stronger one that the boat file chose takes nothing away: what derates or
    inhibits charging by itself goes on doing so, and whatever trips or ramps by choice inhibits charging too."""
    found = 0
    for spec in specs:
        own = chosen(spec, inputs)
        mapped = inputs.get(spec.name)
        by_choice = mapped is not None and mapped.reaction is not None
        carries = own == reaction
        if reaction in (Reaction.DERATE, Reaction.INHIBIT_CHARGE) and spec.default == reaction:
            carries = True
        if reaction == Reaction.INHIBIT_CHARGE and by_choice and own > Reaction.INHIBIT_CHARGE:
            carries = True
        if carries:
            found |= int(spec.bit)
    return found


def mapped_mask(specs: tuple[InputSpec, ...], inputs: dict[str, InputMap]) -> int:
    """The inputs that the boat file maps to a signal."""
    return sum(int(spec.bit) for spec in specs if spec.name in inputs)


def as_filed(config: BoatConfig, react: Reactions, level: int) -> bool:
    """The masks are those of the boat file: of the boat (`level` -1) or of one shaft."""
    specs = BOAT_INPUTS if level < 0 else SHAFT_INPUTS
    inputs = config.inputs if level < 0 else config.shaft[level].inputs
    want = {reaction.name.lower(): carrying(specs, inputs, reaction) for reaction in Reaction}
    want["mapped"] = mapped_mask(specs, inputs)
    return all(getattr(react, name) == want[name] for name in react._fields)


def boat_filed(step: Step, i: int) -> bool:
    return as_filed(step.config, step.boat.limits.react, -1)


def shaft_filed(step: Step, i: int) -> bool:
    return as_filed(step.config, step.boat.shafts[i].react, i)


REACTION_CLAIMS: tuple[StepClaim, ...] = (
    StepClaim("SR-30", OF_BOAT, "each input of the boat carries the reaction that boat file and register give it",
              always, boat_filed, per_shaft=False, parity=False),
    StepClaim("SR-30", OF_SHAFT, "each input of the shaft carries the reaction that boat file and register give it",
              always, shaft_filed, parity=False),
)  # fmt: skip
