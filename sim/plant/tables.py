"""Interpolation in tables, written so that plain Python and numba give the same bits."""

from __future__ import annotations


def interp_uniform(table: tuple[float, ...], position: float) -> float:
    """Linear interpolation at `position` counted in table steps; held constant beyond both ends."""
    last = len(table) - 1
    if position <= 0.0:
        return table[0]
    if position >= last:
        return table[last]
    i = int(position)
    y0 = table[i]
    return y0 + (position - i) * (table[i + 1] - y0)


def interp_points(xs: tuple[float, ...], ys: tuple[float, ...], x: float) -> float:
    """Linear interpolation between rising points, held constant beyond both ends; searched from the top."""
    last = len(xs) - 1
    if x >= xs[last]:
        return ys[last]
    if x <= xs[0]:
        return ys[0]
    i = last - 1
    while x < xs[i]:
        i -= 1
    y0 = ys[i]
    return y0 + (x - xs[i]) / (xs[i + 1] - xs[i]) * (ys[i + 1] - y0)
