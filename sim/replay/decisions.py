"""Every decision as one line of text, and the digest of them all: equal digests are equal decisions, tick by tick.

A line is written whenever a tick decides something else than the tick before. Numbers are written so that reading them
back gives the same bits.
"""

import hashlib
from collections.abc import Sequence
from typing import TextIO

from sim.replay.replayed import Change, Heard
from supervisor.controller import Outcome
from supervisor.controller.decided import decided_text, event_line


def decision_line(tick: int, outcome: Outcome) -> str:
    """Modes, commands and condition words of one tick, and its events."""
    return "|".join((str(tick), decided_text(outcome), *(event_line(event) for event in outcome.events)))


class Decisions:
    """Observes one subject; keeps the digest, and writes the lines to `file` if there is one."""

    def __init__(self, which: int, file: TextIO | None = None) -> None:
        self.which = which
        self.lines = 0
        self._file = file
        self._hash = hashlib.sha256()
        self._last: tuple[object, ...] = ()

    def span(self, first: int, stop: int, changes: Sequence[Sequence[Change]], commands: Sequence[Heard]) -> None:
        """Write what was decided."""
        for change in changes[self.which]:
            self.take(change.tick, change.outcome)

    def take(self, tick: int, outcome: Outcome) -> None:
        """One tick: nothing is written where it decides what the tick before decided."""
        if outcome.events or outcome[1:7] != self._last:
            self._last = outcome[1:7]
            line = decision_line(tick, outcome) + "\n"
            self.lines += 1
            self._hash.update(line.encode())
            if self._file is not None:
                self._file.write(line)

    @property
    def digest(self) -> str:
        """SHA-256 of all lines so far, in hexadecimal."""
        return self._hash.hexdigest()
