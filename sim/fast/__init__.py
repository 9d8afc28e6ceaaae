"""The same rules and the same boat, compiled (extra `fast`), for campaigns and budgets.

Nothing is written twice: the functions that run live are read from their sources, gathered into one module in a cache
folder, and compiled there by numba. What numba cannot compile as it stands is generated from the same tables
(`sim.fast.replaced`). Compiled and plain results are the same in every bit; tests hold them to it.
"""

from sim.fast.built import Built, CompilerMissingError, built

__all__ = ["Built", "CompilerMissingError", "built"]
