"""The permit table. In prose first, since everything that gives a shaft's permits lives here:

* Precharge and drive enable are given to a shaft in service that is not ISOLATED, while the boat is live and its
  contactor closed; enable in READY only, and only once the link was precharged.
* The engine may be started unless its gearbox is said to be in gear or the diver lockout is set, with the drive's
  torque at an end, or the drive out of service, or silent with its enable dropped. What is not known withholds no
  start: a boat whose contacts are silent has no electric thrust, and must be left its engine. The gearbox's own neutral
  switch and the diver key sit in the start circuit themselves.
* The clutch may be closed with gearbox and lever in neutral, no diver, torque at an end, and both sides turning alike.
* The lock may be engaged once the shaft has been still for its time, with torque at an end or the drive holding it for
  that.

A permit is given while one of its rows matches. Permits are outputs: no mode follows from them.
"""

from collections.abc import Sequence
from typing import NamedTuple

from supervisor.modes.conditions import PermitCondition
from supervisor.modes.table import TableError
from supervisor.signals.commands import ShaftPermit

_C = PermitCondition
_P = ShaftPermit


class PermitRow(NamedTuple):
    """`permit` is given while every bit of `must` is set and every bit of `must_not` clear."""

    permit: ShaftPermit
    must: PermitCondition
    must_not: PermitCondition = PermitCondition(0)


_LIVE = _C.BOAT_LIVE | _C.SERVING | _C.CONTACTOR_CLOSED | _C.PRECHARGE_SOUND
_START = _C.GEAR_NOT_ENGAGED | _C.DIVER_NOT_SET | _C.OWN_ENGINE_START

PERMIT_TABLE: tuple[PermitRow, ...] = (
    PermitRow(_P.PRECHARGE, _LIVE),
    PermitRow(_P.DRIVE_ENABLE, _LIVE | _C.BOAT_READY | _C.LINK_WAS_CHARGED),
    PermitRow(_P.ENGINE_START, _START | _C.TORQUE_ENDED),
    PermitRow(_P.ENGINE_START, _START | _C.DRIVE_OFF),
    PermitRow(_P.ENGINE_START, _START | _C.DRIVE_SILENT),
    PermitRow(
        _P.CLUTCH_CLOSE,
        _C.GEAR_NEUTRAL | _C.NO_DIVER | _C.TORQUE_ENDED | _C.LEVER_NEUTRAL | _C.SPEEDS_MATCHED,
    ),
    PermitRow(_P.LOCK_ENGAGE, _C.TORQUE_ENDED | _C.STILL_LONG),
    PermitRow(_P.LOCK_ENGAGE, _C.HOLDS | _C.STILL_LONG),
)


class CompiledPermit(NamedTuple):
    """A row as integers: masks and values of one word, and the permit's bit."""

    mask: int
    value: int
    permit: int


def compile_permits(rows: Sequence[PermitRow]) -> tuple[CompiledPermit, ...]:
    """The rows as integers. Raises TableError where a row contradicts itself, or a permit has none."""
    for row in rows:
        if row.must & row.must_not or not row.must:
            raise TableError(f"{row.permit.name}: a bit must be both set and clear, or nothing is asked for")
    for permit in ShaftPermit:
        if not any(row.permit == permit for row in rows):
            raise TableError(f"{permit.name} is never given")
    return tuple(CompiledPermit(int(row.must) | int(row.must_not), int(row.must), int(row.permit)) for row in rows)


PERMIT_COMPILED = compile_permits(PERMIT_TABLE)


def given_permits(word: int) -> int:
    """The ShaftPermit bits that the table gives on a permit word."""
    permits = 0
    for mask, value, permit in PERMIT_COMPILED:
        if word & mask == value:
            permits = permits | permit
    return permits
