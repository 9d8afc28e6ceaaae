"""Boats to put nodes on, and rigs that are always closed."""

from collections.abc import Callable, Iterator

import pytest

from sim.nodes import Nodes, build_nodes, new_panel
from sim.plant import PlantParams, PlantState, initial_state, load_plant
from sim.rig.simulated import SimRig
from supervisor.bus import BoatMap, compile_boat
from supervisor.config import load_config
from supervisor.config.load import shipped_path


@pytest.fixture(scope="session")
def marsh_map() -> BoatMap:
    return compile_boat(load_config("marsh_tern"), "marsh_tern")


@pytest.fixture(scope="session")
def marsh_plant() -> PlantParams:
    return load_plant(shipped_path("plants/marsh_tern.toml"))


@pytest.fixture
def plant(marsh_plant: PlantParams) -> PlantState:
    return initial_state(marsh_plant)


@pytest.fixture
def nodes(marsh_map: BoatMap) -> Nodes:
    """All nodes of marsh_tern; every message is due at 0 s."""
    return build_nodes(marsh_map, new_panel(marsh_map, handset_id=87))


@pytest.fixture
def make_rig() -> Iterator[Callable[..., SimRig]]:
    made: list[SimRig] = []

    def make(boat: str = "marsh_tern", **kwargs: object) -> SimRig:
        made.append(SimRig(boat, **kwargs))  # type: ignore[arg-type]
        return made[-1]

    yield make
    for rig in made:
        rig.close()


@pytest.fixture
def rig(make_rig: Callable[..., SimRig]) -> SimRig:
    return make_rig()
