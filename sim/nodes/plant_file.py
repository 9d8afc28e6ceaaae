"""The plant that a boat file names, read and fitted to it."""

from pathlib import Path

from sim.plant import PlantConfigError, PlantParams, load_plant, shaft_names
from supervisor.config import BoatConfig, ConfigError


def plant_of(config: BoatConfig, file: Path, instead: str | Path | None = None) -> PlantParams:
    """Parameters of the boat to simulate; `instead` names another plant file than the boat file at `file` does.

    Shafts of boat and plant go together by their order; names may differ, but never be the same in another order.
    Raises ConfigError, naming the boat file.
    """
    if config.boat.listen_only or not config.shaft:
        raise ConfigError(str(file), "boat.listen_only", "a boat that only listens cannot be simulated",
                          "Give a boat with shafts and outputs")  # fmt: skip
    if instead is not None:
        place = Path(instead)
    elif config.simulation is not None:
        place = file.parent / config.simulation.plant
    else:
        raise ConfigError(str(file), "simulation.plant", "the boat file names no plant to simulate",
                          "Add [simulation] with plant = a file beside it")  # fmt: skip
    try:
        params, found = load_plant(place), shaft_names(place)
    except PlantConfigError as exc:
        raise ConfigError(str(file), "simulation.plant", str(exc), "Correct the plant file") from exc
    wanted = [shaft.name for shaft in config.shaft]
    crossed = sorted(wanted) == sorted(found) and wanted != list(found)
    if crossed or len(wanted) != len(found):
        problem = f"the plant has the shafts {', '.join(found)}, the boat {', '.join(wanted)}"
        raise ConfigError(str(file), "simulation.plant", problem, "Give as many, in the same order")
    return params
