"""What is said of each bus as a whole: out of order, and in order again, once each and not in a stream."""

from collections.abc import Callable, Mapping

PAUSE_S = 5.0
"""Between two complaints about one bus; what happens meanwhile is counted."""


class _Bus:
    __slots__ = ("back", "count", "open_said", "said_s", "unsaid", "wrong")

    def __init__(self) -> None:
        self.wrong = False
        """It has been said that the bus is out of order, and not yet that it is in order again."""
        self.back = False
        """The adapter is in order again, but nothing was heard through it yet."""
        self.open_said = False
        self.unsaid = False
        """The loss that goes on has not been said yet: the last complaint was too near."""
        self.count = 0
        """Losses since the last complaint that were not said."""
        self.said_s = -PAUSE_S


class BusState:
    """Call `after_tick` with what is wrong with each bus; `hears(bus)` says whether any valid frame comes from it."""

    def __init__(self, tell: Callable[[str, str], None], hears: Callable[[str], bool]) -> None:
        self._tell = tell
        self._hears = hears
        self._buses: dict[str, _Bus] = {}
        self._problems: frozenset[str] = frozenset()

    def after_tick(self, now_s: float, problems: Mapping[str, str]) -> None:
        """`problems` are the buses that are not in order, with words."""
        for name, why in problems.items():
            bus = self._buses.setdefault(name, _Bus())
            bus.back = False
            if name not in self._problems:
                bus.unsaid = bus.wrong = True
                bus.count += 1
            if not bus.unsaid or now_s - bus.said_s < PAUSE_S:
                continue
            more = f" ({bus.count} times since the last message)" if bus.count > 1 else ""
            self._tell(f"bus {name}", f"fault: {why}{more}")
            bus.said_s, bus.count, bus.unsaid, bus.open_said = now_s, 0, False, False
        for name in self._problems - problems.keys():
            self._buses[name].back = True
        for name, bus in self._buses.items():
            # An adapter that opens is no bus that works: it may be bus-off, or its cable cut.
            if not bus.back or not bus.wrong or (bus.count and now_s - bus.said_s < PAUSE_S):
                continue
            if self._hears(name):
                more = f" (lost {bus.count} times more meanwhile)" if bus.count else ""
                self._tell(f"bus {name}", f"works again{more}")
                bus.wrong = bus.back = False
                bus.count = 0
            elif not bus.open_said:
                self._tell(f"bus {name}", "its adapter is open again; no valid frame has come yet")
                bus.open_said = True
        self._problems = frozenset(problems)
