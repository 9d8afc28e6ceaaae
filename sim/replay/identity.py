"""Whether a replay decides what was decided live, tick by tick: each tick of a recorded run has the code of what it
decided beside it."""

from collections.abc import Sequence
from typing import NamedTuple

from sim.replay.replayed import Change, Heard
from sim.replay.ticks import Recorded
from supervisor.controller.decided import Codes


class SameAsRun(NamedTuple):
    """`compared` ticks of `ticks` have a code; `first_tick` at `first_s` (log time) is the first that decided something
    else, None where none did."""

    compared: int
    ticks: int
    first_tick: int | None = None
    first_s: float = 0.0

    def words(self) -> str:
        """For a person."""
        if self.first_tick is None:
            part = "" if self.compared == self.ticks else f" of its {self.ticks}"
            return f"identical to the run: {self.compared} ticks{part}, each decided as it was on board"
        return (
            f"DIFFERENT from the run on board, from {self.first_s:.2f} s on (tick {self.first_tick + 1} of "
            f"{self.ticks}): another boat file, another version of Thwart (its words count), or an incomplete log"
        )


class Identity:
    """Observes subject number `which`, over the very ticks of the run."""

    def __init__(self, which: int, ticks: Recorded) -> None:
        self._which = which
        self._ticks = ticks
        self._codes = Codes()
        self._next = 0
        self._state: int | None = None
        self._compared = 0
        self._first: int | None = None

    def span(self, first: int, stop: int, changes: Sequence[Sequence[Change]], commands: Sequence[Heard]) -> None:
        """Compare the ticks up to the last change."""
        for change in changes[self._which]:
            self._upto(change.tick)
            self._compare(change.tick, self._codes.of(change.outcome))
            self._state = self._codes.state(change.outcome)
            self._next = change.tick + 1

    def _upto(self, tick: int) -> None:
        """Ticks before `tick` decided what stood."""
        if self._state is not None:
            for number in range(self._next, tick):
                self._compare(number, self._state)
        self._next = max(self._next, tick)

    def _compare(self, tick: int, code: int) -> None:
        decided = self._ticks.decided
        if tick >= len(decided) or decided[tick] < 0:
            return
        self._compared += 1
        if decided[tick] != code and self._first is None:
            self._first = tick

    def report(self, stop: int) -> SameAsRun | None:
        """The verdict up to tick `stop`; None for a run without codes."""
        self._upto(min(stop, len(self._ticks.decided)))
        if not any(code >= 0 for code in self._ticks.decided):
            return None
        at_s = 0.0 if self._first is None else self._ticks.at(self._first)
        return SameAsRun(self._compared, len(self._ticks.decided), self._first, at_s)
