"""Log time out of the recorder's stamps: gaps, clock steps, disorder, damage."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sim.replay.candump import CandumpSource
from sim.replay.health import Health
from sim.replay.logclock import GAP, SILENCE, LogClock


def taken(stamps: list[float], gap_s: float = 10.0) -> tuple[list[float], LogClock]:
    """Log times of frames with these stamps, gap marks left out."""
    clock = LogClock(Health(), gap_s)
    items = []
    for number, stamp in enumerate(stamps):
        clock.frames = number
        if 0.0 <= stamp - clock.last <= clock.near_s:
            clock.last = stamp
            items.append((stamp + clock.offset, number, b""))
        else:
            items += clock.odd(stamp, number, b"")
    items += clock.flush()
    found = [item for item in items if item[1] not in (GAP, SILENCE)]
    assert [item[1] for item in found] == list(range(len(stamps)))  # every frame, in the order of the file
    return [item[0] for item in found], clock


def test_plain_stamps_count_from_the_first() -> None:
    times, clock = taken([1000.0, 1000.5, 1002.0])
    assert times == [0.0, 0.5, 2.0]
    assert clock.health.lines_of_text() == []


def test_a_little_disorder_is_taken_as_it_stands() -> None:
    times, clock = taken([1000.0, 1000.5, 1000.25, 1000.75])
    assert times == [0.0, 0.5, 0.5, 0.75]
    assert (clock.health.late, clock.health.latest_s) == (1, 0.25)


def test_a_gap_is_kept_and_counted() -> None:
    times, clock = taken([1000.0, 1001.0, 1061.0, 1062.0])
    assert times == [0.0, 1.0, 61.0, 62.0]
    assert clock.health.gap_count == 1
    assert clock.health.gaps[0] == (1.0, 60.0)


def test_a_clock_set_back_breaks_nothing() -> None:
    times, clock = taken([5000.0, 5001.0, 1001.0, 1002.0, 1003.0])
    assert times == [0.0, 1.0, 1.0, 2.0, 3.0]
    assert clock.health.step_count == 1
    assert clock.health.steps[0] == (1.0, -4000.0)


def test_a_clock_set_forward_by_years_is_no_gap() -> None:
    times, clock = taken([1000.0, 1001.0, 1_780_000_000.0, 1_780_000_001.0])
    assert times == [0.0, 1.0, 1.0, 2.0]
    assert (clock.health.gap_count, clock.health.step_count) == (0, 1)


@pytest.mark.parametrize("stray", [9.0, 99_999.0, math.nan, math.inf, -math.inf, 1e300, -1e300])
def test_one_damaged_stamp_is_no_step(stray: float) -> None:
    times, clock = taken([1000.0, 1001.0, stray, 1002.0, 1003.0])
    assert times == [0.0, 1.0, 1.0, 2.0, 3.0]
    assert clock.health.stray == 1
    assert (clock.health.gap_count, clock.health.step_count) == (0, 0)


def test_a_damaged_last_stamp() -> None:
    assert taken([1000.0, 1001.0, 77.0])[0] == [0.0, 1.0, 1.0]


@given(st.lists(st.one_of(
    st.floats(allow_nan=True, allow_infinity=True), st.floats(0.0, 100.0), st.sampled_from([0.0, 1e9, 5.0, 5.5, 2e9]),
), max_size=40))  # fmt: skip
def test_log_time_never_goes_back_and_is_finite(stamps: list[float]) -> None:
    times, _ = taken(stamps)
    assert all(math.isfinite(time_s) for time_s in times)
    assert times == sorted(times)


def candump(text: str) -> tuple[list[tuple[float, int]], Health]:
    import io

    stream = io.BytesIO(text.encode("latin-1"))
    source = CandumpSource(stream, stream, lambda _channel, identifier, _extended: identifier, 10.0)
    found = [(time_s, handle) for batch in source.batches() for time_s, handle, _ in batch.items]
    return found, source.health  # type: ignore[return-value]


def test_other_kinds_of_frames_are_counted_by_kind() -> None:
    found, health = candump(
        "(1.0) can0 123#R\n(1.0) can0 123#R8\n(1.1) can0 20000080#\n(1.2) can0 123##1112233\n(1.3) can0 123#\n"
    )
    assert found == [(0.0, 0x123)]
    assert health.other == {"remote frame": 2, "error frame": 1, "CAN FD frame": 1}
    assert health.damaged == 0


def test_direction_marks_and_line_ends_of_other_systems() -> None:
    plain = "".join(f"({k / 10:.6f}) can0 123#{k:02X}\n" for k in range(50))
    marked = plain.replace("\n", " R\n")
    mixed = marked.replace(" R\n", " T\n", 20).replace("\n", "\r\n")
    assert candump(plain)[0] == candump(marked)[0] == candump(mixed)[0]
    assert candump(mixed)[1].damaged == 0


def test_a_file_of_one_endless_line_is_dropped_piece_by_piece() -> None:
    found, health = candump("x" * 1_000_000)
    assert found == []
    assert health.damaged >= 3
