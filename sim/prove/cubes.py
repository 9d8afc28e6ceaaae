"""Sets of words as cubes, and the question whether a word exists.

A cube is (mask, value): the words with `word & mask == value`. Rows of a mode table are cubes, and so is everything
that is claimed of them; hence a word that is wanted is one that lies in a cube and outside of others, and a small
depth-first search with unit propagation decides that exactly.
"""

from collections.abc import Iterable, Sequence
from typing import NamedTuple


class Cube(NamedTuple):
    """The words with `word & mask == value`. `value` lies within `mask`."""

    mask: int
    value: int

    def holds(self, word: int) -> bool:
        """`word` lies in the cube."""
        return word & self.mask == self.value


EVERY_WORD = Cube(0, 0)


def cube(must: int = 0, must_not: int = 0) -> Cube:
    """The words with every bit of `must` set and every bit of `must_not` clear."""
    return Cube(int(must) | int(must_not), int(must))


def meet(a: Cube, b: Cube) -> Cube | None:
    """The words in both, None if there are none."""
    common = a.mask & b.mask
    if (a.value ^ b.value) & common:
        return None
    return Cube(a.mask | b.mask, a.value | b.value)


def meet_all(cubes: Iterable[Cube]) -> Cube | None:
    """The words in every cube, None if there are none."""
    result: Cube | None = EVERY_WORD
    for one in cubes:
        if result is None:
            return None
        result = meet(result, one)
    return result


def find_word(inside: Cube, outside: Sequence[Cube]) -> int | None:
    """A word in `inside` and in none of `outside`; None if there is none. Bits that do not matter are clear."""
    mask, value = inside
    while True:  # unit propagation
        forced = False
        open_cubes = []
        for other in outside:
            if (other.value ^ value) & other.mask & mask:
                continue
            rest = other.mask & ~mask
            if rest == 0:
                return None
            if rest & (rest - 1) == 0:
                mask |= rest
                value |= rest & ~other.value
                forced = True
            else:
                open_cubes.append(other)
        outside = open_cubes
        if not forced:
            break
    if not outside:
        return value
    shortest = min(outside, key=lambda one: (one.mask & ~mask).bit_count())
    rest = shortest.mask & ~mask
    bit = rest & -rest
    against = bit & ~shortest.value
    for chosen in (against, bit ^ against):
        found = find_word(Cube(mask | bit, value | chosen), outside)
        if found is not None:
            return found
    return None
