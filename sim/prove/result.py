"""What a proof says: one `Shown` for each claim, and the whole `Proof`."""

from collections.abc import Mapping
from typing import NamedTuple

PROVEN, REFUTED, CHECKED, SILENT, EMPTY, ERROR, LEFT = (
    "proven", "refuted", "checked", "silent", "empty", "error", "left",
)  # fmt: skip
"""What can be said of a claim: it holds for all that there is; a counter-example was found, and the real rules repeat
it; so many ticks were looked at, and none breaks it; it speaks of no tick of this boat; no outcome whatever could break
it, so that it claims nothing; it could not be asked; there was no time to look at it. Only the first is a proof."""

WORST = (REFUTED, ERROR, EMPTY, CHECKED, LEFT, SILENT, PROVEN)
"""From worst to best: what is said of a claim on several shafts is the worst said of one."""


class Shown(NamedTuple):
    """One claim, and what came of it.

    `requirement` is its SR, "" for what all rest on (invariants, nothing raises); `claim` a short name, unique in the
    proof; `how` "table", "product", "reach" or "step"; `over` what was looked at: pairs of state and word for tables
    and product, for a step the inputs, latches and timers that are all left free (PROVEN) or the number of ticks
    (CHECKED). `left_out` says what was not looked at, and why; `counterexample` is the breach in words, `why` the
    reason where a claim is neither proven nor refuted.
    """

    requirement: str
    claim: str
    how: str
    text: str
    over: int
    left_out: str = ""
    counterexample: str = ""
    answer: str = PROVEN
    why: str = ""

    @property
    def holds(self) -> bool:
        """No counter-example was found."""
        return not self.counterexample

    @property
    def proven(self) -> bool:
        """It holds for all that there is."""
        return self.holds and self.answer == PROVEN


class Count(NamedTuple):
    """Work done by one part of the proof."""

    part: str
    states: int
    words: int
    seconds: float
    in_blocks: int = 0
    """Words of them that were decided in whole blocks, not one by one."""

    @property
    def rate(self) -> float:
        """Words a second."""
        return self.words / self.seconds if self.seconds > 0 else 0.0


class Proof(NamedTuple):
    """All that was shown for one boat, with what it took and what was noted on the way. `missing` says, for a
    requirement whose claims are all proven, what else is missing for it to be complete."""

    boat: str
    shown: tuple[Shown, ...]
    counts: tuple[Count, ...]
    notes: tuple[str, ...]
    executor: str
    missing: Mapping[str, tuple[str, ...]] = {}

    @property
    def holds(self) -> bool:
        """No claim has a counter-example."""
        return all(one.holds for one in self.shown)

    @property
    def decided(self) -> bool:
        """Every claim is proven or refuted, or speaks of nothing that this boat has."""
        return all(not one.holds or one.answer in (PROVEN, SILENT) for one in self.shown)

    def failed(self) -> list[Shown]:
        """The claims with a counter-example."""
        return [one for one in self.shown if not one.holds]

    def undecided(self) -> list[Shown]:
        """The claims that are neither proven nor refuted, though they speak of this boat."""
        return [one for one in self.shown if one.holds and one.answer not in (PROVEN, SILENT)]
