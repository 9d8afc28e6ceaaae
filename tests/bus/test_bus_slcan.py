"""The port on python-can's real slcan adapter, over a pseudo-terminal pair."""

import os
import pty
import select
import tty
from collections.abc import Iterator

import can
import pytest

from supervisor.bus import BusPort, BusSetting

pytest.importorskip("serial", reason="slcan needs pyserial")


class Cable:
    """The far end of the serial line."""

    def __init__(self) -> None:
        self.far, self.near = pty.openpty()
        tty.setraw(self.far)
        tty.setraw(self.near)
        self.name = os.ttyname(self.near)

    def say(self, text: str) -> None:
        os.write(self.far, text.encode())

    def heard(self) -> str:
        return os.read(self.far, 4096).decode()

    def until_quiet(self) -> None:
        """Read what opening wrote, in however many pieces a busy machine delivers it."""
        while select.select([self.far], [], [], 0.2)[0]:
            self.heard()


@pytest.fixture
def cable() -> Iterator[Cable]:
    cable = Cable()
    yield cable
    for handle in (cable.far, cable.near):
        try:
            os.close(handle)
        except OSError:
            continue  # the test has unplugged it


@pytest.fixture
def port(cable: Cable) -> Iterator[BusPort]:
    def opener(interface: str, channel: str, bitrate: int) -> can.BusABC:
        return can.Bus(interface=interface, channel=channel, bitrate=bitrate, sleep_after_open=0)

    port = BusPort({"private": BusSetting("slcan", cable.name, 250000)}, opener=opener, background=False)
    assert port.open(0.0) == []
    assert port.receive_all(0.0) == []
    assert port.receive_ok
    cable.until_quiet()
    yield port
    port.close()


def identifiers(port: BusPort, now_s: float) -> list[int]:
    return [message.arbitration_id for _, message in port.receive_all(now_s)]


def test_frames_in_and_out(port: BusPort, cable: Cable) -> None:
    message = can.Message(arbitration_id=0x031, is_extended_id=False, data=bytes.fromhex("EA10F40138FF"))
    assert len(port.send([("private", message)], 0.02)) == 1
    assert cable.heard() == "t0316EA10F40138FF\r"
    cable.say("t0144031E1004\rT19FFFD80801780412FFFFFFFF\r")
    received = port.receive_all(0.04)
    assert [(m.arbitration_id, m.is_extended_id, m.data.hex()) for _, m in received] == [
        (0x014, False, "031e1004"),
        (0x19FFFD80, True, "01780412ffffffff"),
    ]
    assert port.receive_ok


def test_acknowledgements_do_not_hold_frames_back(port: BusPort, cable: Cable) -> None:
    """Each frame sent is answered by a line that recv reports as nothing: frames behind it must not wait a tick."""
    message = can.Message(arbitration_id=0x031, is_extended_id=False, data=bytes(6))
    for tick in range(1, 20):
        assert len(port.send([("private", message)] * 4, tick * 0.02)) == 4
        cable.heard()
        cable.say("z\rz\rt0120\rz\rz\rt0140\r")
        assert identifiers(port, tick * 0.02) == [0x012, 0x014]
    assert port.receive_ok


@pytest.mark.parametrize("garbage", ["tzz\r", "T12\r", "t0148zz\r", "t01\r", "t014\r"])
def test_garbage_is_counted_and_the_line_goes_on(port: BusPort, cable: Cable, garbage: str) -> None:
    cable.say(garbage)
    port.receive_all(0.02)
    assert not port.receive_ok
    assert port.report()["private"]["garbled"] == 1
    cable.say("t0120\r")
    assert identifiers(port, 0.04) == [0x012]
    assert port.receive_ok


def test_half_a_line_waits_for_its_rest(port: BusPort, cable: Cable) -> None:
    cable.say("t0142A")
    assert identifiers(port, 0.02) == []
    cable.say("BCD\r")
    ((_, message),) = port.receive_all(0.04)
    assert message.data == b"\xab\xcd"
    assert port.receive_ok


def test_bytes_that_are_no_text_end_in_a_new_start(port: BusPort, cable: Cable) -> None:
    os.write(cable.far, b"\xff\xfe\r")
    port.receive_all(1.0)
    assert not port.receive_ok
    now_s = 1.0
    while not port.receive_ok and now_s < 3.0:
        now_s += 0.02
        port.receive_all(now_s)
    assert port.receive_ok
    cable.say("t0120\r")
    assert identifiers(port, now_s + 0.02) == [0x012]


def test_unplugged(port: BusPort, cable: Cable) -> None:
    os.close(cable.far)
    port.receive_all(0.02)
    assert not port.receive_ok
    assert "receive error" in port.problems()["private"]
    port.send([("private", can.Message(arbitration_id=1, is_extended_id=False))], 0.02)
    for tick in range(2, 200):
        assert port.receive_all(tick * 0.02) == []
        assert not port.receive_ok
