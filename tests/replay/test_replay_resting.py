"""Passing over restful ticks decides exactly what doing every tick decides, whatever the recording holds."""

import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st
from replay_lines import battery_line, soc_lines  # type: ignore[import-not-found]
from replay_recorded import record  # type: ignore[import-not-found]

from sim.replay.decisions import Decisions
from sim.replay.replayed import ReplayedSupervisor, events_of
from sim.replay.session import Options, Session
from sim.replay.ticks import Grid, Moment
from sim.rig.simulated import SimRig
from supervisor.config import load_config
from supervisor.config.load import resolve_boat
from supervisor.controller import freeze
from supervisor.modes import BoatCondition
from supervisor.signals import Alarm

SLOW = [HealthCheck.too_slow, HealthCheck.function_scoped_fixture, HealthCheck.differing_executors]

# what happens next: a wait, then a message that may say the same again, something else, or nothing
steps = st.lists(
    st.tuples(
        st.sampled_from([0.0, 0.003, 0.02, 0.5, 1.5, 5.99, 6.0, 6.01, 7.3, 31.0, 400.0]),
        st.sampled_from(["same", "volts", "amps", "hot", "absent", "soc", "low", "garbage", "foreign"]),
        st.integers(-60, 120),
    ),
    min_size=1,
    max_size=25,
)


def lines_of(plan: list[tuple[float, str, int]]) -> list[str]:
    stamp, volts, amps, sequence = 1_780_000_000.0, 26.5, 3.0, 0
    lines = [battery_line(stamp, volts, amps)]
    for wait_s, what, number in plan:
        stamp += wait_s
        sequence = (sequence + 1) % 8
        if what == "volts":
            volts = 20.0 + number / 10.0
        elif what == "amps":
            amps = float(number)
        if what in ("same", "volts", "amps"):
            lines.append(battery_line(stamp, volts, amps))
        elif what == "hot":
            lines.append(f"({stamp:.6f}) can0 19F21409#00610A8FFF{10_000 + number * 200:04X}F4")
        elif what == "absent":
            lines.append(f"({stamp:.6f}) can0 19F21409#00FF7FFF7FFFFFF4")
        elif what in ("soc", "low"):
            lines += soc_lines(stamp, max(0, number) if what == "soc" else 17 + number % 9, sequence=sequence)
        elif what == "garbage":
            lines.append(f"({stamp:.6f}) can0 19F21209#{number & 0xFF:02X}")
        else:
            lines.append(f"({stamp:.6f}) can0 18F00{number & 0xFFF:03X}#0011")
    return lines


def decided(boat: str, path: Path, options: Options) -> tuple[str, int, Session]:
    session = Session(boat, str(path), options)
    session.run()
    return session.decisions.digest, session.decisions.lines, session


class Both(NamedTuple):
    """How many ticks were done whole, with rest and without; the decisions were found to be the same."""

    quick: int
    whole: int


def same_both_ways(boat: str, lines: Sequence[str], options: Options, side: str = "") -> Both:
    """Replay with rest and without, and hold decisions and readings equal. `side`: text of the list of ticks."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "trial.log"
        path.write_text("".join(f"{line}\n" for line in lines), encoding="ascii")
        if side:
            (Path(folder) / "ticks.csv").write_text(side, encoding="ascii")
        quick = decided(boat, path, options)
        whole = decided(boat, path, options._replace(rest=False))
    assert quick[:2] == whole[:2]
    readings = [one.subject.coverage.readings({}) for one in (quick[2], whole[2])]
    assert readings[0] == readings[1]
    assert quick[2].subject.whole_ticks <= whole[2].subject.whole_ticks
    return Both(quick[2].subject.whole_ticks, whole[2].subject.whole_ticks)


STALE_AT_REST = [
    (31.0, "same", 0), (0.0, "same", 0), (400.0, "same", 0), (6.0, "same", 0), (6.01, "same", 0), (6.0, "same", 0),
    (31.0, "same", 0), (0.0, "same", 0), (6.0, "soc", 0), (31.0, "same", 0), (0.0, "same", 0),
]  # fmt: skip
"""A tick comes at which the state of charge is 6 s old and some 1e-14 s: known for the last time."""
LIMITED = {
    "bank.contactor_closed": 1.0, "bank.opening": 0.0, "bank.discharge_permit": 1.0, "bank.discharge_limit_a": 40.0,
}  # fmt: skip
"""With these the load that is estimated decides whether the drives may draw at all."""
LOAD_GROWS = [(100.0, "same", 0), (0.5, "amps", -60), (31.0, "same", 0), (0.5, "amps", 30), (1.5, "volts", 60)]


@settings(max_examples=25, deadline=None, suppress_health_check=SLOW)
@given(plan=steps, lost=st.integers(1, 4000))
@example(plan=STALE_AT_REST, lost=1)
@example(plan=LOAD_GROWS, lost=1)
@pytest.mark.parametrize(
    ("boat", "assume"), [("house_bank_24v", {}), ("house_bank_24v", LIMITED), ("marsh_tern", {})],
    ids=["house_bank_24v", "house_bank_24v-limited", "marsh_tern"],
)  # fmt: skip
def test_rest_changes_no_decision(
    boat: str, assume: dict[str, float], plan: list[tuple[float, str, int]], lost: int
) -> None:
    # marsh_tern hears none of the bank frames: it stands there with its inputs lost, which is rest as well
    moments = (Moment(0), Moment(lost, receive_ok=False), Moment(lost + 7))
    same_both_ways(boat, lines_of(plan), Options(moments=moments, assume=assume))


@pytest.fixture(scope="module")
def standby(tmp_path_factory: pytest.TempPathFactory) -> dict[str, list[tuple[float, str]]]:
    """What two boats with shafts hear in eight seconds of STANDBY, with levers that move: (time in s, frame)."""
    return {boat: heard_in_standby(boat, tmp_path_factory.mktemp("standby")) for boat in ("marsh_tern", "reed_warbler")}


def heard_in_standby(boat: str, folder: Path) -> list[tuple[float, str]]:
    def play(rig: SimRig) -> None:
        first = rig.shafts[0]
        for lever_pct in (0.0, 40.0, 40.0, 0.0):
            rig.act(f"{first}.lever_pct", lever_pct)
            rig.run(2.0)

    record(folder, boat, play)
    parts = [line.split(" ", 1) for line in (folder / "bus.log").read_text(encoding="ascii").splitlines()]
    return [(float(stamp[1:-1]), frame) for stamp, frame in parts]


pieces = st.lists(
    st.tuples(
        st.sampled_from([0.02, 0.3, 1.0, 2.5]),
        st.integers(-1, 40),
        st.sampled_from([0.0, 0.08, 0.12, 0.5, 2.0, 2.5, 4.0, 31.0]),
    ),
    min_size=1,
    max_size=6,
)
"""A piece of what was heard (s), less the frames of one identifier (by number; -1: all are there), then silence (s)."""


def pieced(heard: list[tuple[float, str]], plan: list[tuple[float, int, float]]) -> list[str]:
    """One frame, a gap of 100 s in which the first minute goes by, then the pieces."""
    names = sorted({frame.partition("#")[0] for _, frame in heard})
    begun_s, base = heard[0][0], 1_780_000_000.0
    lines = [f"({base:.6f}) {heard[0][1]}"]
    stamp_s, from_s = base + 100.0, 0.0
    for length_s, number, silence_s in plan:
        left_out = names[number % len(names)] if number >= 0 else ""
        for time_s, frame in heard:
            if from_s <= time_s - begun_s < from_s + length_s and frame.partition("#")[0] != left_out:
                lines.append(f"({stamp_s + time_s - begun_s - from_s:.6f}) {frame}")
        stamp_s += length_s + silence_s
        from_s = (from_s + length_s + 0.4) % 7.0  # frames are missing: else the counters say that the clock was set
    return lines


@settings(max_examples=12, deadline=None, suppress_health_check=SLOW)
@given(plan=pieces, lost=st.integers(1, 8000))
@example(plan=[(2.5, -1, 31.0), (1.0, -1, 4.0), (0.02, -1, 0.0)], lost=1)
@example(plan=[(2.5, 5, 0.5), (0.02, 0, 0.0)], lost=1)
@pytest.mark.parametrize("boat", ["marsh_tern", "reed_warbler"])
def test_rest_changes_no_decision_of_a_boat_with_shafts(
    standby: dict[str, list[tuple[float, str]]], boat: str, plan: list[tuple[float, int, float]], lost: int
) -> None:
    """Frames of its own, some of them missing for a while: each input grows stale while all else is at rest. In the
    examples one does so a tick after its age was, but for rounding, the very time allowed: the first on marsh_tern, the
    second on reed_warbler."""
    moments = (Moment(0), Moment(lost, receive_ok=False), Moment(lost + 7))
    same_both_ways(boat, pieced(standby[boat], plan), Options(moments=moments))


@pytest.mark.parametrize("boat", ["marsh_tern", "reed_warbler"])
def test_a_boat_with_shafts_rests(standby: dict[str, list[tuple[float, str]]], boat: str) -> None:
    both = same_both_ways(boat, pieced(standby[boat], [(1.0, -1, 9.5), (0.3, -1, 9.5), (0.02, -1, 0.0)]), Options())
    assert both.whole - both.quick > 700  # of some 1030 after the first minute, which is never passed over


REMINDER_S = freeze(load_config(resolve_boat("house_bank_24v"))).limits.reminder_s
turns = st.lists(st.tuples(st.integers(1, 900), st.sampled_from([0.02, 0.05, 0.1, 0.7, 1.4, 20.0, 70.0])), max_size=8)


@settings(max_examples=25, deadline=None, suppress_health_check=SLOW)
@given(plan=steps, late=turns, left_s=st.sampled_from([65.0, 90.0, 130.0, 500.0, 9000.0]))
@example(plan=[(400.0, "same", 0)], late=[(3100, 0.02), (4000, 0.1)], left_s=90.0)
@example(plan=[(400.0, "same", 0)], late=[(3100, 0.02), (3, 20.0), (900, 0.02)], left_s=90.0)
def test_rest_changes_no_decision_of_a_run_whose_ticks_were_late(
    plan: list[tuple[float, str, int]], late: list[tuple[int, float]], left_s: float
) -> None:
    """The very ticks of a run, some much longer than the boat's; at power-up its full charge is due in `left_s`."""
    text = f"# thwart ticks 1; stamp = time_s + 1780000000.0; since_full_s = {REMINDER_S - left_s!r}\n"
    text += "time_s,receive_ok,deadline_ok,reopened\n"
    now_s = 0.0
    for count, length_s in [(1, 0.02), *late, (100, 0.02)]:
        for _ in range(count):
            now_s += length_s
            text += f"{now_s!r},1,1,\n"
    same_both_ways("house_bank_24v", lines_of(plan), Options(), side=text)


@pytest.mark.parametrize("rest", [True, False])
def test_a_timer_that_runs_over_in_the_tick_after_a_gap_is_heeded(rest: bool) -> None:
    """That tick counts 60 s: the reminder of a full charge, due in 30 s, must come at it."""
    file = resolve_boat("house_bank_24v")
    subject = ReplayedSupervisor(load_config(file), str(file), Grid(0.02), rest=rest, since_full_s=REMINDER_S - 120.0)
    assert not any(event.first_out == Alarm.FULL_CHARGE_DUE.name for event in events_of(subject.advance(0, 4500, ())))
    (change,) = subject.advance(50_000, 50_500, ())
    assert change.tick == 50_000
    assert change.outcome.boat_command.alarms & Alarm.FULL_CHARGE_DUE


def test_what_the_runtime_said_within_a_gap_is_over_after_it() -> None:
    """Of several moments that a gap has passed over, the last one holds from the first tick behind it."""
    file = resolve_boat("house_bank_24v")
    ticks = Grid(0.02, (Moment(0), Moment(1000, receive_ok=False), Moment(1500)))
    subject = ReplayedSupervisor(load_config(file), str(file), ticks)
    changes = [*subject.advance(0, 600, ()), *subject.advance(5000, 5100, ())]
    assert not any(change.outcome.boat_word & BoatCondition.RUNTIME_FAULT for change in changes)


def test_decisions_are_written_so_that_equal_digests_are_equal_decisions(tmp_path: Path) -> None:
    """The digest changes with the last bit of a number, and not with a tick that decides the same again."""
    path = tmp_path / "trial.log"
    path.write_text("".join(f"{line}\n" for line in lines_of([(1.0, "amps", 5)] * 5)), encoding="ascii")
    _, _, session = decided("house_bank_24v", path, Options())
    change = session.subject.last
    assert change is not None
    outcome = change.outcome._replace(events=())
    digests = []
    for limit_a in (0.1 + 0.2, 0.3):
        decisions = Decisions(0)
        command = outcome.boat_command._replace(charge_limit_a=limit_a)
        decisions.take(0, outcome._replace(boat_command=command))
        decisions.take(1, outcome._replace(boat_command=command))
        assert decisions.lines == 1
        digests.append(decisions.digest)
    assert digests[0] != digests[1]
