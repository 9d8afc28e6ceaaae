"""How long things take, counted in buckets that grow by 5 %: quantiles to 5 % from 1 us to minutes, in fixed memory."""

import math

_SMALLEST_S = 1e-6
_GROWTH = math.log(1.05)
_BUCKETS = 400


class Histogram:
    """Counts of times in s."""

    def __init__(self) -> None:
        self.counts = [0] * _BUCKETS
        self.total = 0
        self.worst_s = 0.0
        self.sum_s = 0.0

    def add(self, time_s: float) -> None:
        """Count one time."""
        self.total += 1
        self.sum_s += time_s
        if time_s > self.worst_s:
            self.worst_s = time_s
        if time_s <= _SMALLEST_S:
            index = 0
        else:
            index = min(1 + int(math.log(time_s / _SMALLEST_S) / _GROWTH), _BUCKETS - 1)
        self.counts[index] += 1

    def quantile_s(self, share: float) -> float:
        """The time that `share` (0 to 1) of all stay below or at, to the upper bound of its bucket; 0.0 if empty."""
        rank = math.ceil(share * self.total)
        seen = 0
        for index, count in enumerate(self.counts):
            seen += count
            if count and seen >= rank:
                return min(self.worst_s, _SMALLEST_S * math.exp(_GROWTH * index))
        return 0.0

    def report(self) -> dict[str, object]:
        """Quantiles in s and the buckets that hold something as [upper bound in s, count]; JSON-able."""
        return {
            "count": self.total,
            "mean_s": self.sum_s / self.total if self.total else 0.0,
            "p50_s": self.quantile_s(0.5),
            "p99_s": self.quantile_s(0.99),
            "p99_9_s": self.quantile_s(0.999),
            "max_s": self.worst_s,
            "buckets": [
                [round(_SMALLEST_S * math.exp(_GROWTH * index), 9), count]
                for index, count in enumerate(self.counts)
                if count
            ],
        }
