"""A recorder whose clock lies: the true first-out is kept, or the damaged stretch is named; no trip is invented unsaid.

One run on the simulated bench, marsh_tern under thrust, trips once: the emergency stop at some 9 s. Its log is damaged
as real recorders damage theirs, and replayed with and without its list of ticks.
"""

from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

import pytest
from replay_recorded import record

from sim.replay.result import Result
from sim.replay.session import Options, Session
from sim.rig.simulated import SimRig

Line = tuple[float, str]


def voyage(rig: SimRig) -> None:
    rig.run(1.0)
    rig.act("helm.enable", "press")
    rig.run(3.0)
    rig.act("port.lever_pct", 40.0)
    rig.run(5.0)
    rig.act("helm.emergency_stop", True)
    rig.run(4.0)


class Truth(NamedTuple):
    lines: list[Line]
    trip_s: float
    folder: Path


@pytest.fixture(scope="module")
def truth(tmp_path_factory: pytest.TempPathFactory) -> Truth:
    folder = tmp_path_factory.mktemp("clock")
    record(folder, "marsh_tern", voyage)
    lines = []
    for text in (folder / "bus.log").read_text(encoding="ascii").splitlines():
        stamp, _, rest = text.partition(" ")
        lines.append((float(stamp.strip("()")), rest))
    whole = replayed(folder, lines, own_ticks=False)
    (trip,) = whole.run.trips
    assert trip.first_out == "EMERGENCY_STOP"
    assert whole.health.doubts == []
    assert whole.health.notes == []
    return Truth(lines, trip.time_s, folder)


def replayed(folder: Path, lines: list[Line], own_ticks: bool) -> Result:
    place = folder / "damaged"
    place.mkdir(exist_ok=True)
    for name in ("ticks.csv", "verdict.json"):
        if (folder / name).exists():
            (place / name).write_bytes((folder / name).read_bytes())
    (place / "bus.log").write_text("".join(f"({stamp:.6f}) {rest}\n" for stamp, rest in lines), encoding="ascii")
    session = Session("marsh_tern", str(place), Options(own_ticks=own_ticks))
    session.run()
    return session.result()


def stepped(by_s: float) -> Callable[[list[Line]], list[Line]]:
    """The clock is set at 5 s."""
    return lambda lines: [(stamp + (by_s if stamp >= lines[0][0] + 5.0 else 0.0), rest) for stamp, rest in lines]


def stray(by_s: float) -> Callable[[list[Line]], list[Line]]:
    """One stamp at 5 s is wrong."""

    def damaged(lines: list[Line]) -> list[Line]:
        at = next(number for number, (stamp, _) in enumerate(lines) if stamp >= lines[0][0] + 5.0)
        return [(stamp + (by_s if number == at else 0.0), rest) for number, (stamp, rest) in enumerate(lines)]

    return damaged


def frozen(until_s: float) -> Callable[[list[Line]], list[Line]]:
    """The clock stands still from 5 s to `until_s`."""

    def damaged(lines: list[Line]) -> list[Line]:
        begin = lines[0][0]
        return [(begin + 5.0 if 5.0 <= stamp - begin < until_s else stamp, rest) for stamp, rest in lines]

    return damaged


def drifting(part: float) -> Callable[[list[Line]], list[Line]]:
    return lambda lines: [(lines[0][0] + (stamp - lines[0][0]) * (1.0 + part), rest) for stamp, rest in lines]


def cut(at_s: float) -> Callable[[list[Line]], list[Line]]:
    return lambda lines: [(stamp, rest) for stamp, rest in lines if stamp < lines[0][0] + at_s]


def silent(for_s: float) -> Callable[[list[Line]], list[Line]]:
    """The recorder loses everything from 5 s on."""
    return lambda lines: [(stamp, rest) for stamp, rest in lines if not 5.0 <= stamp - lines[0][0] < 5.0 + for_s]


STEPS = [sign * size for size in (0.2, 0.5, 0.9, 1.5, 5.0, 20.0) for sign in (1, -1)]
DAMAGE: dict[str, Callable[[list[Line]], list[Line]]] = {
    **{f"step {by_s:+g} s": stepped(by_s) for by_s in STEPS},
    **{f"one stamp {by_s:+g} s": stray(by_s) for by_s in STEPS},
    "still to the end": frozen(1e9),
    "still for 0.4 s": frozen(5.4),
    "still for 2 s": frozen(7.0),
    "fast by 1 %": drifting(0.01),
    "slow by 1 %": drifting(-0.01),
    "fast by 100 ppm": drifting(1e-4),
    "silent for 0.5 s": silent(0.5),
    "silent for 3 s": silent(3.0),
}


@pytest.mark.parametrize("own_ticks", [False, True], ids=["its ticks", "own grid"])
@pytest.mark.parametrize("name", DAMAGE)
def test_the_first_out_is_true_or_the_damage_is_named(truth: Truth, name: str, own_ticks: bool) -> None:
    result = replayed(truth.folder, DAMAGE[name](truth.lines), own_ticks)
    invented = [trip for trip in result.run.trips if trip.first_out != "EMERGENCY_STOP"]
    assert all(trip.doubt for trip in invented), invented
    kept = any(trip.first_out == "EMERGENCY_STOP" for trip in result.run.trips)
    assert kept or result.health.doubts or result.health.notes, "the trip is gone, and nothing is said"
    assert any("DOUBTFUL" in line or "doubtful" in line for line in result.health.lines_of_text()) == bool(
        result.health.doubts
    )


@pytest.mark.parametrize("by_s", [0.5, 1.5, 5.0, 9.0])
@pytest.mark.parametrize("own_ticks", [False, True], ids=["its ticks", "own grid"])
def test_a_clock_set_forward_is_known_from_lost_frames_by_the_counters(
    truth: Truth, own_ticks: bool, by_s: float
) -> None:
    result = replayed(truth.folder, stepped(by_s)(truth.lines), own_ticks)
    (trip,) = result.run.trips
    assert trip.first_out == "EMERGENCY_STOP"
    assert trip.time_s == pytest.approx(truth.trip_s, abs=0.05)
    assert f"set forward by {by_s:.2f} s" in result.health.doubts[0].words
    lost = replayed(truth.folder, silent(0.5)(truth.lines), own_ticks)
    assert "frames are missing" in lost.health.doubts[0].words
    assert lost.run.trips[0].first_out == "INPUT_LOST"
    assert lost.run.trips[0].doubt


@pytest.mark.parametrize("at_s", [3.0, 7.1, 8.9])
def test_a_cut_log_ends_with_its_frames(truth: Truth, at_s: float) -> None:
    result = replayed(truth.folder, cut(at_s)(truth.lines), own_ticks=False)
    assert result.run.trips == []
    assert result.end_s == pytest.approx(at_s, abs=0.1)
    (note,) = result.health.notes
    assert "the log was cut" in note
    spent_s = sum(time_s for (subject, _), time_s in result.run.mode_s.items() if subject == "boat")
    assert spent_s == pytest.approx(at_s, abs=0.1)


def test_a_clock_that_stands_still_is_told_with_what_has_no_time(truth: Truth) -> None:
    result = replayed(truth.folder, frozen(1e9)(truth.lines), own_ticks=True)
    (doubt,) = result.health.doubts
    assert doubt.from_s == pytest.approx(5.0, abs=0.1)
    assert "stood still" in doubt.words
    assert 0.5 < result.health.unplaced_s < 8.0  # 8 s of two buses that are a tenth full, by the shortest frames
