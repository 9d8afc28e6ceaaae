"""Shared fixtures: the two demonstration boats."""

from pathlib import Path

import pytest

from sim.plant import PlantInputs, PlantParams, ShaftOrders, idle_inputs, load_plant

PLANTS = Path(__file__).parents[2] / "configs" / "plants"


@pytest.fixture(scope="session")
def tern() -> PlantParams:
    """The twin-shaft ketch."""
    return load_plant(PLANTS / "marsh_tern.toml")


@pytest.fixture(scope="session")
def warbler() -> PlantParams:
    """The single-shaft tender."""
    return load_plant(PLANTS / "reed_warbler.toml")


@pytest.fixture(scope="session")
def order():
    """order(params, boat-level fields, **command): the same command on every shaft."""

    def build(params: PlantParams, boat: dict | None = None, **command: float) -> PlantInputs:
        return idle_inputs(params)._replace(shafts=(ShaftOrders(**command),) * len(params.shafts), **(boat or {}))

    return build
