"""Claims held against evaluators: on ticks of the real rules the two never disagree.

An evaluator judges signals over time; a claim speaks of one step. On each tick of a voyage from power-up both are
asked:

* a tick that an evaluator calls a violation must be forbidden: a claim of that requirement, or one that it rests on, is
  broken in this tick or was earlier in the same voyage (an evaluator with a memory sees the harm later);
* a step that a claim forbids, which may be compared (`StepClaim.parity`), must be a violation to the requirement's
  evaluator in the same tick.

On sound rules neither happens, and what that shows is little. So the same is run on broken ones: whatever breaks, both
must see it. A claim that forbids nothing, or a judge that forgets a cause, is then the one that is silent.
"""

import copy
import random
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from itertools import islice
from typing import Any, NamedTuple

from sim.prove.claims import Claim
from sim.prove.directed import Runs, disturbances, situations
from sim.prove.rests_on import Claims, rests_on
from sim.prove.step import Step, StepClaim
from sim.requirements import BY_ID, JUDGES, Record
from sim.requirements.judge import Judge
from sim.requirements.record import LONGEST_GAP_S, Tally
from sim.requirements.scene import Stage
from supervisor.config import BoatConfig
from supervisor.modes import NO_ROW
from supervisor.rules import Boat, tick

RANDOM_TICKS = 400
"""Ticks of one random voyage."""

DIRECTED = 12
"""Directed voyages between two random ones: about as many ticks."""


class Notice(NamedTuple):
    """What one evaluator noted at one tick: the smallest margin, and its words."""

    margin: float
    words: str


class _OfTick(Tally):
    """A tally that also keeps what was noted in the tick at hand."""

    def __init__(self, identifier: str, unit: str) -> None:
        super().__init__(identifier, unit)
        self.noted: Notice | None = None

    def note(self, margin: float, time_s: float, dt_s: float, words: Callable[[], str]) -> None:
        super().note(margin, time_s, dt_s, words)
        if self.noted is None or not margin >= self.noted.margin:
            self.noted = Notice(margin, words())


class TickJudges:
    """Every evaluator, asked of each tick by itself. The first record must be the first tick after power-up."""

    def __init__(self, boat: Boat, names: Sequence[str], judges: Iterable[type[Judge]] = JUDGES) -> None:
        self._boat = boat
        self._stage = Stage(boat, tuple(names), from_power_up=True)
        self._judges = [kind(boat) for kind in judges]
        for judge in self._judges:
            judge.tally = _OfTick(judge.identifier, judge.unit)
            judge.orders_only = True  # what a drive does on its own no claim on the supervisor can speak of
        self._time_s = 0.0

    def copy(self) -> "TickJudges":
        """Evaluators that go on from here by themselves."""
        shared = {id(one): one for one in (self._boat, self._boat.limits, *self._boat.shafts)}
        return copy.deepcopy(self, shared)

    def look(self, step: Step) -> dict[str, Notice]:
        """What each evaluator notes in this tick: by requirement, absent where it had no occasion."""
        self._time_s += step.dt_s
        scene = self._stage.set(record_of(step, self._time_s))
        found: dict[str, Notice] = {}
        for judge in self._judges:
            tally: Any = judge.tally
            tally.noted = None
            if scene is None or scene.was_mode is None:
                judge.forget()
            if scene is not None:
                judge.judge(scene)
            if tally.noted is not None:
                found[judge.identifier] = tally.noted
        return found


def record_of(step: Step, time_s: float) -> Record:
    """The step as an evaluator sees it."""
    now = step.now
    return Record(
        time_s, now.memory.boat.mode, tuple(state.mode for state in now.memory.shafts), step.boat_in, step.shaft_in,
        now.boat_command, now.shaft_commands, now.boat_word, now.shaft_words,
    )  # fmt: skip


def broken_step(claim: StepClaim, step: Step) -> int | None:
    """The first shaft on which this step breaks a claim, None if it holds."""
    for i in range(len(step.shaft_in) if claim.per_shaft else 1):
        if claim.given(step, i) and not claim.then(step, i):
            return i
    return None


def broken_table(claim: Claim[Any], word: str, step: Step) -> bool:
    """A table claim is broken by the rows that this step took."""
    if word == "boat":
        return _taken(claim, step.was.boat.mode, step.now.boat_word, step.now.boat_row, tick.BOAT_TABLE)
    return any(
        _taken(claim, was.mode, said, row, tick.SHAFT_TABLE)
        for was, said, row in zip(step.was.shafts, step.now.shaft_words, step.now.shaft_rows, strict=True)
    )


def _taken(claim: Claim[Any], mode: int, word: int, row: int, table: Sequence[Any]) -> bool:
    if mode != claim.source or not claim.where.holds(word):
        return False
    if row == NO_ROW:
        return bool(claim.forbids(claim.source, False, False))
    return bool(claim.forbids(table[row].dest, table[row].disarms, table[row].unload_to_propel))


class Disagreement(NamedTuple):
    """One tick of which evaluator and claims say different things. `claim` is "" where the evaluator stands alone."""

    requirement: str
    claim: str
    tick: int
    words: str


class Parity(NamedTuple):
    """What a comparison found: ticks looked at, violations by requirement as the evaluators saw them, claims that were
    broken (of those asked), and every disagreement, the first of each kind."""

    ticks: int
    violations: Mapping[str, int]
    broken: Mapping[str, int]
    disagreements: tuple[Disagreement, ...]

    @property
    def holds(self) -> bool:
        """Evaluators and claims agreed on every tick."""
        return not self.disagreements


class Forbidding:
    """Which claims forbid what in one voyage: asked only where an evaluator complains, back to the voyage's start."""

    def __init__(self, claims: Claims) -> None:
        self._claims = claims
        self._closure: dict[str, tuple[list[StepClaim], list[tuple[str, Claim[Any]]]]] = {}

    def claims_of(self, requirement: str) -> tuple[list[StepClaim], list[tuple[str, Claim[Any]]]]:
        """The claims whose breach explains a violation: the requirement's own, and those that it rests on."""
        if requirement not in self._closure:
            rests = rests_on(BY_ID[requirement], self._claims)
            behind = {*rests.bits, *rests.lemmas}
            steps = [
                claim for claim in self._claims.steps
                if claim.requirement == requirement or claim.name in behind or claim.forms in behind
            ]  # fmt: skip
            tables = [
                (word, claim) for word, table in self._claims.tables.items() for claim in table
                if claim.requirement == requirement
            ]  # fmt: skip
            self._closure[requirement] = steps, tables
        return self._closure[requirement]

    def explains(self, requirement: str, voyage: Sequence[Step]) -> str:
        """The name of a claim that forbids a step of the voyage, the latest step first; "" if there is none."""
        steps, tables = self.claims_of(requirement)
        for step in reversed(voyage):
            for claim in steps:
                if broken_step(claim, step) is not None:
                    return claim.name
            for word, table_claim in tables:
                if broken_table(table_claim, word, step):
                    return table_claim.name
        return ""


class Voyage(NamedTuple):
    """Steps already sailed, the evaluators that saw them, and the steps to come."""

    sailed: Sequence[Step]
    looking: TickJudges
    onward: Iterator[Step]


class Sea:
    """Voyages from power-up through the rules as they are now: random ones, and directed ones, in turn."""

    def __init__(self, config: BoatConfig, boat: Boat, judges: Sequence[type[Judge]], seed: int) -> None:
        self._config, self._boat, self._judges = config, boat, judges
        self._names = tuple(shaft.name for shaft in config.shaft)
        self._luck = random.Random(seed)
        self._runs = Runs(config, boat)
        self._ways = situations(config)
        self._wrongs = disturbances(config)
        rest = self._ways["ready"][0][1]
        self._scenes = [rest, rest, rest, *(scene for way in self._ways.values() for _, scene in way)]
        self._approached: dict[str, tuple[list[Step], TickJudges]] = {}

    def voyages(self) -> Iterator[Voyage]:
        """Without end."""
        while True:
            yield self._wandering()
            for _ in range(DIRECTED):
                yield self._directed()

    def _wandering(self) -> Voyage:
        steps, looking = self._at("ready")
        onward = self._runs.wander(steps[-1].now.memory, self._scenes, self._wrongs, self._luck)
        return Voyage(steps, looking.copy(), islice(onward, RANDOM_TICKS))

    def _directed(self) -> Voyage:
        name = self._luck.choice(list(self._ways))
        steps, looking = self._at(name)
        wrong = self._luck.choice(self._wrongs)
        onward = self._runs.onward(steps[-1].now.memory, self._ways[name][-1][1], wrong, self._luck)
        return Voyage(steps, looking.copy(), onward)

    def _at(self, name: str) -> tuple[list[Step], TickJudges]:
        """The way into a situation, sailed once; from power-up."""
        if name not in self._approached:
            looking = TickJudges(self._boat, self._names, self._judges)
            steps = self._runs.approach(self._ways[name])
            for step in steps:
                looking.look(step)
            self._approached[name] = steps, looking
        return self._approached[name]


def compare(
    config: BoatConfig, boat: Boat, claims: Claims, seed: int, ticks: int,
    judges: Sequence[type[Judge]] = JUDGES,
) -> Parity:  # fmt: skip
    """Claims against evaluators on so many ticks of the rules as they are now, broken or not."""
    judged = {judge.identifier for judge in judges}
    comparable = [claim for claim in claims.steps if claim.parity and claim.requirement in judged]
    forbidding = Forbidding(claims)
    done = 0
    violations: dict[str, int] = {}
    broken: dict[str, int] = {}
    found: dict[tuple[str, str], Disagreement] = {}
    for voyage in Sea(config, boat, judges, seed).voyages():
        sailed = list(voyage.sailed)
        explained: set[str] = set()
        for step in voyage.onward:
            sailed.append(step)
            notices = voyage.looking.look(step)
            seen = {identifier: one for identifier, one in notices.items() if not one.margin >= -Tally.TOLERANCE}
            for identifier, notice in seen.items():
                violations[identifier] = violations.get(identifier, 0) + 1
                if identifier in explained:
                    continue
                if forbidding.explains(identifier, sailed):
                    explained.add(identifier)
                else:
                    found.setdefault((identifier, ""), Disagreement(identifier, "", done, notice.words))
            speaks = len(sailed) > 1 and 0.0 < step.dt_s <= LONGEST_GAP_S
            for claim in comparable if speaks else ():
                if broken_step(claim, step) is None:
                    continue
                broken[claim.name] = broken.get(claim.name, 0) + 1
                if claim.requirement not in seen:
                    one = Disagreement(claim.requirement, claim.name, done, "the evaluator sees no violation")
                    found.setdefault((claim.requirement, claim.name), one)
            done += 1
            if done >= ticks:
                return Parity(done, violations, broken, tuple(found.values()))
    raise AssertionError("voyages without end")
