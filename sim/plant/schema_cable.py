"""The plant file: a cable with its fuse."""

from __future__ import annotations

from sim.plant.quantity import COMMON, DATASHEET, OWN, Section, quantity


class CableConfig(Section):
    """A cable of stranded copper and its fuse. What section and fuse are needed is a matter of the local code."""

    length_m: float = quantity("m", 0.3, 20, OWN, gt=0)
    section_mm2: float = quantity("mm2", 10, 600, OWN, gt=0)
    conductor_c: float = quantity("degC", 20, 90, COMMON, ge=-40, le=150, default=40.0)
    terminals_mohm: float = quantity("mohm", 0, 1, COMMON, ge=0, default=0.1)
    fuse_a: float = quantity("A", 20, 2000, OWN, gt=0)
    fuse_loss_w: float = quantity("W", 2, 200, DATASHEET, ge=0)
