"""The figures of docs/plant.md, drawn from the model: ``python -m sim.plant.figures [folder]``."""

from sim.plant.figures.draw import FIGURES, draw_all

__all__ = ["FIGURES", "draw_all"]
