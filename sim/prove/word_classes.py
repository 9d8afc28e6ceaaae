"""What a shaft can be told in one tick, as far as its mode and latches can tell the difference.

A shaft word has some fifty bits. What happens to mode and latches depends on the row taken and on a few bits that the
latch rule reads; two words that agree in those are of one class. For each mode the classes are found exactly: for each
combination of those bits and each row, a word that has them and takes that row is searched, or shown not to exist.
"""

from collections.abc import Sequence
from functools import cache
from typing import Any, NamedTuple

from sim.prove.consistency import IMPOSSIBLE_SHAFT
from sim.prove.cubes import Cube, cube, find_word, meet
from supervisor.modes import NO_ROW, BoatMode, Row, ShaftCondition, ShaftMode

_C = ShaftCondition

PERMISSIVES = (
    _C.BOAT_READY | _C.IN_SERVICE | _C.LINK_CHARGED | _C.NO_SHORE | _C.NO_DIVER | _C.LOCK_RELEASED | _C.LOCK_SETTLED
    | _C.CLUTCH_CLOSED | _C.ENGINE_CLEAR | _C.DISCHARGE_PERMIT | _C.DERATE_OPEN | _C.OWN_THRUST | _C.OWN_THRUST_STAYS
)  # fmt: skip
"""All that thrust needs besides lever and fresh neutral: retyped from docs/safety.md."""

_READ_BITS = (_C.THRUST_ORDER, _C.CONTROL_LOST, _C.HANDSET_LOST, _C.PAUSED)


class WordClass(NamedTuple):
    """One class of words: the row it takes (NO_ROW for none), the bits that latches and monitors read, a word."""

    row: int
    asks: bool
    control_lost: bool
    handset_lost: bool
    paused: bool
    permitted: bool
    word: int


class Told(NamedTuple):
    """What the boat tells a shaft in a tick."""

    boat_mode: BoatMode
    reset_edge: bool
    off_order: bool


class WordClasses:
    """The classes of words of one shaft table. `possible_only` leaves out the words of `consistency`."""

    def __init__(self, rows: Sequence[Row[Any, Any]], *, possible_only: bool) -> None:
        self._cubes: dict[int, list[tuple[int, Cube]]] = {
            int(mode): [
                (number, cube(int(row.must), int(row.must_not)))
                for number, row in enumerate(rows)
                if row.source == mode
            ]
            for mode in ShaftMode
        }
        self._outside = [one.cube for one in IMPOSSIBLE_SHAFT] if possible_only else []
        self.searched = 0
        self.word_classes = cache(self._word_classes)

    def _word_classes(self, mode: int, told: Told, rearmed: bool, to_propel: bool) -> tuple[WordClass, ...]:
        must, must_not = _told_bits(told)
        must |= _C.REARMED if rearmed else _C(0)
        must_not |= _C(0) if rearmed else _C.REARMED
        must |= _C.UNLOAD_TO_PROPEL if to_propel else _C(0)
        must_not |= _C(0) if to_propel else _C.UNLOAD_TO_PROPEL
        found = []
        for choice in range(1 << len(_READ_BITS)):
            on = _C(0)
            for place, bit in enumerate(_READ_BITS):
                if choice >> place & 1:
                    on |= bit
            off = (_READ_BITS[0] | _READ_BITS[1] | _READ_BITS[2] | _READ_BITS[3]) & ~on
            base = cube(int(must | on), int(must_not | off))
            for permitted in (True, False):
                found += self._with(mode, base, on, permitted)
        return tuple(found)

    def _with(self, mode: int, base: Cube, on: ShaftCondition, permitted: bool) -> list[WordClass]:
        whole = cube(int(PERMISSIVES))
        start = meet(base, whole) if permitted else base
        if start is None:
            return []
        outside = list(self._outside) if permitted else [*self._outside, whole]
        found = []
        for number, own in [*self._cubes[mode], (NO_ROW, None)]:
            inside = start if own is None else meet(start, own)
            self.searched += 1
            word = None if inside is None else find_word(inside, outside)
            if word is not None:
                found.append(
                    WordClass(
                        number,
                        asks=bool(on & _C.THRUST_ORDER),
                        control_lost=bool(on & _C.CONTROL_LOST),
                        handset_lost=bool(on & _C.HANDSET_LOST),
                        paused=bool(on & _C.PAUSED),
                        permitted=permitted,
                        word=word,
                    )
                )
            if own is not None:
                outside.append(own)
        return found


def _told_bits(told: Told) -> tuple[ShaftCondition, ShaftCondition]:
    ready = told.boat_mode == BoatMode.READY
    live = ready or told.boat_mode == BoatMode.NEUTRAL_WAIT
    must = must_not = _C(0)
    for bit, on in (
        (_C.BOAT_READY, ready), (_C.BOAT_LIVE, live), (_C.RESET_EDGE, told.reset_edge), (_C.OFF_ORDER, told.off_order),
    ):  # fmt: skip
        if on:
            must |= bit
        else:
            must_not |= bit
    return must, must_not
