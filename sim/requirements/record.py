"""What an evaluator is fed, one record a tick, and what it answers."""

from collections.abc import Callable
from typing import NamedTuple

from supervisor.controller import Outcome
from supervisor.signals import BoatCommand, BoatInputs, ShaftCommand, ShaftInputs


class Record(NamedTuple):
    """One tick of a boat, as supervised: inputs that were decided on, and what was decided on them.

    `time_s` is monotonic (s); inputs are those of this tick, modes, commands and words those *after* it. Whatever is
    not known is None (a whole field, or one shaft's place in a tuple), and what needs it is then not judged.
    Feed every tick: an edge that falls between two records is not seen, and a gap longer than `LONGEST_GAP_S` starts
    all histories anew.
    """

    time_s: float
    boat_mode: int | None = None
    shaft_modes: tuple[int | None, ...] = ()
    boat_in: BoatInputs | None = None
    shaft_in: tuple[ShaftInputs | None, ...] = ()
    boat_command: BoatCommand | None = None
    shaft_commands: tuple[ShaftCommand | None, ...] = ()
    boat_word: int | None = None
    shaft_words: tuple[int | None, ...] = ()


def of_tick(boat_in: BoatInputs, shaft_in: tuple[ShaftInputs, ...], outcome: Outcome) -> Record:
    """The record of a tick of our own controller: inputs that it was given, and what it made of them."""
    return Record(
        outcome.time_s, outcome.boat_mode, outcome.shaft_modes, boat_in, shaft_in, outcome.boat_command,
        outcome.shaft_commands, outcome.boat_word, outcome.shaft_words,
    )  # fmt: skip


LONGEST_GAP_S = 0.5
"""Records further apart than this (s) are two recordings."""


class Judgement(NamedTuple):
    """The verdict on one requirement.

    `held` is None where the records gave no occasion to judge. `closest` is the smallest margin seen, in `unit`, below
    zero when violated; `time_s` when that was; `duration_s` how long the requirement was violated, all violations
    together; `words` says what was seen, in the words of the trade ("" if nothing was judged).
    """

    id: str
    held: bool | None
    closest: float | None
    unit: str
    time_s: float | None
    duration_s: float
    words: str


class Tally:
    """The running verdict on one requirement: smallest margin, first violation, its duration."""

    TOLERANCE = 1e-6
    """Margins below minus this are violations: the inputs' own arithmetic must not decide a verdict."""

    def __init__(self, identifier: str, unit: str) -> None:
        self.identifier = identifier
        self.unit = unit
        self.closest: float | None = None
        self.time_s: float | None = None
        self.duration_s = 0.0
        self.words = ""
        self._counted_s: float | None = None

    def note(self, margin: float, time_s: float, dt_s: float, words: Callable[[], str]) -> None:
        """One observation. `margin` below zero is a violation that lasts `dt_s`, however many observations of one
        tick say so; `words` is called when it is the closest so far. NaN counts as a violation by an unknown amount."""
        if not margin >= -self.TOLERANCE and self._counted_s != time_s:
            self._counted_s = time_s
            self.duration_s += dt_s
        if self.closest is None or not margin >= self.closest:
            if self.closest is not None and self.closest != self.closest:
                return  # NaN is as close as it gets
            self.closest, self.time_s, self.words = margin, time_s, words()

    def judgement(self) -> Judgement:
        """The verdict so far."""
        held = None if self.closest is None else self.closest >= -self.TOLERANCE
        return Judgement(
            self.identifier, held, self.closest, self.unit, self.time_s, self.duration_s, self.words
        )  # fmt: skip
