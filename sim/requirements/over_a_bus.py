"""The requirements, judged of a supervisor that is heard over a bus: what it orders is known some ticks late.

Which inputs an order rests on is not known to the tick there. So each requirement is judged side by side as if the
supervisor had decided on the inputs of now, of one tick ago, and so on: it is violated only where it is violated
whichever of them it was, and only when that lasts for longer than orders and alarms are under way. A requirement that
speaks of a moment, not of a state, is judged where its margin is a time; otherwise it is not judged, and that is said.
What is not seen: a violation that ends sooner, one whose cause is over within the delays and the time under way
together (140 ms at 20 ms), and one of orders that keep falling silent and coming back.
"""

from collections import deque
from collections.abc import Collection, Mapping, Sequence
from typing import NamedTuple

from sim.requirements.each_tick import Notice, TickJudges
from sim.requirements.evaluator import judges_of
from sim.requirements.judge import Judge
from sim.requirements.needs import needs_of
from sim.requirements.record import LONGEST_GAP_S, Judgement, Record, Tally
from supervisor.config.schema import Interlock
from supervisor.rules import Boat
from supervisor.signals import BoatInputs, ShaftInputs

DELAYS = 5
"""Decided on inputs of this tick, or of up to four ticks ago: a tick is complete when the next one is heard."""

COARSE = "its orders come in steps too coarse for a rate from tick to tick"
MOMENT = "it speaks of a single moment, and over a bus orders are not heard to the tick"


class Way(NamedTuple):
    """How the supervisor is heard. `outputs` are the names of what it sends; `slack_s` the longest that an order may be
    under way (s), `alarms_s` the period of its alarm words (s); `grain` what its codes alone make of a margin, by
    requirement, and `coarse` the requirements on which such codes tell nothing (sim.requirements.grain)."""

    outputs: Collection[str]
    slack_s: float
    alarms_s: float
    grain: Mapping[str, float] = {}
    coarse: Collection[str] = ()


class _LateTally(Tally):
    """A verdict that only counts a violation when it has lasted."""

    def __init__(self, judge: Judge, slack_s: float, patience_s: float, grain: float) -> None:
        super().__init__(judge.identifier, judge.unit)
        self._at_once = judge.at_once
        self._slack_s = slack_s
        self._patience_s = patience_s
        self._grain = grain
        self._since_s: float | None = None
        self._last_s = 0.0

    def take(self, notices: Sequence[Notice | None], time_s: float, dt_s: float) -> None:
        """What was noted in one tick, for each delay."""
        known = [notice for notice in notices if notice is not None]
        if len(known) < len(notices):
            self._since_s = None  # no occasion, if it decided on those inputs
            return
        best = max(known, key=lambda notice: notice.margin if notice.margin == notice.margin else float("-inf"))
        if best.violates and -self._grain <= best.margin < 0.0:
            words = f"{best.words} (within the {self._grain:.3g} {self.unit} by which the orders heard are rounded)"
            best = Notice(0.0, words)
        if not best.violates:
            self._since_s = None
        elif self._at_once:
            if best.margin >= -self._slack_s:
                return
        else:
            if self._since_s is None or time_s - self._last_s > LONGEST_GAP_S:
                self._since_s = time_s
            self._last_s = time_s
            if time_s - self._since_s <= self._patience_s:
                return
        self.note(best.margin, time_s, dt_s, lambda: best.words)


class BusEvaluator:
    """Feed it one record a tick: inputs as they were sent, orders and modes as they are heard.

    `unjudged` says which requirements are not judged at all, and why.
    """

    def __init__(self, boat: Boat, names: Sequence[str], interlocks: Sequence[Interlock], way: Way) -> None:
        self._before: deque[tuple[BoatInputs | None, tuple[ShaftInputs | None, ...]]] = deque(maxlen=DELAYS)
        self._last_s: float | None = None
        self.unjudged: dict[str, str] = {}
        self._tallies: dict[str, _LateTally] = {}
        wanted = []
        for judge in judges_of(boat, names, interlocks):
            needs = needs_of(judge, boat)
            unheard = sorted(needs.outputs - set(way.outputs))
            if unheard:
                self.unjudged[judge.identifier] = f"not on the bus: {', '.join(unheard)}"
            elif judge.identifier in way.coarse:
                self.unjudged[judge.identifier] = COARSE
            elif judge.at_once and judge.unit != "s":
                self.unjudged[judge.identifier] = MOMENT
            else:
                told = any(name.endswith("alarms") for name in needs.outputs)
                patience_s = way.slack_s + (way.alarms_s if told else 0.0)
                grain = way.grain.get(judge.identifier, 0.0)
                self._tallies[judge.identifier] = _LateTally(judge, way.slack_s, patience_s, grain)
                wanted.append(judge.identifier)
        self._looking = [
            TickJudges(
                boat, names, judges_of(boat, names, interlocks, wanted), from_power_up=False, orders_only=False
            )
            for _ in range(DELAYS)
        ]  # fmt: skip

    def feed(self, record: Record) -> None:
        """Look at one tick."""
        self._before.appendleft((record.boat_in, record.shaft_in))
        if len(self._before) < DELAYS:
            return
        found: list[Mapping[str, Notice]] = [
            looking.look(record._replace(boat_in=boat_in, shaft_in=shaft_in))
            for looking, (boat_in, shaft_in) in zip(self._looking, self._before, strict=True)
        ]
        dt_s = 0.0 if self._last_s is None else min(record.time_s - self._last_s, LONGEST_GAP_S)
        self._last_s = record.time_s
        for identifier, tally in self._tallies.items():
            tally.take([notices.get(identifier) for notices in found], record.time_s, dt_s)

    def finish(self) -> list[Judgement]:
        """The verdicts so far, in the order of the register, without those that are not judged."""
        return [tally.judgement() for tally in self._tallies.values()]
