"""Killed at random moments under load: the journal opens clean, nothing that was shown is lost, drives let go."""

import random
import signal
import time
from pathlib import Path

import pytest
from hub.process import Hub
from orders import DRIVE_A_1, readings, zero_from
from processes import Process, stand_in, supervisor, under_way

from supervisor.journal import read_events, read_runs

ZERO_S = 0.2
"""From the kill to zero torque at the drive, as its own frames say."""
SLACK_S = 0.05
"""For a machine that has other tests to do."""


def start(hub: Hub, folder: Path, standing: Process) -> Process:
    """A supervisor up to electric thrust, by the quickest way."""
    supervised = supervisor(hub, folder)
    try:
        under_way(supervised, standing)
    except AssertionError:
        supervised.end(signal.SIGKILL)
        raise
    return supervised


def kill_again_and_again(hub: Hub, folder: Path, times: int, seed: int = 1) -> list[float]:
    """Returns the time from each kill to zero torque at the drive, s."""
    draw = random.Random(seed)
    took = []
    with stand_in(hub) as standing:
        standing.wait_for("ready")
        for number in range(1, times + 1):
            with start(hub, folder, standing) as supervised:
                # events come thick while it is killed: the lever goes to and fro, and a button is pressed
                until_s = time.monotonic() + draw.uniform(0.05, 0.6)
                while time.monotonic() < until_s:
                    standing.say(f"port.lever_pct {draw.choice((60, 80))}")
                    standing.say("helm.enable press")
                    time.sleep(0.02)
                before = readings(hub, DRIVE_A_1, time.monotonic() - 0.1)
                torque_nm = before[-1].values["Torque"]
                killed_s = time.monotonic()
                supervised.end(signal.SIGKILL)
                time.sleep(0.45)
                if abs(torque_nm) > 1.0:
                    took.append(zero_from(hub, killed_s) - killed_s)
                shown = {line for line in supervised.lines if " s  " in line and "NOT IN" not in line}
                kept = {entry.line for _, _, entry in read_events(folder, number)}
                assert len(shown) >= 3
                assert shown <= kept
                runs = read_runs(folder)
                assert len(runs) == number
                assert runs[-1].ended_why == ""
    return took


def test_kills(hub: Hub, tmp_path: Path) -> None:
    took = kill_again_and_again(hub, tmp_path / "run", 6)
    assert len(took) >= 4
    assert sorted(took)[len(took) // 2] < ZERO_S
    assert max(took) < ZERO_S + SLACK_S


@pytest.mark.campaign
def test_kills_200(hub: Hub, tmp_path: Path) -> None:
    took = sorted(kill_again_and_again(hub, tmp_path / "run", 200))
    print(f"\n{len(took)} kills under torque: zero after p50 {took[len(took) // 2]:.3f} s, max {took[-1]:.3f} s")
    assert max(took) < ZERO_S
