"""What every evaluator has in common."""

from collections.abc import Callable

from sim.requirements.record import Judgement, Tally
from sim.requirements.tick import BoatTick, ShaftTick
from supervisor.rules import Boat


class Lasting:
    """How long something has held on each shaft without a break, as far as the records can tell.

    What holds already in the first record of a shaft may have held long before, unless that record is the first tick
    after power-up: then the time seen is only a lower bound, and no verdict may rest on its being short.
    """

    def __init__(self) -> None:
        self._since_s: dict[int, float] = {}
        self._sure: dict[int, bool] = {}

    def forget(self) -> None:
        """A gap in the records."""
        self._since_s.clear()

    def look(self, tick: BoatTick, shaft: ShaftTick, holds: bool) -> float:
        """The time (s) that it has been seen to hold, 0.0 in the first tick; -1.0 while it does not."""
        if shaft.was is None:
            self._since_s.pop(shaft.number, None)
        if not holds:
            self._since_s.pop(shaft.number, None)
            return -1.0
        if shaft.number not in self._since_s:
            self._since_s[shaft.number] = tick.time_s
            self._sure[shaft.number] = shaft.was is not None or tick.power_up
        return tick.time_s - self._since_s[shaft.number]

    def sure(self, shaft: ShaftTick) -> bool:
        """Its beginning was seen, or it does not hold now: the time is exact."""
        return shaft.number not in self._since_s or self._sure[shaft.number]


class Judge:
    """One requirement on a stream of ticks. A subclass names `identifier` and `unit`, and notes margins."""

    identifier = ""
    unit = ""
    at_once = False
    """It is about a moment (a change of mode, an edge), not about a state that lasts."""

    def __init__(self, boat: Boat) -> None:
        self.boat = boat
        self.orders_only = False
        """Judge only what was ordered, not what the machinery made of it."""
        self.tally = Tally(self.identifier, self.unit)

    def judge(self, tick: BoatTick) -> None:
        """Look at one tick."""
        for shaft in tick.shafts:
            self.judge_shaft(tick, shaft)

    def judge_shaft(self, tick: BoatTick, shaft: ShaftTick) -> None:
        """Look at one shaft at one tick."""

    def forget(self) -> None:
        """A gap in the records: drop what was remembered, keep the verdict."""

    def note(self, tick: BoatTick, margin: float, words: Callable[[], str]) -> None:
        """One observation at this tick; see `Tally.note`."""
        self.tally.note(margin, tick.time_s, max(tick.dt_s, 0.0), words)

    def note_measured(self, tick: BoatTick, margin: float, words: Callable[[], str]) -> None:
        """An observation of what the machinery did, whatever was ordered."""
        if not self.orders_only:
            self.note(tick, margin, words)

    def note_zero(self, tick: BoatTick, shaft: ShaftTick, why: str, torque_nm: float | None = None) -> None:
        """No torque may be ordered now: the margin is minus what is ordered (N m)."""
        ordered = shaft.torque_nm if torque_nm is None else torque_nm
        self.note(tick, 0.0 - abs(ordered), lambda: f"{shaft.name}: {ordered:.1f} N m ordered while {why}")

    def judgement(self) -> Judgement:
        """The verdict so far."""
        return self.tally.judgement()


def pressed(was: int | None, now: bool, was_off: bool) -> bool:
    """A push-button that was seen off one tick before it is seen on."""
    return was is not None and now and was_off
