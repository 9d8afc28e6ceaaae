"""Disagreements as stretches of time, each with its own reason."""

from sim.replay.disagreements import Disagreements


def told(disagreements: Disagreements) -> list[tuple[float, float, str]]:
    disagreements.finish(100.0)
    return [(round(one.begin_s, 2), round(one.end_s, 2), one.why) for one in disagreements.stretches]


def compared(disagreements: Disagreements, until_s: float, theirs: float, reason: str, from_s: float = 0.0) -> None:
    for number in range(round(from_s / 0.02), round(until_s / 0.02)):
        disagreements.compare("port torque", number * 0.02, 10.0, theirs, 1.0, lambda: reason)


def test_two_faults_that_follow_on_each_other_are_two() -> None:
    """A taper that comes late, then a permit that is ignored: the second is the greater, and blamed for its own time
    only."""
    disagreements = Disagreements(0.2)
    compared(disagreements, 3.2, 14.0, "the bank takes 20 A: state of charge above 88 %")
    compared(disagreements, 5.0, 60.0, "monitor has withdrawn its charge permit", 3.2)
    assert told(disagreements) == [
        (0.0, 3.2, "the bank takes 20 A: state of charge above 88 %"),
        (3.2, 100.0, "monitor has withdrawn its charge permit"),
    ]


def test_numbers_in_a_reason_do_not_split_it() -> None:
    disagreements = Disagreements(0.2)
    for number in range(200):
        disagreements.compare(
            "a", number * 0.02, 0.0, 50.0 + number, 1.0, lambda number=number: f"the bank takes {number} A"
        )
    assert len(told(disagreements)) == 1


def test_a_reason_of_a_moment_splits_nothing() -> None:
    disagreements = Disagreements(0.2)
    compared(disagreements, 2.0, 30.0, "lever")
    compared(disagreements, 2.1, 31.0, "unloading", 2.0)
    compared(disagreements, 4.0, 30.0, "lever", 2.1)
    assert told(disagreements) == [(0.0, 100.0, "lever")]


def test_reasons_that_take_turns_lose_no_time() -> None:
    disagreements = Disagreements(0.2)
    for number in range(500):
        reason = "one" if number // 20 % 2 else "other"
        disagreements.compare("a", number * 0.02, 0.0, 50.0, 1.0, lambda reason=reason: reason)
    disagreements.compare("a", 10.0, 0.0, 0.0, 1.0, lambda: "")
    assert sum(end_s - begin_s for begin_s, end_s, _ in told(disagreements)) > 9.9
