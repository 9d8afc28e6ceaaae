"""NMEA 2000 and RV-C frames from published samples, and fast packets that go wrong."""

from collections.abc import Callable

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from supervisor.bus import BoatMap
from supervisor.bus.faults import Bad
from supervisor.bus.n2k import FastPackets, split_fast_packet, split_id


def _decode(boat_map: BoatMap, bus: str, message: str, text: str) -> dict[str, float | None]:
    return boat_map.messages[bus][message].decode(bytes.fromhex(text))


# CANboat sample recordings and tests, canboatjs tests (both Apache-2.0)
@pytest.mark.parametrize(
    ("message", "text", "values"),
    [
        ("ENGINE_RAPID", "00 7A 0C FF FF 7F FF FF",
         {"Instance": 0, "Speed": 798.5, "BoostPressure": None, "TiltTrim": None}),
        ("TRANSMISSION", "01 00 FF FF FF FF 00 FF",
         {"Instance": 1, "Gear": 0, "OilPressure": None, "OilTemperature": None}),
        ("DC_DETAILED_STATUS", "FF 03 FF 64 FF 14 00 FF FF FF FF",
         {"Sid": None, "Instance": 3, "DcType": None, "StateOfCharge": 100, "StateOfHealth": None,
          "TimeRemaining": 1200, "RippleVoltage": None, "RemainingCapacity": None}),
        ("DC_DETAILED_STATUS", "FF 00 FF 58 FF FF FF FF FF",
         {"Instance": 0, "StateOfCharge": 88, "TimeRemaining": None, "RippleVoltage": None, "RemainingCapacity": None}),
        ("BATTERY_STATUS", "00 61 0A 8F FF F4 75 F4",
         {"Instance": 0, "Voltage": 26.57, "Current": -11.3, "Temperature": 301.96, "Sid": 244}),
        ("BATTERY_STATUS", "01 B6 05 FF 7F FF FF 00",
         {"Instance": 1, "Voltage": 14.62, "Current": None, "Temperature": None, "Sid": 0}),
    ],
)  # fmt: skip
def test_published_samples(marsh_map: BoatMap, message: str, text: str, values: dict[str, float | None]) -> None:
    decoded = _decode(marsh_map, "backbone", message, text)
    for name, value in values.items():
        assert decoded[name] == (None if value is None else pytest.approx(value, abs=1e-9)), name


def test_rvc_trap_is_a_number_that_cannot_be(marsh_map: BoatMap) -> None:
    """19FFFD80 01 14 06 01 00 00 00 00: 13.1 V and -2,000,000 A (read in an open decoder's sample)."""
    decoded = _decode(marsh_map, "private", "DC_SOURCE_STATUS_1", "01 14 06 01 00 00 00 00")
    assert decoded["Voltage"] == pytest.approx(13.1)
    assert decoded["Current"] == pytest.approx(-2_000_000)


@pytest.mark.parametrize(
    ("identifier", "parts"),
    [
        (0x09F200FE, (2, 127488, 0xFE, 255)),
        (0x19F21434, (6, 127508, 0x34, 255)),
        (0x19FFFD80, (6, 0x1FFFD, 0x80, 255)),
        (0x18EAFF21, (6, 0xEA00, 0x21, 0xFF)),  # PDU1: the low byte of the group is the destination
        (0x0CF00400, (3, 61444, 0x00, 255)),
    ],
)
def test_identifier_taken_apart(identifier: int, parts: tuple[int, int, int, int]) -> None:
    assert tuple(split_id(identifier)) == parts


# ---- fast packets

DC = 0x19F21200
ELEVEN = bytes(range(11))


class Collected:
    def __init__(self) -> None:
        self.bad: list[Bad] = []
        self.packets = FastPackets(lambda _pgn, reason: self.bad.append(reason))

    def feed(self, data: bytes, source: int = 1, time_s: float = 0.0, identifier: int = DC) -> bytes | None:
        return self.packets.feed(identifier | source, data, time_s)


@pytest.fixture
def packets() -> Collected:
    return Collected()


def test_two_frames_make_eleven_bytes(packets: Collected) -> None:
    first, second = bytes.fromhex("400B000102030405"), bytes.fromhex("4106070809 0AFFFF")
    assert packets.feed(first) is None
    assert packets.feed(second) == ELEVEN
    assert packets.bad == []
    assert packets.packets.incomplete == 0


def test_senders_may_interleave(packets: Collected) -> None:
    mine, other = split_fast_packet(ELEVEN, 2), split_fast_packet(bytes(11), 2)
    assert packets.feed(mine[0], 1) is None
    assert packets.feed(other[0], 2) is None
    assert packets.feed(mine[1], 1) == ELEVEN
    assert packets.feed(other[1], 2) == bytes(11)
    assert packets.bad == []


def test_groups_may_interleave(packets: Collected) -> None:
    dc, engine = split_fast_packet(ELEVEN, 0), split_fast_packet(bytes(26), 0)
    assert packets.feed(dc[0]) is None
    assert packets.feed(engine[0], identifier=0x09F20100) is None
    assert packets.feed(dc[1]) == ELEVEN
    assert packets.bad == []


def test_priority_may_change_within_a_packet(packets: Collected) -> None:
    first, second = split_fast_packet(ELEVEN, 0)
    packets.feed(first)
    assert packets.feed(second, identifier=0x09F21200) == ELEVEN


@pytest.mark.parametrize("lost", [1, 2])
def test_missing_frame_loses_the_packet(packets: Collected, lost: int) -> None:
    frames = split_fast_packet(bytes(26), 1)
    for place, frame in enumerate(frames):
        if place != lost:
            assert packets.feed(frame) is None
    assert Bad.PACKET_MISSING in packets.bad
    assert packets.packets.incomplete == 0


def test_missing_first_frame(packets: Collected) -> None:
    assert packets.feed(split_fast_packet(ELEVEN, 1)[1]) is None
    assert packets.bad == [Bad.PACKET_MISSING]


def test_frame_of_another_sequence_loses_the_packet(packets: Collected) -> None:
    packets.feed(split_fast_packet(ELEVEN, 1)[0])
    assert packets.feed(split_fast_packet(ELEVEN, 2)[1]) is None
    assert packets.bad == [Bad.PACKET_MISSING]


def test_repeated_frame_loses_the_packet(packets: Collected) -> None:
    frames = split_fast_packet(bytes(26), 1)
    assert [packets.feed(frame) for frame in (frames[0], frames[1], frames[1], frames[2], frames[3])] == [None] * 5
    assert packets.bad[0] is Bad.PACKET_MISSING


def test_restart_counts_and_the_new_packet_completes(packets: Collected) -> None:
    packets.feed(split_fast_packet(bytes(11), 1)[0])
    packets.feed(split_fast_packet(ELEVEN, 2)[0])
    assert packets.feed(split_fast_packet(ELEVEN, 2)[1]) == ELEVEN
    assert packets.bad == [Bad.PACKET_RESTART]


@pytest.mark.parametrize(("later_s", "whole"), [(0.75, True), (0.76, False), (-0.01, False)])
def test_timeout(packets: Collected, later_s: float, whole: bool) -> None:
    first, second = split_fast_packet(ELEVEN, 0)
    packets.feed(first, time_s=0.0)
    assert (packets.feed(second, time_s=later_s) is not None) == whole
    assert packets.bad == ([] if whole else [Bad.PACKET_TIMEOUT])


@pytest.mark.parametrize("length", [0, 224, 255])
def test_impossible_length(packets: Collected, length: int) -> None:
    assert packets.feed(bytes([0, length, 1, 2, 3, 4, 5, 6])) is None
    assert packets.bad == [Bad.PACKET_LENGTH]
    assert packets.packets.incomplete == 0


def test_length_that_lies_long_is_never_completed_by_the_next_packet(packets: Collected) -> None:
    """A packet that claims 30 bytes and sends 11, then an honest one: only the honest one comes out."""
    first, second = split_fast_packet(ELEVEN, 0)
    lie = bytes([first[0], 30]) + first[2:]
    assert packets.feed(lie) is None
    assert packets.feed(second) is None
    honest = split_fast_packet(bytes(11), 1)
    assert [packets.feed(frame) for frame in honest] == [None, bytes(11)]
    assert packets.bad == [Bad.PACKET_RESTART]


def test_short_frames(packets: Collected) -> None:
    assert packets.feed(b"") is None
    assert packets.feed(b"\x00") is None
    assert packets.feed(bytes.fromhex("400B0001")) is None  # a first frame cut off, 11 bytes announced
    assert packets.bad == [Bad.SHORT] * 3
    assert packets.packets.incomplete == 0


@given(st.binary(min_size=1, max_size=223), st.integers(0, 7))
def test_round_trip(data: bytes, sequence: int) -> None:
    packets = Collected()
    results = [packets.feed(frame) for frame in split_fast_packet(data, sequence)]
    assert results == [None] * (len(results) - 1) + [data]
    assert packets.bad == []


@pytest.mark.parametrize("size", [0, 224])
def test_split_refuses_other_lengths(size: int) -> None:
    with pytest.raises(ValueError, match="223"):
        split_fast_packet(bytes(size), 0)


@settings(max_examples=100)
@given(st.lists(st.tuples(st.binary(max_size=8), st.integers(0, 2), st.floats(0, 2)), max_size=60))
def test_random_frames_never_raise_and_never_pile_up(frames: list[tuple[bytes, int, float]]) -> None:
    packets = Collected()
    for data, source, time_s in frames:
        whole = packets.feed(data, source, time_s)
        assert whole is None or 1 <= len(whole) <= 223
    assert packets.packets.incomplete <= 3


def test_against_the_independent_reassembler() -> None:
    """PyPI nmea2000 puts our frames together to the same bytes."""
    canboat = pytest.importorskip("nmea2000._canboat")
    reassembler = canboat.Reassembler()
    frames = split_fast_packet(ELEVEN, 3)
    push: Callable[..., bytes | None] = reassembler.push
    assert [push(127506, frame, 1, 255, 6) for frame in frames] == [None, ELEVEN]
