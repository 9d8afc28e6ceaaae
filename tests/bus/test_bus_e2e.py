"""The guard against published vectors and against two independent implementations."""

import crccheck.crc
import e2e.crc
import e2e.p01
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from supervisor.bus.e2e import GuardChecker, Verdict, crc8_j1850, next_counter, protect

frames = st.binary(min_size=2, max_size=8)
data_ids = st.integers(0, 0xFFFF)


# SAE J1850 CRC-8 vectors as published with the AUTOSAR CRC library specification
@pytest.mark.parametrize(
    ("data", "crc"),
    [
        (b"123456789", 0x4B),
        (bytes.fromhex("00000000"), 0x59),
        (bytes.fromhex("F20183"), 0x37),
        (bytes.fromhex("0FAA0055"), 0x79),
        (bytes.fromhex("00FF5511"), 0xB8),
        (bytes.fromhex("926B55"), 0x8C),
        (bytes.fromhex("FFFFFFFF"), 0x74),
    ],
)
def test_crc8_j1850_vectors(data: bytes, crc: int) -> None:
    assert crc8_j1850(data) == crc


@given(st.binary(max_size=64))
def test_crc8_j1850_agrees_with_two_others(data: bytes) -> None:
    assert crc8_j1850(data) == crccheck.crc.Crc8SaeJ1850.calc(data)
    assert crc8_j1850(data) == e2e.crc.calculate_crc8(data)


# data identifier 0x123, eight zero bytes, both-bytes mode: from the tests of PyPI autosar-e2e
@pytest.mark.parametrize(("counter", "expected"), [(0, "CC00000000000000"), (1, "9101000000000000")])
def test_profile_1_vectors(counter: int, expected: str) -> None:
    data = bytearray(8)
    protect(data, 0x123, counter)
    assert data == bytes.fromhex(expected)


@given(frames, data_ids, st.integers(0, 14))
def test_protect_agrees_with_autosar_e2e(payload: bytes, data_id: int, counter: int) -> None:
    ours = bytearray(payload)
    protect(ours, data_id, counter)
    theirs = bytearray(payload)
    theirs[1] = theirs[1] & 0xF0 | counter
    e2e.p01.e2e_p01_protect(theirs, data_id, length=len(theirs), increment_counter=False)
    assert ours == theirs


@pytest.mark.sr("SR-47")
@given(frames, data_ids)
@example(b"LOGG", 15216)
def test_check_agrees_with_autosar_e2e_on_any_bytes(payload: bytes, data_id: int) -> None:
    """Of a first frame: its checksum, and that its counter is one (15 is none, be the checksum right or not)."""
    good = e2e.p01.e2e_p01_check(bytearray(payload), data_id, length=len(payload))
    assert (GuardChecker(data_id).check(payload) is Verdict.INITIAL) == good


@pytest.mark.sr("SR-47")
@given(frames, data_ids, st.integers(0, 14), st.data())
def test_one_flipped_bit_never_passes(payload: bytes, data_id: int, counter: int, data: st.DataObject) -> None:
    frame = bytearray(payload)
    protect(frame, data_id, counter)
    bit = data.draw(st.integers(0, len(frame) * 8 - 1))
    frame[bit // 8] ^= 1 << bit % 8
    assert GuardChecker(data_id).check(frame) is Verdict.WRONG_CRC


def _frame(counter: int) -> bytearray:
    data = bytearray(8)
    protect(data, 0xB512, counter)
    return data


def _verdicts(counters: list[int], max_delta: int = 3) -> list[Verdict]:
    checker = GuardChecker(0xB512, max_delta)
    return [checker.check(_frame(counter)) for counter in counters]


def test_sequence_wraps_from_14_to_0() -> None:
    assert _verdicts([13, 14, 0, 1]) == [Verdict.INITIAL, Verdict.OK, Verdict.OK, Verdict.OK]
    assert [next_counter(13), next_counter(14)] == [14, 0]


@pytest.mark.sr("SR-47")
def test_repeated_counter_is_refused_until_it_moves() -> None:
    assert _verdicts([3, 4, 4, 4, 5]) == [
        Verdict.INITIAL,
        Verdict.OK,
        Verdict.REPEATED,
        Verdict.REPEATED,
        Verdict.OK,
    ]


@pytest.mark.sr("SR-47")
@pytest.mark.parametrize(
    ("step", "verdict"),
    [(1, Verdict.OK), (2, Verdict.SOME_LOST), (3, Verdict.SOME_LOST), (4, Verdict.WRONG_COUNTER)],
)
@pytest.mark.parametrize("start", [0, 7, 12, 14])
def test_lost_frames_up_to_the_allowed_step(start: int, step: int, verdict: Verdict) -> None:
    assert _verdicts([start, (start + step) % 15])[1] is verdict


def test_step_is_configurable() -> None:
    assert _verdicts([0, 2], max_delta=1)[1] is Verdict.WRONG_COUNTER
    assert _verdicts([0, 14], max_delta=14)[1] is Verdict.SOME_LOST


@pytest.mark.sr("SR-47")
def test_after_a_jump_the_next_in_sequence_is_used() -> None:
    assert _verdicts([0, 8, 9]) == [Verdict.INITIAL, Verdict.WRONG_COUNTER, Verdict.OK]


def test_counter_15_is_refused_and_not_taken_up() -> None:
    checker = GuardChecker(0xB512)
    bad = bytearray(8)
    bad[1] = 15
    e2e.p01.e2e_p01_protect(bad, 0xB512, length=8, increment_counter=False)
    checker.check(_frame(14))
    assert checker.check(bad) is Verdict.WRONG_COUNTER
    assert checker.check(_frame(0)) is Verdict.OK


@pytest.mark.sr("SR-47")
def test_frame_of_another_message_is_refused() -> None:
    assert GuardChecker(0xB514).check(_frame(0)) is Verdict.WRONG_CRC


def test_restart_forgets_the_counter() -> None:
    checker = GuardChecker(0xB512)
    checker.check(_frame(0))
    checker.restart()
    assert checker.check(_frame(1)) is Verdict.INITIAL


@pytest.mark.parametrize(("length", "data_id", "counter"), [(8, 1, 15), (8, 1, -1), (8, 0x10000, 0), (1, 1, 0)])
def test_protect_refuses_what_the_profile_lacks(length: int, data_id: int, counter: int) -> None:
    with pytest.raises(ValueError, match="no such guard"):
        protect(bytearray(length), data_id, counter)
