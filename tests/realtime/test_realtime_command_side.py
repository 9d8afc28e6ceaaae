"""Whatever happens to the supervisor's process: zero torque at the drives, STANDBY at restart.

Times are read from the wire's log by an independent decoder. Bounds are those of the specification plus what a busy
machine may add; the benchmark measures the real ones.
"""

import signal
import time
from pathlib import Path

import pytest
from hub.process import Hub
from orders import DRIVE_A_1, MONITOR_GUARD, PERMITS, SHAFT_ORDER_1, STATUS, readings, zero_from
from processes import Process, stand_in, supervisor, under_way

from supervisor.journal import read_events, read_runs

TIMEOUT_S = 0.2
"""A drive's own: good commands stopped for 200 ms."""
SLACK_S = 0.1
"""Torque decay in the drive (30 ms), the period of its frames (20 ms), and a busy machine."""


def restart_is_standby(hub: Hub, folder: Path, standing: Process) -> None:
    """The lever still asks for thrust: a new supervisor listens, and gives none."""
    began_s = time.monotonic()
    with supervisor(hub, folder) as again:
        again.wait_for("STANDBY: torque zero")
        time.sleep(1.0)
        standing.say("helm.enable press")  # in gear: refused
        again.wait_for("lever is not in neutral")
        assert again.end() == 0
    orders = readings(hub, SHAFT_ORDER_1, began_s)
    assert len(orders) > 40
    assert all(one.values["Torque"] == 0.0 and one.values["Enable"] == 0.0 for one in orders)
    assert read_runs(folder)[-1].ended_why == "stopped by SIGTERM"


def test_sigterm(hub: Hub, tmp_path: Path) -> None:
    with supervisor(hub, tmp_path / "run") as supervised, stand_in(hub) as standing:
        under_way(supervised, standing)
        time.sleep(1.0)
        asked_s = time.monotonic()
        assert readings(hub, DRIVE_A_1)[-1].values["Torque"] > 10.0  # there was something to stop
        assert supervised.end(signal.SIGTERM) == 0
        time.sleep(0.3)
        assert zero_from(hub, asked_s) - asked_s < TIMEOUT_S + SLACK_S
        order, permits = readings(hub, SHAFT_ORDER_1)[-1].values, readings(hub, PERMITS)[-1].values
        assert (order["Torque"], order["Enable"], order["Precharge"]) == (0.0, 0.0, 0.0)
        assert (permits["DriveEnable1"], permits["DriveEnable2"], permits["StopSources"]) == (0.0, 0.0, 1.0)
        assert read_runs(tmp_path / "run")[0].ended_why == "stopped by SIGTERM"
        restart_is_standby(hub, tmp_path / "run", standing)


def test_sigkill(hub: Hub, tmp_path: Path) -> None:
    with supervisor(hub, tmp_path / "run") as supervised, stand_in(hub) as standing:
        under_way(supervised, standing)
        time.sleep(0.5)
        killed_s = time.monotonic()
        supervised.end(signal.SIGKILL)
        time.sleep(0.5)
        assert readings(hub, SHAFT_ORDER_1)[-1].values["Torque"] > 10.0  # the last order stood: the drive let go itself
        assert 0.1 < zero_from(hub, killed_s) - killed_s < TIMEOUT_S + SLACK_S
        assert read_runs(tmp_path / "run")[0].ended_why == ""
        shown = [line for line in supervised.lines if " -> " in line and "NOT IN" not in line]
        kept = [entry.line for _, _, entry in read_events(tmp_path / "run")]
        assert shown
        assert set(shown) <= set(kept)  # what was on the screen is in the journal
        restart_is_standby(hub, tmp_path / "run", standing)


def test_an_exception_in_the_loop(hub: Hub, tmp_path: Path) -> None:
    with supervisor(hub, tmp_path / "run", broken="exception") as supervised, stand_in(hub) as standing:
        under_way(supervised, standing)
        time.sleep(0.5)
        thrown_s = time.monotonic()
        (tmp_path / "now").touch()
        assert supervised.process.wait(10) == 1
        time.sleep(0.3)
        assert zero_from(hub, thrown_s) - thrown_s < TIMEOUT_S + SLACK_S
        order = readings(hub, SHAFT_ORDER_1)[-1].values
        assert (order["Torque"], order["Enable"]) == (0.0, 0.0)
        supervised.wait_for("error in the program: ZeroDivisionError: injected; zero commands sent")
        assert not any("Traceback" in line for line in supervised.lines)
        assert "Traceback" in (tmp_path / "run" / "error.txt").read_text()
        (tmp_path / "now").unlink()
        restart_is_standby(hub, tmp_path / "run", standing)


@pytest.mark.parametrize("broken", ["file_limit", "slow_disk", "clock_steps"])
def test_disk_and_wall_clock_do_not_reach_the_tick(hub: Hub, tmp_path: Path, broken: str) -> None:
    """Thrust goes on (a full disk is no reason to lose it in a fairway), and a trip is as fast as ever."""
    with supervisor(hub, tmp_path / "run", broken=broken) as supervised, stand_in(hub) as standing:
        under_way(supervised, standing)
        time.sleep(6.0 if broken == "file_limit" else 2.0)
        assert readings(hub, DRIVE_A_1)[-1].values["Torque"] > 10.0
        standing.say("inject monitor_fault monitor")
        time.sleep(1.0)
        shown = next(one for one in readings(hub, MONITOR_GUARD) if one.values["Fault"] == 1.0)
        order = next(one for one in readings(hub, SHAFT_ORDER_1, shown.time_s) if one.values["Torque"] == 0.0)
        assert order.time_s - shown.time_s < TIMEOUT_S
        assert zero_from(hub, shown.time_s) - shown.time_s < TIMEOUT_S + SLACK_S
        assert readings(hub, STATUS)[-1].values["BoatMode"] == 3.0  # TRIPPED
        if broken == "file_limit":
            supervised.wait_for("NOT IN THE JOURNAL")
        else:
            supervised.wait_for("-> TRIPPED")
        status = supervised.end(signal.SIGTERM, timeout_s=30)
        assert status == 0
        order = readings(hub, SHAFT_ORDER_1)[-1]
        assert (order.values["Torque"], order.values["Enable"]) == (0.0, 0.0)
    if broken == "clock_steps":
        assert [entry.kind for _, _, entry in read_events(tmp_path / "run")].count("trip") == 1
