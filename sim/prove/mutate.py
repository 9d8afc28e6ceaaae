"""A mutator of the mode tables, and how it fares against the proof.

`python -m sim.prove.mutate` makes every mutant (drop or add each bit, swap adjacent rows, change each destination and
each mark), and says of each whether the tables' own check at import refuses it, the proof kills it, or no word tells it
from the original. What is left over is a survivor: a hole in the claims. Exit status 1 if there is one.
"""

import sys
from collections import Counter
from collections.abc import Iterator, Sequence
from typing import Any, NamedTuple

from sim.prove.consistency import IMPOSSIBLE_SHAFT
from sim.prove.cubes import Cube, cube, find_word, meet
from sim.prove.prover import prove_tables
from sim.prove.sweep import EXECUTOR
from sim.prove.tables import prove_table
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

Rows = tuple[Row[Any, Any], ...]


class Mutant(NamedTuple):
    """One changed table. `kind` is "drop", "add", "swap", "dest" or "mark"; `text` says what was changed."""

    kind: str
    row: int
    text: str
    rows: Rows


class Fate(NamedTuple):
    """What became of a mutant: `by` is "import check", "proof", "equivalent" or "" for a survivor; `why` names the
    claim, or the reason of equivalence."""

    mutant: Mutant
    by: str
    why: str


def mutants(rows: Sequence[Row[Any, Any]], modes: type[BoatMode] | type[ShaftMode]) -> Iterator[Mutant]:
    """Every mutant of a table, in a fixed order."""
    bits: type[Any] = BoatCondition if modes is BoatMode else ShaftCondition
    for number, row in enumerate(rows):
        name = f"{row.source.name} -> {row.dest.name} ({row.words})"
        for bit in bits:
            if int(row.must) & int(bit):
                yield _with(
                    rows, number, row._replace(must=row.must & ~bit), "drop", f"{name}: no longer asks {bit.name}"
                )
            elif int(row.must_not) & int(bit):
                yield _with(
                    rows,
                    number,
                    row._replace(must_not=row.must_not & ~bit),
                    "drop",
                    f"{name}: no longer bars {bit.name}",
                )
            else:
                yield _with(rows, number, row._replace(must=row.must | bit), "add", f"{name}: asks {bit.name} too")
                yield _with(
                    rows, number, row._replace(must_not=row.must_not | bit), "add", f"{name}: bars {bit.name} too"
                )
        for mode in modes:
            if mode != row.dest:
                yield _with(rows, number, row._replace(dest=mode), "dest", f"{name}: leads to {mode.name}")
        if modes is ShaftMode:
            yield _with(
                rows, number, row._replace(disarms=not row.disarms), "mark", f"{name}: disarms {not row.disarms}"
            )
            yield _with(
                rows, number, row._replace(unload_to_propel=not row.unload_to_propel), "mark",
                f"{name}: sets the unload target {not row.unload_to_propel}",
            )  # fmt: skip
        if number and rows[number - 1].source == row.source:
            swapped = list(rows)
            swapped[number - 1], swapped[number] = swapped[number], swapped[number - 1]
            yield Mutant("swap", number, f"{name}: before the row above it", tuple(swapped))


def _with(rows: Sequence[Row[Any, Any]], number: int, row: Row[Any, Any], kind: str, text: str) -> Mutant:
    changed = list(rows)
    changed[number] = row
    return Mutant(kind, number, text, tuple(changed))


def fate(mutant: Mutant, modes: type[BoatMode] | type[ShaftMode], boat: Any = None, executor: str = EXECUTOR) -> Fate:
    """What becomes of a mutant. `boat` holds the limits for the product, marsh_tern's by default."""
    start = BoatMode.STANDBY if modes is BoatMode else ShaftMode.REST
    try:
        validate(mutant.rows, modes, start)
    except TableError as error:
        return Fate(mutant, "import check", str(error))
    table = prove_table(mutant.rows, modes, executor, only=mutant.rows[mutant.row].source)
    for one in table.shown:
        if not one.holds:
            return Fate(mutant, "proof", f"{one.requirement}: {one.claim}")
    reason = same_table(BOAT_TABLE if modes is BoatMode else SHAFT_TABLE, mutant.rows, modes)
    if reason:
        return Fate(mutant, "equivalent", reason)
    limits = freeze(load_config("marsh_tern")) if boat is None else boat
    boat_rows = mutant.rows if modes is BoatMode else BOAT_TABLE
    shaft_rows = mutant.rows if modes is ShaftMode else SHAFT_TABLE
    proof = prove_tables(boat_rows, shaft_rows, limits.shafts[0], limits.limits.neutral_s, 1, executor)
    for one in proof.failed():
        return Fate(mutant, "proof", f"{one.requirement}: {one.claim}")
    return Fate(mutant, "", "")


def same_table(
    original: Sequence[Row[Any, Any]], changed: Sequence[Row[Any, Any]], modes: type[BoatMode] | type[ShaftMode]
) -> str:
    """Why no word tells the two tables apart, "" if one does."""
    if not _differs(original, changed, modes, []):
        return "no word tells it from the original"
    if modes is ShaftMode and not _differs(original, changed, modes, [one.cube for one in IMPOSSIBLE_SHAFT]):
        return "only impossible words tell it from the original"
    return ""


def _differs(
    original: Sequence[Row[Any, Any]], changed: Sequence[Row[Any, Any]], modes: type[Any], impossible: list[Cube]
) -> bool:
    for mode in modes:
        first, second = _outcomes(original, mode), _outcomes(changed, mode)
        for place_a, (cube_a, outcome_a) in enumerate(first):
            for place_b, (cube_b, outcome_b) in enumerate(second):
                if outcome_a == outcome_b:
                    continue
                both = meet(cube_a, cube_b)
                if both is None:
                    continue
                outside = [*(c for c, _ in first[:place_a]), *(c for c, _ in second[:place_b]), *impossible]
                if find_word(both, outside) is not None:
                    return True
    return False


def _outcomes(rows: Sequence[Row[Any, Any]], mode: Any) -> list[tuple[Cube, tuple[int, bool, bool]]]:
    found = [
        (cube(int(row.must), int(row.must_not)), (int(row.dest), bool(row.disarms), bool(row.unload_to_propel)))
        for row in rows
        if row.source == mode
    ]
    return [*found, (Cube(0, 0), (int(mode), False, False))]


def main(argv: Sequence[str] | None = None) -> int:
    """Run every mutant of both tables (or of the one named). Prints the score, the equivalents, the survivors."""
    wanted = list(sys.argv[1:] if argv is None else argv) or ["boat", "shaft"]
    if any(name not in ("boat", "shaft") for name in wanted):
        print("usage: python -m sim.prove.mutate [boat] [shaft]", file=sys.stderr)
        return 2
    limits = freeze(load_config("marsh_tern"))
    survivors: list[Fate] = []
    for name in wanted:
        modes: type[Any] = BoatMode if name == "boat" else ShaftMode
        rows = BOAT_TABLE if name == "boat" else SHAFT_TABLE
        fates = [fate(mutant, modes, limits) for mutant in mutants(rows, modes)]
        score = Counter(one.by or "SURVIVES" for one in fates)
        print(f"{name} table: {len(fates)} mutants: " + ", ".join(f"{n} {by}" for by, n in sorted(score.items())))
        for one in fates:
            if one.by == "equivalent":
                print(f"  equivalent: {one.mutant.text}: {one.why}")
            elif not one.by:
                print(f"  SURVIVES: {one.mutant.text}")
        survivors += [one for one in fates if not one.by]
    return 1 if survivors else 0


if __name__ == "__main__":
    sys.exit(main())
