"""A drive obeys good frames only, and falls to zero torque by itself 150 ms after the last of them, so that it is
there within 200 ms."""

import can
import pytest

from sim.nodes import DriveNode, DriveOrder, Nodes
from supervisor.bus import BoatMap, OutputTable
from supervisor.bus.e2e import protect
from supervisor.signals import BoatCommand, ShaftCommand

DRIVE_ENABLE, PRECHARGE, ENGINE_START, CLUTCH_CLOSE, LOCK_ENGAGE = 1, 2, 4, 8, 16


class Orders:
    """The supervisor's side: real frames from its own output table."""

    def __init__(self, boat_map: BoatMap, nodes: Nodes) -> None:
        self.table = OutputTable(boat_map)
        self.nodes = nodes

    def frames(self, now_s: float, torque_nm: float, permits: int, stop: int = 0) -> list[tuple[str, can.Message]]:
        commands = (ShaftCommand(torque_nm, 0.0, permits), ShaftCommand())
        return self.table.frames(now_s, BoatCommand(stop_sources=stop), commands, 2, (1, 0))

    def send(self, now_s: float, torque_nm: float = 50.0, permits: int = DRIVE_ENABLE | PRECHARGE, **more: int) -> None:
        for bus, message in self.frames(now_s, torque_nm, permits, **more):
            for node in self.nodes.all.values():
                node.take(bus, message, now_s)


@pytest.fixture
def orders(marsh_map: BoatMap, nodes: Nodes) -> Orders:
    return Orders(marsh_map, nodes)


@pytest.fixture
def drive(nodes: Nodes) -> DriveNode:
    return nodes.drives[0]


def _hearing(orders: Orders, **more: float) -> float:
    """Orders at each tick from 0 to 0.1 s; returns the time of the last."""
    for number in range(6):
        orders.send(number * 0.02, **more)  # type: ignore[arg-type]
    return 0.1


def test_before_the_first_order_there_is_nothing(drive: DriveNode) -> None:
    assert drive.order(0.0) == DriveOrder(0.0, 0, 0, 0)


def test_one_frame_out_of_nowhere_moves_nothing(orders: Orders, drive: DriveNode) -> None:
    orders.send(0.0)
    assert drive.order(0.0) == DriveOrder(0.0, 0, 0, 0)
    orders.send(0.02)
    assert drive.order(0.02).torque_nm == 50.0


def test_an_order_is_obeyed(orders: Orders, drive: DriveNode) -> None:
    now_s = _hearing(orders, torque_nm=-37.5)
    assert drive.order(now_s) == DriveOrder(-37.5, 1, 1, 1)


def test_no_enable_no_torque(orders: Orders, drive: DriveNode) -> None:
    now_s = _hearing(orders, permits=PRECHARGE)
    assert drive.order(now_s) == DriveOrder(0.0, 0, 1, 0)


@pytest.mark.parametrize(("age_s", "torque_nm"), [(0.0, 50.0), (0.13, 50.0), (0.149, 50.0), (0.15, 0.0), (5.0, 0.0)])
def test_orders_stop(orders: Orders, drive: DriveNode, age_s: float, torque_nm: float) -> None:
    now_s = _hearing(orders)
    order = drive.order(now_s + age_s)
    assert order.torque_nm == torque_nm
    assert order.enable == (1 if torque_nm else 0)


def test_the_hard_line_falls_by_itself_too(orders: Orders, drive: DriveNode) -> None:
    now_s = _hearing(orders)
    for number in range(1, 20):  # orders go on, the module that carries the line hears nothing any more
        then_s = now_s + number * 0.02
        for bus, message in orders.frames(then_s, 50.0, DRIVE_ENABLE | PRECHARGE):
            if message.arbitration_id == 0x031:
                drive.take(bus, message, then_s)
    assert drive.order(now_s + 0.38) == DriveOrder(50.0, 1, 1, 0)


@pytest.mark.parametrize("harm", ["crc", "repeated", "short", "jump", "other identity", "remote", "error"])
def test_bad_orders_are_not_obeyed(orders: Orders, drive: DriveNode, harm: str) -> None:
    """Orders of 90 N m, each with something wrong, after good ones of 50: never obeyed, and zero after 150 ms."""
    now_s = _hearing(orders)
    counter = 7
    for number in range(1, 30):
        then_s = now_s + number * 0.02
        (message,) = [m for _, m in orders.frames(then_s, 90.0, DRIVE_ENABLE) if m.arbitration_id == 0x031]
        data = bytearray(message.data)
        if harm == "crc":
            data[3] ^= 0x40
        elif harm == "repeated":
            protect(data, 0xB531, 5)  # the last good one was the sixth, counter 5
        elif harm == "short":
            data = data[:5]
        elif harm == "jump":
            counter = (counter + 7) % 15
            protect(data, 0xB531, counter)
        elif harm == "other identity":
            protect(data, 0xB532, data[1] & 0x0F)
        sent = can.Message(arbitration_id=0x031, is_extended_id=False, data=data)
        sent.is_remote_frame, sent.is_error_frame = harm == "remote", harm == "error"
        drive.take("private", sent, then_s)
        assert drive.order(then_s).torque_nm == (50.0 if number < 8 else 0.0), f"{harm}, {number}"
    if harm not in ("remote", "error"):
        assert drive.hearing is not None
        assert drive.hearing.refused >= 29


def test_orders_come_back(orders: Orders, drive: DriveNode) -> None:
    now_s = _hearing(orders)
    assert drive.order(now_s + 1.0).torque_nm == 0.0
    orders.send(now_s + 1.0)
    orders.send(now_s + 1.02)
    assert drive.order(now_s + 1.02).torque_nm == 50.0


def test_frames_of_another_bus_or_shaft_are_not_mine(orders: Orders, nodes: Nodes) -> None:
    for number in range(6):
        for _, message in orders.frames(number * 0.02, 50.0, DRIVE_ENABLE | PRECHARGE):
            nodes.drives[0].take("backbone", message, number * 0.02)
    assert nodes.drives[0].order(0.1).torque_nm == 0.0
    _hearing(orders)
    assert nodes.drives[1].order(0.1) == DriveOrder(0.0, 0, 0, 0)


def test_without_power_a_drive_does_nothing(orders: Orders, drive: DriveNode) -> None:
    now_s = _hearing(orders)
    drive.powered = False
    assert drive.order(now_s) == DriveOrder(0.0, 0, 0, 0)


@pytest.mark.parametrize("permits", [0, ENGINE_START, CLUTCH_CLOSE, LOCK_ENGAGE])
def test_permits_are_heard_by_those_they_are_for(orders: Orders, nodes: Nodes, permits: int) -> None:
    now_s = _hearing(orders, torque_nm=0.0, permits=permits)
    # permits go out every 40 ms, the last time at 0.08 s; they too fall by themselves 0.2 s later
    for later_s, alive in ((0.0, True), (0.17, True), (0.19, False)):
        then_s = now_s + later_s
        assert nodes.engines[0].start_permitted(then_s) is (permits == ENGINE_START and alive)
        assert nodes.contacts[0].clutch_permitted(then_s) is (permits == CLUTCH_CLOSE and alive)
        assert nodes.contacts[0].lock_permitted(then_s) is (permits == LOCK_ENGAGE and alive)


def test_other_sources_stop_on_order_and_on_silence(orders: Orders, nodes: Nodes) -> None:
    assert nodes.sources.stopped(0.0)
    now_s = _hearing(orders, stop=0)
    assert not nodes.sources.stopped(now_s)
    assert nodes.sources.stopped(now_s + 0.25)
    for number in range(6):
        orders.send(now_s + 0.3 + number * 0.02, stop=1)
    assert nodes.sources.stopped(now_s + 0.4)
