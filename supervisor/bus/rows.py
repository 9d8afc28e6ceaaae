"""What a compiled boat file consists of: one row for each mapped input and output."""

from collections.abc import Mapping
from pathlib import Path
from typing import NamedTuple

from supervisor.bus.codec import MessageCodec, SignalCodec
from supervisor.bus.register import OutputSpec
from supervisor.signals import InputSpec


class OwnSides(NamedTuple):
    """What of an own interlock's signal is bad, and how many frames must say the same before they act (1 where a guard
    vouches for each). A contact is bad in the state `bad_on` (1 on, 0 off). A number with `high` 1 is bad from `bad_at`
    upwards and good at or below `good_at`, with `high` 0 the other way round; between the two it is neither."""

    frames: int
    bad_on: int
    high: int
    bad_at: float
    good_at: float

    def bad(self, value: float) -> bool:
        """A number on the bad side."""
        return value >= self.bad_at if self.high else value <= self.bad_at

    def good(self, value: float) -> bool:
        """A number on the good side."""
        return value <= self.good_at if self.high else value >= self.good_at


class ReportSides(NamedTuple):
    """The frame rule for a report without a guard that can end thrust: how many frames running from one source must say
    the same before a change acts. Two values say the same while they lie on the same side of each of `bounds`; with
    `falls_freely` 1 a change downwards acts at once, with `first_at_once` 1 the first frame after silence."""

    frames: int
    bounds: tuple[float, ...]
    falls_freely: int = 0
    first_at_once: int = 0

    def side(self, value: float) -> int:
        """The number of bounds that the value lies above."""
        return sum(1 for bound in self.bounds if value > bound)


class InputRow(NamedTuple):
    """Where one input comes from. `level` is BOAT, OWN or the shaft's number; `low` and `high` bound the final value,
    after DBC scaling, `factor` and `offset`; `where` are signals whose raw code must be one of a set; `paired` is the
    boat's pairing code for `handset.ours`, else -1; `own` is of own interlocks, `report` of reports under the frame
    rule, else None."""

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
    own: OwnSides | None = None
    report: ReportSides | None = None

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
