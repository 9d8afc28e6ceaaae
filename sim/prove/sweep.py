"""Every word of a mode: the table and the claims on it, looked at for all combinations of their bits.

A word of n bits has 2^n values, and all of them are decided here; none is sampled. Two devices make that quick. Blocks:
when the bits fixed so far decide the row, the whole block of words below takes that row, and the claims are checked on
the block as a cube. Lanes: below, 64 words are decided at once, one in each bit of a 64-bit integer, by and-ing whole
planes of bits. The lanes run compiled when numba is there and in numpy otherwise; both give the same.
"""

from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np

from sim.prove.cubes import Cube

try:
    from numba import njit

    EXECUTOR = "numba"
except ModuleNotFoundError:  # an optional package: numpy does the same, slower

    def njit(**_options: Any) -> Any:  # type: ignore[no-redef]
        """Leave the function as it is."""
        return lambda function: function

    EXECUTOR = "numpy"

LANE_BITS = 6
LOW_BITS = {"numba": 20, "numpy": 18}
"""Words of this many bits are decided lane by lane; above, block by block. Tried for speed, from 10 to 22."""

_PATTERNS = np.array(
    [
        0xAAAAAAAAAAAAAAAA,
        0xCCCCCCCCCCCCCCCC,
        0xF0F0F0F0F0F0F0F0,
        0xFF00FF00FF00FF00,
        0xFFFF0000FFFF0000,
        0xFFFFFFFF00000000,
    ],
    dtype=np.uint64,
)
_ALL = np.uint64(0xFFFFFFFFFFFFFFFF)


class Forbidden(NamedTuple):
    """A claim as the sweep sees it: words of `where` may not take any of `rows`. Bit r of `rows` stands for the r-th
    row given to the sweep, the bit after the last row for "no row"."""

    where: Cube
    rows: int


class Sweep(NamedTuple):
    """`words` decided; `blocks` of them decided at once; `fired` the rows taken by some word (as in Forbidden.rows);
    `found` maps the number of a broken claim to a word that breaks it."""

    words: int
    blocks: int
    fired: int
    found: dict[int, int]


def sweep(rows: Sequence[Cube], claims: Sequence[Forbidden], executor: str = EXECUTOR) -> Sweep:
    """Decide every word over the bits of `rows` and `claims`. `executor` is "numba" or "numpy".

    Words are returned with all other bits clear. At most 63 rows.
    """
    used = 0
    for one in rows:
        used |= one.mask
    for claim in claims:
        used |= claim.where.mask
    bits = _ordered_bits(used, rows)
    return _Sweeper(rows, claims, bits, executor).run()


def _ordered_bits(used: int, rows: Sequence[Cube]) -> list[int]:
    """Bit numbers, those of the first rows first: they decide the largest blocks."""
    order: list[int] = []
    for one in rows:
        for number in range(one.mask.bit_length()):
            if one.mask >> number & 1 and number not in order:
                order.append(number)
    order += [number for number in range(used.bit_length()) if used >> number & 1 and number not in order]
    return order


class _Sweeper:
    def __init__(self, rows: Sequence[Cube], claims: Sequence[Forbidden], bits: list[int], executor: str) -> None:
        self._rows = rows
        self._claims = claims
        self._bits = bits
        self._lanes = _numba_lanes if executor == "numba" else _numpy_lanes
        self._low_bits = LOW_BITS[executor]
        self._words = self._blocks = self._fired = 0
        self._found: dict[int, int] = {}
        self._planes: dict[int, Any] = {}

    def run(self) -> Sweep:
        self._descend(0, 0, 0, list(range(len(self._rows))), list(range(len(self._claims))))
        return Sweep(self._words, self._blocks, self._fired, self._found)

    def _descend(self, depth: int, mask: int, value: int, rows: list[int], claims: list[int]) -> None:
        cubes, forbidden = self._rows, self._claims
        rows = [r for r in rows if not (cubes[r].value ^ value) & cubes[r].mask & mask]
        left = len(self._bits) - depth
        decided = len(cubes) if not rows else -1
        if rows and cubes[rows[0]].mask & ~mask == 0:
            decided = rows[0]
        if decided >= 0:
            possible = 1 << decided
        else:
            possible = 1 << len(cubes)
            for r in rows:
                possible |= 1 << r
        # a claim matters here if it forbids a row that a word of this block can take, and reaches into the block
        claims = [
            c
            for c in claims
            if forbidden[c].rows & possible
            and not (forbidden[c].where.value ^ value) & forbidden[c].where.mask & mask
            and c not in self._found
        ]
        if decided >= 0:
            self._words += 1 << left
            self._blocks += 1 << left
            self._fired |= possible
            for c in claims:
                self._found[c] = value | forbidden[c].where.value
            return
        if not claims and not possible & ~self._fired:
            # nothing forbids any of the rows that these words can take, and each of them was taken elsewhere
            self._words += 1 << left
            self._blocks += 1 << left
            return
        if left <= self._low_bits:
            self._words += 1 << left
            self._low(depth, mask, value, rows, claims)
            return
        bit = 1 << self._bits[depth]
        self._descend(depth + 1, mask | bit, value, rows, claims)
        self._descend(depth + 1, mask | bit, value | bit, rows, claims)

    def _low(self, depth: int, mask: int, value: int, rows: list[int], wanted: list[int]) -> None:
        low = self._bits[depth:]
        place = {number: index for index, number in enumerate(low)}
        row_terms = _terms([self._rows[r] for r in rows], mask, place)
        claim_terms = _terms([self._claims[c].where for c in wanted], mask, place)
        numbers = [*rows, len(self._rows)]
        claim_rows = np.array(
            [sum(1 << i for i, r in enumerate(numbers) if self._claims[c].rows >> r & 1) for c in wanted],
            dtype=np.uint64,
        )
        fired, hits = self._lanes(len(low), *row_terms, *claim_terms, claim_rows)
        for i, r in enumerate(numbers):
            if int(fired) >> i & 1:
                self._fired |= 1 << r
        for i, c in enumerate(wanted):
            if hits[i] >= 0:
                hit = int(hits[i])
                self._found[c] = value | sum(1 << number for j, number in enumerate(low) if hit >> j & 1)


def _terms(cubes: Sequence[Cube], mask: int, place: dict[int, int]) -> tuple[Any, Any, Any]:
    """Cubes as flat arrays: where each one starts, its bits' places, the value each bit must have."""
    starts, places, values = [0], [], []
    for one in cubes:
        rest = one.mask & ~mask
        for number in range(rest.bit_length()):
            if rest >> number & 1:
                places.append(place[number])
                values.append(one.value >> number & 1)
        starts.append(len(places))
    return np.array(starts, dtype=np.int64), np.array(places, dtype=np.int64), np.array(values, dtype=np.int64)


def _numpy_lanes(
    n: int, row_at: Any, row_bit: Any, row_value: Any, claim_at: Any, claim_bit: Any, claim_value: Any, claim_rows: Any
) -> tuple[int, Any]:
    planes = _planes(n)
    valid = planes[n]
    taken = []
    free = valid.copy()
    fired = 0
    for r in range(len(row_at) - 1):
        here = free.copy()
        for t in range(row_at[r], row_at[r + 1]):
            plane = planes[row_bit[t]]
            here &= plane if row_value[t] else ~plane
        free &= ~here
        taken.append(here)
        if here.any():
            fired |= 1 << r
    taken.append(free)
    if free.any():
        fired |= 1 << (len(row_at) - 1)
    hits = np.full(len(claim_rows), -1, dtype=np.int64)
    for c in range(len(claim_rows)):
        here = np.zeros_like(valid)
        for r, plane in enumerate(taken):
            if int(claim_rows[c]) >> r & 1:
                here |= plane
        for t in range(claim_at[c], claim_at[c + 1]):
            plane = planes[claim_bit[t]]
            here &= plane if claim_value[t] else ~plane
        lanes = np.flatnonzero(here)
        if len(lanes):
            inside = int(here[lanes[0]])
            hits[c] = (int(lanes[0]) << LANE_BITS) | ((inside & -inside).bit_length() - 1)
    return fired, hits


def _planes(n: int) -> list[Any]:
    """The planes of bits 0 to n-1 over 2^n words, and the plane of valid words."""
    lanes = np.arange(max(1, 1 << (n - LANE_BITS)) if n >= LANE_BITS else 1, dtype=np.uint64)
    planes = []
    for bit in range(n):
        if bit < LANE_BITS:
            planes.append(np.full(len(lanes), _PATTERNS[bit], dtype=np.uint64))
        else:
            on = (lanes >> np.uint64(bit - LANE_BITS)) & np.uint64(1)
            planes.append(np.where(on == 1, _ALL, np.uint64(0)))
    valid = _ALL if n >= LANE_BITS else np.uint64((1 << (1 << n)) - 1)
    planes.append(np.full(len(lanes), valid, dtype=np.uint64))
    return planes


@njit(cache=True, nogil=True)
def _compiled(
    n: int, patterns: Any, row_at: Any, row_bit: Any, row_value: Any, claim_at: Any, claim_bit: Any, claim_value: Any,
    claim_rows: Any, hits: Any,
) -> Any:  # fmt: skip
    full = np.uint64(0xFFFFFFFFFFFFFFFF)
    zero = np.uint64(0)
    one = np.uint64(1)
    n_rows = len(row_at) - 1
    n_claims = len(claim_rows)
    # of each cube: which lanes it reaches into, and what it holds of such a lane
    row_mask, row_is = np.zeros(n_rows, dtype=np.int64), np.zeros(n_rows, dtype=np.int64)
    row_plane = np.full(n_rows, full, dtype=np.uint64)
    for r in range(n_rows):
        for t in range(row_at[r], row_at[r + 1]):
            if row_bit[t] < 6:
                row_plane[r] &= patterns[row_bit[t]] if row_value[t] else ~patterns[row_bit[t]]
            else:
                row_mask[r] |= 1 << (row_bit[t] - 6)
                row_is[r] |= row_value[t] << (row_bit[t] - 6)
    claim_mask, claim_is = np.zeros(n_claims, dtype=np.int64), np.zeros(n_claims, dtype=np.int64)
    claim_plane = np.full(n_claims, full, dtype=np.uint64)
    for c in range(n_claims):
        for t in range(claim_at[c], claim_at[c + 1]):
            if claim_bit[t] < 6:
                claim_plane[c] &= patterns[claim_bit[t]] if claim_value[t] else ~patterns[claim_bit[t]]
            else:
                claim_mask[c] |= 1 << (claim_bit[t] - 6)
                claim_is[c] |= claim_value[t] << (claim_bit[t] - 6)
    taken = np.zeros(64, dtype=np.uint64)
    fired = zero
    lanes = 1
    valid = full
    if n >= 6:
        lanes = 1 << (n - 6)
    else:
        valid = (one << np.uint64(1 << n)) - one
    for lane in range(lanes):
        free = valid
        some = zero
        for r in range(n_rows):
            here = zero
            if (lane & row_mask[r]) == row_is[r]:
                here = free & row_plane[r]
            taken[r] = here
            if here != zero:
                some |= one << np.uint64(r)
                free &= ~here
        taken[n_rows] = free
        if free != zero:
            some |= one << np.uint64(n_rows)
        fired |= some
        for c in range(n_claims):
            if hits[c] >= 0 or (lane & claim_mask[c]) != claim_is[c] or (claim_rows[c] & some) == zero:
                continue
            here = zero
            for r in range(n_rows + 1):
                if (claim_rows[c] >> np.uint64(r)) & one:
                    here |= taken[r]
            here &= claim_plane[c]
            if here != zero:
                for i in range(64):
                    if (here >> np.uint64(i)) & one:
                        hits[c] = lane * 64 + i
                        break
    return fired


def _numba_lanes(
    n: int, row_at: Any, row_bit: Any, row_value: Any, claim_at: Any, claim_bit: Any, claim_value: Any, claim_rows: Any
) -> tuple[int, Any]:
    hits = np.full(len(claim_rows), -1, dtype=np.int64)
    fired = _compiled(
        n, _PATTERNS, row_at, row_bit, row_value, claim_at, claim_bit, claim_value, claim_rows, hits
    )  # fmt: skip
    return int(fired), hits
