"""Disagreements between two controllers, as stretches of time: when, in what, by how much, and why."""

from collections.abc import Callable
from typing import NamedTuple

KEPT = 2_000
"""Stretches kept in memory; later ones are only counted."""


class Stretch(NamedTuple):
    """One disagreement. `ours` and `theirs` are the values at its worst moment `worst_s`, `by` their distance; `why`
    says what of ours explains it."""

    what: str
    begin_s: float
    end_s: float
    worst_s: float
    ours: float
    theirs: float
    by: float
    why: str

    @property
    def length_s(self) -> float:
        """How long it lasted (s)."""
        return self.end_s - self.begin_s


class _Open:
    __slots__ = ("begin_s", "by", "last_s", "ours", "theirs", "why", "worst_s")

    def __init__(self, time_s: float) -> None:
        self.begin_s = self.last_s = self.worst_s = time_s
        self.by = -1.0
        self.ours = self.theirs = 0.0
        self.why = ""


class Ledger:
    """Collects comparisons of named values. Stretches no longer than `grace_s` are counted as brief and not kept: two
    controllers that sample at different moments differ for a tick or two at every change."""

    def __init__(self, grace_s: float) -> None:
        self.grace_s = grace_s
        self.compared = 0
        self.different = 0
        self.brief = 0
        self.more = 0
        self.stretches: list[Stretch] = []
        self.total_s: dict[str, float] = {}
        self._open: dict[str, _Open] = {}

    def compare(
        self, what: str, time_s: float, ours: float, theirs: float, tolerance: float, why: Callable[[], str]
    ) -> None:
        """One comparison at `time_s`. `why` is called for the worst moment of a stretch."""
        self.compared += 1
        by = abs(ours - theirs)
        held = self._open.get(what)
        if by <= tolerance:
            if held is not None:
                self._close(what, time_s)
            return
        self.different += 1
        if held is None:
            held = self._open[what] = _Open(time_s)
        held.last_s = time_s
        if by > held.by * 1.05:  # not at every step of a ramp: explaining takes longer than comparing
            held.by, held.worst_s, held.ours, held.theirs = by, time_s, ours, theirs
            held.why = why()

    @property
    def open(self) -> bool:
        """Some stretch is not closed yet."""
        return bool(self._open)

    def _close(self, what: str, time_s: float) -> None:
        held = self._open.pop(what)
        length_s = time_s - held.begin_s
        if length_s <= self.grace_s:
            self.brief += 1
            return
        self.total_s[what] = self.total_s.get(what, 0.0) + length_s
        if len(self.stretches) >= KEPT:
            self.more += 1
            return
        self.stretches.append(
            Stretch(what, held.begin_s, time_s, held.worst_s, held.ours, held.theirs, held.by, held.why)
        )

    def finish(self, time_s: float) -> None:
        """Close what is open at the end."""
        for what in list(self._open):
            self._close(what, max(time_s, self._open[what].last_s))
        self.stretches.sort(key=lambda stretch: (stretch.begin_s, stretch.what))
