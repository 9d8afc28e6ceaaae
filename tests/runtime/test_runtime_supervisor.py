"""The supervisor whole, on python-can's virtual bus: buses in, rules, buses out."""

import math
from collections import deque
from collections.abc import Iterator

import can
import pytest

from sim.nodes.hear import Hearing
from supervisor.bus import BusPort, OutputTable, bus_settings, compile_boat
from supervisor.bus.e2e import protect
from supervisor.bus.own_frames import OwnFrames
from supervisor.config import load_config
from supervisor.modes import BoatCondition, BoatMode, ShaftMode
from supervisor.runtime import Loop, Supervisor, VirtualClock
from supervisor.signals import BoatCommand, ShaftCommand

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


# ---- another supervisor on the bus


def orders(bus: can.BusABC) -> list[can.Message]:
    return [frame for frame in received(bus) if frame.arbitration_id == 0x031]


@pytest.mark.sr("SR-03")
@pytest.mark.parametrize("phase", range(15))
def test_a_second_supervisor_is_heard_in_the_first_tick_whatever_its_counters(
    port: BusPort, private: can.BusABC, phase: int
) -> None:
    """What the other sends is byte for byte what this one has sent, at one step or another between the counters: an
    adapter that gives nothing back cannot have echoed it."""
    config = load_config(BOAT)
    supervisor = Supervisor(config, BOAT, port)
    mine: list[can.Message] = []
    for number in range(20 + phase):
        supervisor.tick(number * 0.02)
        mine += orders(private)
    assert supervisor.other == ""
    private.send(mine[phase])
    outcome = supervisor.tick((20 + phase) * 0.02)
    assert "SHAFT_ORDER_1 on bus private" in supervisor.other
    assert outcome.boat_word & BoatCondition.RUNTIME_FAULT
    for number in range(21 + phase, 121 + phase + 2):
        outcome = supervisor.tick(number * 0.02)
    assert supervisor.other == ""
    assert not outcome.boat_word & BoatCondition.RUNTIME_FAULT


def test_an_adapter_that_gives_back_what_was_sent_is_no_second_supervisor() -> None:
    """As udp_multicast does: each frame once, a tick later or half a second, some of them lost; a second one of the
    same bytes is somebody else's."""
    boat_map = compile_boat(load_config(BOAT), BOAT)
    own = OwnFrames(boat_map, ["private"])
    outputs = OutputTable(boat_map)
    late: deque[list[tuple[str, can.Message]]] = deque([[]] * 25)
    for number in range(500):
        now_s = number * 0.02
        for bus, message in late.popleft() if number < 250 else late.pop():
            assert own.foreign(now_s, bus, message) == ""
        frames = outputs.frames(now_s, BoatCommand(), [ShaftCommand()], BoatMode.STANDBY, [ShaftMode.REST])
        own.sent(now_s, frames)
        late.append([frame for frame in frames if number % 7])
    # Another one in step joins: what the echoes that were lost left over is soon used up.
    found_s = math.inf
    for number in range(500, 560):
        now_s = number * 0.02
        frames = outputs.frames(now_s, BoatCommand(), [ShaftCommand()], BoatMode.STANDBY, [ShaftMode.REST])
        own.sent(now_s, frames)
        for bus, message in frames * 2:
            if own.foreign(now_s, bus, message):
                found_s = min(found_s, now_s - 10.0)
    assert found_s <= 0.3
    bus, message = frames[0]
    assert OwnFrames(boat_map).foreign(11.2, bus, message) == "SHAFT_ORDER_1"


@pytest.mark.sr("SR-03")
@pytest.mark.parametrize("phase", range(15))
def test_a_drive_with_two_masters_stands_still_and_does_not_jump_when_one_is_gone(phase: int) -> None:
    """A stand-in drive: of two supervisors, one at 60 N m and one at rest, it obeys neither; the one that is left must
    have ordered none before it gets any."""
    boat_map = compile_boat(load_config(BOAT), BOAT)
    codec = boat_map.messages["private"]["SHAFT_ORDER_1"]
    assert codec.data_id is not None
    hearing = Hearing([row for row in boat_map.outputs if row.message.name == "SHAFT_ORDER_1"])

    def order(counter: int, torque_nm: float) -> can.Message:
        data = codec.encode({"Torque": torque_nm, "Enable": 1 if torque_nm else 0})
        protect(data, codec.data_id or 0, counter % 15)
        return can.Message(arbitration_id=codec.arbitration_id, is_extended_id=False, data=data)

    believed = {}
    for number in range(600):
        now_s = number * 0.02
        ordered_nm = 60.0 if number < 450 or number > 500 else 0.0
        hearing.take("private", order(number, ordered_nm), now_s)
        if 100 <= number < 200:
            hearing.take("private", order(number + phase, 0.0), now_s + 0.01)
        believed[number] = hearing.value(0, "drive.torque_nm", now_s + 0.01)
    assert believed[90] == pytest.approx(60.0, abs=0.1)
    assert {believed[number] for number in range(116, 500)} == {0.0}
    assert believed[599] == pytest.approx(60.0, abs=0.1)
