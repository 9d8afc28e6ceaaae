"""An own interlock as the bus layer has it: an input without a name of its own in the program, under the frame rule
where it can end what runs and nothing vouches for a single frame."""

from supervisor.bus.codec import MessageCodec, SignalCodec
from supervisor.bus.rows import OwnSides
from supervisor.config.interlocks import ENDING_EFFECTS, effect_of, is_number, key_of
from supervisor.config.limits import own_thresholds
from supervisor.config.schema import Interlock
from supervisor.signals import InputSpec, Reaction

AGREEING_FRAMES = 3
"""So many frames running from one source must agree where there is no guard."""

NO_CONTACT = (
    "{signal} carries a number, and good_when makes {text} a contact",
    "Give bad_above or bad_below with hysteresis instead of good_when, or say which codes mean on: "
    'values = { "0" = 0, "1" = 1 }',
)
NO_NUMBER = (
    "{signal} has {bits} bits, and the threshold of {text} needs a number",
    'For a contact give good_when = "on" or "off" instead of a threshold, or say what its codes mean with values',
)
"""A signal that is not what the interlock takes it for: what is wrong, what to do."""

_ANY = 1e12
"""Own numbers are bounded by their DBC and by `low` and `high`, by nothing else."""


def own_spec(channel: int, entry: Interlock, signal: SignalCodec) -> InputSpec:
    """The interlock's own row of the register of inputs."""
    number = is_number(entry)
    return InputSpec(
        name=key_of(entry),
        bit=1 << channel,
        field="values" if number else "",
        unit=signal.unit if number else "",
        low=-_ANY if number else 0.0,
        high=_ANY if number else 1.0,
        guarded=False,
        default=Reaction.WARN,
        floor=Reaction.WARN,
        if_not_fitted=None,
        text=f"interlock {entry.name}",
    )


def own_sides(entry: Interlock, message: MessageCodec) -> OwnSides:
    """What of its signal is bad, and how many frames must say so."""
    alone = message.data_id is not None or effect_of(entry) not in ENDING_EFFECTS
    high, bad_at, good_at = own_thresholds(entry)
    return OwnSides(1 if alone else AGREEING_FRAMES, int(entry.good_when == "off"), high, bad_at, good_at)
