"""Every safety requirement judged on every tick of a bench run, whatever the procedure asks for."""

from sim.bench.rig import Judged
from sim.requirements import Judgement


class Judge:
    """Feeds one rig's ticks to the evaluators."""

    def __init__(self, rig: Judged) -> None:
        self._rig = rig
        self._evaluator = rig.evaluator()

    def tick(self) -> None:
        """Look at the tick just done."""
        record = self._rig.record()
        if record is not None:
            self._evaluator.feed(record)

    def verdicts(self) -> tuple[Judgement, ...]:
        """The verdicts so far, in the order of the register."""
        return tuple(self._evaluator.finish())
