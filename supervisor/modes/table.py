"""Rows of a mode table, and what a table must fulfil before anything runs on it.

A row says: from `source`, when every bit of `must` is set and every bit of `must_not` is clear, go to `dest`. The first
row of the source mode that matches wins. Nothing else changes a mode. A row may carry two marks, which the latches
read: `disarms` clears REARMED, `unload_to_propel` sets the unload target.
"""

from collections.abc import Sequence
from enum import IntEnum, IntFlag
from typing import Generic, NamedTuple, TypeVar

ModeT = TypeVar("ModeT", bound=IntEnum)
BitT = TypeVar("BitT", bound=IntFlag)

NO_ROW = -1


class Row(NamedTuple, Generic[ModeT, BitT]):
    """One row. `words` is the reason, in the words of the trade, as matrix and journal print it."""

    source: ModeT
    must: BitT
    must_not: BitT
    dest: ModeT
    words: str
    disarms: bool = False
    unload_to_propel: bool = False


class TableError(Exception):
    """A table that cannot be run: raised at import, never at sea."""


class CompiledRow(NamedTuple):
    """A row as integers, for the compiled executor: masks and values of one word."""

    mask: int
    value: int
    dest: int
    number: int
    disarms: int
    to_propel: int


NEVER = CompiledRow(mask=0, value=1, dest=0, number=NO_ROW, disarms=0, to_propel=0)
"""A row that no word matches."""


def compile_all(rows: Sequence[Row[ModeT, BitT]]) -> tuple[CompiledRow, ...]:
    """Every row as integers, by its number."""
    return tuple(
        CompiledRow(
            mask=int(row.must) | int(row.must_not),
            value=int(row.must),
            dest=int(row.dest),
            number=number,
            disarms=int(row.disarms),
            to_propel=int(row.unload_to_propel),
        )
        for number, row in enumerate(rows)
    )


def compile_rows(rows: Sequence[Row[ModeT, BitT]], modes: type[ModeT]) -> tuple[tuple[CompiledRow, ...], ...]:
    """The rows of each mode, in priority order: `compiled[mode]` is a tuple of CompiledRow. Every mode has as many, the
    shorter ones filled up with NEVER, so that the table is an array and compiles as one."""
    compiled = compile_all(rows)
    by_mode = [tuple(one for one, row in zip(compiled, rows, strict=True) if row.source == mode) for mode in modes]
    longest = max(len(of_mode) for of_mode in by_mode)
    return tuple(of_mode + (NEVER,) * (longest - len(of_mode)) for of_mode in by_mode)


def first_row(compiled: tuple[CompiledRow, ...], word: int) -> int:
    """Index into the whole table of the first of one mode's rows that matches `word`, or NO_ROW."""
    for mask, value, _dest, number, _disarms, _to_propel in compiled:
        if word & mask == value:
            return number
    return NO_ROW


def validate(rows: Sequence[Row[ModeT, BitT]], modes: type[ModeT], start: ModeT) -> None:
    """Refuse a table with a self-contradicting row, a row that can never win, a dead or unreachable mode.

    Raises TableError naming the row.
    """
    seen: list[Row[ModeT, BitT]] = []
    for row in rows:
        if int(row.must) & int(row.must_not):
            raise TableError(f"{row.source.name} -> {row.dest.name} ({row.words}): a bit must be both set and clear")
        if not int(row.must) | int(row.must_not):
            raise TableError(f"{row.source.name} -> {row.dest.name} ({row.words}): has no condition")
        for other in seen:
            hidden = (
                other.source == row.source
                and int(other.must) & ~int(row.must) == 0
                and int(other.must_not) & ~int(row.must_not) == 0
            )
            if hidden:
                raise TableError(
                    f"{row.source.name} -> {row.dest.name} ({row.words}) can never win: "
                    f"the row before it ({other.words}) takes every case"
                )
        seen.append(row)
    reached, frontier = {start}, [start]
    while frontier:
        mode = frontier.pop()
        for row in rows:
            if row.source == mode and row.dest not in reached:
                reached.add(row.dest)
                frontier.append(row.dest)
    for mode in modes:
        if mode not in reached:
            raise TableError(f"{mode.name} cannot be reached from {start.name}")
        if not any(row.source == mode and row.dest != mode for row in rows):
            raise TableError(f"{mode.name} has no way out")
