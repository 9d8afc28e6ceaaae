"""What needs no solver: plain facts of the frozen limits and of power-up, held against the boat file.

Claims on steps read shapes and masks of the frozen limits; that those follow from the boat file is shown here, and that
nothing is taken for good at power-up. Each is one case, looked at as it is.
"""

from collections.abc import Callable
from typing import NamedTuple

from sim.prove.result import PROVEN, REFUTED, Shown
from supervisor.config import BoatConfig
from supervisor.config.limits import Reactions
from supervisor.config.schema import InputMap
from supervisor.rules import Boat, initial_memory
from supervisor.signals import BOAT_INPUTS, SHAFT_INPUTS, InputSpec, Reaction

OF_BOAT, OF_SHAFT = "reactions of the boat's inputs", "reactions of the shafts' inputs"
OWN_START = "own interlocks start bad"
"""Names, for the claims that rest on them."""


class PlainFact(NamedTuple):
    """`holds` is told the boat file and its frozen limits."""

    requirement: str
    name: str
    text: str
    holds: Callable[[BoatConfig, Boat], bool]


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


def boat_filed(config: BoatConfig, boat: Boat) -> bool:
    """The boat's masks."""
    return as_filed(config, boat.limits.react, -1)


def shafts_filed(config: BoatConfig, boat: Boat) -> bool:
    """Each shaft's masks; as many shafts as the file has."""
    same = len(config.shaft) == len(boat.shafts)
    return same and all(as_filed(config, lim.react, i) for i, lim in enumerate(boat.shafts))


def own_start(config: BoatConfig, boat: Boat) -> bool:
    """No own interlock is good before it was seen good."""
    return initial_memory(boat).boat.own.bad == (1 << len(config.interlock)) - 1


def starts_blank(config: BoatConfig, boat: Boat) -> bool:
    """Power-up: STANDBY and REST, nothing armed, no torque, no timer of a permissive running."""
    memory = initial_memory(boat)
    helm, dwells, bank = memory.boat, memory.boat.dwells, memory.boat.bank
    blank = helm.mode == 0 and helm.latches == 0 and helm.acknowledged == 0
    blank = blank and dwells.wait_s < 0.0 and dwells.off_s < 0.0 and dwells.idle_s < 0.0 and dwells.age_s <= 0.0
    blank = blank and bank.hotel_a <= 0.0 and bank.load_a >= 0.0 and bank.drives_a == 0.0
    for state in memory.shafts:
        blank = blank and state.mode == 0 and state.latches == 0 and state.order_pct == 0.0
        blank = blank and state.effort.torque_nm == 0.0 and state.effort.charge_a == 0.0
        blank = blank and state.dwells.neutral_s < 0.0 and state.dwells.still_s < 0.0
        blank = blank and state.dwells.precharge_s == 0.0 and state.dwells.trail_s == 0.0
    return blank and len(memory.shafts) == len(config.shaft)


PLAIN_FACTS: tuple[PlainFact, ...] = (
    PlainFact("SR-30", OF_BOAT, "each input of the boat carries the reaction that boat file and register give it",
              boat_filed),
    PlainFact("SR-30", OF_SHAFT, "each input of a shaft carries the reaction that boat file and register give it",
              shafts_filed),
    PlainFact("SR-36", "power-up remembers nothing", "after power-up boat and shafts are in STANDBY and REST, with "
              "nothing armed, no torque and no dwell begun", starts_blank),
    PlainFact("SR-50", OWN_START, "after power-up each own interlock is bad until it is seen good", own_start),
)  # fmt: skip


def shown(config: BoatConfig, boat: Boat) -> list[Shown]:
    """Each fact, as a result."""
    found = []
    for fact in PLAIN_FACTS:
        holds = fact.holds(config, boat)
        against = "" if holds else f"the frozen limits do not say so: {fact.text}"
        answer = PROVEN if holds else REFUTED
        found.append(Shown(fact.requirement, fact.name, "plain", fact.text, 1, "", against, answer))
    return found
