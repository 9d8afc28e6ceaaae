"""What is measured: every input of the supervisor, by name, unit, range and the reaction when it is bad or stale.

An input is either a *number* (a float with a unit) or a *contact* (a bit). Absence is never a number: each input has a
bit in `known`; a number whose bit is clear holds 0.0 and must not be believed.
"""

from enum import IntEnum, IntFlag
from typing import NamedTuple

from supervisor.signals.own import OwnInputs

BOAT = -1
"""Level of the boat's own inputs and outputs; shafts are levels 0, 1, ..."""


class Reaction(IntEnum):
    """What the supervisor does by itself while an input is bad, stale or has never been seen."""

    WARN = 0
    DERATE = 1
    INHIBIT_CHARGE = 2
    RAMP_DOWN = 3
    TRIP_SHAFT = 4
    TRIP_BOAT = 5


class BoatInput(IntFlag):
    """One bit for each input of the boat: the same position in `known` and, for contacts, in `on`."""

    SOC = 1 << 0
    VOLTAGE = 1 << 1
    CURRENT = 1 << 2
    CELL_MAX = 1 << 3
    CELL_MIN = 1 << 4
    CELL_HOT = 1 << 5
    CELL_COLD = 1 << 6
    CHARGE_LIMIT = 1 << 7
    DISCHARGE_LIMIT = 1 << 8
    HANDSET_MINUTES = 1 << 9
    CHARGE_PERMIT = 1 << 10
    DISCHARGE_PERMIT = 1 << 11
    CONTACTOR_CLOSED = 1 << 12
    MONITOR_FAULT = 1 << 13
    MONITOR_OPENING = 1 << 14
    ENABLE = 1 << 15
    DISABLE = 1 << 16
    RESET = 1 << 17
    ACKNOWLEDGE = 1 << 18
    EMERGENCY_STOP = 1 << 19
    GET_HOME = 1 << 20
    FULL_CHARGE = 1 << 21
    SHORE_CONNECTED = 1 << 22
    DIVER_LOCKOUT = 1 << 23
    HANDSET_HELD = 1 << 24
    HANDSET_OURS = 1 << 25
    RECEIVE_OK = 1 << 26
    DEADLINE_OK = 1 << 27


class ShaftInput(IntFlag):
    """One bit for each input of a shaft: the same position in `known` and, for contacts, in `on`."""

    LEVER = 1 << 0
    HANDSET_THRUST = 1 << 1
    ENGINE_SPEED = 1 << 2
    MACHINE_SPEED = 1 << 3
    PROPELLER_SPEED = 1 << 4
    TORQUE = 1 << 5
    CURRENT = 1 << 6
    LINK_VOLTAGE = 1 << 7
    MOTOR_TEMP = 1 << 8
    INVERTER_TEMP = 1 << 9
    COOLANT_TEMP = 1 << 10
    GEAR_REPORT = 1 << 11
    LEVER_NEUTRAL = 1 << 12
    GEAR_NEUTRAL = 1 << 13
    GEAR_AHEAD = 1 << 14
    ENGINE_RUN = 1 << 15
    CLUTCH_CLOSED = 1 << 16
    CLUTCH_OPEN = 1 << 17
    LOCK_RELEASED = 1 << 18
    LOCK_ENGAGED = 1 << 19
    DRIVE_FAULT = 1 << 20
    OUT_OF_SERVICE = 1 << 21
    CHARGE_UNDER_WAY = 1 << 22
    CHARGE_AT_REST = 1 << 23
    HARVEST = 1 << 24
    STOP_AND_LOCK = 1 << 25


class BoatInputs(NamedTuple):
    """One tick's inputs of the boat. Numbers are 0.0 where their bit in `known` is clear.

    Units are in the names; `current_a` is positive into the bank; the two limits are magnitudes, at least 0.
    `on` holds the contacts (BoatInput bits); a bit may be set only where `known` has it too. `own` are the inputs of
    the owner's own interlocks, with words of their own.
    """

    known: int = 0
    on: int = 0
    soc_pct: float = 0.0
    voltage_v: float = 0.0
    current_a: float = 0.0
    cell_max_v: float = 0.0
    cell_min_v: float = 0.0
    cell_hot_c: float = 0.0
    cell_cold_c: float = 0.0
    charge_limit_a: float = 0.0
    discharge_limit_a: float = 0.0
    handset_minutes: float = 0.0
    own: OwnInputs = OwnInputs()


class ShaftInputs(NamedTuple):
    """One tick's inputs of a shaft. Numbers are 0.0 where their bit in `known` is clear.

    `lever_pct` and `handset_thrust_pct` run from -100 (full astern) to 100; speeds and torque are positive ahead and
    quoted at the propeller shaft, `engine_speed_rpm` at the crankshaft; `current_a` of the drive is positive into the
    bank; `gear_report` is +1 ahead, 0 neutral, -1 astern as the gearbox's own frames say.
    """

    known: int = 0
    on: int = 0
    lever_pct: float = 0.0
    handset_thrust_pct: float = 0.0
    engine_speed_rpm: float = 0.0
    machine_speed_rpm: float = 0.0
    propeller_speed_rpm: float = 0.0
    torque_nm: float = 0.0
    current_a: float = 0.0
    link_v: float = 0.0
    motor_c: float = 0.0
    inverter_c: float = 0.0
    coolant_c: float = 0.0
    gear_report: float = 0.0


class InputSpec(NamedTuple):
    """One row of the register of inputs.

    `name` is the key in the boat's TOML; `field` the field of BoatInputs or ShaftInputs for a number, "" for a contact;
    `low` and `high` bound what is plausible, in `unit`; `guarded` inputs can cause or permit torque and must come in a
    frame with counter and checksum; `default` is the reaction when bad or stale and `floor` the mildest reaction a
    configuration may choose; `if_not_fitted` is the value assumed for a boat that declares the part not fitted, None
    where the part is required.
    """

    name: str
    bit: int
    field: str
    unit: str
    low: float
    high: float
    guarded: bool
    default: Reaction
    floor: Reaction
    if_not_fitted: float | None
    text: str

    @property
    def is_contact(self) -> bool:
        """True for a contact, False for a number."""
        return self.field == ""


_W, _D, _I, _R, _S, _B = (
    Reaction.WARN,
    Reaction.DERATE,
    Reaction.INHIBIT_CHARGE,
    Reaction.RAMP_DOWN,
    Reaction.TRIP_SHAFT,
    Reaction.TRIP_BOAT,
)


def _number(
    name: str, bit: int, unit: str, low: float, high: float, text: str, *, guarded: bool = False,
    default: Reaction = _W, floor: Reaction = _W, absent: float | None = None,
) -> InputSpec:  # fmt: skip
    field = name.rsplit(".", 1)[1] if not name.startswith("handset.") else name.replace(".", "_")
    return InputSpec(name, bit, field, unit, float(low), float(high), guarded, default, floor, absent, text)


def _contact(
    name: str, bit: int, text: str, *, guarded: bool = True,
    default: Reaction = _W, floor: Reaction = _W, absent: float | None = None,
) -> InputSpec:  # fmt: skip
    return InputSpec(name, bit, "", "", 0.0, 1.0, guarded, default, floor, absent, text)


BOAT_INPUTS: tuple[InputSpec, ...] = (
    _number("bank.soc_pct", BoatInput.SOC, "%", 0, 100, "state of charge of the bank", default=_D),
    _number("bank.voltage_v", BoatInput.VOLTAGE, "V", 5, 1000, "voltage of the bank", default=_I, floor=_I),
    _number("bank.current_a", BoatInput.CURRENT, "A", -5000, 5000, "current into the bank"),
    _number("bank.cell_max_v", BoatInput.CELL_MAX, "V", 0.5, 5, "highest cell voltage", default=_I, floor=_I),
    _number("bank.cell_min_v", BoatInput.CELL_MIN, "V", 0.5, 5, "lowest cell voltage", default=_D),
    _number("bank.cell_hot_c", BoatInput.CELL_HOT, "degC", -40, 125, "hottest cell", default=_I, floor=_I),
    _number("bank.cell_cold_c", BoatInput.CELL_COLD, "degC", -40, 125, "coldest cell", default=_I, floor=_I),
    _number("bank.charge_limit_a", BoatInput.CHARGE_LIMIT, "A", 0, 5000, "bank monitor's limit on charging current",
            guarded=True, default=_I, floor=_I),
    _number("bank.discharge_limit_a", BoatInput.DISCHARGE_LIMIT, "A", 0, 5000,
            "bank monitor's limit on discharging current", guarded=True, default=_D, floor=_D),
    _number("handset.minutes", BoatInput.HANDSET_MINUTES, "min", 0, 65000, "running time left in the handset",
            guarded=True, absent=0.0),
    _contact("bank.charge_permit", BoatInput.CHARGE_PERMIT, "bank monitor's charge permit", default=_I, floor=_I),
    _contact("bank.discharge_permit", BoatInput.DISCHARGE_PERMIT, "bank monitor's discharge permit", default=_D,
             floor=_D),
    _contact("bank.contactor_closed", BoatInput.CONTACTOR_CLOSED, "bank contactor closed", default=_B, floor=_B),
    _contact("bank.fault", BoatInput.MONITOR_FAULT, "bank monitor's fault flag", default=_B, floor=_B),
    _contact("bank.opening", BoatInput.MONITOR_OPENING, "bank monitor's warning that it will open the contactor",
             default=_B, floor=_B),
    _contact("helm.enable", BoatInput.ENABLE, "ENABLE push-button"),
    _contact("helm.disable", BoatInput.DISABLE, "OFF push-button", default=_B, floor=_B),
    _contact("helm.reset", BoatInput.RESET, "RESET push-button"),
    _contact("helm.acknowledge", BoatInput.ACKNOWLEDGE, "ACKNOWLEDGE push-button"),
    _contact("helm.emergency_stop", BoatInput.EMERGENCY_STOP, "emergency stop", default=_B, floor=_B),
    _contact("helm.get_home", BoatInput.GET_HOME, "get-home override switch", absent=0.0),
    _contact("helm.full_charge", BoatInput.FULL_CHARGE, "full-charge request", absent=0.0),
    _contact("helm.shore_connected", BoatInput.SHORE_CONNECTED, "shore cable connected", absent=0.0),
    _contact("helm.diver_lockout", BoatInput.DIVER_LOCKOUT, "diver lockout", default=_R, absent=0.0),
    _contact("handset.held", BoatInput.HANDSET_HELD, "handset hold-to-run button", absent=0.0),
    _contact("handset.ours", BoatInput.HANDSET_OURS, "handset is paired with this boat", absent=0.0),
    _contact("runtime.receive_ok", BoatInput.RECEIVE_OK, "receive path of the supervisor alive", default=_B,
             floor=_B, absent=1.0),
    _contact("runtime.deadline_ok", BoatInput.DEADLINE_OK, "supervisor keeps its deadlines", default=_B,
             floor=_B, absent=1.0),
)  # fmt: skip

SHAFT_INPUTS: tuple[InputSpec, ...] = (
    _number("lever.lever_pct", ShaftInput.LEVER, "%", -100, 100, "lever position", guarded=True, default=_R, floor=_R),
    _number("handset.thrust_pct", ShaftInput.HANDSET_THRUST, "%", -100, 100, "thrust asked by the handset",
            guarded=True, absent=0.0),
    _number("engine.engine_speed_rpm", ShaftInput.ENGINE_SPEED, "rpm", 0, 8000, "engine speed"),
    _number("drive.machine_speed_rpm", ShaftInput.MACHINE_SPEED, "rpm", -8000, 8000, "speed of the drive at the shaft",
            guarded=True, default=_S, floor=_S),
    _number("shaft.propeller_speed_rpm", ShaftInput.PROPELLER_SPEED, "rpm", -8000, 8000,
            "speed of the propeller side", guarded=True, absent=None),
    _number("drive.torque_nm", ShaftInput.TORQUE, "N m", -20000, 20000, "torque of the drive at the shaft",
            guarded=True, default=_S, floor=_S),
    _number("drive.current_a", ShaftInput.CURRENT, "A", -5000, 5000, "DC current of the drive into the bank",
            guarded=True, default=_S, floor=_S),
    _number("drive.link_v", ShaftInput.LINK_VOLTAGE, "V", 0, 1000, "DC link voltage of the drive",
            guarded=True, default=_S, floor=_S),
    _number("drive.motor_c", ShaftInput.MOTOR_TEMP, "degC", -40, 250, "motor temperature", default=_D),
    _number("drive.inverter_c", ShaftInput.INVERTER_TEMP, "degC", -40, 250, "inverter temperature", default=_D),
    _number("drive.coolant_c", ShaftInput.COOLANT_TEMP, "degC", -40, 150, "coolant temperature", default=_D,
            absent=20.0),
    _number("gearbox.gear_report", ShaftInput.GEAR_REPORT, "", -1, 1, "gear as the gearbox's frames report it",
            absent=0.0),
    _contact("lever.neutral", ShaftInput.LEVER_NEUTRAL, "lever neutral contact", default=_R, floor=_R),
    _contact("gearbox.neutral", ShaftInput.GEAR_NEUTRAL, "gearbox neutral contact"),
    _contact("gearbox.ahead", ShaftInput.GEAR_AHEAD, "gearbox ahead contact"),
    _contact("engine.running", ShaftInput.ENGINE_RUN, "engine run contact"),
    _contact("clutch.closed", ShaftInput.CLUTCH_CLOSED, "shaft clutch closed contact", absent=1.0),
    _contact("clutch.open", ShaftInput.CLUTCH_OPEN, "shaft clutch open contact", absent=0.0),
    _contact("lock.released", ShaftInput.LOCK_RELEASED, "shaft lock released contact", absent=1.0),
    _contact("lock.engaged", ShaftInput.LOCK_ENGAGED, "shaft lock engaged contact", absent=0.0),
    _contact("drive.fault", ShaftInput.DRIVE_FAULT, "drive's fault flag", default=_S, floor=_S),
    _contact("shaft.out_of_service", ShaftInput.OUT_OF_SERVICE, "shaft taken out of service", absent=0.0),
    _contact("shaft.charge_under_way", ShaftInput.CHARGE_UNDER_WAY, "charge-under-way selector"),
    _contact("shaft.charge_at_rest", ShaftInput.CHARGE_AT_REST, "charge-at-rest selector", absent=0.0),
    _contact("shaft.harvest", ShaftInput.HARVEST, "harvest selector", absent=0.0),
    _contact("shaft.stop_and_lock", ShaftInput.STOP_AND_LOCK, "stop-and-lock selector", absent=0.0),
)  # fmt: skip

BOAT_INPUT_BY_NAME: dict[str, InputSpec] = {spec.name: spec for spec in BOAT_INPUTS}
LATER_INPUTS = ("shaft.stop_and_lock",)
"""Inputs that boat files from before do not know: not fitted, where a file does not name them."""

SHAFT_INPUT_BY_NAME: dict[str, InputSpec] = {spec.name: spec for spec in SHAFT_INPUTS}
