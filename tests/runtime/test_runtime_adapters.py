"""What python-can is told of an adapter, by whichever way it is opened."""

from typing import Any

import can
import can.interfaces.virtual
import pytest

from supervisor.bus.port import no_hardware, open_adapter
from supervisor.config import load_config
from supervisor.runtime.adapters import Adapters

OPENERS = [pytest.param(open_adapter, id="port"), pytest.param(Adapters(0.0).open, id="run")]


@pytest.fixture
def told(monkeypatch: pytest.MonkeyPatch) -> list[dict[str, Any]]:
    seen: list[dict[str, Any]] = []

    def bus(**given: Any) -> can.BusABC:
        seen.append(given)
        return can.interfaces.virtual.VirtualBus("told")

    monkeypatch.setattr(can, "Bus", bus)
    return seen


@pytest.mark.parametrize("opener", OPENERS)
def test_buses_without_hardware_end_here_and_have_a_port_each(opener: Any, told: list[dict[str, Any]]) -> None:
    """Four buses: four groups, four ports, no hop; the first has python-can's own group and port."""
    for setting in no_hardware(load_config("marsh_tern")).values():
        opener(*setting).shutdown()
    for number in (4, 5):
        opener("udp_multicast", f"239.74.163.{number}", 250000).shutdown()
    assert [given["hop_limit"] for given in told] == [0, 0, 0, 0]
    assert [given["port"] for given in told] == [43113, 43114, 43115, 43116]
    assert all(given["ignore_config"] for given in told)


@pytest.mark.parametrize("opener", OPENERS)
def test_other_adapters_are_told_nothing_of_that(opener: Any, told: list[dict[str, Any]]) -> None:
    opener("socketcan", "can0", 250000).shutdown()
    opener("udp_multicast", "ff15:7079:7468:6f6e:6465:6d6f:6d63:6173", 250000).shutdown()
    opener("udp_multicast", "239.74.163.own", 250000).shutdown()
    assert not any({"port", "hop_limit"} & given.keys() for given in told)
