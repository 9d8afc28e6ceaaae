"""What a proof says: one `Shown` for each claim, and the whole `Proof`."""

from typing import NamedTuple


class Shown(NamedTuple):
    """One claim, shown or refuted.

    `requirement` is its SR; `claim` a short name, unique in the proof; `how` "table", "product", "reach" or "numeric";
    `cases` the number of (state, word) pairs or input combinations looked at, all of them or none left out but
    `left_out`; `counterexample` is "" when it holds.
    """

    requirement: str
    claim: str
    how: str
    text: str
    cases: int
    left_out: str = ""
    counterexample: str = ""

    @property
    def holds(self) -> bool:
        """No counter-example was found."""
        return not self.counterexample


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
    """All that was shown for one boat, with what it took and what was noted on the way."""

    boat: str
    shown: tuple[Shown, ...]
    counts: tuple[Count, ...]
    notes: tuple[str, ...]
    executor: str

    @property
    def holds(self) -> bool:
        """Every claim holds."""
        return all(one.holds for one in self.shown)

    def failed(self) -> list[Shown]:
        """The claims with a counter-example."""
        return [one for one in self.shown if not one.holds]
