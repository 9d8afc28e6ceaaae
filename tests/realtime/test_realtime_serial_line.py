"""Between driver and port: what python-can's slcan driver trips over is kept from it, counted, and nothing waits."""

import os
import pty
import re
import time
import tty
from collections.abc import Iterator
from pathlib import Path

import can
import pytest
import serial

from supervisor.runtime.adapters import Adapter, Adapters, PortLock
from supervisor.runtime.serial_line import SerialLine


class Terminal:
    """A pseudo-terminal: we are the adapter's firmware."""

    def __init__(self) -> None:
        self.master, self.slave = pty.openpty()
        tty.setraw(self.slave)
        os.set_blocking(self.master, False)
        self.channel = os.ttyname(self.slave)

    def close(self) -> None:
        for number in (self.master, self.slave):
            if number >= 0:
                os.close(number)
        self.master = self.slave = -1


@pytest.fixture
def terminal() -> Iterator[Terminal]:
    one = Terminal()
    yield one
    one.close()


@pytest.fixture
def adapter(terminal: Terminal) -> Iterator[Adapter]:
    opened = Adapters(settle_s=0.0).open("slcan", terminal.channel, 250_000)
    assert isinstance(opened, Adapter)
    yield opened
    if terminal.master >= 0:
        opened.shutdown()


def received(adapter: Adapter) -> list[can.Message]:
    time.sleep(0.02)  # the system moves bytes through a pseudo-terminal in its own time
    found = []
    while (message := adapter.recv(timeout=0)) is not None:
        found.append(message)
    return found


def test_answers_between_frames_do_not_end_the_reading(terminal: Terminal, adapter: Adapter) -> None:
    """slcan adapters answer each frame sent with z or Z: python-can's driver returns None there."""
    os.write(terminal.master, b"t01220102\rz\rZ\rt01320304\r\rz\rT19FFFD808000102030405060" + b"7\r")
    got = received(adapter)
    assert [(one.arbitration_id, bytes(one.data)) for one in got] == [
        (0x012, b"\x01\x02"),
        (0x013, b"\x03\x04"),
        (0x19FFFD80, bytes(range(8))),
    ]
    assert adapter.line is not None
    assert adapter.line.garbled == 0


def test_the_bare_driver_stops_at_an_answer(terminal: Terminal) -> None:
    """Why SerialLine is there. If this fails, python-can has changed: look at SerialLine again."""
    bus = can.Bus(interface="slcan", channel=terminal.channel, bitrate=250_000, sleep_after_open=0)
    os.write(terminal.master, b"t01220102\rz\rt01320304\r")
    time.sleep(0.02)
    assert bus.recv(timeout=0) is not None
    assert bus.recv(timeout=0) is None
    bus.shutdown()


def test_the_bare_driver_never_recovers_from_a_byte_that_is_no_text(terminal: Terminal) -> None:
    """Why SerialLine is there: the byte stays in the driver's buffer, every later line fails with it."""
    bus = can.Bus(interface="slcan", channel=terminal.channel, bitrate=250_000, sleep_after_open=0)
    os.write(terminal.master, b"\xff\rt01320304\rt01320304\r")
    time.sleep(0.02)
    for _ in range(3):
        with pytest.raises(can.CanOperationError):  # from a UnicodeDecodeError
            bus.recv(timeout=0)
    bus.shutdown()


@pytest.mark.parametrize(
    "junk",
    [b"\xff\xfe\r", b"t12\r", b"t8002AABB\r", b"t0129\r", b"t0122AA\r", b"T2000000000\r", b"x\r", b"t01220G02\r",
     b"?" * 200, b"tt01220102\r", b"t0122010\a"],
)  # fmt: skip
def test_junk_is_counted_and_costs_nothing_else(terminal: Terminal, adapter: Adapter, junk: bytes) -> None:
    os.write(terminal.master, b"t01220102\r" + junk + (b"\r" if junk[-1:] == b"?" else b"") + b"t01320304\r")
    assert [one.arbitration_id for one in received(adapter)] == [0x012, 0x013]
    assert adapter.line is not None
    assert adapter.line.garbled == 1


def test_a_line_in_pieces_is_put_together_and_time_stamps_are_borne(terminal: Terminal, adapter: Adapter) -> None:
    os.write(terminal.master, b"t0122")
    assert received(adapter) == []
    os.write(terminal.master, b"0102ABCD\r")  # the last four digits are the adapter's clock
    (message,) = received(adapter)
    assert bytes(message.data) == b"\x01\x02"


def test_a_refused_order_is_counted(terminal: Terminal, adapter: Adapter) -> None:
    os.write(terminal.master, b"\a\a")
    assert received(adapter) == []
    assert adapter.line is not None
    assert adapter.line.refused == 2


def test_reading_an_empty_line_takes_no_time(adapter: Adapter) -> None:
    """The bare driver waits 1 ms for a byte even with timeout 0."""
    begin_s = time.perf_counter()
    for _ in range(200):
        assert adapter.recv(timeout=0) is None
    assert time.perf_counter() - begin_s < 0.1


def test_an_adapter_that_takes_no_bytes_raises_and_never_waits(terminal: Terminal, adapter: Adapter) -> None:
    """The bare driver would wait for ever in write and flush, and the tick with it."""
    message = can.Message(arbitration_id=0x031, is_extended_id=False, data=bytes(8))
    begin_s = time.monotonic()
    with pytest.raises(can.CanOperationError, match="takes no more"):
        _send_until_it_raises(adapter, message)
    assert time.monotonic() - begin_s < 5.0
    while True:
        try:
            os.read(terminal.master, 65536)
        except BlockingIOError:
            break
    adapter.send(message)
    adapter.send(message)
    time.sleep(0.02)
    # the line cut in the middle was finished before the new ones began
    assert os.read(terminal.master, 65536).endswith(b"t03180000000000000000\rt03180000000000000000\r")


def _send_until_it_raises(adapter: Adapter, message: can.Message) -> None:
    for _ in range(100_000):
        adapter.send(message)


def test_unread_input_as_time_on_a_full_bus(terminal: Terminal, adapter: Adapter) -> None:
    """A 29-bit frame of 8 bytes has 131 bits unstuffed (ISO 11898-1, from memory): 38 are 20 ms at 250 kbit/s."""
    os.write(terminal.master, b"T19FFFD8080001020304050607\r" * 38)
    time.sleep(0.02)
    assert adapter.unread_s() == pytest.approx(0.020, abs=0.0005)
    assert len(received(adapter)) == 38
    assert adapter.unread_s() == 0.0


def test_unplugged_is_one_kind_of_error_everywhere(terminal: Terminal, adapter: Adapter) -> None:
    terminal.close()
    time.sleep(0.02)
    message = can.Message(arbitration_id=1, is_extended_id=False)
    with pytest.raises(can.CanOperationError):
        received(adapter)
    with pytest.raises(can.CanOperationError):
        adapter.send(message)
    assert adapter.unread_s() == 0.0
    with pytest.raises(can.CanOperationError):
        adapter.shutdown()
    assert adapter.line is not None
    with pytest.raises((OSError, TypeError)):  # the port is closed all the same
        os.fstat(adapter.line.fileno())


class Broken(can.BusABC):
    """A driver that raises what it likes."""

    def __init__(self, what: Exception) -> None:
        super().__init__("broken")
        self.what = what

    def _recv_internal(self, timeout: float | None) -> tuple[can.Message | None, bool]:
        raise self.what

    def send(self, msg: can.Message, timeout: float | None = None) -> None:
        raise self.what

    def shutdown(self) -> None:
        super().shutdown()
        raise self.what


@pytest.mark.parametrize(
    "what", [IndexError("cut line"), TypeError("None"), RuntimeError("vendor"), KeyError(7), OSError(5, "io")]
)
def test_whatever_a_driver_raises_is_the_loss_of_its_bus(what: Exception) -> None:
    adapter = Adapter(Broken(what), "broken", 250_000)
    for call in (lambda: adapter.recv(0), lambda: adapter.send(can.Message()), adapter.shutdown):
        with pytest.raises(can.CanOperationError, match=type(what).__name__):
            call()


def test_a_port_belongs_to_one_program(terminal: Terminal, adapter: Adapter) -> None:
    with pytest.raises(can.CanOperationError, match="in use by another program"):
        Adapters(settle_s=0.0).open("slcan", terminal.channel, 250_000)
    with pytest.raises(BlockingIOError):
        PortLock(terminal.channel)
    os.write(terminal.master, b"t01220102\r")
    assert len(received(adapter)) == 1  # and it was not disturbed


def test_opening_what_is_not_there(tmp_path: object) -> None:
    with pytest.raises(can.CanOperationError, match="open"):
        Adapters(settle_s=0.0).open("slcan", f"{tmp_path}/none", 250_000)
    with pytest.raises(can.CanOperationError):
        Adapters().open("no_such_interface", "x", 250_000)


def test_it_is_cheaper_than_the_bare_driver(terminal: Terminal) -> None:
    """The bare driver: some 155 us a frame here. Only the order of magnitude is asserted."""
    line = b"T19FFFD8080001020304050607\r" * 50
    times = {}
    bare = can.Bus(interface="slcan", channel=terminal.channel, bitrate=250_000, sleep_after_open=0)
    os.write(terminal.master, line)
    begin_s = time.process_time()
    count = 0
    while count < 50:
        count += bare.recv(timeout=0) is not None
    times["bare"] = time.process_time() - begin_s
    bare.shutdown()
    ours = Adapters(settle_s=0.0).open("slcan", terminal.channel, 250_000)
    assert isinstance(ours, Adapter)
    os.write(terminal.master, line)
    time.sleep(0.02)
    begin_s = time.process_time()
    assert len(received(ours)) == 50
    times["ours"] = time.process_time() - begin_s
    ours.shutdown()
    assert times["ours"] < times["bare"] / 2


def test_it_is_what_the_driver_expects_of_a_port() -> None:
    """Every attribute of the port that python-can's driver uses exists here."""
    from can.interfaces import slcan

    source = Path(slcan.__file__).read_text()
    used = set(re.findall(r"self\.serialPortOrig\.(\w+)", source))
    assert used
    for name in used:
        assert hasattr(SerialLine(serial.Serial()), name) or name == "in_waiting", name
