"""How long a recorded order stands: until it has missed three of its turns."""

import math
from collections import deque


class Pace:
    """How often an order is repeated; one that has missed three turns, by the slowest of late, no longer stands."""

    __slots__ = ("_gaps_s", "_last_s", "stands_until_s")

    def __init__(self) -> None:
        self._last_s = math.nan
        self._gaps_s: deque[float] = deque(maxlen=8)
        self.stands_until_s = math.inf
        """Three turns after the last frame (s); never before two frames have told the pace."""

    def heard(self, now_s: float) -> None:
        """Repeated at this time."""
        if now_s > self._last_s:
            self._gaps_s.append(now_s - self._last_s)
        self._last_s = now_s
        if self._gaps_s:
            self.stands_until_s = now_s + 3.5 * max(self._gaps_s)
