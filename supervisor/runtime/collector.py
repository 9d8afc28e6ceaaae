"""The garbage collector kept out of the tick: frozen and off while the loop runs, called by hand in the slack."""

import gc
import sys
import time
from types import TracebackType

SWITCH_S = 0.0002
"""How long a writer's thread may hold the interpreter while the tick wants it; Python's own 5 ms is a quarter tick."""
_SHARE = 0.5
"""A collection may take this share of the slack that is left, by what the last one took."""


class SlackCollector:
    """`with SlackCollector() as collector: ... collector.collect(slack_s)`."""

    def __init__(self) -> None:
        self._took_s = [0.0005, 0.002, 0.005]
        self._due = [1, 50, 1500]
        self._ticks = 0
        self.runs = 0
        self.longest_s = 0.0

    def collect(self, slack_s: float) -> None:
        """Collect the oldest generation that is due and fits into `slack_s`; one that never fits waits."""
        self._ticks += 1
        for generation in (2, 1, 0):
            if self._ticks >= self._due[generation] and self._took_s[generation] <= slack_s * _SHARE:
                start_s = time.perf_counter()
                gc.collect(generation)
                took_s = time.perf_counter() - start_s
                self.runs += 1
                self.longest_s = max(self.longest_s, took_s)
                # One slow collection (another process had the core) must not bar all later ones.
                self._took_s[generation] = 0.5 * (self._took_s[generation] + took_s)
                for younger, period in zip(range(generation + 1), (5, 50, 1500), strict=False):
                    self._due[younger] = self._ticks + period
                return

    def __enter__(self) -> "SlackCollector":
        self._was_on = gc.isenabled()
        self._interval_s = sys.getswitchinterval()
        sys.setswitchinterval(SWITCH_S)
        gc.collect()
        gc.freeze()
        gc.disable()
        return self

    def __exit__(
        self, _kind: type[BaseException] | None, _error: BaseException | None, _trace: TracebackType | None
    ) -> None:
        sys.setswitchinterval(self._interval_s)
        gc.unfreeze()
        if self._was_on:
            gc.enable()
