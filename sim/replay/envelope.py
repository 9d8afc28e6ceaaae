"""Signals over a recording of any length in a fixed amount of memory: least and most in each of many slices."""

import math
from collections.abc import Sequence

SLICES_MAX = 720
FIRST_SLICE_S = 0.02


class Envelope:
    """`least[name][k]` and `most[name][k]` bound the signal in slice k, which begins at k * `slice_s`; NaN where it was
    not known. Between changes a signal stands, and so do its bounds."""

    def __init__(self, names: Sequence[str]) -> None:
        self.names = tuple(names)
        self.slice_s = FIRST_SLICE_S
        self.least: dict[str, list[float]] = {name: [] for name in self.names}
        self.most: dict[str, list[float]] = {name: [] for name in self.names}
        self._now: list[float] | None = None

    def put(self, time_s: float, values: list[float]) -> None:
        """All values from this time on, in the order of `names`. Times never fall."""
        self._fill(time_s)
        self._now = values
        self._mark(values)

    def finish(self, end_s: float) -> None:
        """Let the last values stand until the end."""
        self._fill(end_s)

    @property
    def slices(self) -> int:
        """Slices begun."""
        return len(self.least[self.names[0]]) if self.names else 0

    def _fill(self, time_s: float) -> None:
        """Open slices up to `time_s`, filled with what stands."""
        number = int(time_s / self.slice_s)
        while number >= SLICES_MAX:
            self._halve()
            number = int(time_s / self.slice_s)
        count = self.slices
        if number < count or not self.names:
            return
        stand = self._now or [math.nan] * len(self.names)
        for name, value in zip(self.names, stand, strict=True):
            self.least[name] += [value] * (number + 1 - count)
            self.most[name] += [value] * (number + 1 - count)

    def _mark(self, values: list[float]) -> None:
        for name, value in zip(self.names, values, strict=True):
            least, most = self.least[name], self.most[name]
            if not least[-1] <= value:
                least[-1] = value if value == value else least[-1]  # noqa: PLR0124 - NaN bounds nothing
            if not most[-1] >= value:
                most[-1] = value if value == value else most[-1]  # noqa: PLR0124

    def _halve(self) -> None:
        self.slice_s *= 2.0
        for name in self.names:
            self.least[name] = _paired(self.least[name], min)
            self.most[name] = _paired(self.most[name], max)


def _paired(values: list[float], better: object) -> list[float]:
    merged = []
    for k in range(0, len(values), 2):
        pair = [value for value in values[k : k + 2] if value == value]  # noqa: PLR0124 - leaves out NaN
        merged.append((min(pair) if better is min else max(pair)) if pair else math.nan)
    return merged
