"""Short voyages of the real controller, recorded tick by tick, and the hands that forge a record."""

from collections.abc import Callable
from functools import cache
from typing import Any

from sim.requirements import Record
from supervisor.config import load_config
from supervisor.controller import Controller
from supervisor.modes import BoatMode, ShaftMode
from supervisor.signals import BOAT_INPUTS, SHAFT_INPUTS, BoatInput, BoatInputs, ShaftInput, ShaftInputs

B, S = BoatInput, ShaftInput
ALL_BOAT = sum(int(spec.bit) for spec in BOAT_INPUTS)
ALL_SHAFT = sum(int(spec.bit) for spec in SHAFT_INPUTS)
AHEAD: dict[str, Any] = {"lever_pct": 60.0, "machine_speed_rpm": 200.0, "propeller_speed_rpm": 200.0}
ENGINE = {"engine_speed_rpm": 1000.0, "machine_speed_rpm": 400.0, "propeller_speed_rpm": 400.0, "gear_report": 1.0}
ENGINE_ON = int(S.ENGINE_RUN | S.GEAR_AHEAD)


def bank(on: int = 0, off: int = 0, unknown: int = 0, **numbers: float) -> BoatInputs:
    """Bank and helm, all in order, with changes."""
    sound = B.CHARGE_PERMIT | B.DISCHARGE_PERMIT | B.CONTACTOR_CLOSED | B.RECEIVE_OK | B.DEADLINE_OK | B.HANDSET_OURS
    values = {
        "soc_pct": 60.0, "voltage_v": 52.0, "current_a": 0.0, "cell_max_v": 3.3, "cell_min_v": 3.25, "cell_hot_c": 20.0,
        "cell_cold_c": 18.0, "charge_limit_a": 240.0, "discharge_limit_a": 600.0, "handset_minutes": 100.0,
    } | numbers  # fmt: skip
    known = ALL_BOAT & ~int(unknown)
    return BoatInputs(known, (int(sound) | int(on)) & ~int(off) & known, **values)


def shaft(on: int = 0, off: int = 0, unknown: int = 0, **numbers: float) -> ShaftInputs:
    """A shaft at rest, all in order, with changes. A lever beyond 5 % opens its neutral contact."""
    sound = int(S.GEAR_NEUTRAL | S.CLUTCH_CLOSED | S.LOCK_RELEASED)
    if abs(numbers.get("lever_pct", 0.0)) <= 5.0:
        sound |= int(S.LEVER_NEUTRAL)
    values = {"link_v": 52.0, "motor_c": 30.0, "inverter_c": 30.0, "coolant_c": 20.0} | numbers
    known = ALL_SHAFT & ~int(unknown)
    return ShaftInputs(known, (sound | int(on)) & ~int(off) & known, **values)


class Voyage:
    """A live controller and the records of what it did."""

    def __init__(self, settings: dict[str, Any] | None = None, dt_s: float = 0.02) -> None:
        self.config = load_config("marsh_tern", settings)
        self.controller = Controller(self.config)
        self.records: list[Record] = []
        self.dt_s = dt_s
        self.time_s = 0.0

    def go(self, ticks: int, bank_in: BoatInputs | None = None, *sides: ShaftInputs) -> None:
        """So many ticks with these inputs: one shaft for both, or port and starboard."""
        boat_in = bank() if bank_in is None else bank_in
        shafts = (sides or (shaft(),)) * (1 if len(sides) == 2 else 2)
        for _ in range(ticks):
            done = self.controller.tick(self.time_s, boat_in, shafts)
            self.records.append(
                Record(self.time_s, done.boat_mode, done.shaft_modes, boat_in, shafts, done.boat_command,
                       done.shaft_commands, done.boat_word, done.shaft_words)
            )  # fmt: skip
            self.time_s += self.dt_s

    def ready(self, *sides: ShaftInputs) -> None:
        """From cold to READY."""
        self.go(60, bank(), *sides)
        self.go(1, bank(on=B.ENABLE), *sides)
        self.go(10, bank(), *sides)
        assert self.controller.boat_mode == BoatMode.READY

    def charge(self, ticks: int, bank_in: BoatInputs | None = None) -> None:
        """Charging under way, selected after it was seen off."""
        self.go(3, bank_in, shaft(on=ENGINE_ON, off=S.GEAR_NEUTRAL, **ENGINE))
        self.go(ticks, bank_in, shaft(on=ENGINE_ON | S.CHARGE_UNDER_WAY, off=S.GEAR_NEUTRAL, **ENGINE))

    def modes(self) -> tuple[ShaftMode, ...]:
        """Present modes of the shafts."""
        return self.controller.shaft_modes


def _thrust() -> Voyage:
    v = Voyage()
    v.ready()
    v.go(100, None, shaft(**AHEAD))
    assert v.modes()[0] == ShaftMode.PROPEL
    v.go(3, None, shaft(machine_speed_rpm=200.0, propeller_speed_rpm=200.0))
    v.go(80, None, shaft(lever_pct=-60.0, machine_speed_rpm=20.0, propeller_speed_rpm=20.0))
    v.go(60, None, shaft(lever_pct=-60.0, machine_speed_rpm=-100.0, propeller_speed_rpm=-100.0))
    v.go(40)
    return v


def _trips() -> Voyage:
    v = Voyage()
    v.ready()
    v.go(50, None, shaft(**AHEAD))
    v.go(5, bank(on=B.EMERGENCY_STOP), shaft(**AHEAD))
    v.go(5, bank(), shaft(**AHEAD))
    v.go(2, bank(on=B.RESET), shaft(**AHEAD))
    v.go(5, bank(), shaft(**AHEAD))
    v.go(40)
    v.go(2, bank(on=B.ENABLE))
    v.go(10)
    v.go(30, None, shaft(**AHEAD))
    assert v.modes()[0] == ShaftMode.PROPEL
    v.go(5, bank(off=B.CONTACTOR_CLOSED), shaft(**AHEAD))
    return v


def _isolated() -> Voyage:
    v = Voyage()
    v.ready()
    v.go(50, None, shaft(**AHEAD))
    v.go(3, None, shaft(on=S.DRIVE_FAULT, **AHEAD), shaft(**AHEAD))
    assert v.modes() == (ShaftMode.ISOLATED, ShaftMode.PROPEL)
    v.go(10, None, shaft(), shaft(**AHEAD))
    v.go(2, bank(on=B.RESET), shaft(), shaft(**AHEAD))
    v.go(20, None, shaft(), shaft(**AHEAD))
    v.go(30, None, shaft())
    v.go(12, None, shaft(torque_nm=40.0), shaft())
    assert v.modes()[0] == ShaftMode.ISOLATED
    v.go(20)
    v.go(2, bank(on=B.RESET))
    v.go(30)
    v.go(30, None, shaft(**AHEAD))
    v.go(5, None, shaft(unknown=S.TORQUE, **AHEAD), shaft(**AHEAD))
    assert v.modes() == (ShaftMode.ISOLATED, ShaftMode.PROPEL)
    return v


def _charging() -> Voyage:
    v = Voyage()
    v.ready()
    v.charge(500)
    assert v.modes()[0] == ShaftMode.GENERATE
    v.go(30, bank(off=B.CHARGE_PERMIT), shaft(on=ENGINE_ON | S.CHARGE_UNDER_WAY, off=S.GEAR_NEUTRAL, **ENGINE))
    return v


def _at_rest() -> Voyage:
    v = Voyage()
    open_ = {"on": int(S.CLUTCH_OPEN) | ENGINE_ON, "off": int(S.CLUTCH_CLOSED | S.GEAR_NEUTRAL)}
    speeds = ENGINE | {"propeller_speed_rpm": 0.0}
    v.ready(shaft(**open_, **speeds))
    v.go(3, None, shaft(**open_, **speeds))
    v.go(200, None, shaft(on=open_["on"] | S.CHARGE_AT_REST, off=open_["off"], **speeds))
    assert v.modes()[0] == ShaftMode.GENERATE
    v.go(5, None, shaft(on=open_["on"] | S.CHARGE_AT_REST, off=open_["off"], **(speeds | {"propeller_speed_rpm": 9.0})))
    return v


def _harvest() -> Voyage:
    v = Voyage()
    v.ready()
    sailing = {"machine_speed_rpm": 300.0, "propeller_speed_rpm": 300.0}
    v.go(3, None, shaft(**sailing))
    v.go(300, None, shaft(on=S.HARVEST, **sailing))
    assert v.modes()[0] == ShaftMode.HARVEST
    v.go(5, bank(on=B.SHORE_CONNECTED), shaft(on=S.HARVEST, **sailing))
    return v


def _machinery() -> Voyage:
    """Each permissive of thrust lost under way, then given back with the lever still ahead: nothing may move."""
    v = Voyage()
    v.ready()
    for bad_bank, bad_shaft in (
        (bank(on=B.DIVER_LOCKOUT), shaft(**AHEAD)),
        (bank(), shaft(off=S.LOCK_RELEASED, **AHEAD)), (bank(), shaft(off=S.CLUTCH_CLOSED, **AHEAD)),
        (bank(), shaft(on=ENGINE_ON, off=S.GEAR_NEUTRAL, **(AHEAD | {"engine_speed_rpm": 900.0, "gear_report": 1.0}))),
        (bank(off=B.DISCHARGE_PERMIT), shaft(**AHEAD)), (bank(), shaft(**(AHEAD | {"motor_c": 150.0}))),
    ):  # fmt: skip
        v.go(40, None, shaft(**AHEAD))
        assert v.modes()[0] == ShaftMode.PROPEL
        v.go(40, bad_bank, bad_shaft)
        v.go(40, None, shaft(**AHEAD))
        assert v.modes()[0] == ShaftMode.REST
        v.go(40)
    v.go(130)
    return v


def _shore() -> Voyage:
    """Thrust asked in vain with the cable in; then under way with it in again, harmless; then for want of a start."""
    v = Voyage({"limits.shore_still_s": 1.0})
    v.ready()
    v.go(40, bank(on=B.SHORE_CONNECTED), shaft(**AHEAD))
    assert v.modes()[0] == ShaftMode.REST
    v.go(40)
    v.go(40, None, shaft(**AHEAD))
    v.go(40, bank(on=B.SHORE_CONNECTED), shaft(**AHEAD))
    assert v.modes()[0] == ShaftMode.PROPEL
    v.go(80, bank(on=B.SHORE_CONNECTED))
    v.go(40, bank(on=B.SHORE_CONNECTED), shaft(**AHEAD))
    assert v.modes()[0] == ShaftMode.REST
    return v


def _bounces() -> Voyage:
    """A clutch contact away for a moment, twice; the third time; too long; with the lever moved out."""
    v = Voyage()
    v.ready()
    away = shaft(off=S.CLUTCH_CLOSED, **AHEAD)
    for _ in range(2):
        v.go(40, None, shaft(**AHEAD))
        v.go(5, None, away)
        v.go(1, None, shaft(**AHEAD))
        assert v.modes()[0] == ShaftMode.PROPEL
    for ticks, back in ((5, shaft(**AHEAD)), (20, shaft(**AHEAD)), (5, shaft(**(AHEAD | {"lever_pct": 90.0})))):
        v.go(40, None, shaft(**AHEAD))
        assert v.modes()[0] == ShaftMode.PROPEL
        v.go(ticks, None, away)
        v.go(20, None, back)
        assert v.modes()[0] == ShaftMode.REST
        v.go(520)
    return v


def _sources() -> Voyage:
    """Other sources feed 90 A where the monitor takes 20 A; they obey; a reset, and they do it again."""
    v = Voyage({"limits.source_stop_s": 3.0, "limits.source_return_s": 1.0})
    weak = bank(charge_limit_a=20.0, current_a=90.0)
    v.go(60, bank(charge_limit_a=20.0))
    v.go(240, weak)
    assert v.records[-1].boat_command.stop_sources == 1  # type: ignore[union-attr]
    v.go(180, bank(charge_limit_a=20.0))
    v.go(1, bank(on=B.RESET, charge_limit_a=20.0))
    v.go(60, bank(charge_limit_a=20.0))
    assert v.records[-1].boat_command.stop_sources == 0  # type: ignore[union-attr]
    v.go(240, weak)
    return v


def _load() -> Voyage:
    """A hotel load takes all that the monitor permits, under thrust."""
    v = Voyage()
    v.ready()
    v.go(60, bank(discharge_limit_a=60.0), shaft(**AHEAD))
    v.go(400, bank(discharge_limit_a=60.0, current_a=-80.0), shaft(**AHEAD))
    assert v.modes()[0] == ShaftMode.PROPEL
    v.go(200, bank(discharge_limit_a=60.0), shaft(**AHEAD))
    return v


def _loose() -> Voyage:
    """The drive runs away from its shaft under thrust."""
    v = Voyage()
    v.ready()
    v.go(60, None, shaft(**AHEAD))
    v.go(40, None, shaft(**(AHEAD | {"machine_speed_rpm": 700.0})))
    assert v.modes()[0] == ShaftMode.ISOLATED
    return v


def _jam() -> Voyage:
    """Full torque on a shaft that does not turn."""
    v = Voyage()
    v.ready()
    v.go(150, None, shaft(lever_pct=100.0))
    assert v.modes()[0] == ShaftMode.ISOLATED
    return v


def _held() -> Voyage:
    """Under sail: braked to still, held, not locked in its time, let go."""
    v = Voyage({"limits.hold_s": 3.0})
    v.ready()
    turning = {"machine_speed_rpm": 300.0, "propeller_speed_rpm": 300.0}
    still = {"machine_speed_rpm": 3.0, "propeller_speed_rpm": 3.0}
    v.go(20, None, shaft(**turning))
    v.go(20, None, shaft(on=S.STOP_AND_LOCK, **turning))
    assert v.modes()[0] == ShaftMode.PROPEL
    v.go(160, None, shaft(on=S.STOP_AND_LOCK, **still))
    assert v.modes()[0] != ShaftMode.PROPEL
    return v


def _handset() -> Voyage:
    v = Voyage()
    v.ready()
    held = bank(on=B.HANDSET_HELD)
    v.go(5, held)
    v.go(60, held, shaft(handset_thrust_pct=100.0))
    assert v.records[-1].boat_command is not None
    assert v.records[-1].boat_command.handset_in_control == 1
    assert v.modes()[0] == ShaftMode.PROPEL
    v.go(20, bank(on=B.HANDSET_HELD, unknown=B.HANDSET_HELD), shaft(unknown=S.HANDSET_THRUST))
    return v


def _lever_lost() -> Voyage:
    v = Voyage()
    v.ready()
    v.go(60, None, shaft(**AHEAD))
    v.go(200, None, shaft(unknown=S.LEVER, **AHEAD))
    return v


def _idle() -> Voyage:
    v = Voyage({"limits.idle_reminder_s": 2.0, "limits.idle_off_s": 1.0})
    v.ready()
    v.go(250)
    assert v.controller.boat_mode == BoatMode.STANDBY
    return v


def _waits() -> Voyage:
    v = Voyage({"limits.neutral_wait_s": 2.0})
    v.go(60)
    v.go(1, bank(on=B.ENABLE), shaft(**AHEAD))
    v.go(150, None, shaft(**AHEAD))
    assert v.controller.boat_mode == BoatMode.STANDBY
    return v


def _off() -> Voyage:
    v = Voyage()
    v.ready()
    v.go(50, None, shaft(**AHEAD))
    v.go(2, bank(on=B.DISABLE), shaft(**AHEAD))
    v.go(320, None, shaft(**AHEAD))
    assert v.controller.boat_mode == BoatMode.STANDBY
    return v


def _low_bank() -> Voyage:
    v = Voyage({"limits.derate_rate_pct_per_s": 50.0, "limits.derate_dip_s": 0.5})
    v.ready()
    fast = AHEAD | {"lever_pct": 100.0, "machine_speed_rpm": 900.0, "propeller_speed_rpm": 900.0}
    for tenth in range(300, 170, -1):
        v.go(3, bank(soc_pct=tenth / 10.0, current_a=-150.0), shaft(**fast))
    v.go(60, bank(soc_pct=17.9), shaft(**fast))
    assert v.modes()[0] == ShaftMode.REST
    v.go(40, bank(soc_pct=20.0))
    v.go(20, bank(soc_pct=20.0), shaft(**fast))
    v.go(40, bank(soc_pct=21.5))
    v.go(40, bank(soc_pct=21.5), shaft(**fast))
    assert v.modes()[0] == ShaftMode.PROPEL
    return v


def _full_bank() -> Voyage:
    v = Voyage()
    v.ready()
    v.charge(200, bank(soc_pct=90.0))
    on = ENGINE_ON | S.CHARGE_UNDER_WAY
    v.go(50, bank(soc_pct=94.0), shaft(on=on, off=S.GEAR_NEUTRAL, **ENGINE))
    v.go(50, bank(soc_pct=92.0), shaft(on=on, off=S.GEAR_NEUTRAL, **ENGINE))
    assert v.modes()[0] == ShaftMode.REST
    v.go(50, bank(soc_pct=90.5), shaft(on=on, off=S.GEAR_NEUTRAL, **ENGINE))
    assert v.modes()[0] == ShaftMode.GENERATE
    v.go(30, bank(unknown=B.SOC), shaft(on=on, off=S.GEAR_NEUTRAL, **ENGINE))
    v.go(40, bank(cell_cold_c=-2.0), shaft(on=on, off=S.GEAR_NEUTRAL, **ENGINE))
    return v


def _astern() -> Voyage:
    """Full ahead, then full astern on shafts that turn on: on a sound bank, a full one, a small limit, a cold one."""
    v = Voyage()
    v.ready()
    turning = {"machine_speed_rpm": 400.0, "propeller_speed_rpm": 400.0}
    astern = shaft(lever_pct=-100.0, **turning)
    v.go(60, None, shaft(lever_pct=100.0, **turning))
    v.go(3, None, shaft(**turning))
    v.go(120, None, astern)
    assert v.modes()[0] == ShaftMode.PROPEL
    v.go(50, bank(soc_pct=97.0), astern)
    v.go(20, bank(charge_limit_a=20.0), astern)
    v.go(620, bank(cell_cold_c=-2.0), astern)
    return v


VOYAGES: dict[str, Callable[[], Voyage]] = {
    "thrust": _thrust, "trips": _trips, "isolated": _isolated, "charging": _charging, "at rest": _at_rest,
    "harvest": _harvest, "machinery": _machinery, "handset": _handset, "lever lost": _lever_lost, "idle": _idle,
    "waits": _waits, "off": _off, "low bank": _low_bank, "full bank": _full_bank, "astern": _astern,
    "shore": _shore, "bounces": _bounces, "sources": _sources, "load": _load, "loose": _loose, "jam": _jam,
    "held": _held,
}  # fmt: skip


@cache
def voyage(name: str) -> Voyage:
    """A voyage, made once."""
    return VOYAGES[name]()


# --- forging


def forged(
    records: list[Record], when: Callable[[Record], bool], change: Callable[[Record], Record], most: int = 1
) -> list[Record]:
    """The records with the first `most` that answer to `when` changed. AssertionError if none does."""
    result = []
    left = most
    for record in records:
        if left and when(record):
            result.append(change(record))
            left -= 1
        else:
            result.append(record)
    assert left < most, "nothing was forged"
    return result


def with_torque(torque_nm: float, side: int = 0) -> Callable[[Record], Record]:
    """Forge one shaft's order."""

    def change(record: Record) -> Record:
        commands = list(record.shaft_commands)
        assert commands[side] is not None
        commands[side] = commands[side]._replace(torque_nm=torque_nm)
        return record._replace(shaft_commands=tuple(commands))

    return change


def with_command(side: int = 0, **fields: Any) -> Callable[[Record], Record]:
    """Forge fields of one shaft's command."""

    def change(record: Record) -> Record:
        commands = list(record.shaft_commands)
        commands[side] = commands[side]._replace(**fields)  # type: ignore[union-attr]
        return record._replace(shaft_commands=tuple(commands))

    return change


def with_mode(mode: ShaftMode, torque_nm: float | None = None, side: int = 0) -> Callable[[Record], Record]:
    """Forge one shaft's mode, and its order."""

    def change(record: Record) -> Record:
        modes = list(record.shaft_modes)
        modes[side] = mode
        record = record._replace(shaft_modes=tuple(modes))
        return record if torque_nm is None else with_torque(torque_nm, side)(record)

    return change


def with_boat_mode(mode: BoatMode) -> Callable[[Record], Record]:
    """Forge the boat's mode."""
    return lambda record: record._replace(boat_mode=mode)


def with_inputs(side: int = 0, **numbers: float) -> Callable[[Record], Record]:
    """Forge numbers of one shaft's inputs."""

    def change(record: Record) -> Record:
        inputs = list(record.shaft_in)
        inputs[side] = inputs[side]._replace(**numbers)  # type: ignore[union-attr]
        return record._replace(shaft_in=tuple(inputs))

    return change


def with_bank(on: int = 0, off: int = 0, **numbers: float) -> Callable[[Record], Record]:
    """Forge the bank's inputs."""

    def change(record: Record) -> Record:
        was = record.boat_in
        assert was is not None
        return record._replace(boat_in=was._replace(on=(was.on | int(on)) & ~int(off), **numbers))

    return change


def with_boat_command(**fields: Any) -> Callable[[Record], Record]:
    """Forge the boat's command."""

    def change(record: Record) -> Record:
        assert record.boat_command is not None
        return record._replace(boat_command=record.boat_command._replace(**fields))

    return change
