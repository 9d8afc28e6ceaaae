"""The live executor: `transitions` machines built from the mode tables, row by row.

The row is found by the integer table; the change itself is made by the machine, whose guards read the same row again.
The two must agree, or the change is refused and the controller falls back to no torque. In most ticks no row matches,
and then the machine is not asked: a trigger costs more than all rules together.
"""

from collections.abc import Sequence
from enum import IntEnum, IntFlag
from functools import partial
from typing import Any, Generic, TypeVar

from transitions import Machine

from supervisor.modes.table import NO_ROW, Row, compile_rows, first_row

ModeT = TypeVar("ModeT", bound=IntEnum)
BitT = TypeVar("BitT", bound=IntFlag)


class ExecutorsDisagreeError(Exception):
    """The two executors of one table came to different modes. Never seen in a sound build: it means that memory or
    installation is damaged, and the controller stops all torque."""


class TableMachine(Generic[ModeT, BitT]):
    """One mode table, live. `mode` is the present mode; `consider(word)` may change it, nothing else does."""

    def __init__(self, rows: Sequence[Row[ModeT, BitT]], modes: type[ModeT], start: ModeT) -> None:
        self._rows = rows
        self._modes = modes
        self._compiled = compile_rows(rows, modes)
        self._word = 0
        self.state: Any = start
        self._machine = Machine(
            model=self,
            states=modes,
            initial=start,
            auto_transitions=False,
            send_event=False,
            transitions=[
                {
                    "trigger": "weigh",
                    "source": row.source,
                    "dest": row.dest,
                    "conditions": partial(self._holds, int(row.must), int(row.must) | int(row.must_not)),
                }
                for row in rows
            ],
            ignore_invalid_triggers=True,
        )

    def _holds(self, value: int, mask: int) -> bool:
        """A guard: pure, reads the word under consideration."""
        return self._word & mask == value

    @property
    def mode(self) -> ModeT:
        """The present mode."""
        return self._modes(self.state)

    def put(self, mode: ModeT) -> None:
        """Into a mode that was saved from a machine of the same table: no decision, a moment restored."""
        self.state = mode

    @property
    def machine(self) -> Machine:
        """The `transitions` machine, for tests and drawings."""
        return self._machine

    def weigh_word(self, word: int) -> ModeT:
        """Let the machine alone weigh `word`, and return the mode after it."""
        self._word = word
        self.weigh()  # type: ignore[attr-defined]
        return self.mode

    def consider(self, word: int) -> int:
        """Weigh `word`; return the index of the row taken, or NO_ROW.

        Raises ExecutorsDisagreeError when machine and integer table differ; the mode is then that of the machine.
        """
        row = first_row(self._compiled[self.state], word)
        if row == NO_ROW:
            return NO_ROW
        if self.weigh_word(word) != self._rows[row].dest:
            raise ExecutorsDisagreeError(
                f"word {word:#x}: table says {self._rows[row].dest.name}, machine {self.mode.name}"
            )
        return row
