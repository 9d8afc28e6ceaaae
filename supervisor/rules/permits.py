"""Forming the permit word of a shaft, on which the permit table decides."""

from supervisor.config.limits import ShaftLimits
from supervisor.rules.bits import (
    IS_BOAT_LIVE,
    IS_BOAT_READY,
    IS_GEAR_NEUTRAL,
    IS_IN_SERVICE,
    IS_NO_DIVER,
    IS_SHAFT_STILL,
    IS_TORQUE_ZERO,
    LATCH_LINK_WAS_CHARGED,
    LATCH_PRECHARGE_FAILED,
    MAY_BOAT_LIVE,
    MAY_BOAT_READY,
    MAY_CONTACTOR_CLOSED,
    MAY_DIVER_NOT_SET,
    MAY_DRIVE_OFF,
    MAY_DRIVE_SILENT,
    MAY_GEAR_NEUTRAL,
    MAY_GEAR_NOT_ENGAGED,
    MAY_HOLDS,
    MAY_LEVER_NEUTRAL,
    MAY_LINK_WAS_CHARGED,
    MAY_NO_DIVER,
    MAY_PRECHARGE_SOUND,
    MAY_SERVING,
    MAY_SPEEDS_MATCHED,
    MAY_STILL_LONG,
    MAY_TORQUE_ENDED,
    SHAFT_ISOLATED,
    SHAFT_PROPEL,
    SHAFT_REST,
)
from supervisor.rules.own import OwnOnShaft
from supervisor.rules.readings import MACHINE_SPEED, PROPELLER_SPEED, TORQUE, Lever, gear_engaged, out_of_service
from supervisor.rules.state import ShaftState
from supervisor.signals.inputs import ShaftInputs

SILENT_S = 1.0
"""A drive that has been silent for this long with its enable dropped gives no torque (s)."""

SPEEDS = MACHINE_SPEED | PROPELLER_SPEED


def permit_word(
    lim: ShaftLimits,
    state: ShaftState,
    shaft: ShaftInputs,
    word: int,
    lever: Lever,
    own: OwnOnShaft,
    contactor: bool,
    diver: bool,
) -> int:
    """The permit word of one shaft, after its order of this tick is known (`state`); `word` is its condition word,
    `diver` says that the diver lockout is known to be set."""
    may = own.permit
    if word & IS_BOAT_LIVE:
        may |= MAY_BOAT_LIVE
    if word & IS_BOAT_READY:
        may |= MAY_BOAT_READY
    if word & IS_IN_SERVICE and state.mode != SHAFT_ISOLATED:
        may |= MAY_SERVING
    if contactor:
        may |= MAY_CONTACTOR_CLOSED
    if state.latches & LATCH_PRECHARGE_FAILED == 0:
        may |= MAY_PRECHARGE_SOUND
    if state.latches & LATCH_LINK_WAS_CHARGED:
        may |= MAY_LINK_WAS_CHARGED
    if word & IS_GEAR_NEUTRAL:
        may |= MAY_GEAR_NEUTRAL
    if word & IS_NO_DIVER:
        may |= MAY_NO_DIVER
    if not gear_engaged(lim, shaft):
        may |= MAY_GEAR_NOT_ENGAGED
    if not diver:
        may |= MAY_DIVER_NOT_SET
    if state.dwells.silent_s >= SILENT_S and state.effort.torque_nm == 0.0:
        may |= MAY_DRIVE_SILENT
    # an order that happens to be zero is no rest
    if word & IS_TORQUE_ZERO and state.effort.torque_nm == 0.0 and state.mode in (SHAFT_REST, SHAFT_ISOLATED):
        may |= MAY_TORQUE_ENDED
    if state.mode == SHAFT_PROPEL and not state.hold.held_s < 0.0:
        may |= MAY_HOLDS
    # a drive that is switched off says nothing; one that still says torque is not off
    heard = shaft.known & TORQUE != 0 and abs(shaft.torque_nm) > lim.disobey_torque_nm
    if out_of_service(shaft, state.latches) and state.effort.torque_nm == 0.0 and not heard:
        may |= MAY_DRIVE_OFF
    if lever.neutral == 1:
        may |= MAY_LEVER_NEUTRAL
    if shaft.known & SPEEDS == SPEEDS:
        if abs(shaft.machine_speed_rpm - shaft.propeller_speed_rpm) <= lim.close_within_rpm:
            may |= MAY_SPEEDS_MATCHED
    if word & IS_SHAFT_STILL and state.dwells.still_s >= lim.lock_still_s:
        may |= MAY_STILL_LONG
    return may
