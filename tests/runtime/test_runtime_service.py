"""What a service manager hears: the datagrams of sd_notify(3), on a real socket, and never a wait for them."""

import os
import socket
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from supervisor.runtime.service import ServiceManager


@pytest.fixture
def manager(tmp_path: Path) -> Iterator[socket.socket]:
    listening = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
    listening.bind(str(tmp_path / "notify"))
    listening.setblocking(False)
    yield listening
    listening.close()


def heard(listening: socket.socket) -> list[str]:
    found = []
    while True:
        try:
            found.append(listening.recv(4096).decode())
        except BlockingIOError:
            return found


def environment(listening: socket.socket, **more: str) -> dict[str, str]:
    return {"NOTIFY_SOCKET": listening.getsockname(), **more}


def test_a_run_from_start_to_end(manager: socket.socket) -> None:
    service = ServiceManager(environment(manager, WATCHDOG_USEC="3000000"))
    assert service.watched
    service.ready()
    for k in range(100):
        service.ticked(10.0 + 0.02 * k, "boat STANDBY")
    service.stopping("SIGTERM\nreceived")
    ready, *signs, stopping = heard(manager)
    assert ready.splitlines()[0] == "READY=1"
    # three in the time that is allowed: at 10, 11 s
    assert signs == ["WATCHDOG=1\nSTATUS=boat STANDBY"] * 2
    assert stopping == "STOPPING=1\nSTATUS=SIGTERM received"


def test_no_sign_of_life_without_a_tick(manager: socket.socket) -> None:
    service = ServiceManager(environment(manager, WATCHDOG_USEC="300000"))
    service.ticked(1.0, "x")
    time.sleep(0.4)
    assert len(heard(manager)) == 1


@pytest.mark.parametrize(
    "more",
    [{}, {"WATCHDOG_USEC": "soon"}, {"WATCHDOG_USEC": "1000000", "WATCHDOG_PID": str(os.getpid() + 1)}],
)
def test_not_watched(manager: socket.socket, more: dict[str, str]) -> None:
    service = ServiceManager(environment(manager, **more))
    assert not service.watched
    service.ticked(1.0, "x")
    assert heard(manager) == []


@pytest.mark.parametrize("address", ["", "/nowhere/notify", "@thwart-no-such-socket", "\0\0"])
def test_nobody_there_is_no_error(address: str) -> None:
    service = ServiceManager({"NOTIFY_SOCKET": address, "WATCHDOG_USEC": "1000000"})
    service.ready()
    service.ticked(1.0, "x")
    service.stopping("x")
    service.close()
    assert not service.watched


def test_an_abstract_socket() -> None:
    listening = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
    listening.bind(f"\0thwart-test-{os.getpid()}")
    listening.setblocking(False)
    ServiceManager({"NOTIFY_SOCKET": f"@thwart-test-{os.getpid()}"}).ready()
    assert heard(listening)[0].startswith("READY=1")
    listening.close()


def test_a_manager_that_reads_nothing_costs_no_time(manager: socket.socket) -> None:
    service = ServiceManager(environment(manager, WATCHDOG_USEC="30"))
    began_s = time.perf_counter()
    for k in range(5000):
        service.ticked(float(k), "x" * 200)
    assert time.perf_counter() - began_s < 2.0


def test_a_manager_that_goes_away_is_no_error(manager: socket.socket) -> None:
    service = ServiceManager(environment(manager, WATCHDOG_USEC="30"))
    manager.close()
    service.ticked(1.0, "x")
