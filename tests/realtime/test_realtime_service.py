"""A run under a service manager: it says that it listens, ticks, ends; one that hangs says nothing."""

import signal
import socket
import time
from pathlib import Path

import pytest
from hub.process import Hub
from processes import stand_in, supervisor


def words(listening: socket.socket, for_s: float) -> list[str]:
    """What comes within this time."""
    found, until_s = [], time.monotonic() + for_s
    while (left_s := until_s - time.monotonic()) > 0:
        listening.settimeout(left_s)
        try:
            found.append(listening.recv(4096).decode())
        except TimeoutError:
            break
    return found


def test_signs_of_life_come_from_ticks(hub: Hub, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    listening = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
    listening.bind(str(tmp_path / "notify"))
    monkeypatch.setenv("NOTIFY_SOCKET", str(tmp_path / "notify"))
    monkeypatch.setenv("WATCHDOG_USEC", "600000")
    with supervisor(hub, tmp_path / "run", broken=None) as ours:
        monkeypatch.delenv("NOTIFY_SOCKET")
        with stand_in(hub):
            ours.wait_for("STANDBY: torque zero")
            said = words(listening, 2.0)
            assert said[0].startswith("READY=1")
            assert sum(one.startswith("WATCHDOG=1") for one in said) >= 6
            ours.process.send_signal(signal.SIGSTOP)  # it hangs, as far as anybody can tell
            words(listening, 0.1)
            assert words(listening, 1.0) == []
            ours.process.send_signal(signal.SIGCONT)
            assert any(one.startswith("WATCHDOG=1") for one in words(listening, 1.0))
            ours.process.send_signal(signal.SIGTERM)
            assert any(one.startswith("STOPPING=1") for one in words(listening, 2.0))
            assert ours.process.wait(10) == 0
    listening.close()
