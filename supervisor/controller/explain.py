"""Why not? Which bits are missing for what was asked, in the words of the trade."""

from collections.abc import Sequence
from enum import IntEnum, IntFlag
from typing import NamedTuple, TypeVar

from supervisor.modes import (
    BOAT_TABLE,
    BOAT_WORDS,
    SHAFT_TABLE,
    SHAFT_WORDS,
    BoatCondition,
    BoatMode,
    Row,
    ShaftCondition,
    ShaftMode,
)

ModeT = TypeVar("ModeT", bound=IntEnum)
BitT = TypeVar("BitT", bound=IntFlag)


class Refusal(NamedTuple):
    """What is missing for one way to a mode. `bits` are the names of the condition bits, `words` say the same."""

    goal: str
    way: str
    bits: tuple[str, ...]
    words: tuple[str, ...]


def _missing(row: Row[ModeT, BitT], word: int, texts: dict[BitT, tuple[str, str]]) -> tuple[list[str], list[str]]:
    bits: list[str] = []
    words: list[str] = []
    for bit, (when_set, when_clear) in texts.items():
        if int(row.must) & int(bit) and not word & int(bit):
            bits.append(str(bit.name))
            words.append(when_clear)
        if int(row.must_not) & int(bit) and word & int(bit):
            bits.append(f"not {bit.name}")
            words.append(when_set)
    return bits, words


def _ways(
    rows: Sequence[Row[ModeT, BitT]], source: ModeT, goal: ModeT, word: int, texts: dict[BitT, tuple[str, str]]
) -> list[Refusal]:
    found = []
    for row in rows:
        if row.source == source and row.dest == goal:
            bits, words = _missing(row, word, texts)
            found.append(Refusal(goal.name, row.words, tuple(bits), tuple(words)))
    return sorted(found, key=lambda refusal: len(refusal.bits))


def explain_boat(mode: BoatMode, word: int, goal: BoatMode) -> list[Refusal]:
    """Ways from the boat's `mode` to `goal`, the nearest first, each with what is missing. READY asked from STANDBY is
    answered for the whole way. An empty list: no row leads there from this mode."""
    ways = _ways(BOAT_TABLE, mode, goal, word, BOAT_WORDS)
    if not ways and mode == BoatMode.STANDBY and goal == BoatMode.READY:
        ways = _ways(BOAT_TABLE, BoatMode.STANDBY, BoatMode.NEUTRAL_WAIT, word, BOAT_WORDS)
        ways += _ways(BOAT_TABLE, BoatMode.NEUTRAL_WAIT, BoatMode.READY, word, BOAT_WORDS)
    if not ways and mode == BoatMode.TRIPPED:
        ways = _ways(BOAT_TABLE, BoatMode.TRIPPED, BoatMode.STANDBY, word, BOAT_WORDS)
    return ways


def explain_shaft(mode: ShaftMode, word: int, goal: ShaftMode) -> list[Refusal]:
    """Ways from a shaft's `mode` to `goal`, the nearest first, each with what is missing. From a mode that has no
    direct row the way from REST is explained; from ISOLATED the way out of it."""
    ways = _ways(SHAFT_TABLE, mode, goal, word, SHAFT_WORDS)
    if not ways and mode == ShaftMode.ISOLATED:
        return _ways(SHAFT_TABLE, ShaftMode.ISOLATED, ShaftMode.REST, word, SHAFT_WORDS)
    if not ways and mode != goal:
        ways = _ways(SHAFT_TABLE, ShaftMode.REST, goal, word, SHAFT_WORDS)
    return ways


def name_bits(word: int, kind: type[BoatCondition] | type[ShaftCondition]) -> list[str]:
    """Names of the bits set in a word."""
    return [str(bit.name) for bit in kind if word & int(bit)]
