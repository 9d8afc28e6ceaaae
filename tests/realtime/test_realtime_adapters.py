"""Faults of adapter and bus, on python-can's own slcan driver: unplugged, bus-off that nobody is told of, a host
that falls behind, a full bus, a second reader. The supervisor trips, its bus recovers, nothing re-enables by itself.
"""

import contextlib
import itertools
import os
import re
import signal
import time
from pathlib import Path

import can
import pytest
from hub.process import Hub
from orders import DRIVE_A_1, SHAFT_ORDER_1, STATUS, readings, zero_from
from processes import ROOT, Process, ready, stand_in, supervisor, under_way

from supervisor.bus.port import BusPort, BusSetting
from supervisor.runtime.adapters import Adapters

TRIPPED = 3.0


def stays_tripped_without_torque(hub: Hub, since_s: float) -> None:
    status = readings(hub, STATUS, since_s)
    orders = readings(hub, SHAFT_ORDER_1, since_s)
    assert len(status) > 3
    assert len(orders) > 20
    assert {one.values["BoatMode"] for one in status} == {TRIPPED}
    assert {(one.values["Torque"], one.values["Enable"]) for one in orders} == {(0.0, 0.0)}


def test_unplugged_and_back(hub: Hub, tmp_path: Path) -> None:
    with supervisor(hub, tmp_path / "run") as supervised, stand_in(hub) as standing:
        under_way(supervised, standing)
        time.sleep(0.5)
        pulled_s = time.monotonic()
        hub.order("unplug private0")
        supervised.wait_for("bus private: fault")
        supervised.wait_for("-> TRIPPED")
        time.sleep(0.5)
        assert zero_from(hub, pulled_s) - pulled_s < 0.3
        hub.order("plug private0")
        supervised.wait_for("bus private: works again", 15.0)
        time.sleep(0.5)
        back_s = time.monotonic()
        time.sleep(1.0)
        stays_tripped_without_torque(hub, back_s)
        # by hand: reset, levers neutral, enable
        standing.say("helm.reset press")
        supervised.wait_for("TRIPPED -> STANDBY")
        standing.say("port.lever_pct 0")
        time.sleep(0.7)
        standing.say("helm.enable press")
        supervised.wait_for("NEUTRAL_WAIT -> READY")
        assert supervised.end() == 0


def test_bus_off_that_the_adapter_hides(hub: Hub, tmp_path: Path) -> None:
    """Inferred from all guarded frames stale; opened anew after 2 s, and heard again."""
    with supervisor(hub, tmp_path / "run") as supervised, stand_in(hub) as standing:
        under_way(supervised, standing)
        off_s = time.monotonic()
        hub.order("busoff private0")
        supervised.wait_for("-> TRIPPED")
        supervised.wait_for("bus private: no guarded frame at all")
        time.sleep(0.4)
        assert zero_from(hub, off_s) - off_s < 0.3
        supervised.wait_for("bus private: works again", 15.0)
        time.sleep(0.5)
        back_s = time.monotonic()
        time.sleep(1.0)
        stays_tripped_without_torque(hub, back_s)
        assert hub.order("stats")["adapters"]["private0"]["bus-off"] == 1  # type: ignore[index]
        assert supervised.end() == 0


def test_a_disturbance_that_drives_the_controller_off(hub: Hub, tmp_path: Path) -> None:
    """Error frames on the wire: senders count them, go bus-off one by one, and say nothing."""
    with supervisor(hub, tmp_path / "run") as supervised, stand_in(hub) as standing:
        under_way(supervised, standing)
        at_s = time.monotonic()
        hub.order("destroy private 400")
        supervised.wait_for("-> TRIPPED")
        time.sleep(0.5)
        drive_s = zero_from(hub, at_s)
        stats = hub.order("stats")
        assert stats["buses"]["private"]["destroyed"] >= 64  # type: ignore[index]
        off = [name for name, one in stats["adapters"].items() if "bus-off" in one]  # type: ignore[attr-defined]
        assert off  # the drive's node may be one of them, and say no more
        assert drive_s == float("inf") or drive_s - at_s < 0.5
        assert supervised.end() == 0


def test_a_host_that_stops_reading(hub: Hub, tmp_path: Path) -> None:
    """Stopped for a second (swapped out, in a debugger): drives let go; on waking what lies there is old: tripped."""
    with supervisor(hub, tmp_path / "run", broken=None) as supervised, stand_in(hub) as standing:
        under_way(supervised, standing)
        time.sleep(0.5)
        stopped_s = time.monotonic()
        supervised.process.send_signal(signal.SIGSTOP)
        time.sleep(1.0)
        supervised.process.send_signal(signal.SIGCONT)
        assert zero_from(hub, stopped_s) - stopped_s < 0.3
        supervised.wait_for("-> TRIPPED")
        supervised.wait_for("clock: more than 3 ticks missed in 10 s")
        woken_s = time.monotonic()
        time.sleep(1.0)
        stays_tripped_without_torque(hub, woken_s)
        assert supervised.end() == 0


def test_an_adapter_that_takes_nothing_more_is_found_and_what_it_has_not_taken_never_sent(
    hub: Hub, tmp_path: Path
) -> None:
    """Its way out is dead while it goes on telling what is on the bus. Orders that wait in the line are old."""
    with supervisor(hub, tmp_path / "run", broken=None) as supervised, stand_in(hub) as standing:
        under_way(supervised, standing)
        time.sleep(0.5)
        hub.order("deaf private0 1")
        deaf_s = time.monotonic()
        line = supervised.wait_for("accepts frames but has sent none", 3.0)
        assert time.monotonic() - deaf_s < 0.6
        assert "bus private" in line
        supervised.wait_for("-> TRIPPED", 1.0)
        time.sleep(1.0)
        hub.order("deaf private0 0")
        heard_s = time.monotonic()
        supervised.wait_for("bus private: works again", 15.0)
        time.sleep(0.5)
        stays_tripped_without_torque(hub, heard_s)
        assert supervised.end() == 0


def test_a_hub_that_hangs_does_not_hang_the_supervisor(hub: Hub, tmp_path: Path) -> None:
    """An adapter whose firmware hangs takes no more bytes and gives none: the tick goes on, and the end is reached."""
    with supervisor(hub, tmp_path / "run") as supervised, stand_in(hub) as standing:
        under_way(supervised, standing)
        hub._process.send_signal(signal.SIGSTOP)
        try:
            supervised.wait_for("-> TRIPPED", 10.0)
            assert supervised.end(signal.SIGTERM, 20.0) == 0
        finally:
            hub._process.send_signal(signal.SIGCONT)


def boat_at(tmp_path: Path, bitrate: int) -> Path:
    """marsh_tern with another bit rate on its private bus."""
    configs = ROOT / "configs"
    text = (configs / "marsh_tern.toml").read_text()
    head, rest = text.split("[buses.private]", 1)
    rest = rest.replace("bitrate = 250000", f"bitrate = {bitrate}", 1)
    text = head + "[buses.private]" + re.sub(r'"(dbc|plants)/', rf'"{configs}/\1/', rest)
    text = text.replace('"dbc/', f'"{configs}/dbc/').replace('"plants/', f'"{configs}/plants/')
    path = tmp_path / "boat.toml"
    path.write_text(text)
    return path


@pytest.mark.parametrize(("number", "size"), [("1FFFFFFF", 8), ("7FF", 0)])
def test_a_full_bus_at_1_mbit(tmp_path: Path, number: str, size: int) -> None:
    """100 % of a 1 Mbit/s bus offered at the lowest priority: the supervisor keeps its tick, or trips within 100 ms.

    Which of the two it was is for the benchmark to say; here either must be clean.
    """
    boat = str(boat_at(tmp_path, 1_000_000))
    with Hub(tmp_path, "private:1000000:3", "backbone:250000:3", log=True) as hub:
        run = supervisor(hub, tmp_path / "run", boat=boat)
        with run as supervised, stand_in(hub, boat=boat) as standing:
            under_way(supervised, standing)
            time.sleep(0.5)
            loaded_s = time.monotonic()
            hub.order(f"load private {number} {size} 1.0")
            time.sleep(3.0)
            hub.order("noload private")
            time.sleep(1.0)
            orders = readings(hub, SHAFT_ORDER_1, loaded_s)
            tripped_s = next((one.time_s for one in orders if one.values["Enable"] == 0.0), None)
            if tripped_s is None:
                gaps = [two.time_s - one.time_s for one, two in itertools.pairwise(orders)]
                assert max(gaps) < 0.2  # the drives never timed out
            else:
                supervised.wait_for("-> TRIPPED")
                drive_s = zero_from(hub, loaded_s)
                assert drive_s != float("inf")
                after = [one for one in orders if one.time_s > tripped_s]
                assert all(one.values["Torque"] == 0.0 for one in after)
            assert supervised.end() == 0


def test_a_babbling_node_of_the_highest_priority(hub: Hub, tmp_path: Path) -> None:
    """Nothing else comes through: inputs grow stale, the boat trips; drives hear no order and let go by themselves."""
    with supervisor(hub, tmp_path / "run") as supervised, stand_in(hub) as standing:
        under_way(supervised, standing)
        time.sleep(0.3)
        hub.order("load private 000 8 1.0")
        supervised.wait_for("-> TRIPPED", 5.0)
        time.sleep(1.0)
        quiet_s = time.monotonic()
        hub.order("noload private")
        time.sleep(1.0)
        assert zero_from(hub, quiet_s) - quiet_s < 0.1  # it had been at zero while nobody could hear it say so
        stays_tripped_without_torque(hub, quiet_s + 0.1)
        assert supervised.end() == 0


# ---- the receive path, in one process and logical time


def port(hub: Hub, name: str = "private2") -> tuple[BusPort, Adapters]:
    adapters = Adapters(settle_s=0.0)
    settings = {"private": BusSetting("slcan", hub.channel(name), 250_000)}
    return BusPort(settings, opener=adapters.open, background=False), adapters


def test_unplug_loops_leave_nothing_open(hub: Hub) -> None:
    """python-can users' threads tell of loops of errors after an unplug; and its slcan driver leaks its port there."""
    ours, _ = port(hub)
    now_s = 0.0
    assert ours.open(now_s) == []
    before = len(os.listdir("/proc/self/fd"))
    for _ in range(20):
        hub.order("unplug private2")
        for _ in range(5):
            now_s += 0.02
            ours.receive_all(now_s)
            ours.send([("private", can.Message(arbitration_id=1, is_extended_id=False))], now_s)
        assert not ours.receive_ok
        hub.order("plug private2")
        for _ in range(1200):
            now_s += 0.02
            ours.receive_all(now_s)
            if ours.receive_ok:
                break
        assert ours.receive_ok
    assert len(os.listdir("/proc/self/fd")) <= before
    ours.close()


def test_attempts_while_away_are_few(hub: Hub) -> None:
    ours, _ = port(hub)
    ours.open(0.0)
    hub.order("unplug private2")
    for tick in range(6000):  # two minutes of logical time
        ours.receive_all(tick * 0.02)
    assert 5 < ours.report()["private"]["open error"] < 30
    ours.close()


def test_a_second_reader_is_kept_out(hub: Hub) -> None:
    ours, _ = port(hub)
    assert ours.open(0.0) == []
    other, _ = port(hub)
    (problem,) = other.open(0.0)
    assert "in use by another program" in problem
    ours.receive_all(0.02)
    assert ours.receive_ok
    ours.close()
    other.receive_all(60.0)
    assert other.receive_ok  # free again, and found by the retry
    other.close()


def test_a_second_reader_that_asks_nobody_is_survived(hub: Hub) -> None:
    """It steals bytes: lines come in pieces. They are counted as garbled, and nothing is believed that is none."""
    ours, adapters = port(hub)
    ours.open(0.0)
    ours.receive_all(0.0)
    hub.order("load private 19FFFD80 8 0.5")
    thief = os.open(hub.channel("private2"), os.O_RDONLY | os.O_NOCTTY | os.O_NONBLOCK)
    frames = []
    until_s = time.monotonic() + 1.0
    while time.monotonic() < until_s:
        frames += ours.receive_all(time.monotonic())
        with contextlib.suppress(BlockingIOError):
            os.read(thief, 13)
    os.close(thief)
    hub.order("noload private")
    assert adapters.counts("slcan", hub.channel("private2"))["garbled"] > 0
    assert all(message.arbitration_id == 0x19FFFD80 for _, message in frames)
    ours.close()


def test_two_stand_ins_share_a_boat(hub: Hub, tmp_path: Path) -> None:
    """Monitor and helm in one process, the machinery in another, each with its own simulated boat."""
    other = "drive,contacts,engine,lever,handset,sources"
    with (
        supervisor(hub, tmp_path / "run") as supervised,
        stand_in(hub, "monitor,helm") as one,
        stand_in(hub, other, adapters=("private2", "backbone2")) as two,
    ):
        for process in (one, two):
            process.wait_for("ready")
        supervised.wait_for("STANDBY: torque zero")
        ready(supervised, one)
        two.say("port.lever_pct 60")
        supervised.wait_for("-> PROPEL")
        time.sleep(1.0)
        assert readings(hub, DRIVE_A_1)[-1].values["Torque"] > 10.0
        one.say("nonsense")
        one.wait_for("refused: not understood")
        assert supervised.end() == 0
        assert one.end() == 0


def test_a_folder_and_a_bus_are_asked_for_in_plain_words(hub: Hub, tmp_path: Path) -> None:
    with supervisor(hub, tmp_path / "run") as supervised:
        supervised.wait_for("STANDBY: torque zero")
        with supervisor(hub, tmp_path / "run", adapters=("private2", "backbone2")) as second:
            second.wait_for("a supervisor is running with this folder")
            assert second.process.wait(10) == 2
    with Process(["-m", "sim.cli", "run", "marsh_tern"], tmp_path) as embedded:
        embedded.wait_for("lives inside one process")
        assert embedded.process.wait(10) == 2


def test_socketcan(tmp_path: Path) -> None:
    """The same run on SocketCAN, where this kernel has a virtual CAN device."""
    try:
        left, right = (can.Bus(interface="socketcan", channel="vcan0") for _ in range(2))
    except (OSError, can.CanError) as exc:
        pytest.skip(f"this kernel has no vcan0: {exc}")
    left.shutdown()
    right.shutdown()
    more = ["--bus", "private=socketcan:vcan0", "--out", str(tmp_path / "run")]
    with Process(["-m", "sim.cli", "run", "marsh_tern", *more], tmp_path) as supervised:
        place = ["--bus", "private=socketcan:vcan0"]
        with Process(["-m", "sim.cli", "stand-in", "marsh_tern", "--nodes", "all", *place], tmp_path) as standing:
            under_way(supervised, standing)
            assert supervised.end() == 0
