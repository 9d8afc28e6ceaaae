"""A mutator of the mode tables, and how it fares against the proof.

`python -m sim.prove.mutate` makes every mutant (drop or add each bit, swap adjacent rows, change each destination and
each mark), and says of each whether the tables' own check at import refuses it, the proof kills it, or no word tells it
from the original. What is left over is a survivor: a hole in the claims. Exit status 1 if there is one.
"""

import argparse
import sys
from collections import Counter
from collections.abc import Iterator, Sequence
from pathlib import Path
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


def listing(fates: Sequence[Fate]) -> list[str]:
    """The score, the equivalents and the survivors, in lines."""
    score = Counter(one.by or "SURVIVES" for one in fates)
    lines = [f"{len(fates)} mutants: " + ", ".join(f"{number} {by}" for by, number in sorted(score.items()))]
    lines += [f"equivalent: {one.mutant.text}: {one.why}" for one in fates if one.by == "equivalent"]
    lines += [f"SURVIVES: {one.mutant.text}" for one in fates if not one.by]
    return lines


_HEAD = """\
<!-- generated by python -m sim.prove.mutate; do not edit -->

# Mutants of the mode tables

Each bit of each row dropped or added, adjacent rows swapped, each destination and each mark changed. A mutant is
refused by the check at import, killed by a claim of the proof, or *equivalent*: it was decided exactly, over every
word, that no word (or only one that cannot be formed) leads it elsewhere than the original. Most equivalents ask or bar
a bit on which a row further up has decided already.
"""


def main(argv: Sequence[str] | None = None) -> int:
    """Run every mutant of both tables, or of one. Prints the score, the equivalents, the survivors; may write a page.

    Status 0: none survives; 1: a survivor; 2: bad usage or a page that cannot be written.
    """
    parser = argparse.ArgumentParser(prog="python -m sim.prove.mutate", description=__doc__.splitlines()[0])
    parser.add_argument("table", nargs="*", metavar="TABLE", help="boat, shaft; both if none is named")
    parser.add_argument("--write", type=Path, metavar="PAGE", help="write the list as Markdown as well")
    args = parser.parse_args(argv)
    wanted = args.table or ["boat", "shaft"]
    if any(name not in ("boat", "shaft") for name in wanted):
        print(f"{parser.prog}: {' '.join(wanted)}: a table is boat or shaft", file=sys.stderr)
        return 2
    limits = freeze(load_config("marsh_tern"))
    page = [_HEAD]
    survives = False
    for name in wanted:
        modes: type[Any] = BoatMode if name == "boat" else ShaftMode
        rows = BOAT_TABLE if name == "boat" else SHAFT_TABLE
        fates = [fate(mutant, modes, limits) for mutant in mutants(rows, modes)]
        survives = survives or any(not one.by for one in fates)
        lines = listing(fates)
        print(f"{name} table: " + "\n  ".join(lines))
        page += [f"## {name.capitalize()} table\n", lines[0] + "\n", *(f"- {line}" for line in lines[1:]), ""]
    if args.write is not None:
        try:
            args.write.write_text("\n".join(page), encoding="utf-8")
        except OSError as error:
            print(f"{parser.prog}: {args.write}: {error.strerror}", file=sys.stderr)
            return 2
    return 1 if survives else 0


if __name__ == "__main__":
    sys.exit(main())
