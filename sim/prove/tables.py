"""Part (a): every word of every mode against the claims on the tables."""

import time
from collections.abc import Sequence
from typing import Any, NamedTuple

from sim.prove.claims import Claim
from sim.prove.claims_boat import BOAT_CLAIMS
from sim.prove.claims_source import SHAFT_CLAIMS
from sim.prove.cubes import Cube, cube
from sim.prove.result import Count, Shown
from sim.prove.sweep import EXECUTOR, Forbidden, sweep
from sim.prove.words import describe_change
from supervisor.modes import BoatMode, Row, ShaftMode


class TableProof(NamedTuple):
    """What part (a) found: `fired[m]` are the indices into the table of the rows that some word of mode m takes."""

    shown: tuple[Shown, ...]
    work: Count
    fired: dict[int, frozenset[int]]


def claims_of(modes: type[BoatMode] | type[ShaftMode]) -> Sequence[Claim[Any]]:
    """The claims on the table of these modes."""
    return BOAT_CLAIMS if modes is BoatMode else SHAFT_CLAIMS


def prove_table(
    rows: Sequence[Row[Any, Any]], modes: type[BoatMode] | type[ShaftMode], executor: str = EXECUTOR,
    only: BoatMode | ShaftMode | None = None,
) -> TableProof:  # fmt: skip
    """Every mode (or `only` one) with every combination of the bits that its rows and the claims on it refer to."""
    began = time.perf_counter()
    claims = claims_of(modes)
    shown: list[Shown] = []
    words = blocks = 0
    fired: dict[int, frozenset[int]] = {}
    for mode in modes:
        if only is not None and mode != only:
            continue
        own = [(number, row) for number, row in enumerate(rows) if row.source == mode]
        mine = [claim for claim in claims if claim.source == mode]
        cubes = [cube(int(row.must), int(row.must_not)) for _, row in own]
        result = sweep(cubes, [_forbidden(claim, [row for _, row in own]) for claim in mine], executor)
        words += result.words
        blocks += result.blocks
        fired[int(mode)] = frozenset(number for place, (number, _) in enumerate(own) if result.fired >> place & 1)
        for place, claim in enumerate(mine):
            words_against = ""
            if place in result.found:
                words_against = describe_change(rows, modes, mode, result.found[place])
            shown.append(
                Shown(claim.requirement, claim.name, "table", claim.text, result.words, "", words_against)
            )  # fmt: skip
    name = "boat table" if modes is BoatMode else "shaft table"
    return TableProof(tuple(shown), Count(name, len(modes), words, time.perf_counter() - began, blocks), fired)


def _forbidden(claim: Claim[Any], rows: Sequence[Row[Any, Any]]) -> Forbidden:
    mask = 0
    for place, row in enumerate(rows):
        if claim.forbids(row.dest, row.disarms, row.unload_to_propel):
            mask |= 1 << place
    if claim.forbids(claim.source, False, False):
        mask |= 1 << len(rows)
    return Forbidden(Cube(*claim.where), mask)
