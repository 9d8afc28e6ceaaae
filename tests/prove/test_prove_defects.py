"""Seeded defects: each realistic, each caught by the proof, and the test names the requirement that catches it.

Thirteen are drawn by the table mutator from a fixed seed, the others are made by hand. Each is a whole proof of the
tables: in each run some are tried, with `-m campaign` all the others.
"""

import random
from collections.abc import Callable
from typing import Any

import pytest

from sim.prove import Shown, prove_tables
from sim.prove.mutate import fate, mutants, same_table
from supervisor.config import load_config
from supervisor.controller.controller import freeze
from supervisor.modes import (
    BOAT_TABLE,
    SHAFT_TABLE,
    BoatCondition,
    BoatMode,
    Row,
    ShaftCondition,
    ShaftMode,
    TableError,
    validate,
)
from supervisor.rules.shaft_latches import after_mode
from supervisor.rules.state import ShaftLatch, ShaftState

CONFIG = load_config("marsh_tern")
BOAT = freeze(CONFIG)
B, C, S = BoatCondition, ShaftCondition, ShaftMode


def caught(shown: list[Shown] | tuple[Shown, ...]) -> set[str]:
    return {one.requirement for one in shown if not one.holds}


# --- drawn by the mutator


def some_now(all_of_them: list[Any], every: int) -> list[Any]:
    """The same parameters, all but each `every`-th left to the campaign."""
    return [
        one if number % every == 0 else pytest.param(*one.values, id=one.id, marks=pytest.mark.campaign)
        for number, one in enumerate(all_of_them)
    ]


def drawn() -> list[Any]:
    """Thirteen mutants that change something and pass the check at import, from a fixed seed."""
    rng = random.Random(1864)
    made = [(one, BoatMode) for one in mutants(BOAT_TABLE, BoatMode)]
    made += [(one, ShaftMode) for one in mutants(SHAFT_TABLE, ShaftMode) if one.row % 3 == 0]  # type: ignore[misc]
    found: list[Any] = []
    while len(found) < 13:
        one, modes = rng.choice(made)
        try:
            validate(one.rows, modes, modes(0))  # type: ignore[type-var, arg-type]
        except TableError:
            continue
        if not same_table(BOAT_TABLE if modes is BoatMode else SHAFT_TABLE, one.rows, modes):
            found.append(pytest.param(one, modes, id=f"{one.kind}: {one.text}"))
    return found


@pytest.mark.parametrize(("mutant", "modes"), some_now(drawn(), 5))
def test_a_drawn_table_defect_is_caught_by_the_proof(mutant: Any, modes: Any) -> None:
    end = fate(mutant, modes, BOAT)
    assert end.by == "proof"
    assert end.why.startswith("SR-")


# --- made by hand in the tables


def changed(rows: tuple[Row[Any, Any], ...], which: Callable[[Row[Any, Any]], bool], **fields: Any) -> list[Any]:
    assert any(which(row) for row in rows), "no such row"
    return [row._replace(**fields) if which(row) else row for row in rows]


def leads(source: Any, dest: Any, *, must: int = 0, must_not: int = 0) -> Callable[[Row[Any, Any]], bool]:
    return lambda row: bool(
        row.source == source and row.dest == dest
        and int(row.must) & must == must and int(row.must_not) & must_not == must_not
    )  # fmt: skip


PROPEL_ROW = leads(S.REST, S.PROPEL)
READY_ROW = leads(BoatMode.NEUTRAL_WAIT, BoatMode.READY)
RESET_ROW = leads(BoatMode.TRIPPED, BoatMode.STANDBY)
THRUST = next(row for row in SHAFT_TABLE if PROPEL_ROW(row))
ENTER = next(row for row in BOAT_TABLE if READY_ROW(row))
TABLE_DEFECTS = {
    "a dropped neutral bit": (changed(BOAT_TABLE, READY_ROW, must=ENTER.must & ~B.LEVERS_NEUTRAL), None, "SR-01"),
    "a reset into READY": (changed(BOAT_TABLE, RESET_ROW, dest=BoatMode.READY), None, "SR-04"),
    "a reset while the cause stands": (changed(BOAT_TABLE, RESET_ROW, must_not=B(0)), None, "SR-04"),
    "a missing lock interlock": (None, changed(SHAFT_TABLE, PROPEL_ROW, must=THRUST.must & ~C.LOCK_RELEASED), "SR-07"),
    "thrust without rearming": (None, changed(SHAFT_TABLE, PROPEL_ROW, must=THRUST.must & ~C.REARMED), "SR-05"),
    "a monitor fault that does not trip": (
        [row for row in BOAT_TABLE if not leads(BoatMode.READY, BoatMode.TRIPPED, must=int(B.MONITOR_FAULT))(row)],
        None, "SR-03",
    ),
    "a diver who ends thrust by a ramp": (
        None, changed(SHAFT_TABLE, leads(S.PROPEL, S.REST, must_not=int(C.NO_DIVER)), dest=S.UNLOAD), "SR-10",
    ),
    "a withdrawn charge permit that unloads": (
        None, changed(SHAFT_TABLE, leads(S.GENERATE, S.REST, must_not=int(C.CHARGE_PERMIT)), dest=S.UNLOAD), "SR-13",
    ),
    "a shaft that leaves ISOLATED while turning": (
        None, changed(SHAFT_TABLE, leads(S.ISOLATED, S.REST), must=C.RESET_EDGE), "SR-06",
    ),
    "a lost lever that leaves the shaft armed": (
        None, changed(SHAFT_TABLE, leads(S.PROPEL, S.UNLOAD, must=int(C.CONTROL_LOST)), disarms=False), "SR-05",
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", some_now([pytest.param(name, id=name) for name in TABLE_DEFECTS], 10))
def test_a_table_defect_is_caught_by_the_proof(name: str) -> None:
    boat_rows, shaft_rows, requirement = TABLE_DEFECTS[name]
    proof = prove_tables(
        boat_rows or BOAT_TABLE, shaft_rows or SHAFT_TABLE, BOAT.shafts[0], BOAT.limits.neutral_s, 1, "numpy"
    )  # fmt: skip
    assert requirement in caught(proof.shown)
    against = next(one.counterexample for one in proof.shown if one.requirement == requirement and not one.holds)
    assert "while:" in against or "1. boat" in against  # in words


# --- made by hand in the latch rule: only history can tell


def never_disarms(lim, state, word, new_mode, disarms, *rest):  # type: ignore[no-untyped-def]
    """REARMED survives whatever ended thrust."""
    after = after_mode(lim, state, word, new_mode, False, *rest)
    return after._replace(latches=after.latches | (state.latches & int(ShaftLatch.REARMED)))


def arms_in_standby(lim, state, word, new_mode, disarms, to_propel, dwell, _boat_mode):  # type: ignore[no-untyped-def]
    """REARMED does not ask whether the boat is READY."""
    return after_mode(lim, state, word, new_mode, disarms, to_propel, dwell, 2)


def arms_while_asked(lim, state, word, *rest):  # type: ignore[no-untyped-def]
    """Neutral that was held arms although thrust is asked again."""
    after = after_mode(lim, state, word, *rest)
    if state.dwells.neutral_s >= 0.5 and not word & C.CONTROL_LOST and rest[-1] == 2:
        return after._replace(latches=after.latches | int(ShaftLatch.REARMED))
    return after


LATCH_DEFECTS = [pytest.param(one, id=one.__doc__) for one in (never_disarms, arms_in_standby, arms_while_asked)]


@pytest.mark.parametrize("latches", some_now(LATCH_DEFECTS, 3))
def test_a_latch_defect_is_caught_on_the_product(latches: Callable[..., ShaftState]) -> None:
    proof = prove_tables(BOAT_TABLE, SHAFT_TABLE, BOAT.shafts[0], 0.5, 1, "numpy", latches)
    failed = [one for one in proof.failed() if one.how == "product"]
    assert "SR-05" in {one.requirement for one in failed}
    assert failed[0].counterexample.startswith("1. boat STANDBY -> ")


def test_there_are_enough_of_them() -> None:
    """Of tables and latches; those of rules, timers, outputs and wiring are in test_prove_seeded."""
    assert len(drawn()) >= 12
    assert len(TABLE_DEFECTS) >= 5
