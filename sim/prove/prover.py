"""The whole proof for one boat, and the part of it that takes other tables."""

from collections.abc import Callable, Sequence
from typing import Any

from sim.prove import plain
from sim.prove.claims_numbers import NUMBER_CLAIMS
from sim.prove.claims_own import effect_claims
from sim.prove.consistency import IMPOSSIBLE_SHAFT, possible_violation
from sim.prove.cubes import cube, find_word, meet
from sim.prove.forming import forming_claims
from sim.prove.product import Product, prove_product
from sim.prove.reach import prove_reach
from sim.prove.rests_on import claims_with, lacking, rests_on
from sim.prove.result import Count, Proof, Shown
from sim.prove.solver.claims import Plan, workers
from sim.prove.solver.kept import Kept
from sim.prove.step import StepClaim
from sim.prove.steps import prove_steps
from sim.prove.sweep import EXECUTOR
from sim.prove.tables import claims_of, prove_table
from sim.requirements import REGISTER
from supervisor.config import BoatConfig
from supervisor.config.limits import ShaftLimits
from supervisor.controller.controller import freeze
from supervisor.modes import BOAT_TABLE, SHAFT_TABLE, BoatMode, Row, ShaftMode
from supervisor.rules import shaft_latches
from supervisor.rules.state import ShaftState

Rows = Sequence[Row[Any, Any]]
Told = Callable[[int, int, str], None]

EACH_S = 20.0
"""Effort for one claim on one shaft, at most (seconds of a quiet core)."""


def step_claims(config: BoatConfig) -> tuple[StepClaim, ...]:
    """Every claim on steps that is made of this boat."""
    return (*forming_claims(config), *NUMBER_CLAIMS, *effect_claims(config))


def prove_tables(
    boat_rows: Rows, shaft_rows: Rows, lim: ShaftLimits, neutral_s: float, shafts: int = 2, executor: str = EXECUTOR,
    latches: Callable[..., ShaftState] | None = None,
) -> Proof:  # fmt: skip
    """Tables, product and reachability for any pair of tables: what a mutated table must fail.

    `lim` and `neutral_s` are what the latch rule needs of the boat; `latches` replaces the rules' own `after_mode`.
    """
    function = shaft_latches.after_mode if latches is None else latches
    shown: list[Shown] = []
    counts: list[Count] = []
    for rows, modes in ((boat_rows, BoatMode), (shaft_rows, ShaftMode)):
        table = prove_table(rows, modes, executor)
        shown += [_possible(one, rows, modes) for one in table.shown]
        counts.append(table.work)
    machine = Product(boat_rows, shaft_rows, lim, neutral_s, function)
    history, count, _ = prove_product(machine)
    shown += history
    counts.append(count)
    likely = Product(boat_rows, shaft_rows, lim, neutral_s, function, possible_only=True)
    _, _, found = prove_product(likely)
    reach, more, notes = prove_reach(likely, found, boat_rows, shaft_rows, shafts)
    return Proof("tables", (*shown, *reach), (*counts, *more), tuple(notes), executor)


def _possible(one: Shown, rows: Rows, modes: type[BoatMode] | type[ShaftMode]) -> Shown:
    """A claim that fails on impossible words only is shown without them, if the tables fail safe there all the same:
    whatever the word leads to, the next tick on the same word ends it."""
    if one.holds or modes is BoatMode:
        return one
    claim = next(claim for claim in claims_of(modes) if claim.name == one.claim)
    own = [row for row in rows if row.source == claim.source]
    takers: list[int | None] = [
        place for place, row in enumerate(own) if claim.forbids(row.dest, row.disarms, row.unload_to_propel)
    ]
    if claim.forbids(claim.source, False, False):
        takers.append(None)
    if any(possible_violation(own, claim.where, taker) is not None for taker in takers):
        return one
    reasons = sorted({imp.reason for imp in IMPOSSIBLE_SHAFT if meet(imp.cube, claim.where) is not None})
    bad = [rows_next(rows, own[t], claim.where) for t in takers if t is not None]
    if not all(bad):
        return one
    return one._replace(
        counterexample="", left_out=f"impossible words ({'; '.join(reasons)}); there the next tick ends it"
    )


def rows_next(rows: Rows, taken: Row[Any, Any], where: Any) -> bool:
    """After `taken`, on the same words, the shaft is at rest in the next tick (or was sent there already)."""
    if taken.dest in (ShaftMode.REST, ShaftMode.ISOLATED):
        return True
    inside = meet(where, cube(int(taken.must), int(taken.must_not)))
    if inside is None:
        return True
    safe = [
        cube(int(row.must), int(row.must_not))
        for row in rows
        if row.source == taken.dest and row.dest in (ShaftMode.REST, ShaftMode.ISOLATED)
    ]
    return find_word(inside, safe) is None


def prove_boat(
    config: BoatConfig, executor: str = EXECUTOR, plan: Plan | None = None, kept: Kept | None = None,
    told: Told = lambda _done, _all, _name: None,
) -> Proof:  # fmt: skip
    """Everything that is claimed, for this boat. `plan` says how much time there is, `kept` holds what earlier runs
    have shown; `told` hears how many questions are answered, of how many, and which was the last."""
    boat = freeze(config)
    if not boat.shafts:
        return Proof(config.boat.name, (), (), ("this boat has no shaft: nothing turns, nothing is proven",), executor)
    tables = prove_tables(BOAT_TABLE, SHAFT_TABLE, boat.shafts[0], boat.limits.neutral_s, len(boat.shafts), executor)
    claims = step_claims(config)
    steps = prove_steps(config, claims, plan or Plan(EACH_S, None, workers()), kept or Kept(config.boat.name), told)
    shown = (*tables.shown, *plain.shown(config, boat), *steps.shown)
    return Proof(
        config.boat.name, shown, (*tables.counts, steps.work), (*tables.notes, *steps.notes), executor,
        missing(shown, claims),
    )  # fmt: skip


def missing(shown: Sequence[Shown], claims: Sequence[StepClaim]) -> dict[str, tuple[str, ...]]:
    """For each requirement what it rests on that is not proven, in words."""
    answers = {one.claim: one.answer if one.holds else "refuted" for one in shown if one.how in ("step", "plain")}
    foundation = [f"{one.claim}: {answers[one.claim]}" for one in shown if not one.requirement and not one.proven]
    every = claims_with(claims)
    return {
        requirement.id: (*foundation, *lacking(rests_on(requirement, every), every, answers))
        for requirement in REGISTER
    }
