"""Boats, a table, and a sender that feeds it."""

from collections.abc import Callable
from typing import Any

import pytest
from bus_support import Sender, boat_data, compile_data

from supervisor.bus import BoatMap, InputTable


@pytest.fixture(scope="session")
def marsh_map() -> BoatMap:
    return compile_data(boat_data("marsh_tern"), "marsh_tern")


@pytest.fixture(scope="session")
def reed_map() -> BoatMap:
    return compile_data(boat_data("reed_warbler"), "reed_warbler")


@pytest.fixture(scope="session")
def house_map() -> BoatMap:
    return compile_data(boat_data("house_bank_24v"), "house_bank_24v")


@pytest.fixture
def table(marsh_map: BoatMap) -> InputTable:
    return InputTable(marsh_map)


@pytest.fixture
def sender(marsh_map: BoatMap, table: InputTable) -> Sender:
    return Sender(marsh_map, table)


@pytest.fixture(scope="session")
def marsh_data() -> Callable[[], dict[str, Any]]:
    """A fresh copy of marsh_tern's contents at each call."""
    return lambda: boat_data("marsh_tern")


@pytest.fixture(scope="session")
def compiled() -> Callable[..., BoatMap]:
    """Compiles changed contents."""
    return compile_data
