"""Rigs that are always closed."""

from collections.abc import Callable, Iterator

import pytest

from sim.rig.simulated import SimRig


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
