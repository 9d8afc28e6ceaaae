"""Signals to look into: every change while there is room, then thinned by their extremes, so that no spike is lost.

Thinning keeps of each slice of time what a reader can see at that scale: the first value, the least, the most, the
last, and whether the signal was unknown meanwhile. Slices double in length and nest, so that thinning a second time
loses nothing more than doing so once. After U. Jugel, Z. Jerzak, G. Hackenbroich, V. Markl, "M4: A
Visualization-Oriented Time Series Data Aggregation", PVLDB 7 (10), 2014 (from memory); the unknown is ours.
"""

import math
from collections.abc import Sequence

POINTS_MAX = 4000
"""Points of one signal before it is thinned."""
FIRST_SLICE_S = 0.05
_LONGEST_SLICE_S = 1e9

Point = tuple[float, float]


class Trace:
    """One signal over time, in bounded memory. Values stand until the next one; NaN is unknown."""

    def __init__(self, points_max: int = POINTS_MAX) -> None:
        self._max = points_max
        self._points: list[Point] = []
        self.slice_s = 0.0
        """Changes closer together than this may be left out, least and most among them never; 0.0: none is."""

    def take(self, time_s: float, value: float) -> None:
        """The value from this time on. Times never fall."""
        points = self._points
        if points and (points[-1][1] == value or (math.isnan(points[-1][1]) and math.isnan(value))):
            return
        points.append((time_s, value))
        if len(points) > self._max:
            self._thin()

    def points(self) -> Sequence[Point]:
        """(time, value) of the changes that were kept, in order of time."""
        return tuple(self._points)

    def _thin(self) -> None:
        """First by the slices there are: only what came since is not thinned yet. Longer ones when that is too little
        to gain room for."""
        if not self.slice_s:
            self.slice_s = FIRST_SLICE_S
        self._points = self._by_slices()
        while len(self._points) > self._max // 2 and self.slice_s < _LONGEST_SLICE_S:
            self.slice_s *= 2.0
            self._points = self._by_slices()

    def _by_slices(self) -> list[Point]:
        kept: list[Point] = []
        slot: list[Point] = []
        number = -1
        for point in self._points:
            if int(point[0] / self.slice_s) != number:
                kept += _extremes(slot)
                slot, number = [], int(point[0] / self.slice_s)
            slot.append(point)
        return kept + _extremes(slot)


def _extremes(slot: Sequence[Point]) -> list[Point]:
    """First, least, most, last and the first unknown of one slice, in the order of their times."""
    if len(slot) <= 2:
        return list(slot)
    places = {0, len(slot) - 1}
    known = [k for k, (_, value) in enumerate(slot) if not math.isnan(value)]
    if known:
        places.add(min(known, key=lambda k: slot[k][1]))
        places.add(max(known, key=lambda k: slot[k][1]))
    if len(known) < len(slot):
        places.add(next(k for k, (_, value) in enumerate(slot) if math.isnan(value)))
    return [slot[k] for k in sorted(places)]
