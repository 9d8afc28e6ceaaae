"""What the inputs of a shaft mean: lever, link, gear, engine, clutch and heat, each proven or not."""

from typing import NamedTuple

from supervisor.config.limits import ShaftLimits
from supervisor.rules.bank import falling, proven, proven_not
from supervisor.rules.bits import LATCH_IN_SERVICE, LATCH_OUT_OF_SERVICE
from supervisor.signals.inputs import BoatInput, BoatInputs, ShaftInput, ShaftInputs

LEVER = ShaftInput.LEVER.value
LEVER_NEUTRAL = ShaftInput.LEVER_NEUTRAL.value
HANDSET_THRUST = ShaftInput.HANDSET_THRUST.value
ENGINE_SPEED = ShaftInput.ENGINE_SPEED.value
MACHINE_SPEED = ShaftInput.MACHINE_SPEED.value
PROPELLER_SPEED = ShaftInput.PROPELLER_SPEED.value
TORQUE = ShaftInput.TORQUE.value
CURRENT = ShaftInput.CURRENT.value
LINK_VOLTAGE = ShaftInput.LINK_VOLTAGE.value
GEAR_REPORT = ShaftInput.GEAR_REPORT.value
GEAR_NEUTRAL = ShaftInput.GEAR_NEUTRAL.value
GEAR_AHEAD = ShaftInput.GEAR_AHEAD.value
ENGINE_RUN = ShaftInput.ENGINE_RUN.value
CLUTCH_CLOSED = ShaftInput.CLUTCH_CLOSED.value
CLUTCH_OPEN = ShaftInput.CLUTCH_OPEN.value
LOCK_RELEASED = ShaftInput.LOCK_RELEASED.value
LOCK_ENGAGED = ShaftInput.LOCK_ENGAGED.value
DRIVE_FAULT = ShaftInput.DRIVE_FAULT.value
OUT_OF_SERVICE = ShaftInput.OUT_OF_SERVICE.value
CHARGE_UNDER_WAY = ShaftInput.CHARGE_UNDER_WAY.value
CHARGE_AT_REST = ShaftInput.CHARGE_AT_REST.value
HARVEST = ShaftInput.HARVEST.value
STOP_AND_LOCK = ShaftInput.STOP_AND_LOCK.value
MOTOR_TEMP = ShaftInput.MOTOR_TEMP.value
INVERTER_TEMP = ShaftInput.INVERTER_TEMP.value
COOLANT_TEMP = ShaftInput.COOLANT_TEMP.value
BANK_VOLTAGE = BoatInput.VOLTAGE.value
SHORE_CONNECTED = BoatInput.SHORE_CONNECTED.value
DIVER_LOCKOUT = BoatInput.DIVER_LOCKOUT.value

STILL_TURNING_RPM = 50.0
"""An engine said to be stopped by its run contact is contradicted by frames that show more than this (rpm)."""

CONTRADICTION_BANDS = 3.0
"""A lever whose neutral contact is made this many neutral bands away from zero contradicts itself."""

CONTRADICTED_S = 0.2
"""So long its contact may bounce before a lever that contradicts itself is lost (s). It asks for nothing meanwhile."""

LASTING_S = 1e9

ASKING_BAND = 0.5
"""A lever that asks for thrust does so down to this part of the neutral band."""

LINK_HOLD_FACTOR = 2.0
"""A charged link may stray by this many times the precharge tolerance before it counts as off."""


class Lever(NamedTuple):
    """A lever as the rules see it: `neutral` and `asks` are both 0 while it is unknown or contradicts itself.

    `contradicts` 1: its contact says neutral, its position does not. Then it asks for nothing, at once; when that
    lasts it is lost."""

    neutral: int
    asks: int
    lost: int
    contradicts: int = 0


def read_lever(
    lim: ShaftLimits, shaft: ShaftInputs, was_asking: bool = False, contradicts_s: float = LASTING_S
) -> Lever:
    """The neutral contact is the authority for neutral; contact and position must agree to ask for thrust.

    A lever that asks for thrust (`was_asking`) does so until it is back within half the neutral band, or its contact
    makes: one that lies at the edge of the band must not begin and end thrust ten times a second. `contradicts_s` is
    how long it has contradicted itself so far (s; below 0: not; by default for long)."""
    both = LEVER | LEVER_NEUTRAL
    if shaft.known & both != both:
        return Lever(0, 0, 1, 0)
    size = abs(shaft.lever_pct)
    if shaft.on & LEVER_NEUTRAL:
        if size > lim.neutral_band_pct * CONTRADICTION_BANDS:
            return Lever(0, 0, 0 if contradicts_s < CONTRADICTED_S else 1, 1)
        return Lever(1 if size <= lim.neutral_band_pct else 0, 0, 0, 0)
    band_pct = lim.neutral_band_pct
    if was_asking:
        band_pct = ASKING_BAND * band_pct
    return Lever(0, 1 if size > band_pct else 0, 0, 0)


def link_charged(lim: ShaftLimits, boat: BoatInputs, shaft: ShaftInputs, was_charged: bool) -> bool:
    """DC link within tolerance of the bank voltage; a link that was charged may stray a little further."""
    if boat.known & BANK_VOLTAGE == 0 or shaft.known & LINK_VOLTAGE == 0:
        return False
    tolerance = lim.link_tolerance
    if was_charged:
        tolerance = tolerance * LINK_HOLD_FACTOR
    return abs(shaft.link_v - boat.voltage_v) <= tolerance * boat.voltage_v


def gear_neutral(lim: ShaftLimits, shaft: ShaftInputs) -> bool:
    """Neutral is proven by its contact alone; the ahead contact or the gearbox's frames only contradict it."""
    if not proven(shaft.known, shaft.on, GEAR_NEUTRAL) or shaft.on & GEAR_AHEAD:
        return False
    return not (reported(lim, shaft) and shaft.gear_report != 0.0)


def gear_ahead(lim: ShaftLimits, shaft: ShaftInputs) -> bool:
    """Ahead is proven by its contact, with the neutral contact open and no frame to the contrary."""
    if not proven(shaft.known, shaft.on, GEAR_AHEAD) or not proven_not(shaft.known, shaft.on, GEAR_NEUTRAL):
        return False
    return not (reported(lim, shaft) and shaft.gear_report != 1.0)


def gear_engaged(lim: ShaftLimits, shaft: ShaftInputs) -> bool:
    """Something known says that the gearbox is in gear: a contact, or its frames."""
    if proven(shaft.known, shaft.on, GEAR_AHEAD) or proven_not(shaft.known, shaft.on, GEAR_NEUTRAL):
        return True
    return reported(lim, shaft) and shaft.gear_report != 0.0


def reported(lim: ShaftLimits, shaft: ShaftInputs) -> bool:
    """The gearbox sends frames on this boat, and they are fresh."""
    return lim.react.mapped & shaft.known & GEAR_REPORT != 0


def engine_stopped(shaft: ShaftInputs) -> bool:
    """Stopped by its run contact; frames only contradict it, for gateways fall silent with the ignition off."""
    if not proven_not(shaft.known, shaft.on, ENGINE_RUN):
        return False
    return not (shaft.known & ENGINE_SPEED != 0 and shaft.engine_speed_rpm > STILL_TURNING_RPM)


def engine_clear(lim: ShaftLimits, shaft: ShaftInputs) -> bool:
    """The engine is not coupled to the shaft: its gearbox is proven in neutral, or the engine proven stopped and the
    gearbox declared open then. A stopped engine in gear would be turned by the drive, backwards too."""
    return gear_neutral(lim, shaft) or (lim.open_when_stopped == 1 and engine_stopped(shaft))


def engine_running(lim: ShaftLimits, shaft: ShaftInputs) -> bool:
    """Running by its run contact and by a fresh speed of at least half idle."""
    if not proven(shaft.known, shaft.on, ENGINE_RUN) or shaft.known & ENGINE_SPEED == 0:
        return False
    return shaft.engine_speed_rpm >= 0.5 * lim.engine_idle_rpm


def propeller_still(lim: ShaftLimits, shaft: ShaftInputs) -> bool:
    """Propeller side proven still."""
    return shaft.known & PROPELLER_SPEED != 0 and abs(shaft.propeller_speed_rpm) < lim.still_rpm


def shaft_still(lim: ShaftLimits, shaft: ShaftInputs) -> bool:
    """Both sides of the clutch proven still."""
    if shaft.known & MACHINE_SPEED == 0 or not abs(shaft.machine_speed_rpm) < lim.still_rpm:
        return False
    return propeller_still(lim, shaft)


def out_of_service(shaft: ShaftInputs, latches: int) -> bool:
    """Deliberately out of service: as the contact says, or said last while it is unknown. A silent lever node is no
    order to take a shaft out of service."""
    if shaft.known & OUT_OF_SERVICE:
        return shaft.on & OUT_OF_SERVICE != 0
    return latches & LATCH_OUT_OF_SERVICE != 0


def in_service(shaft: ShaftInputs, latches: int) -> bool:
    """Proven in service now, or when last heard; never before it was heard once."""
    if shaft.known & OUT_OF_SERVICE:
        return shaft.on & OUT_OF_SERVICE == 0
    return latches & LATCH_IN_SERVICE != 0


def gear_contradicts(lim: ShaftLimits, shaft: ShaftInputs) -> bool:
    """The gearbox's frames contradict its contacts."""
    if not reported(lim, shaft):
        return False
    if proven(shaft.known, shaft.on, GEAR_NEUTRAL) and shaft.gear_report != 0.0:
        return True
    return proven(shaft.known, shaft.on, GEAR_AHEAD) and shaft.gear_report != 1.0


def engine_contradicts(shaft: ShaftInputs) -> bool:
    """The engine's frames show it turning while its run contact says stopped."""
    stopped = proven_not(shaft.known, shaft.on, ENGINE_RUN)
    return stopped and shaft.known & ENGINE_SPEED != 0 and shaft.engine_speed_rpm > STILL_TURNING_RPM


def disobeys(lim: ShaftLimits, shaft: ShaftInputs, ordered_nm: float) -> bool:
    """Torque or current beyond the tolerance with zero ordered, or torque of the wrong sign; known to be so."""
    if ordered_nm != 0.0:
        if shaft.known & TORQUE == 0 or not abs(shaft.torque_nm) > lim.disobey_torque_nm:
            return False
        return (shaft.torque_nm > 0.0) != (ordered_nm > 0.0)
    if shaft.known & TORQUE and abs(shaft.torque_nm) > lim.disobey_torque_nm:
        return True
    if shaft.known & CURRENT == 0:
        return False
    # a drive at speed draws its declared no-load loss from the bank, with no torque at all
    return shaft.current_a > lim.disobey_current_a or shaft.current_a < -lim.disobey_current_a - lim.no_load_a


def temperature_factor(lim: ShaftLimits, shaft: ShaftInputs, unknown_factor: float) -> float:
    """Derate by motor, inverter and coolant temperature (0 to 1); an unknown one with the reaction "derate" gives
    `unknown_factor` at most."""
    factor = 1.0
    if shaft.known & MOTOR_TEMP:
        factor = falling(shaft.motor_c, lim.motor_start_c, lim.motor_end_c)
    if shaft.known & INVERTER_TEMP:
        part = falling(shaft.inverter_c, lim.inverter_start_c, lim.inverter_end_c)
        if part < factor:
            factor = part
    if shaft.known & COOLANT_TEMP:
        part = falling(shaft.coolant_c, lim.coolant_start_c, lim.coolant_end_c)
        if part < factor:
            factor = part
    if shaft.known & lim.react.derate != lim.react.derate and unknown_factor < factor:
        factor = unknown_factor
    return factor
