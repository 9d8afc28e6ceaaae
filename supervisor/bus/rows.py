"""What a compiled boat file consists of: one row for each mapped input and output."""

from collections.abc import Mapping
from pathlib import Path
from typing import NamedTuple

from supervisor.bus.codec import MessageCodec, SignalCodec
from supervisor.bus.register import OutputSpec
from supervisor.signals import InputSpec


class FrameRule(NamedTuple):
    """How many frames must say the same before they act, where no guard vouches for one; and from where on a number
    says something else: `high` 1: bad from `bad_at` upwards, good at or below `good_at`; 0: the other way round."""

    frames: int
    high: int = 1
    bad_at: float = 0.0
    good_at: float = 0.0


class InputRow(NamedTuple):
    """Where one input comes from. `level` is BOAT, OWN or the shaft's number; `low` and `high` bound the final value,
    after DBC scaling, `factor` and `offset`; `where` are signals whose raw code must be one of a set; `paired` is the
    boat's pairing code for `handset.ours`, else -1; `rule` is for own interlocks without a guard, else None."""

    level: int
    key: str
    spec: InputSpec
    bus: str
    message: MessageCodec
    signal: SignalCodec
    where: tuple[tuple[SignalCodec, frozenset[int]], ...]
    source: int
    stale_s: float
    low: float
    high: float
    factor: float
    offset: float
    values: Mapping[int, float] | None
    invert: bool
    paired: int
    rule: FrameRule | None = None

    def __repr__(self) -> str:
        return f"InputRow({self.key} <- {self.bus} {self.message.name}.{self.signal.name})"


class OutputRow(NamedTuple):
    """Where one output goes."""

    level: int
    key: str
    spec: OutputSpec
    bus: str
    message: MessageCodec
    signal: SignalCodec

    def __repr__(self) -> str:
        return f"OutputRow({self.key} -> {self.bus} {self.message.name}.{self.signal.name})"


class BoatMap(NamedTuple):
    """Everything the bus layer knows of a boat.

    `messages` holds all codecs by bus and message name; `periods` the period of sending by (bus, message), 0.0 for
    every tick; `absent` the inputs declared not fitted; `essential` the buses that carry a guarded input or an output:
    their loss is a loss of the receive path, not only of inputs.
    """

    file: str
    tick_s: float
    shaft_names: tuple[str, ...]
    kinds: Mapping[str, str]
    messages: Mapping[str, Mapping[str, MessageCodec]]
    inputs: tuple[InputRow, ...]
    absent: tuple[tuple[int, InputSpec], ...]
    outputs: tuple[OutputRow, ...]
    periods: Mapping[tuple[str, str], float]
    essential: frozenset[str]

    def __repr__(self) -> str:
        return f"BoatMap({Path(self.file).name}: {len(self.inputs)} inputs, {len(self.outputs)} outputs)"
