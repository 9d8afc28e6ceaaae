"""Words that cannot be, with the physical reason; and whether the tables fail safe on them all the same.

The proof does not need these: it is made over every word first. They are used where a claim fails on an impossible
word only, and to say which rows can ever be taken.
"""

from collections.abc import Sequence
from typing import Any, NamedTuple

from sim.prove.cubes import Cube, cube, find_word, meet
from supervisor.modes import Row, ShaftCondition

_C = ShaftCondition


class Impossible(NamedTuple):
    """Words that the rules never form, and why."""

    cube: Cube
    reason: str


IMPOSSIBLE_SHAFT: tuple[Impossible, ...] = (
    Impossible(cube(_C.BOAT_READY, _C.BOAT_LIVE), "READY is a mode of an enabled boat"),
    Impossible(cube(_C.LOCK_RELEASED, _C.LOCK_SETTLED), "a released lock is at rest"),
    Impossible(cube(_C.CLUTCH_CLOSED | _C.CLUTCH_OPEN), "each clutch contact is believed only against the other"),
    Impossible(cube(_C.GEAR_NEUTRAL, _C.ENGINE_CLEAR), "an engine in neutral is clear"),
    Impossible(cube(_C.ENGINE_CLEAR, _C.ENGINE_STOPPED | _C.GEAR_NEUTRAL), "clear is stopped or in neutral"),
    Impossible(cube(_C.ENGINE_STOPPED | _C.ENGINE_RUNNING), "one run contact tells both"),
    Impossible(cube(_C.GEAR_NEUTRAL | _C.GEAR_AHEAD), "each gear contact is believed only against the other"),
    Impossible(
        cube(_C.PAUSED | _C.LOCK_RELEASED | _C.LOCK_SETTLED | _C.CLUTCH_CLOSED | _C.ENGINE_CLEAR),
        "thrust pauses for a missing contact only",
    ),
    Impossible(cube(_C.PAUSED | _C.PAUSE_FAILED), "a pause goes on or has failed"),
    Impossible(cube(_C.SHAFT_STILL, _C.PROPELLER_STILL), "a still shaft has a still propeller side"),
)


def possible_violation(
    rows: Sequence[Row[Any, Any]], where: Cube, taken: int | None, impossible: Sequence[Impossible] = IMPOSSIBLE_SHAFT
) -> int | None:
    """A possible word of `where` on which `taken` (a place among `rows`, None for no row) is taken, or None."""
    inside: Cube | None = where
    last = len(rows) if taken is None else taken
    if taken is not None:
        inside = meet(where, cube(int(rows[taken].must), int(rows[taken].must_not)))
    if inside is None:
        return None
    outside = [cube(int(row.must), int(row.must_not)) for row in rows[:last]]
    return find_word(inside, [*outside, *(one.cube for one in impossible)])
