"""The whole proof for one boat, and the part of it that takes other tables."""

import time
from collections.abc import Callable, Iterator, Sequence
from typing import Any

from sim.prove.consistency import IMPOSSIBLE_SHAFT, possible_violation
from sim.prove.cubes import meet
from sim.prove.grid import Numbers
from sim.prove.numeric_bank import prove_bank
from sim.prove.numeric_contacts import prove_boat_contacts, prove_contacts
from sim.prove.numeric_times import prove_times
from sim.prove.numeric_torque import prove_torque
from sim.prove.product import Product, prove_product
from sim.prove.reach import prove_reach
from sim.prove.result import Count, Proof, Shown
from sim.prove.sweep import EXECUTOR
from sim.prove.tables import TableProof, claims_of, prove_table
from supervisor.config import BoatConfig
from supervisor.config.limits import ShaftLimits
from supervisor.controller.controller import freeze
from supervisor.modes import BOAT_TABLE, SHAFT_TABLE, BoatMode, Row, ShaftMode
from supervisor.rules import shaft_latches
from supervisor.rules.state import ShaftState

Rows = Sequence[Row[Any, Any]]
Step = Callable[[str], None]


def prove_tables(
    boat_rows: Rows, shaft_rows: Rows, lim: ShaftLimits, neutral_s: float, shafts: int = 2, executor: str = EXECUTOR,
    latches: Callable[..., ShaftState] | None = None,
) -> Proof:  # fmt: skip
    """Parts (a) to (c) for any pair of tables: what a mutated table must fail.

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
    from sim.prove.cubes import cube, find_word

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


def prove_numbers(config: BoatConfig, step: Step = lambda _text: None) -> tuple[list[Shown], Count]:
    """Part (d): the numeric rules over their whole input range, with this boat's limits."""
    began = time.perf_counter()
    numbers = Numbers(config, freeze(config))
    shown: list[Shown] = []
    for text, part in _parts(numbers):
        step(text)
        shown += part()
    merged = _merge(shown)
    cases = sum(one.cases for one in merged)
    return merged, Count("numeric rules", len(merged), cases, time.perf_counter() - began)


def _parts(n: Numbers) -> Iterator[tuple[str, Callable[[], list[Shown]]]]:
    yield "bank", lambda: prove_bank(n)
    yield "boat contacts", lambda: prove_boat_contacts(n)
    yield "times", lambda: prove_times(n)
    seen: list[Any] = []
    for index, shaft in enumerate(n.config.shaft):
        if n.boat.shafts[index] in seen:
            continue  # the same limits in every number: the same proof
        seen.append(n.boat.shafts[index])
        yield f"torque of {shaft.name}", lambda i=index: prove_torque(n, i)  # type: ignore[misc]
        yield f"contacts of {shaft.name}", lambda i=index: prove_contacts(n, i)  # type: ignore[misc]


def _merge(shown: Sequence[Shown]) -> list[Shown]:
    """One entry a claim, cases added, the first counter-example kept."""
    merged: dict[str, Shown] = {}
    for one in shown:
        if one.claim in merged:
            was = merged[one.claim]
            one = was._replace(  # noqa: PLW2901 - the merged entry takes its place
                cases=was.cases + one.cases, counterexample=was.counterexample or one.counterexample
            )
        merged[one.claim] = one
    return list(merged.values())


def prove_boat(config: BoatConfig, executor: str = EXECUTOR, step: Step = lambda _text: None) -> Proof:
    """Everything that is claimed, for this boat. `step` is told what is being worked on."""
    boat = freeze(config)
    if not boat.shafts:
        return Proof(config.boat.name, (), (), ("this boat has no shaft: nothing turns, nothing is proven",), executor)
    step("tables")
    proof = prove_tables(
        BOAT_TABLE, SHAFT_TABLE, boat.shafts[0], boat.limits.neutral_s, len(boat.shafts), executor
    )  # fmt: skip
    numeric, count = prove_numbers(config, step)
    return Proof(
        config.boat.name, (*proof.shown, *numeric), (*proof.counts, count), proof.notes, executor
    )  # fmt: skip


__all__ = ["Proof", "Shown", "TableProof", "prove_boat", "prove_numbers", "prove_tables"]
