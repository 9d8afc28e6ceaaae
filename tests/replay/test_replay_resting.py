"""Passing over restful ticks decides exactly what doing every tick decides, whatever the recording holds."""

import tempfile
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from replay_lines import battery_line, soc_lines  # type: ignore[import-not-found]

from sim.replay.decisions import Decisions
from sim.replay.session import Options, Session
from sim.replay.ticks import Moment

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


@settings(max_examples=25, deadline=None, suppress_health_check=SLOW)
@given(plan=steps, lost=st.integers(1, 4000))
@pytest.mark.parametrize("boat", ["house_bank_24v", "marsh_tern"])
def test_rest_changes_no_decision(boat: str, plan: list[tuple[float, str, int]], lost: int) -> None:
    # marsh_tern hears none of the bank frames: it stands there with its inputs lost, which is rest as well
    moments = (Moment(0), Moment(lost, receive_ok=False), Moment(lost + 7))
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "trial.log"
        path.write_text("".join(f"{line}\n" for line in lines_of(plan)), encoding="ascii")
        quick = decided(boat, path, Options(moments=moments))
        whole = decided(boat, path, Options(moments=moments, rest=False))
    assert quick[:2] == whole[:2]
    assert quick[2].subject.whole_ticks <= whole[2].subject.whole_ticks
    readings = [one.subject.coverage.readings({}) for one in (quick[2], whole[2])]
    assert readings[0] == readings[1]


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
