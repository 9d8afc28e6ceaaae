"""Part (c): reachability. No dead mode, no row that no word can take, a way back to STANDBY, no livelock."""

import time
from collections.abc import Iterator, Sequence
from typing import Any

from sim.prove.consistency import IMPOSSIBLE_SHAFT
from sim.prove.cubes import Cube, cube, find_word, meet
from sim.prove.product import Explored, Product, State, whole_product
from sim.prove.result import Count, Shown
from sim.prove.words import describe_word
from supervisor.modes import BoatCondition, BoatMode, Row, ShaftCondition, ShaftMode

_B = BoatCondition
_C = ShaftCondition

# Bits that cannot stay as they are while the mode changes: an edge lasts one tick, a dwell starts anew in a new mode.
_PASSING_BOAT = _B.ENABLE_EDGE | _B.RESET_EDGE
_PASSING_SHAFT = _C.RESET_EDGE
_LATCHES = _C.REARMED | _C.UNLOAD_TO_PROPEL


def livelocks(rows: Sequence[Row[Any, Any]], modes: type[BoatMode] | type[ShaftMode]) -> Iterator[str]:
    """Cycles of two or more modes that one constant word drives round and round, in words. Edges are left out (they
    last one tick); latches are free at each step, so that no cycle is missed."""
    passing = int(_PASSING_BOAT) if modes is BoatMode else int(_PASSING_SHAFT)
    free = 0 if modes is BoatMode else int(_LATCHES)
    impossible = [] if modes is BoatMode else [one.cube for one in IMPOSSIBLE_SHAFT]
    steps = {int(mode): _steps(rows, int(mode), free) for mode in modes}
    start = cube(0, passing)
    for first in modes:
        stack: list[tuple[int, Cube, list[Cube], list[int]]] = [(int(first), start, impossible, [])]
        while stack:
            mode, inside, outside, path = stack.pop()
            for number, dest, own, earlier in steps[mode]:
                both = meet(inside, own)
                if both is None or dest < int(first):
                    continue
                word = find_word(both, [*outside, *earlier])
                if word is None:
                    continue
                if dest == int(first):
                    names = " -> ".join(modes(int(rows[n].source)).name for n in [*path, number])
                    yield f"{names} -> {first.name}, for ever, while: {describe_word(word, modes)}"
                elif all(int(rows[n].source) != dest for n in path) and dest != mode:
                    stack.append((dest, both, [*outside, *earlier], [*path, number]))


def _steps(rows: Sequence[Row[Any, Any]], mode: int, free: int) -> list[tuple[int, int, Cube, list[Cube]]]:
    """(row, destination, its cube, the cubes of the rows before it), with the `free` bits left out of the cubes. An
    earlier row that hangs on a free bit may or may not match, and is then no obstacle."""
    found = []
    earlier: list[Cube] = []
    for number, row in enumerate(rows):
        if int(row.source) != mode:
            continue
        own = cube(int(row.must) & ~free, int(row.must_not) & ~free)
        if int(row.dest) != mode:
            found.append((number, int(row.dest), own, list(earlier)))
        if not (int(row.must) | int(row.must_not)) & free:
            earlier.append(own)
    return found


def prove_reach(
    machine: Product, found: Explored, boat_rows: Sequence[Row[Any, Any]], shaft_rows: Sequence[Row[Any, Any]],
    shafts: int,
) -> tuple[list[Shown], list[Count], list[str]]:  # fmt: skip
    """Reachability, the way back, livelock; and the whole product of the boat's shafts."""
    shown = []
    began = time.perf_counter()
    states, followed, back = whole_product(machine, found, shafts)
    whole = Count(f"boat x {shafts} shafts", states, followed, time.perf_counter() - began)

    began = time.perf_counter()
    boats = {state[0].mode for state in found.parents}
    points = {state[1].mode for state in found.parents}
    dead = [f"boat {mode.name}" for mode in BoatMode if mode not in boats]
    dead += [f"shaft {mode.name}" for mode in ShaftMode if mode not in points]
    shown.append(
        Shown("SR-49", "no dead mode", "reach", "every mode can be reached from STANDBY and REST", len(found.parents),
              "", f"never reached: {', '.join(dead)}" if dead else "")
    )  # fmt: skip
    stuck = _stuck(found)
    text = "from every reachable state there is a way back to STANDBY with every shaft at REST"
    complaint = ""
    if stuck is not None or not back:
        where = "a combination of shafts" if stuck is None else _named(stuck)
        complaint = f"no way back from {where}"
    shown.append(Shown("SR-49", "a way back to STANDBY", "reach", text, states, "", complaint))
    cycles = [*livelocks(boat_rows, BoatMode), *livelocks(shaft_rows, ShaftMode)]
    shown.append(
        Shown("SR-49", "no livelock", "reach", "no constant word drives modes round and round", len(cycles),
              "an edge lasts one tick, so words with a lasting edge are left out; every dwell starts anew in a new "
                  "mode",
              cycles[0] if cycles else "")
    )  # fmt: skip
    notes = []
    for name, rows, taken in (("boat", boat_rows, found.boat_rows), ("shaft", shaft_rows, found.shaft_rows)):
        for number, row in enumerate(rows):
            if number not in taken:
                notes.append(
                    f"{name} table, row {number} ({row.source.name} -> {row.dest.name}, {row.words!r}): no possible "
                    f"word "
                    "takes it; an earlier row takes every one. It stays as a second line."
                )
    return shown, [whole, Count("reach", len(found.parents), found.word_classes, time.perf_counter() - began)], notes


def _stuck(found: Explored) -> State | None:
    """A reachable state from which STANDBY with the shaft at REST cannot be reached, or None."""
    good = {
        state for state in found.parents if state[0].mode == BoatMode.STANDBY and state[1].mode == ShaftMode.REST
    }  # fmt: skip
    grown = True
    while grown:
        more = {state for state, targets in found.edges.items() if state not in good and targets & good}
        good |= more
        grown = bool(more)
    return next((state for state in found.parents if state not in good), None)


def _named(state: State) -> str:
    return f"boat {BoatMode(state[0].mode).name}, shaft {ShaftMode(state[1].mode).name}"
