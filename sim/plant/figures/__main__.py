"""Draws every figure: ``python -m sim.plant.figures [folder] [plants folder]``."""

from __future__ import annotations

import sys
from pathlib import Path

from sim.plant.figures.draw import draw_all


def main(arguments: list[str]) -> int:
    """Draw all figures into the first argument (default docs/plant) from the plant files in the second
    (configs/plants).
    """
    folder = Path(arguments[0]) if arguments else Path("docs/plant")
    plants = Path(arguments[1]) if len(arguments) > 1 else Path("configs/plants")
    for path in draw_all(folder, plants):
        print(path)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
