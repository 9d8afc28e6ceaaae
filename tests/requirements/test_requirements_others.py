"""The requirements that no evaluator judges on signals: shown on the controller, the bus, the drive itself."""

from collections.abc import Callable

import can
import pytest
from requirement_voyages import AHEAD, ENGINE, ENGINE_ON, B, S, Voyage, bank, shaft

from sim.nodes import build_nodes, new_panel
from supervisor.bus import BoatMap, InputTable, OutputTable, compile_boat
from supervisor.bus.e2e import protect
from supervisor.config import load_config
from supervisor.controller import Controller
from supervisor.modes import BoatMode, ShaftMode
from supervisor.signals import BoatCommand, BoatInput, ShaftCommand


@pytest.fixture(scope="module")
def boat_map() -> BoatMap:
    return compile_boat(load_config("marsh_tern"), "marsh_tern")


def currents(voyage: Voyage) -> list[float]:
    return [record.shaft_commands[0].current_a for record in voyage.records]  # type: ignore[union-attr]


@pytest.mark.sr("SR-22")
def test_a_sagging_engine_is_relieved() -> None:
    """60 rpm lost: no further rise; twice that: back off at 40 A/s (typed from docs/boat-file.md)."""
    v = Voyage()
    v.ready()
    v.charge(400)
    on = ENGINE_ON | S.CHARGE_UNDER_WAY
    held = currents(v)[-1]
    assert held > 10.0
    v.go(50, None, shaft(on=on, off=S.GEAR_NEUTRAL, **(ENGINE | {"engine_speed_rpm": 1000.0 - 61.0})))
    assert max(currents(v)[-50:]) <= held
    assert v.modes()[0] == ShaftMode.GENERATE
    v.go(10, None, shaft(on=on, off=S.GEAR_NEUTRAL, **(ENGINE | {"engine_speed_rpm": 1000.0 - 121.0})))
    assert currents(v)[-1] <= held - 40.0 * 0.02 * 9
    v.go(10, None, shaft(on=on, off=S.GEAR_NEUTRAL, **ENGINE))
    assert currents(v)[-1] > currents(v)[-10]  # and goes on when it has recovered


@pytest.mark.sr("SR-36")
def test_restart_under_way_is_standby_with_nothing_ordered() -> None:
    """The supervisor dies under thrust with a lever ahead and enable held down; a new one takes over."""
    v = Voyage()
    v.ready()
    v.go(60, None, shaft(**AHEAD))
    assert v.modes()[0] == ShaftMode.PROPEL
    v.controller = Controller(v.config)
    v.go(150, bank(on=B.ENABLE | B.RESET | B.HANDSET_HELD), shaft(on=S.CHARGE_UNDER_WAY | S.HARVEST, **AHEAD))
    for record in v.records[-150:]:
        assert record.boat_mode == BoatMode.STANDBY
        for command in record.shaft_commands:
            assert command is not None
            assert command.torque_nm == 0.0
            assert not command.permits & 1


@pytest.mark.sr("SR-46")
@pytest.mark.parametrize("selector", [S.CHARGE_UNDER_WAY, S.HARVEST], ids=["charge", "harvest"])
def test_a_selector_left_on_starts_nothing(selector: S) -> None:
    v = Voyage()
    sailing = {"machine_speed_rpm": 300.0, "propeller_speed_rpm": 300.0}
    inputs = ENGINE if selector == S.CHARGE_UNDER_WAY else sailing
    on = (ENGINE_ON if selector == S.CHARGE_UNDER_WAY else 0) | int(selector)
    off = S.GEAR_NEUTRAL if selector == S.CHARGE_UNDER_WAY else 0
    v.ready(shaft(on=on, off=off, **inputs))
    v.go(200, None, shaft(on=on, off=off, **inputs))
    assert v.modes()[0] == ShaftMode.REST
    v.go(2, None, shaft(on=on & ~int(selector), off=off, **inputs))
    v.go(50, None, shaft(on=on, off=off, **inputs))
    assert v.modes()[0] in (ShaftMode.GENERATE, ShaftMode.HARVEST)


def helm_frame(boat_map: BoatMap, counter: int, *, stop_loop: int = 1) -> can.Message:
    codec = boat_map.messages["private"]["HELM_CONTACTS"]
    data = codec.encode({"Enable": 0, "Disable": 0, "Reset": 0, "Acknowledge": 0, "StopLoop": stop_loop, "GetHome": 0,
                         "FullCharge": 0, "ShoreConnected": 0, "DiverLockout": 0})  # fmt: skip
    assert codec.data_id is not None
    protect(data, codec.data_id, counter)
    return can.Message(arbitration_id=codec.arbitration_id, is_extended_id=False, data=bytes(data))


@pytest.mark.sr("SR-47")
@pytest.mark.parametrize("harm", ["corrupt", "short", "repeated", "jump", "stale"])
def test_a_damaged_frame_is_counted_and_not_used(boat_map: BoatMap, harm: str) -> None:
    """Good frames say that the stop loop is whole; then only damaged ones that say otherwise: none is believed, the
    input ages into *unknown*, and the boat map trips on that."""
    table = InputTable(boat_map)
    for number in range(5):
        table.take("private", helm_frame(boat_map, number), number * 0.04)
    boat, _ = table.snapshot(0.16)
    assert boat.known & BoatInput.EMERGENCY_STOP
    assert not boat.on & BoatInput.EMERGENCY_STOP
    for number in range(5, 15):
        if harm == "stale":
            break
        counter = 4 if harm == "repeated" else (number * 7 + 3) % 15 if harm == "jump" else number % 15
        frame = helm_frame(boat_map, counter, stop_loop=0)
        data = bytearray(frame.data)
        if harm == "corrupt":
            data[3] ^= 0x55
        elif harm == "short":
            del data[-1]
        frame = can.Message(arbitration_id=frame.arbitration_id, is_extended_id=False, data=bytes(data))
        table.take("private", frame, number * 0.04)
        seen, _ = table.snapshot(number * 0.04)
        assert not seen.on & BoatInput.EMERGENCY_STOP
    later, _ = table.snapshot(0.56)
    assert not later.known & BoatInput.EMERGENCY_STOP
    if harm != "stale":
        assert sum(table.counts("private", "HELM_CONTACTS").values()) >= 9


@pytest.mark.sr("SR-48")
def test_a_drive_without_orders_stops(boat_map: BoatMap) -> None:
    """The stand-in drive lets go in time to be at zero 0.2 s after the last good order (docs/safety.md, SR-48), but
    not for three lost ones."""
    nodes = build_nodes(boat_map, new_panel(boat_map, handset_id=87))
    orders = OutputTable(boat_map)
    for number in range(6):
        commands = (ShaftCommand(50.0, 0.0, 3), ShaftCommand())
        for bus, message in orders.frames(number * 0.02, BoatCommand(stop_sources=0), commands, 2, (1, 0)):
            nodes.drives[0].take(bus, message, number * 0.02)
    assert nodes.drives[0].order(0.1 + 0.08).torque_nm == 50.0
    assert nodes.drives[0].order(0.1 + 0.15).torque_nm == 0.0


@pytest.mark.sr("SR-49")
def test_thrust_and_charging_are_given_and_kept() -> None:
    """The mode, and what it is for: torque ahead, then current into the bank, in each of the last ticks."""
    v = Voyage()
    v.ready()
    v.go(3000, None, shaft(**AHEAD))
    assert {record.shaft_modes for record in v.records[-2900:]} == {(ShaftMode.PROPEL, ShaftMode.PROPEL)}
    assert least(v, lambda command: command.torque_nm) > 10.0
    v.go(60)
    v.charge(3000)
    assert {record.shaft_modes for record in v.records[-2900:]} == {(ShaftMode.GENERATE, ShaftMode.GENERATE)}
    assert least(v, lambda command: -command.torque_nm) > 1.0
    assert least(v, lambda command: command.current_a) > 5.0


def least(v: Voyage, what: Callable[[ShaftCommand], float]) -> float:
    """The least of something over both shafts and the last 2000 ticks."""
    commands = [command for record in v.records[-2000:] for command in record.shaft_commands]
    assert len(commands) == 4000
    return min(what(command) for command in commands if command is not None)
