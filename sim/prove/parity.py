"""Claims held against evaluators: on ticks of the real rules the two never disagree.

An evaluator judges signals over time; a claim speaks of one step. On each tick of a voyage from power-up both are
asked:

* a tick that an evaluator calls a violation must be forbidden: a claim of that requirement, or one that it rests on, is
  broken in this tick or was earlier in the same voyage (an evaluator with a memory sees the harm later);
* a step that a claim forbids, which may be compared (`StepClaim.parity`), must be a violation to the requirement's
  evaluator in the same tick or in the next (some look at what was before them).

On sound rules neither happens, and what that shows is little. So the same is run on rules that are deaf to one thing at
a time, on ticks with one decision forged, and on broken rules: whatever breaks, both must see it. A claim that forbids
nothing, or a judge that forgets a cause, is then the one that is silent.
"""

import random
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from itertools import islice, product
from typing import Any, NamedTuple

from sim.prove.claims import Claim
from sim.prove.consistency import IMPOSSIBLE_SHAFT
from sim.prove.cubes import find_word
from sim.prove.directed import Runs, SoundInputs, Wrong, disturbances, situations
from sim.prove.forged import forge
from sim.prove.rests_on import Claims, rests_on
from sim.prove.step import Step, StepClaim
from sim.requirements import BY_ID, JUDGES, Record
from sim.requirements.each_tick import Notice, TickJudges
from sim.requirements.judge import Judge
from sim.requirements.record import LONGEST_GAP_S
from supervisor.config import BoatConfig
from supervisor.modes import NO_ROW, BoatMode, CompiledRow, ShaftMode
from supervisor.rules import Boat, Memory, tick

WANDERING_TICKS = 400
"""Ticks of one wandering voyage."""

DIRECTED = 8
"""Directed, deaf and forged voyages between two of those: about as many ticks."""

NOT_COMPARED = {"disobeying isolates": "the evaluator grants a tick more, and speaks of a zero order only"}
"""Claims that are not held against their evaluator in the same tick whatever they say of themselves, and why."""

FORGED_EVERY = 3
"""In a forged voyage each so many-th tick is looked at forged as well."""


class StepJudges(TickJudges):
    """Every evaluator, asked of each step of a voyage from power-up; of what a drive does on its own no claim on the
    supervisor can speak."""

    def __init__(self, boat: Boat, names: Sequence[str], judges: Iterable[type[Judge]] = JUDGES) -> None:
        super().__init__(boat, names, judges)
        self._time_s = 0.0

    def at(self, step: Step) -> dict[str, Notice]:
        """What each evaluator notes in this step."""
        self._time_s += step.dt_s
        return self.look(record_of(step, self._time_s))


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
        return _taken(claim, step.was.boat.mode, step.now.boat_word, step.now.boat_row, vars(tick)["BOAT_ROWS"])
    return any(
        _taken(claim, was.mode, said, row, vars(tick)["SHAFT_ROWS"])
        for was, said, row in zip(step.was.shafts, step.now.shaft_words, step.now.shaft_rows, strict=True)
    )


def _taken(claim: Claim[Any], mode: int, word: int, row: int, table: Sequence[CompiledRow]) -> bool:
    if mode != claim.source or not claim.where.holds(word):
        return False
    if row == NO_ROW:
        return bool(claim.forbids(claim.source, False, False))
    taken = table[row]
    return bool(claim.forbids(taken.dest, taken.disarms == 1, taken.to_propel == 1))


def idle_tables(claims: Claims) -> list[str]:
    """The table claims that forbid nothing: no destination, with whatever marks, would break them; or no word that the
    rules can form lies where they speak."""
    found = []
    for word, table in claims.tables.items():
        modes: type[BoatMode] | type[ShaftMode] = BoatMode if word == "boat" else ShaftMode
        impossible = [one.cube for one in IMPOSSIBLE_SHAFT] if word == "shaft" else []
        for claim in table:
            ways = product(modes, (False, True), (False, True))
            forbids = any(claim.forbids(dest, disarms, to_propel) for dest, disarms, to_propel in ways)
            if not forbids or find_word(claim.where, impossible) is None:
                found.append(claim.name)
    return found


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
    """Steps already sailed, the evaluators that saw them, and the steps to come. With `forging`, ticks on the way are
    looked at once more with one thing decided otherwise."""

    sailed: Sequence[Step]
    looking: StepJudges
    onward: Iterator[Step]
    forging: random.Random | None = None


class Sea:
    """Voyages from power-up through the rules as they are now: wandering, directed, and deaf ones in turn.

    A deaf voyage is that of rules that do not hear one thing: what was decided without it stands beside inputs with it.
    """

    def __init__(self, config: BoatConfig, boat: Boat, judges: Sequence[type[Judge]], seed: int) -> None:
        self._config, self._boat, self._judges = config, boat, judges
        self._names = tuple(shaft.name for shaft in config.shaft)
        self._luck = random.Random(seed)  # noqa: S311 - seeded, to try ticks with
        self._runs = Runs(config, boat)
        self._ways = situations(config)
        self._wrongs = disturbances(config)
        rest = self._ways["ready"][0][1]
        self._scenes = [rest, rest, rest, *(scene for way in self._ways.values() for _, scene in way)]
        self._approached: dict[str, tuple[list[Step], StepJudges]] = {}

    def voyages(self) -> Iterator[Voyage]:
        """Without end."""
        while True:
            yield self._wandering()
            for _ in range(DIRECTED):
                yield self._directed(self._runs.onward)
                yield self._directed(self._runs.deaf)
                yield self._directed(self._runs.onward)._replace(forging=self._luck)

    def _wandering(self) -> Voyage:
        steps, looking = self._at("ready")
        onward = self._runs.wander(steps[-1].now.memory, self._scenes, self._wrongs, self._luck)
        return Voyage(steps, looking.copy(), islice(onward, WANDERING_TICKS))

    def _directed(self, sail: Callable[[Memory, SoundInputs, Wrong, random.Random], Iterator[Step]]) -> Voyage:
        name = self._luck.choice(list(self._ways))
        steps, looking = self._at(name)
        onward = sail(steps[-1].now.memory, self._ways[name][-1][1], self._luck.choice(self._wrongs), self._luck)
        return Voyage(steps, looking.copy(), onward)

    def _at(self, name: str) -> tuple[list[Step], StepJudges]:
        """The way into a situation from power-up, sailed once."""
        if name not in self._approached:
            looking = StepJudges(self._boat, self._names, self._judges)
            steps = self._runs.approach(self._ways[name])
            for step in steps:
                looking.at(step)
            self._approached[name] = steps, looking
        return self._approached[name]


class _Record:
    """Disagreements while they are gathered."""

    def __init__(self, claims: Claims, judges: Sequence[type[Judge]]) -> None:
        judged = {judge.identifier for judge in judges}
        self._comparable = [
            claim for claim in claims.steps
            if claim.parity and claim.requirement in judged and claim.name not in NOT_COMPARED
        ]  # fmt: skip
        self._forbidding = Forbidding(claims)
        self.ticks = 0
        self.violations: dict[str, int] = {}
        self.broken: dict[str, int] = {}
        self.found: dict[tuple[str, str], Disagreement] = {}

    def sail(self, voyage: Voyage, ticks: int) -> None:
        """One voyage, or the part of it that is left of so many ticks."""
        sailed = list(voyage.sailed)
        explained: set[str] = set()
        waiting: dict[str, StepClaim] = {}
        for step in voyage.onward:
            if voyage.forging is not None and len(sailed) % FORGED_EVERY == 0:
                self._forged(voyage.looking.copy(), sailed, forge(step, voyage.forging).step)
            sailed.append(step)
            seen = {one: notice for one, notice in voyage.looking.at(step).items() if notice.violates}
            for identifier, notice in seen.items():
                self.violations[identifier] = self.violations.get(identifier, 0) + 1
                if identifier not in explained and self._forbidding.explains(identifier, sailed):
                    explained.add(identifier)
                if identifier not in explained:
                    self._note(identifier, "", notice.words)
            self._unseen(waiting, seen)
            waiting = self._forbidden(step, seen)
            self.ticks += 1
            if self.ticks >= ticks:
                return
        self._unseen(waiting, {})

    def _forged(self, looking: StepJudges, sailed: Sequence[Step], step: Step) -> None:
        """A forged tick, after which nothing comes: evaluators and claims see it now or never."""
        seen = {one: notice for one, notice in looking.at(step).items() if notice.violates}
        for identifier, notice in seen.items():
            self.violations[identifier] = self.violations.get(identifier, 0) + 1
            if not self._forbidding.explains(identifier, [*sailed, step]):
                self._note(identifier, "", notice.words)
        self._unseen(self._forbidden(step, seen), {})
        self.ticks += 1

    def _forbidden(self, step: Step, seen: Mapping[str, Notice]) -> dict[str, StepClaim]:
        """The claims that this step breaks and whose evaluator has not seen it yet: it has one tick more."""
        found = {}
        speaks = 0.0 < step.dt_s <= LONGEST_GAP_S
        for claim in self._comparable if speaks else ():
            if broken_step(claim, step) is not None:
                self.broken[claim.name] = self.broken.get(claim.name, 0) + 1
                if claim.requirement not in seen:
                    found[claim.name] = claim
        return found

    def _unseen(self, waiting: Mapping[str, StepClaim], seen: Mapping[str, Notice]) -> None:
        for name, claim in waiting.items():
            if claim.requirement not in seen:
                self._note(claim.requirement, name, "the evaluator sees no violation")

    def _note(self, requirement: str, claim: str, words: str) -> None:
        self.found.setdefault((requirement, claim), Disagreement(requirement, claim, self.ticks, words))


def compare(
    config: BoatConfig, boat: Boat, claims: Claims, seed: int, ticks: int,
    judges: Sequence[type[Judge]] = JUDGES,
) -> Parity:  # fmt: skip
    """Claims against evaluators on so many ticks of the rules as they are now, broken or not."""
    record = _Record(claims, judges)
    for voyage in Sea(config, boat, judges, seed).voyages():
        record.sail(voyage, ticks)
        if record.ticks >= ticks:
            break
    return Parity(record.ticks, record.violations, record.broken, tuple(record.found.values()))
