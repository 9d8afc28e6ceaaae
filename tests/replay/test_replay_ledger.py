"""Disagreements as stretches of time, each with its own reason."""

from sim.replay.ledger import Ledger


def told(ledger: Ledger) -> list[tuple[float, float, str]]:
    ledger.finish(100.0)
    return [(round(one.begin_s, 2), round(one.end_s, 2), one.why) for one in ledger.stretches]


def compared(ledger: Ledger, until_s: float, theirs: float, reason: str, from_s: float = 0.0) -> None:
    for number in range(round(from_s / 0.02), round(until_s / 0.02)):
        ledger.compare("port torque", number * 0.02, 10.0, theirs, 1.0, lambda: reason)


def test_two_faults_that_follow_on_each_other_are_two() -> None:
    """A taper that comes late, then a permit that is ignored: the second is the greater, and blamed for its own time
    only."""
    ledger = Ledger(0.2)
    compared(ledger, 3.2, 14.0, "the bank takes 20 A: state of charge above 88 %")
    compared(ledger, 5.0, 60.0, "monitor has withdrawn its charge permit", 3.2)
    assert told(ledger) == [
        (0.0, 3.2, "the bank takes 20 A: state of charge above 88 %"),
        (3.2, 100.0, "monitor has withdrawn its charge permit"),
    ]


def test_numbers_in_a_reason_do_not_split_it() -> None:
    ledger = Ledger(0.2)
    for number in range(200):
        ledger.compare("a", number * 0.02, 0.0, 50.0 + number, 1.0, lambda number=number: f"the bank takes {number} A")
    assert len(told(ledger)) == 1


def test_a_reason_of_a_moment_splits_nothing() -> None:
    ledger = Ledger(0.2)
    compared(ledger, 2.0, 30.0, "lever")
    compared(ledger, 2.1, 31.0, "unloading", 2.0)
    compared(ledger, 4.0, 30.0, "lever", 2.1)
    assert told(ledger) == [(0.0, 100.0, "lever")]


def test_reasons_that_take_turns_lose_no_time() -> None:
    ledger = Ledger(0.2)
    for number in range(500):
        reason = "one" if number // 20 % 2 else "other"
        ledger.compare("a", number * 0.02, 0.0, 50.0, 1.0, lambda reason=reason: reason)
    ledger.compare("a", 10.0, 0.0, 0.0, 1.0, lambda: "")
    assert sum(end_s - begin_s for begin_s, end_s, _ in told(ledger)) > 9.9
