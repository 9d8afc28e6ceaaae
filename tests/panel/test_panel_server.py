"""The server and the process of the boat: how they end."""

import asyncio
import json
import subprocess
import sys

import pytest

pytest.importorskip("aiohttp", reason="the Python package aiohttp (extra panel) is missing: the server was not tried")

from sim.errors import BenchError
from sim.panel.server import BoatFailedError, Options, Server, boat_process, is_loopback, new_token
from supervisor.config.load import resolve_boat


def served(task: dict[str, object]) -> Server:
    """A server that has run to its end."""
    server = Server(Options("127.0.0.1", 0, "", boat_process(task)), lambda _: None)
    asyncio.run(asyncio.wait_for(server.run(), 30))
    return server


def test_a_boat_that_cannot_be_simulated_is_told() -> None:
    with pytest.raises(BenchError, match="cannot be simulated"):
        served({"mode": "simulated", "boat": str(resolve_boat("house_bank_24v")), "runs": "runs", "plot": False})


def test_a_fault_of_the_program_in_the_boats_process_is_told_with_its_traceback() -> None:
    with pytest.raises(BoatFailedError, match="KeyError") as failed:
        served({})
    assert "Traceback" in failed.value.__notes__[0]


def test_it_serves_until_it_is_stopped() -> None:
    task = {"mode": "simulated", "boat": str(resolve_boat("marsh_tern")), "runs": "runs", "plot": False}
    server = Server(Options("127.0.0.1", 0, "", boat_process(task)), lambda _: None)

    async def trial() -> None:
        running = asyncio.create_task(server.run())
        while not server.url:
            assert not running.done()
            await asyncio.sleep(0.02)
        server.stop()
        await asyncio.wait_for(running, 10)

    asyncio.run(trial())
    assert server.url.startswith("http://127.0.0.1:")


def test_without_its_package_the_panel_says_what_to_install() -> None:
    code = "import sys; sys.modules['aiohttp'] = None; from sim.cli import main; sys.exit(main(sys.argv[1:]))"
    done = subprocess.run(
        [sys.executable, "-c", code, "panel", "marsh_tern", "--no-browser"], capture_output=True, text=True, timeout=60,
        check=False,
    )  # fmt: skip
    assert done.returncode == 2
    assert "pip install '.[panel]'" in done.stderr
    assert "Traceback" not in done.stderr


def test_the_task_of_the_boats_process_is_json() -> None:
    command = boat_process({"mode": "simulated", "boat": "x"})
    assert json.loads(command[-1]) == {"mode": "simulated", "boat": "x"}


@pytest.mark.parametrize(
    ("host", "alone"),
    [("127.0.0.1", True), ("localhost", True), ("::1", True), ("127.3.2.1", True), ("0.0.0.0", False),  # noqa: S104
     ("192.168.1.5", False), ("::", False), ("boat.example", False)],
)  # fmt: skip
def test_which_addresses_are_of_this_computer_only(host: str, alone: bool) -> None:
    assert is_loopback(host) is alone


def test_tokens_differ_and_are_long() -> None:
    found = {new_token() for _ in range(100)}
    assert len(found) == 100
    assert min(map(len, found)) >= 20
