"""Every evaluator, asked of each tick by itself: what it noted there, not only the verdict over all."""

import copy
from collections.abc import Callable, Iterable, Sequence
from typing import NamedTuple, Self

from sim.requirements.evaluator import JUDGES
from sim.requirements.judge import Judge
from sim.requirements.record import Record, Tally
from sim.requirements.tick import TickReader
from supervisor.rules import Boat


class Notice(NamedTuple):
    """What one evaluator noted at one tick: the smallest margin, and its words."""

    margin: float
    words: str

    @property
    def violates(self) -> bool:
        """The requirement is violated."""
        return not self.margin >= -Tally.TOLERANCE


class _OfTick(Tally):
    """A tally that also keeps what was noted in the tick at hand."""

    def __init__(self, identifier: str, unit: str) -> None:
        super().__init__(identifier, unit)
        self.noted: tuple[float, Callable[[], str]] | None = None

    def note(self, margin: float, time_s: float, dt_s: float, words: Callable[[], str]) -> None:
        """Also for this tick alone."""
        super().note(margin, time_s, dt_s, words)
        if self.noted is None or not margin >= self.noted[0]:
            self.noted = margin, words


class TickJudges:
    """Evaluators on one stream of records. With `orders_only` they judge what was ordered, not what a drive made of
    it; `from_power_up` as for Evaluator."""

    def __init__(
        self, boat: Boat, names: Sequence[str], judges: Iterable[type[Judge] | Judge] = JUDGES, *,
        from_power_up: bool = True, orders_only: bool = True,
    ) -> None:  # fmt: skip
        self._boat = boat
        self._reader = TickReader(boat, tuple(names), from_power_up)
        self.judges = [one if isinstance(one, Judge) else one(boat) for one in judges]
        self._tallies: list[_OfTick] = []
        for judge in self.judges:
            tally = _OfTick(judge.identifier, judge.unit)
            judge.tally = tally
            judge.orders_only = orders_only
            self._tallies.append(tally)

    def copy(self) -> Self:
        """Evaluators that go on from here by themselves."""
        shared = {id(one): one for one in (self._boat, self._boat.limits, *self._boat.shafts)}
        return copy.deepcopy(self, shared)

    def look(self, record: Record) -> dict[str, Notice]:
        """What each evaluator notes in this tick: by requirement, absent where it had no occasion."""
        tick = self._reader.set(record)
        found: dict[str, Notice] = {}
        for judge, tally in zip(self.judges, self._tallies, strict=True):
            tally.noted = None
            if tick is None or tick.was_mode is None:
                judge.forget()
            if tick is not None:
                judge.judge(tick)
            if tally.noted is not None:
                margin, words = tally.noted
                found[judge.identifier] = Notice(margin, words())
        return found
