"""The fixed-rate loop in virtual time: absolute deadlines, late ticks skipped and counted, never in a burst."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from supervisor.runtime import Loop, RealClock, Timing, VirtualClock


class SlowClock:
    """A clock in which the work of chosen ticks takes time."""

    def __init__(self, costs: dict[int, float] | None = None) -> None:
        self.time_s = 50.0
        self.costs = costs or {}
        self.ticks: list[float] = []

    def now_s(self) -> float:
        return self.time_s

    def wait_until(self, deadline_s: float) -> None:
        self.time_s = max(self.time_s, deadline_s)

    def tick(self, now_s: float) -> None:
        self.time_s += self.costs.get(len(self.ticks), 0.0)
        self.ticks.append(now_s)


def run(costs: dict[int, float], ticks: int, **options: float) -> tuple[SlowClock, Loop]:
    clock = SlowClock(costs)
    loop = Loop(clock.tick, 0.02, clock, **options)  # type: ignore[arg-type]
    for _ in range(ticks):
        loop.once()
    return clock, loop


def test_deadlines_are_absolute_and_do_not_drift() -> None:
    clock, loop = run(dict.fromkeys(range(1000), 0.013), 1000)
    for number, at_s in enumerate(clock.ticks):
        assert at_s == pytest.approx(50.0 + number * 0.02, abs=1e-9)
    assert (loop.timing.ticks, loop.timing.missed, loop.deadline_ok) == (1000, 0, True)


def test_a_tick_that_takes_a_little_longer_than_its_slot_delays_but_skips_nothing() -> None:
    clock, loop = run({3: 0.03}, 8)
    assert clock.ticks[4] == pytest.approx(50.09)  # 10 ms late
    assert clock.ticks[5] == pytest.approx(50.10)  # and on time again
    assert loop.timing.missed == 0
    assert loop.timing.worst_late_s == pytest.approx(0.01)


def test_missed_ticks_are_skipped_and_counted() -> None:
    clock, loop = run({3: 0.07}, 8)
    assert clock.ticks[4] == pytest.approx(50.13)
    assert clock.ticks[5] == pytest.approx(50.14)
    assert loop.timing.missed == 2
    assert loop.timing.ticks == 8
    assert loop.deadline_ok


@given(st.dictionaries(st.integers(0, 60), st.floats(0.0, 1.5), max_size=12))
def test_never_a_burst(costs: dict[int, float]) -> None:
    """However late, no two ticks are caught up: each deadline is met at most once."""
    clock, loop = run(costs, 80)
    slots = [int((at_s - 50.0) / 0.02 + 1e-6) for at_s in clock.ticks]
    assert slots == sorted(set(slots)), "two ticks in one slot"
    assert loop.timing.ticks == 80
    assert loop.timing.ticks + loop.timing.missed >= slots[-1]


def test_the_budget_is_three_missed_ticks_in_ten_seconds() -> None:
    _, loop = run({3: 0.09}, 6)
    assert loop.timing.missed == 3
    assert loop.deadline_ok
    _, loop = run({3: 0.11}, 6)
    assert loop.timing.missed == 4
    assert not loop.deadline_ok


def test_the_verdict_is_there_before_the_late_tick_runs() -> None:
    clock = SlowClock({3: 0.2})
    seen = []
    loop = Loop(lambda now_s: (seen.append(loop.deadline_ok), clock.tick(now_s)), 0.02, clock)
    for _ in range(6):
        loop.once()
    assert seen[:6] == [True, True, True, True, False, False]


def test_misses_far_apart_are_borne() -> None:
    _, loop = run(dict.fromkeys(range(0, 3000, 400), 0.05), 3000)  # one missed tick each 8 s
    assert loop.timing.missed >= 7
    assert loop.deadline_ok


def test_it_recovers_when_a_window_holds_no_more_than_the_budget() -> None:
    """The trip is latched in the mode table; the loop only says how it stands now."""
    clock = SlowClock({3: 0.2})
    loop = Loop(clock.tick, 0.02, clock)
    for _ in range(100):
        loop.once()
    assert not loop.deadline_ok
    for _ in range(450):
        loop.once()
    assert loop.deadline_ok


def test_a_budget_and_window_of_ones_own() -> None:
    _, loop = run({3: 0.05}, 6, budget=0)
    assert not loop.deadline_ok
    _, loop = run({3: 0.05, 10: 0.05}, 20, budget=1, window_s=0.1)
    assert loop.deadline_ok


def test_virtual_time_runs_as_fast_as_it_can_and_is_never_late() -> None:
    clock = VirtualClock(5.0)
    at: list[float] = []
    loop = Loop(at.append, 0.02, clock)
    loop.run(until_s=3605.0)
    assert len(at) == 180_001
    assert loop.timing.worst_late_s < 1e-6
    assert clock.now_s() == pytest.approx(3605.0)
    clock.wait_until(1.0)
    assert clock.now_s() == pytest.approx(3605.0), "time never moves back"


def test_it_stops_when_told() -> None:
    at: list[float] = []
    Loop(at.append, 0.02, VirtualClock()).run(stop=lambda: len(at) >= 7)
    assert len(at) == 7


def test_the_real_clock_waits_at_least_until_the_deadline() -> None:
    clock = RealClock()
    deadline_s = clock.now_s() + 0.02
    clock.wait_until(deadline_s)
    assert clock.now_s() >= deadline_s
    before_s = clock.now_s()
    clock.wait_until(before_s - 5.0)
    assert clock.now_s() - before_s < 0.5, "a deadline that is past is no wait"


def test_the_real_loop_keeps_its_mean_rate() -> None:
    """Relative sleeps drift; absolute deadlines do not. Slow machines may skip, never drift."""
    at: list[float] = []
    loop = Loop(at.append, 0.01, RealClock())
    for _ in range(30):
        loop.once()
    spans = (at[-1] - at[0]) / 0.01
    assert spans == pytest.approx(29 + loop.timing.missed, abs=1.0)


def test_lateness_is_counted_in_bounds() -> None:
    timing = Timing()
    for late_s in (0.00005, 0.0001, 0.00011, 0.0005, 0.5, 2.0):
        timing.note(late_s)
    assert timing.ticks == 6
    assert timing.worst_late_s == 2.0
    assert sum(timing.histogram) == 6
    assert timing.histogram[0] == 2
    assert timing.histogram[-1] == 1
