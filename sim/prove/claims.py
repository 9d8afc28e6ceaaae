"""What is claimed of the tables, as data: which change may not happen on which words.

The claims say what the boat must do, in the bits of the condition words, and are written down without looking at the
rows: together they fix the destination for every word on which safety, or thrust in a fairway, depends.
"""

from collections.abc import Callable
from typing import Generic, NamedTuple, TypeVar

from sim.prove.cubes import Cube, cube
from supervisor.modes import BoatCondition, BoatMode, Row, ShaftCondition, ShaftMode

ModeT = TypeVar("ModeT", BoatMode, ShaftMode)
AnyRow = Row[BoatMode, BoatCondition] | Row[ShaftMode, ShaftCondition]


class Claim(NamedTuple, Generic[ModeT]):
    """From `source`, on the words of `where`, no row (or staying) that `forbids` says yes to may be taken.

    `forbids` is given the destination, whether the row disarms, and whether it sets the unload target; for "no row"
    the destination is the source and both marks are False.
    """

    requirement: str
    name: str
    source: ModeT
    where: Cube
    forbids: Callable[[ModeT, bool, bool], bool]
    text: str


def other_than(mode: ModeT) -> Callable[[ModeT, bool, bool], bool]:
    """Forbids every destination but `mode`."""
    return lambda dest, _disarms, _to_propel: dest != mode


def into(*modes: ModeT) -> Callable[[ModeT, bool, bool], bool]:
    """Forbids these destinations."""
    return lambda dest, _disarms, _to_propel: dest in modes


def armed_out_of(mode: ModeT) -> Callable[[ModeT, bool, bool], bool]:
    """Forbids leaving `mode` by a row that does not disarm."""
    return lambda dest, disarms, _to_propel: dest != mode and not disarms


def towards_propel(dest: ModeT, _disarms: bool, to_propel: bool) -> bool:
    """Forbids rows that set the unload target."""
    del dest
    return to_propel


def words(must: int = 0, must_not: int = 0) -> Cube:
    """The words with all of `must` set and all of `must_not` clear."""
    return cube(int(must), int(must_not))
