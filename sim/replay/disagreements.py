"""Disagreements between two controllers, as stretches of time: when, in what, by how much, and why."""

import re
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


ASK_S = 0.1
"""While a disagreement lasts, its reason is asked for this often."""
_NUMBERS = re.compile(r"-?\d[\d.]*")


class _Open:
    __slots__ = ("asked_s", "begin_s", "by", "last_s", "next_s", "other", "ours", "reason", "theirs", "why", "worst_s")

    def __init__(self, time_s: float) -> None:
        self.begin_s = self.last_s = self.worst_s = self.asked_s = time_s
        self.by = -1.0
        self.ours = self.theirs = 0.0
        self.why = ""
        self.reason = ""
        """The reason without its numbers: those change all the while."""
        self.other = ""
        """Another reason, heard once; the second time running it begins a stretch of its own, from `next_s` on."""
        self.next_s = time_s


class Disagreements:
    """Collects comparisons of named values. A disagreement is split where its reason changes: two faults of a
    controller that follow on each other are two. Stretches no longer than `grace_s` are counted as brief and not kept:
    two controllers that sample at different moments differ for a tick or two at every change."""

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
        worse = by > held.by * 1.05  # not at every step of a ramp: explaining takes longer than comparing
        if not worse and time_s - held.asked_s < ASK_S:
            return
        words = why()
        held.asked_s = time_s
        reason = _NUMBERS.sub("#", words)
        if held.reason and reason != held.reason:
            if reason != held.other:
                held.other, held.next_s = reason, time_s
            held = self._part(what, held, time_s)
            if held.reason:
                return
            worse = True
        else:
            held.other = ""
        if worse or not held.reason:
            held.by, held.worst_s, held.ours, held.theirs = by, time_s, ours, theirs
            held.why, held.reason = words, reason

    def _part(self, what: str, held: _Open, time_s: float) -> _Open:
        """The stretch that goes on: a new one once another reason has stood for as long as two controllers may take to
        sample the same change."""
        if time_s - held.next_s < max(self.grace_s, ASK_S):
            return held
        begin_s = held.next_s
        if begin_s - held.begin_s <= self.grace_s:
            begin_s = held.begin_s  # the reason of the first moments is no stretch of its own
            del self._open[what]
        else:
            self._close(what, begin_s)
        fresh = self._open[what] = _Open(begin_s)
        fresh.last_s = fresh.asked_s = time_s
        return fresh

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
