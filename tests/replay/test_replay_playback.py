"""Real-time playback onto a bus: every frame, in order, without drift."""

from collections.abc import Callable
from pathlib import Path
from uuid import uuid4

import can
import pytest
from replay_lines import battery_line  # type: ignore[import-not-found]

from sim.cli.app import dispatch
from sim.replay.errors import ReplayError
from sim.replay.playback import Onto, Player, parse_onto

WriteLog = Callable[..., str]


class LogicalClock:
    """Waiting is free; reading the clock costs `cost_s`, as a busy computer would."""

    def __init__(self, cost_s: float = 0.0) -> None:
        self.time_s = 100.0
        self.cost_s = cost_s
        self.waits = 0

    def now_s(self) -> float:
        self.time_s += self.cost_s
        return self.time_s

    def wait_until(self, deadline_s: float) -> None:
        self.waits += 1
        self.time_s = max(self.time_s, deadline_s)


class Ear:
    """A bus that only listens, on a virtual channel of its own."""

    def __init__(self) -> None:
        self.channel = f"playback-{uuid4().hex}"
        self.bus = can.Bus(interface="virtual", channel=self.channel)

    def heard(self) -> list[can.Message]:
        found = []
        while (message := self.bus.recv(timeout=0)) is not None:
            found.append(message)
        return found


@pytest.fixture
def ear() -> "Ear":
    made = Ear()
    yield made  # type: ignore[misc]
    made.bus.shutdown()


def test_every_frame_arrives_in_order_at_its_time(write_log: WriteLog, ear: Ear) -> None:
    stamps = [1000.0, 1000.25, 1000.25, 1001.0, 1004.5]
    log = write_log([battery_line(stamp, 26.0, k) for k, stamp in enumerate(stamps)])
    clock = LogicalClock()
    sent: list[float] = []

    class Noted(can.interfaces.virtual.VirtualBus):  # type: ignore[misc]
        def send(self, msg: can.Message, timeout: float | None = None) -> None:
            sent.append(clock.time_s)
            super().send(msg, timeout)

    player = Player(log, parse_onto([f"virtual:{ear.channel}"]), clock=clock,
                    opener=lambda _interface, channel, _bitrate: Noted(channel=channel))  # fmt: skip
    report = player.play()
    assert [time_s - sent[0] for time_s in sent] == pytest.approx([0.0, 0.25, 0.25, 1.0, 4.5], abs=1e-6)
    assert [bytes(message.data)[3] for message in ear.heard()] == [0, 10, 20, 30, 40]
    assert (report.frames, report.failed, report.skipped_s) == (5, 0, 0.0)
    assert report.worst_late_s == pytest.approx(0.0, abs=1e-9)


def test_deadlines_are_absolute(write_log: WriteLog, ear: Ear) -> None:
    """A clock that loses 0.3 ms at every look does not add them up."""
    log = write_log([battery_line(1000.0 + k * 0.01, 26.0, 0) for k in range(2000)])
    report = Player(log, parse_onto([f"virtual:{ear.channel}"]), clock=LogicalClock(0.0003)).play()
    assert report.frames == 2000
    assert abs(report.drift_s) < 1e-4
    assert report.worst_late_s < 0.001


@pytest.mark.parametrize(("longest_gap_s", "took_s"), [(None, 601.0), (5.0, 6.0), (0.25, 0.75), (0.0, 0.0)])
def test_gaps_can_be_shortened(write_log: WriteLog, ear: Ear, longest_gap_s: float | None, took_s: float) -> None:
    stamps = [1000.0, 1000.5, 1600.5, 1601.0]
    log = write_log([battery_line(stamp, 26.0, 0) for stamp in stamps])
    clock = LogicalClock()
    report = Player(log, parse_onto([f"virtual:{ear.channel}"]), longest_gap_s=longest_gap_s, clock=clock).play()
    assert report.frames == 4
    assert report.took_s == pytest.approx(took_s, abs=0.02)
    assert report.skipped_s == pytest.approx(601.0 - took_s, abs=0.02)


def test_channels_go_where_they_are_told(write_log: WriteLog, ear: Ear) -> None:
    other = Ear()
    lines = [battery_line(1000.0 + k / 10, 26.0, k, "can0" if k % 2 else "can1") for k in range(10)]
    onto = parse_onto([f"virtual:{ear.channel}", f"can1=virtual:{other.channel}"])
    Player(write_log(lines), onto, clock=LogicalClock()).play()
    assert len(ear.heard()) == 5
    assert len(other.heard()) == 5
    other.bus.shutdown()


def test_an_adapter_that_refuses_is_counted(write_log: WriteLog) -> None:
    class Full(can.interfaces.virtual.VirtualBus):  # type: ignore[misc]
        def send(self, msg: can.Message, timeout: float | None = None) -> None:
            raise can.CanOperationError("transmit buffer full")

    log = write_log([battery_line(1000.0, 26.0, 0), battery_line(1000.1, 26.0, 0)])
    report = Player(log, Onto({"": ("virtual", "x")}, 250_000), clock=LogicalClock(),
                    opener=lambda _interface, channel, _bitrate: Full(channel=channel)).play()  # fmt: skip
    assert (report.frames, report.failed) == (0, 2)


@pytest.mark.parametrize("text", ["vcan0", "socketcan:", ":vcan0", "=socketcan:vcan0", ""])
def test_a_place_that_is_none(text: str) -> None:
    with pytest.raises(ReplayError, match="INTERFACE:CHANNEL"):
        parse_onto([text])


def test_command_line(write_log: WriteLog, ear: Ear, capsys: pytest.CaptureFixture[str]) -> None:
    log = write_log([battery_line(1000.0 + k / 100, 26.0, k) for k in range(50)])
    assert dispatch(["replay", log, "--onto", f"virtual:{ear.channel}"]) == 0
    assert "50 frames sent" in capsys.readouterr().out
    assert len(ear.heard()) == 50
    assert dispatch(["replay", "--onto", "no_such_interface:x", log]) == 2
    assert "cannot be opened" in capsys.readouterr().err


def play_for(folder: Path, ear: Ear, seconds: float) -> None:
    log = folder / "steady.log"
    with log.open("w", encoding="ascii") as file:
        file.writelines(f"{battery_line(1000.0 + k * 0.005, 26.0, k % 100)}\n" for k in range(round(seconds / 0.005)))
    report = Player(str(log), parse_onto([f"virtual:{ear.channel}"])).play()
    assert report.frames == round(seconds / 0.005)
    assert abs(report.drift_s) < 0.001, f"drift {report.drift_s * 1000:.3f} ms"
    assert report.took_s >= seconds - 0.01  # a busy computer may hold the last frame back, never send it early


def test_drift_over_eight_seconds(tmp_path: Path, ear: Ear) -> None:
    play_for(tmp_path, ear, 8.0)


@pytest.mark.campaign
def test_drift_over_ten_minutes(tmp_path: Path, ear: Ear) -> None:
    play_for(tmp_path, ear, 600.0)
