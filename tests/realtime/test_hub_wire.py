"""The hub itself: bit lengths, arbitration order, the slcan protocol, and a bus no faster than a real one."""

import random
import time
from pathlib import Path

import can
import pytest
from hub.adapter import Adapter
from hub.bus import HubBus, Load
from hub.process import Hub
from hub.wire import (
    Frame,
    actual_bits,
    arbitration_key,
    crc15,
    format_line,
    parse_line,
    plain_bits,
    stuff_bits,
    stuffed_part,
    worst_bits,
)


def frame(number: int, data: str = "", extended: bool = False) -> Frame:
    return Frame(number, extended, bytes.fromhex(data), False, len(data) // 2)


def test_bit_lengths_of_full_frames() -> None:
    """29-bit identifier, 8 bytes: 131 bits unstuffed, 160 at worst (Davis et al. 2007, from memory)."""
    full = frame(0x1FFFD80, "00" * 8, extended=True)
    assert plain_bits(full) == 131
    assert worst_bits(full) == 160
    assert plain_bits(frame(0x123, "00" * 8)) == 111
    assert worst_bits(frame(0x123, "00" * 8)) == 135
    assert plain_bits(frame(0x123)) == 47


def naive_bits(one: Frame) -> str:
    """The stuffed part written out bit by bit, CRC by the polynomial division of the standard's own pseudo code."""
    if one.is_extended:
        head = f"0{one.arbitration_id >> 18:011b}11{one.arbitration_id & 0x3FFFF:018b}000"
    else:
        head = f"0{one.arbitration_id:011b}000"
    head += f"{len(one.data):04b}" + "".join(f"{byte:08b}" for byte in one.data)
    register = 0
    for bit in head:
        following = int(bit) ^ (register >> 14 & 1)
        register = register << 1 & 0x7FFF
        if following:
            register ^= 0x4599
    return head + f"{register:015b}"


def naive_stuffing(bits: str) -> int:
    total, position, last, run = 0, 0, "", 0
    while position < len(bits):
        run = run + 1 if bits[position] == last else 1
        last = bits[position]
        position += 1
        if run == 5:
            total += 1
            last, run = ("1" if last == "0" else "0"), 1
    return total


@pytest.mark.parametrize("extended", [False, True])
def test_stuffing_and_crc_against_bit_by_bit(extended: bool) -> None:
    draw = random.Random(5)
    for _ in range(300):
        size = draw.randrange(9)
        data = draw.choice((draw.randbytes(size), bytes(size), b"\xff" * size))
        one = Frame(draw.getrandbits(29 if extended else 11), extended, data, False, size)
        bits = naive_bits(one)
        assert stuffed_part(one) == (int(bits, 2), len(bits))
        assert stuff_bits(int(bits, 2), len(bits)) == naive_stuffing(bits)
        assert plain_bits(one) <= actual_bits(one) <= worst_bits(one)


def test_crc15_check_value() -> None:
    """CRC-15/CAN of b"123456789" is 059E (catalogue of parametrised CRC algorithms, from memory)."""
    assert crc15(int.from_bytes(b"123456789", "big"), 72) == 0x059E


def test_arbitration_order() -> None:
    """Dominant wins: lower base identifier first; 11 bits before 29 of the same base; data before remote."""
    order = [
        frame(0x012),
        Frame(0x012, False, b"", True, 0),
        frame(0x012 << 18, extended=True),
        frame((0x012 << 18) + 1, extended=True),
        frame(0x013),
    ]
    shuffled = order[:]
    random.Random(1).shuffle(shuffled)
    assert sorted(shuffled, key=arbitration_key) == order


@pytest.mark.parametrize("line", [b"t1232AABB", b"T01FFFD8080102030405060708", b"r1234", b"R000000010", b"t0000"])
def test_lines_there_and_back(line: bytes) -> None:
    one = parse_line(line)
    assert one is not None
    assert format_line(one) == line + b"\r"


@pytest.mark.parametrize("line", [b"t8002AABB", b"t1232AA", b"t1239", b"T2FFFFFFF0", b"x", b"t12", b"t1231GG"])
def test_wrong_lines(line: bytes) -> None:
    assert parse_line(line) is None


def test_wire_takes_its_time_and_serves_lowest_identifier_first(tmp_path: Path) -> None:
    seen: list[tuple[float, int]] = []
    bus = HubBus("b", 250_000, "worst", lambda end_s, _bus, _who, one: seen.append((end_s, one.arbitration_id)))
    bus.adapters = [Adapter(f"a{n}", tmp_path / f"a{n}", 250_000) for n in range(3)]
    for adapter in bus.adapters:
        adapter.bitrate, adapter.is_open = 250_000, True
    bus.adapters[0].queue.extend([(10.0, frame(0x300, "00" * 8)), (10.0, frame(0x001, "00" * 8))])
    bus.adapters[1].queue.extend([(10.0, frame(0x200, "00" * 8)), (10.0, frame(0x100, "00" * 8))])
    bus.adapters[2].queue.append((10.0001, frame(0x000, "00" * 8)))  # comes while the first is on the wire
    bus.advance(10.0005)
    assert seen == []  # 135 bits at 250 kbit/s take 540 us
    bus.advance(20.0)
    assert [number for _, number in seen] == [0x200, 0x000, 0x100, 0x300, 0x001]  # a queue is a queue: 0x001 waits
    assert [end_s for end_s, _ in seen] == pytest.approx([10.0 + 0.00054 * n for n in (1, 2, 3, 4, 5)])
    for adapter in bus.adapters:
        adapter.unplug()


def test_load_fills_the_bus_and_disturbance_drives_the_sender_off(tmp_path: Path) -> None:
    bus = HubBus("b", 1_000_000, "none", lambda *_: None)
    bus.witness = False
    adapter = Adapter("a", tmp_path / "a", 1_000_000)
    adapter.bitrate, adapter.is_open = 1_000_000, True
    bus.adapters = [adapter]
    bus.load = Load(0x7FF, False, 8, 1.0)
    bus.advance(1.0)
    assert bus.frames == pytest.approx(1_000_000 / 111, abs=2)
    bus.destroy = 33  # one of them meets the load frame on the wire
    adapter.queue.append((1.0, frame(0x001)))
    bus.advance(2.0)
    assert adapter.bus_off  # 32 times 8 is above 255
    assert bus.destroyed >= 33  # and now the load is alone: nobody acknowledges its frames
    adapter.unplug()


def open_bus(channel: str, bitrate: int) -> can.BusABC:
    return can.Bus(interface="slcan", channel=channel, bitrate=bitrate, sleep_after_open=0.0)


def test_python_cans_own_driver_through_the_hub(tmp_path: Path) -> None:
    with Hub(tmp_path, "private:250000:3") as hub:
        one, two = open_bus(hub.channel("private0"), 250_000), open_bus(hub.channel("private1"), 250_000)
        wrong = open_bus(hub.channel("private2"), 500_000)
        time.sleep(0.05)
        one.send(can.Message(arbitration_id=0x123, is_extended_id=False, data=b"\x01\x02"))
        one.send(can.Message(arbitration_id=0x19FFFD80, data=bytes(8)))
        got = []
        until_s = time.monotonic() + 5
        while len(got) < 2 and time.monotonic() < until_s:
            message = two.recv(0.1)
            if message is not None:
                got.append((message.arbitration_id, message.is_extended_id, bytes(message.data)))
        assert got == [(0x123, False, b"\x01\x02"), (0x19FFFD80, True, bytes(8))]
        assert wrong.recv(0.05) is None  # another bit rate hears nothing
        assert [one.arbitration_id for one in hub.wire()] == [0x123, 0x19FFFD80]
        hub.order("unplug private1")
        time.sleep(0.05)
        with pytest.raises((OSError, can.CanError)):
            two.recv(0.01)
        with pytest.raises(can.CanError):  # python-can's driver cannot say goodbye, and leaves its port open
            two.shutdown()
        two.serialPortOrig.close()  # type: ignore[attr-defined]
        for bus in (one, wrong):
            bus.shutdown()


@pytest.mark.parametrize("bitrate", [125_000, 250_000, 500_000, 1_000_000])
def test_offered_load_passes_at_the_bit_rate(tmp_path: Path, bitrate: int) -> None:
    """The wire's own clock cannot be faster than its bit rate, and over a second it is not slower either."""
    with Hub(tmp_path, f"private:{bitrate}:1", stuffing="none") as hub:
        bus = open_bus(hub.channel("private0"), bitrate)
        hub.order("load private 19FFFD80 8 1.0")
        time.sleep(1.0)
        hub.order("noload private")
        times = [one.time_s for one in hub.wire()]
        # facts: 131 bits: 954, 1908, 3817, 7634 frames a second
        rate = (len(times) - 1) / (times[-1] - times[0])
        assert rate == pytest.approx({125_000: 954, 250_000: 1908, 500_000: 3817, 1_000_000: 7634}[bitrate], rel=0.01)
        bus.shutdown()
