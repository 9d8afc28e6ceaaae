"""What the inputs of one tick say, read from the requirements' own sentences (docs/safety.md).

An independent restatement: nothing here calls `supervisor.rules`, so that a mistake there is not made here as well.
Every fact is "proven": unknown is never neutral, never released, never permitted.
"""

from types import SimpleNamespace
from typing import TYPE_CHECKING, NamedTuple

from supervisor.config.limits import BoatLimits, ShaftLimits
from supervisor.signals import BoatInput, BoatInputs, ShaftInput, ShaftInputs


class Bits(SimpleNamespace):
    """Bits of an enumeration by their names, as plain integers."""

    if TYPE_CHECKING:

        def __getattribute__(self, name: str) -> int: ...


BOAT = Bits(**{str(bit.name): bit.value for bit in BoatInput})
SHAFT = Bits(**{str(bit.name): bit.value for bit in ShaftInput})
"""The bits as plain integers: an enum member costs several times as much each time it is combined."""

CONTRADICTION_BANDS = 3.0
"""A neutral contact made while the lever stands this many neutral bands away is a lost lever (own choice:
a contact and a potentiometer on one spindle)."""

TURNING_RPM = 50.0
"""An engine speed above this contradicts a run contact that says stopped."""

RAD_S_PER_RPM = 0.10471975511965977


def yes(inputs: BoatInputs | ShaftInputs, bit: int) -> bool:
    """A contact that is known and on."""
    return (inputs.known & inputs.on & bit) != 0


def no(inputs: BoatInputs | ShaftInputs, bit: int) -> bool:
    """A contact that is known and off."""
    return (inputs.known & bit) != 0 and not inputs.on & bit


def has(inputs: BoatInputs | ShaftInputs, bits: int) -> bool:
    """All of `bits` are known."""
    return inputs.known & bits == bits


class BoatFacts(NamedTuple):
    """Facts of the boat at one tick."""

    trip_cause: str
    may_charge: bool
    may_discharge: bool
    charge_limit_a: float
    no_diver: bool
    no_shore: bool
    handset_ours: bool
    handset_held: bool
    get_home: bool


class ShaftFacts(NamedTuple):
    """Facts of one shaft at one tick. `rpm` is 0.0 where `rpm_known` is False."""

    out_of_service: bool
    in_service: bool
    lever_known: bool
    lever_neutral: bool
    lever_asks: bool
    lever_lost: bool
    handset_asks: bool
    lock_released: bool
    lock_engaged: bool
    clutch_closed: bool
    clutch_open: bool
    gear_neutral: bool
    gear_ahead: bool
    engine_stopped: bool
    engine_clear: bool
    engine_running: bool
    propeller_still: bool
    shaft_still: bool
    rpm_known: bool
    rpm: float
    lost_input: bool
    fault: bool
    temp_factor: float


def falling(value: float, start: float, end: float) -> float:
    """1 up to `start`, then linearly to 0 at `end`."""
    return min(1.0, max(0.0, (end - value) / (end - start)))


def charge_limit_a(lim: BoatLimits, bank: BoatInputs) -> float:
    """SR-15, SR-16: the limit on bank current (A). Full charge lifts the SOC limit, the cell taper still acts.

    Unknown is zero. A requested full charge may have been completed, so this is an upper bound.
    """
    if not has(bank, BOAT.SOC | BOAT.CELL_MAX | BOAT.CELL_HOT | BOAT.CELL_COLD | BOAT.CHARGE_LIMIT):
        return 0.0
    factors = [
        falling(bank.cell_max_v, lim.cell_taper_start_v, lim.cell_taper_end_v),
        falling(bank.cell_hot_c, lim.hot_start_c, lim.hot_zero_c),
    ]
    if not yes(bank, BOAT.FULL_CHARGE):
        factors.append(falling(bank.soc_pct, lim.taper_start_pct, lim.taper_end_pct))
    limit = min(bank.charge_limit_a, lim.full_charge_a * min(factors))
    if bank.cell_cold_c <= lim.cold_zero_c:
        return 0.0
    if bank.cell_cold_c <= lim.cold_full_c:
        limit = min(limit, lim.cold_limit_a)
    return max(0.0, limit)


def boat_facts(lim: BoatLimits, bank: BoatInputs) -> BoatFacts:
    """The boat's facts at one tick."""
    live_contactor = yes(bank, BOAT.CONTACTOR_CLOSED) and no(bank, BOAT.MONITOR_OPENING)
    cause = ""
    if yes(bank, BOAT.EMERGENCY_STOP):
        cause = "emergency stop is pressed"
    elif yes(bank, BOAT.MONITOR_FAULT):
        cause = "bank monitor reports a fault"
    elif not yes(bank, BOAT.RECEIVE_OK) or not yes(bank, BOAT.DEADLINE_OK):
        cause = "receive path or deadlines failed"
    elif not has(bank, lim.react.trip_boat):
        cause = "a required input is missing"
    return BoatFacts(
        trip_cause=cause,
        may_charge=live_contactor and yes(bank, BOAT.CHARGE_PERMIT) and has(bank, BOAT.CHARGE_LIMIT)
        and bank.charge_limit_a > 0.0,
        may_discharge=live_contactor and yes(bank, BOAT.DISCHARGE_PERMIT) and has(bank, BOAT.DISCHARGE_LIMIT)
        and bank.discharge_limit_a > 0.0,
        charge_limit_a=charge_limit_a(lim, bank),
        no_diver=no(bank, BOAT.DIVER_LOCKOUT),
        no_shore=no(bank, BOAT.SHORE_CONNECTED),
        handset_ours=yes(bank, BOAT.HANDSET_OURS) and has(bank, BOAT.HANDSET_HELD),
        handset_held=yes(bank, BOAT.HANDSET_HELD),
        get_home=yes(bank, BOAT.GET_HOME),
    )  # fmt: skip


def shaft_facts(lim: ShaftLimits, shaft: ShaftInputs) -> ShaftFacts:
    """One shaft's facts at one tick."""
    lever_known = has(shaft, SHAFT.LEVER | SHAFT.LEVER_NEUTRAL)
    contact, size = yes(shaft, SHAFT.LEVER_NEUTRAL), abs(shaft.lever_pct)
    lied = lever_known and contact and size > lim.neutral_band_pct * CONTRADICTION_BANDS
    reports = bool(lim.react.mapped & shaft.known & SHAFT.GEAR_REPORT)
    rpm_known = has(shaft, SHAFT.MACHINE_SPEED)
    propeller_still = has(shaft, SHAFT.PROPELLER_SPEED) and abs(shaft.propeller_speed_rpm) < lim.still_rpm
    factors = [
        falling(value, start, end)
        for bit, value, start, end in (
            (SHAFT.MOTOR_TEMP, shaft.motor_c, lim.motor_start_c, lim.motor_end_c),
            (SHAFT.INVERTER_TEMP, shaft.inverter_c, lim.inverter_start_c, lim.inverter_end_c),
            (SHAFT.COOLANT_TEMP, shaft.coolant_c, lim.coolant_start_c, lim.coolant_end_c),
        )
        if has(shaft, bit)
    ]
    neutral = yes(shaft, SHAFT.GEAR_NEUTRAL) and not yes(shaft, SHAFT.GEAR_AHEAD)
    neutral = neutral and not (reports and shaft.gear_report != 0.0)
    speaks = has(shaft, SHAFT.ENGINE_SPEED) and shaft.engine_speed_rpm > TURNING_RPM
    stopped = no(shaft, SHAFT.ENGINE_RUN) and not speaks
    return ShaftFacts(
        out_of_service=yes(shaft, SHAFT.OUT_OF_SERVICE),
        in_service=no(shaft, SHAFT.OUT_OF_SERVICE),
        lever_known=lever_known,
        lever_neutral=lever_known and contact and size <= lim.neutral_band_pct,
        lever_asks=lever_known and not contact and size > lim.neutral_band_pct,
        lever_lost=not lever_known or lied,
        handset_asks=has(shaft, SHAFT.HANDSET_THRUST) and abs(shaft.handset_thrust_pct) > lim.neutral_band_pct,
        lock_released=yes(shaft, SHAFT.LOCK_RELEASED) and no(shaft, SHAFT.LOCK_ENGAGED),
        lock_engaged=yes(shaft, SHAFT.LOCK_ENGAGED) and no(shaft, SHAFT.LOCK_RELEASED),
        clutch_closed=yes(shaft, SHAFT.CLUTCH_CLOSED) and no(shaft, SHAFT.CLUTCH_OPEN),
        clutch_open=yes(shaft, SHAFT.CLUTCH_OPEN) and no(shaft, SHAFT.CLUTCH_CLOSED),
        gear_neutral=neutral,
        gear_ahead=yes(shaft, SHAFT.GEAR_AHEAD) and no(shaft, SHAFT.GEAR_NEUTRAL)
        and not (reports and shaft.gear_report != 1.0),
        engine_stopped=stopped,
        engine_clear=neutral or (lim.open_when_stopped == 1 and stopped),
        engine_running=yes(shaft, SHAFT.ENGINE_RUN) and has(shaft, SHAFT.ENGINE_SPEED)
        and shaft.engine_speed_rpm >= lim.engine_idle_rpm / 2.0,
        propeller_still=propeller_still,
        shaft_still=propeller_still and rpm_known and abs(shaft.machine_speed_rpm) < lim.still_rpm,
        rpm_known=rpm_known,
        rpm=shaft.machine_speed_rpm if rpm_known else 0.0,
        lost_input=not has(shaft, lim.react.trip_shaft),
        fault=yes(shaft, SHAFT.DRIVE_FAULT),
        temp_factor=min(factors, default=1.0),
    )  # fmt: skip
