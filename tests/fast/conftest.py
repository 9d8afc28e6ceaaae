"""The two demonstration boats' plants."""

from pathlib import Path

import pytest

from sim.plant import PlantParams, load_plant

PLANTS = Path(__file__).parents[2] / "configs" / "plants"


@pytest.fixture(scope="session")
def tern() -> PlantParams:
    """The twin-shaft ketch."""
    return load_plant(PLANTS / "marsh_tern.toml")


@pytest.fixture(scope="session")
def warbler() -> PlantParams:
    """The single-shaft tender."""
    return load_plant(PLANTS / "reed_warbler.toml")
