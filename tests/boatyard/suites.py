"""One abstract suite a kind of rule. A subclass gives the way to the signal and **retypes the limit by hand**.

A subclass never imports the limit that it checks: a wrong default would otherwise be checked against itself.
"""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

NAN = float("nan")


class LinearLimitSuite:
    """A limit that is FULL on one side of FULL_AT, falls linearly towards FLOOR at ZERO_AT, and is 0 from there on."""

    FULL: float
    FLOOR: float = 0.0
    FULL_AT: float
    ZERO_AT: float
    STEP: float
    """A step that is small beside the band: "just under" and "just over"."""
    BEYOND: tuple[float, ...] = ()
    """Values far on the zero side."""
    UNKNOWN: float = 0.0
    """What the limit is when the signal is unknown or NaN."""

    def limit(self, value: float | None) -> float:
        """The limit in force with the signal at `value` (None: unknown)."""
        raise NotImplementedError

    def _full_side(self) -> float:
        return math.copysign(self.STEP, self.FULL_AT - self.ZERO_AT)

    def _expected(self, part: float) -> float:
        return self.FLOOR + (self.FULL - self.FLOOR) * part

    def test_full_at_the_start_of_the_band(self) -> None:
        assert self.limit(self.FULL_AT) == pytest.approx(self.FULL, rel=1e-12)

    def test_full_just_before_the_band(self) -> None:
        assert self.limit(self.FULL_AT + self._full_side()) == pytest.approx(self.FULL, rel=1e-12)

    def test_less_just_inside_the_band(self) -> None:
        got = self.limit(self.FULL_AT - self._full_side())
        assert self._expected(0.9) < got < self.FULL

    def test_half_in_the_middle(self) -> None:
        assert self.limit((self.FULL_AT + self.ZERO_AT) / 2) == pytest.approx(self._expected(0.5), rel=1e-9)

    def test_something_just_before_the_end(self) -> None:
        got = self.limit(self.ZERO_AT + self._full_side())
        assert self.FLOOR < got < self._expected(0.1)

    def test_zero_at_the_end(self) -> None:
        assert self.limit(self.ZERO_AT) == 0.0

    def test_zero_just_beyond_the_end(self) -> None:
        assert self.limit(self.ZERO_AT - self._full_side()) == 0.0

    def test_zero_far_beyond(self) -> None:
        for value in self.BEYOND:
            assert self.limit(value) == 0.0, value

    def test_unknown_is_never_full(self) -> None:
        assert self.limit(None) == self.UNKNOWN

    def test_nan_is_unknown(self) -> None:
        assert self.limit(NAN) == self.UNKNOWN

    @given(part=st.floats(0.001, 0.999))
    def test_linear_between(self, part: float) -> None:
        value = self.ZERO_AT + (self.FULL_AT - self.ZERO_AT) * part
        assert self.limit(value) == pytest.approx(self._expected(part), rel=1e-6, abs=1e-9)


class DwellSuite:
    """Something happens only when a condition has held, without a break, for DWELL_S. Ticks of 20 ms."""

    DWELL_S: float

    def begin(self) -> None:
        """A fresh boat, the condition not yet fulfilled."""
        raise NotImplementedError

    def hold(self, seconds: float, dt_s: float = 0.02) -> None:
        """Fulfil the condition and let `seconds` pass from the first tick that sees it."""
        raise NotImplementedError

    def interrupt(self) -> None:
        """Break the condition for one tick."""
        raise NotImplementedError

    def done(self) -> bool:
        """Whether it has happened."""
        raise NotImplementedError

    def test_not_before_the_dwell(self) -> None:
        self.begin()
        self.hold(self.DWELL_S - 0.04)
        assert not self.done()

    def test_soon_after_the_dwell(self) -> None:
        self.begin()
        self.hold(self.DWELL_S + 0.06)
        assert self.done()

    def test_one_tick_of_break_starts_the_dwell_anew(self) -> None:
        self.begin()
        self.hold(self.DWELL_S * 0.8)
        self.interrupt()
        self.hold(self.DWELL_S * 0.8)
        assert not self.done()
        self.hold(self.DWELL_S * 0.2 + 0.1)
        assert self.done()


class PermissiveDwellSuite(DwellSuite):
    """A dwell that permits something: a late tick must not count as time well spent."""

    def test_one_late_tick_is_no_dwell(self) -> None:
        self.begin()
        self.hold(0.02)
        self.hold(0.0, dt_s=self.DWELL_S * 10)
        assert not self.done()


class RateSuite:
    """A quantity that rises no faster than RISE a second: by the step of each tick, and over windows."""

    RISE: float
    SLACK: float = 1e-6

    def start(self) -> None:
        """A boat in which the quantity is about to rise as far as it may."""
        raise NotImplementedError

    def step(self, dt_s: float) -> float:
        """One tick; the quantity after it."""
        raise NotImplementedError

    def test_each_step_keeps_the_rate(self) -> None:
        self.start()
        last = self.step(0.02)
        rose = False
        for _ in range(400):
            now = self.step(0.02)
            assert now - last <= self.RISE * 0.02 + self.SLACK
            rose = rose or now > last
            last = now
        assert rose, "the quantity never rose: the test saw nothing"

    def test_windows_of_a_second_keep_the_rate(self) -> None:
        self.start()
        seen = [self.step(0.02) for _ in range(400)]
        for early, late in zip(seen, seen[50:], strict=False):
            assert late - early <= self.RISE * 1.0 + self.SLACK

    def test_uneven_ticks_keep_the_rate(self) -> None:
        self.start()
        last = self.step(0.02)
        for number in range(200):
            dt_s = (0.005, 0.02, 0.06, 0.0, 0.1)[number % 5]
            now = self.step(dt_s)
            assert now - last <= self.RISE * dt_s + self.SLACK
            last = now

    def test_a_very_late_tick_is_no_licence_to_jump(self) -> None:
        """At most 0.1 s is credited, however late the tick."""
        self.start()
        last = self.step(0.02)
        for dt_s in (0.5, 5.0, 3600.0):
            now = self.step(dt_s)
            assert now - last <= self.RISE * 0.1 + self.SLACK
            last = now
