"""The supervisor whole, on python-can's virtual bus: buses in, rules, buses out."""

from collections.abc import Iterator

import can
import pytest

from supervisor.bus import BusPort, bus_settings, compile_boat
from supervisor.config import load_config
from supervisor.modes import BoatCondition, BoatMode
from supervisor.runtime import Loop, Supervisor, VirtualClock

BOAT = "reed_warbler"


@pytest.fixture
def port(request: pytest.FixtureRequest) -> Iterator[BusPort]:
    """A port of its own: virtual channels with one name are one bus."""
    config = load_config(BOAT)
    settings = {
        name: setting._replace(channel=f"{request.node.name}-{name}") for name, setting in bus_settings(config).items()
    }
    port = BusPort(settings, essential=compile_boat(config, BOAT).essential)
    assert port.open(0.0) == []
    yield port
    port.close()


@pytest.fixture
def private(port: BusPort, request: pytest.FixtureRequest) -> Iterator[can.BusABC]:
    bus = can.Bus(interface="virtual", channel=f"{request.node.name}-private")
    yield bus
    bus.shutdown()


def received(bus: can.BusABC) -> list[can.Message]:
    frames = []
    while (message := bus.recv(0)) is not None:
        frames.append(message)
    return frames


def test_alone_on_its_buses_it_listens_in_standby_and_orders_nothing(port: BusPort, private: can.BusABC) -> None:
    supervisor = Supervisor(load_config(BOAT), BOAT, port)
    outcomes = [supervisor.tick(n * 0.02) for n in range(50)]
    assert {outcome.boat_mode for outcome in outcomes} == {BoatMode.STANDBY}
    assert all(command.torque_nm == 0.0 for outcome in outcomes for command in outcome.shaft_commands)
    frames = received(private)
    assert len(frames) >= 50, "orders go out each tick, zero or not"


def test_each_frame_is_shown_to_the_sink_once_with_its_direction(port: BusPort, private: can.BusABC) -> None:
    seen: list[tuple[float, str, int, bool]] = []
    supervisor = Supervisor(
        load_config(BOAT), BOAT, port, on_frame=lambda t, bus, m, sent: seen.append((t, bus, m.arbitration_id, sent))
    )
    supervisor.tick(0.0)  # what lay waiting when the bus was opened is thrown away
    received(private)
    seen.clear()
    private.send(can.Message(arbitration_id=0x7AB, data=b"\x01", is_extended_id=False))
    supervisor.tick(0.02)
    assert seen.count((0.02, "private", 0x7AB, False)) == 1
    sent = [entry for entry in seen if entry[3]]
    assert sent
    assert [entry[2] for entry in sent] == [message.arbitration_id for message in received(private)]


@pytest.mark.sr("SR-03")
@pytest.mark.parametrize("flag", ["deadline_ok", "receive_ok"])
def test_what_the_runtime_measures_itself_reaches_the_word(port: BusPort, flag: str) -> None:
    supervisor = Supervisor(load_config(BOAT), BOAT, port)
    assert not supervisor.tick(0.0).boat_word & BoatCondition.RUNTIME_FAULT
    setattr(supervisor, flag, False)
    assert supervisor.tick(0.02).boat_word & BoatCondition.RUNTIME_FAULT
    setattr(supervisor, flag, True)
    assert not supervisor.tick(0.04).boat_word & BoatCondition.RUNTIME_FAULT


@pytest.mark.sr("SR-03")
def test_a_dead_receive_path_is_a_fault(port: BusPort) -> None:
    supervisor = Supervisor(load_config(BOAT), BOAT, port)
    assert not supervisor.tick(0.0).boat_word & BoatCondition.RUNTIME_FAULT
    port.close()
    assert supervisor.tick(0.02).boat_word & BoatCondition.RUNTIME_FAULT


def test_the_last_word_is_zero_with_every_enable_off(port: BusPort, private: can.BusABC) -> None:
    supervisor = Supervisor(load_config(BOAT), BOAT, port)
    supervisor.tick(0.0)
    received(private)
    supervisor.stop(1.0)
    database = {m.frame_id: m for m in _messages()}
    told = {}
    for message in received(private):
        told |= database[message.arbitration_id].decode(message.data, decode_choices=False)
    assert told["Torque"] == 0.0
    assert told["Enable"] == 0
    assert told["Precharge"] == 0
    assert told["DriveEnable1"] == 0
    assert told["EngineStart1"] == 0
    assert told["StopSources"] == 1


def _messages() -> list:
    import cantools

    from supervisor.config import shipped_path

    return list(cantools.database.load_file(shipped_path("dbc/guarded.dbc")).messages)


def test_the_same_supervisor_runs_in_virtual_time(port: BusPort) -> None:
    supervisor = Supervisor(load_config(BOAT), BOAT, port, since_full_s=40 * 86400.0)
    clock = VirtualClock(7.0)
    modes = []
    loop = Loop(lambda now_s: modes.append(supervisor.tick(now_s).boat_mode), 0.02, clock)
    loop.run(until_s=10.0)
    assert len(modes) == 151
    assert supervisor.controller.memory.boat.dwells.since_full_s == pytest.approx(40 * 86400.0 + 3.0, abs=0.1)
