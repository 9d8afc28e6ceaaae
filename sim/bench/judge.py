"""The safety requirements judged on every tick of a bench run, whatever the procedure asks for."""

from collections.abc import Mapping

from sim.bench.rig import Judged
from sim.requirements import Judgement


class Judge:
    """Feeds one rig's ticks to the evaluators."""

    def __init__(self, rig: Judged) -> None:
        self._rig = rig
        self._evaluator = rig.evaluator()

    def tick(self) -> None:
        """Look at what was done since the last call."""
        for record in self._rig.records():
            self._evaluator.feed(record)

    def verdicts(self) -> tuple[Judgement, ...]:
        """The verdicts so far, in the order of the register."""
        return tuple(self._evaluator.finish())

    @property
    def unjudged(self) -> Mapping[str, str]:
        """Those that cannot be judged here, and why."""
        return self._evaluator.unjudged
