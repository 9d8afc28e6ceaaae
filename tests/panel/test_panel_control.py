"""Who has control, by heartbeat: times given, no clock."""

import pytest

from sim.panel.control import Control


def test_one_page_controls_and_the_others_are_told_who() -> None:
    control = Control()
    control.take("a", "page 1", 10.0)
    with pytest.raises(ValueError, match="page 1 is in control"):
        control.take("b", "page 2", 10.0)
    assert control.is_holder("a")
    assert not control.is_holder("b")


def test_a_page_is_stale_after_three_beats_of_a_tenth_of_a_second() -> None:
    control = Control()
    control.take("a", "page 1", 10.0)
    control.beat("a", frozenset(), 10.1)
    assert control.stale_s(10.39) == 0.0
    assert control.stale_s(10.41) == pytest.approx(0.31)


def test_nobody_is_stale_where_nobody_controls() -> None:
    assert Control().stale_s(1e6) == 0.0


def test_the_beat_of_another_page_keeps_nobody_alive() -> None:
    control = Control()
    control.take("a", "page 1", 10.0)
    control.beat("b", frozenset({"handset.held"}), 10.35)
    assert control.stale_s(10.4) > 0.0
    assert control.held == frozenset()


def test_an_older_beat_that_comes_late_takes_nothing_back() -> None:
    control = Control()
    control.take("a", "page 1", 10.0)
    control.beat("a", frozenset(), 10.2)
    control.beat("a", frozenset({"handset.held"}), 10.1)
    assert control.held == frozenset()


def test_what_is_held_is_what_the_last_beat_says() -> None:
    control = Control()
    control.take("a", "page 1", 10.0)
    control.beat("a", frozenset({"handset.held"}), 10.1)
    assert control.held == {"handset.held"}
    control.beat("a", frozenset(), 10.2)
    assert control.held == frozenset()


def test_a_lost_page_is_named_until_somebody_takes_control() -> None:
    control = Control()
    control.take("a", "page 1", 10.0)
    control.beat("a", frozenset({"handset.held"}), 10.1)
    assert control.lose("not heard for 0.4 s") == "page 1"
    assert control.lost == "page 1 was lost: not heard for 0.4 s"
    assert control.held == frozenset()
    control.take("b", "page 2", 11.0)
    assert control.lost == ""


def test_only_the_holder_lets_go() -> None:
    control = Control()
    control.take("a", "page 1", 10.0)
    with pytest.raises(ValueError, match="not in control"):
        control.let_go("b")
    control.let_go("a")
    control.take("b", "page 2", 10.0)
