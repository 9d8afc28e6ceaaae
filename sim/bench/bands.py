"""Modes as coloured bands and events as marks, for the plot of a run."""

from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING

from sim.bench.recorder import Mark, Recorder
from sim.palette import (
    BOAT_MODE_COLOURS,
    EVENT_MARKS,
    GRID,
    INK,
    SHAFT_MODE_COLOURS,
    UNKNOWN_COLOUR,
    band_patch,
    hatch_of,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_LETTER = 0.0052
"""Width of one letter in a band, as a share of the axis."""


def spans(times_s: Sequence[float], modes: Sequence[float | str]) -> Iterator[tuple[float, float, str]]:
    """Start, end (s) and mode of each stretch in one mode."""
    start = 0
    for place in range(1, len(modes) + 1):
        if place == len(modes) or modes[place] != modes[start]:
            end_s = times_s[place] if place < len(modes) else times_s[-1]
            yield times_s[start], end_s, str(modes[start])
            start = place


def draw_bands(axis: "Axes", recorder: Recorder, shafts: Sequence[str], scale: float) -> None:
    """One row for the boat, one a shaft; `scale` seconds are one unit of the time axis."""
    from matplotlib.transforms import ScaledTranslation

    low, high = axis.get_xlim()
    rows: list[tuple[str, Mapping[str, str]]] = [("boat", BOAT_MODE_COLOURS)]
    rows += [(shaft, SHAFT_MODE_COLOURS) for shaft in shafts]
    used: dict[str, str] = {}
    for row, (name, colours) in enumerate(rows):
        if f"{name}.mode" not in recorder.names:
            continue
        for start_s, end_s, mode in spans(recorder.times_s, recorder.column(f"{name}.mode")):
            colour = colours.get(mode, UNKNOWN_COLOUR)
            used[mode] = colour
            start, width = start_s / scale, (end_s - start_s) / scale
            hatch, edge = hatch_of(mode)
            axis.broken_barh(
                [(start, width)], (row - 0.42, 0.84), facecolor=colour, hatch=hatch, edgecolor=edge, lw=0.3
            )
            if width > (len(mode) + 2) * _LETTER * (high - low):
                place = start + width / 2
                clear = {"facecolor": colour, "edgecolor": "none", "pad": 1.0} if hatch else None
                axis.text(
                    place,
                    row,
                    mode,
                    ha="center",
                    va="center",
                    size=7.5,
                    color=_ink_on(colour),
                    clip_on=True,
                    bbox=clear,
                )
    axis.set_ylim(len(rows) - 0.5, -0.5)
    axis.set_yticks(range(len(rows)), [name for name, _ in rows])
    axis.tick_params(axis="y", length=0)
    order = [*BOAT_MODE_COLOURS, *SHAFT_MODE_COLOURS]
    shown = sorted(used, key=lambda mode: order.index(mode) if mode in order else len(order))
    patches = [band_patch(mode, used[mode]) for mode in shown]
    over_the_numbers = axis.transAxes + ScaledTranslation(0.0, 14 / 72, axis.figure.dpi_scale_trans)
    axis.legend(
        handles=patches, loc="lower right", bbox_to_anchor=(1.005, 1.0), bbox_transform=over_the_numbers,
        frameon=False, fontsize=8, ncols=max(1, len(shown)), handlelength=1.4, columnspacing=1.1, borderaxespad=0.0,
    )  # fmt: skip


def draw_events(axis: "Axes", recorder: Recorder, scale: float) -> None:
    """One row a kind of event."""
    kinds = list(EVENT_MARKS)
    for row, kind in enumerate(kinds):
        _, marker, colour = EVENT_MARKS[kind]
        marks = [mark for mark in recorder.events if mark.kind == kind]
        for over in (False, True):  # the end of a fault is no fault: it gets an open mark
            times = [mark.time_s / scale for mark in marks if _is_over(mark) is over]
            axis.plot(
                times, [row] * len(times), marker, color=colour, ms=6.5, mew=1.4 if marker == "|" else 0.6,
                mfc="#ffffff" if over else colour, clip_on=False,
            )  # fmt: skip
    axis.set_ylim(len(kinds) - 0.4, -0.6)
    names = {kind: name for kind, (name, _, _) in EVENT_MARKS.items()} | {"fault": "fault (open: its end)"}
    axis.set_yticks(range(len(kinds)), [names[kind] for kind in kinds], size=8)
    axis.tick_params(axis="y", length=0)
    axis.grid(axis="y", color=GRID, lw=0.6)
    axis.set_axisbelow(True)


def _is_over(mark: Mark) -> bool:
    return mark.kind == "fault" and mark.text.endswith(" ended")


def _ink_on(colour: str) -> str:
    """Black or white letters, whichever reads better (relative luminance as in WCAG 2, without its gamma)."""
    red, green, blue = (int(colour[i : i + 2], 16) for i in (1, 3, 5))
    return INK if 0.2126 * red + 0.7152 * green + 0.0722 * blue > 140 else "#ffffff"
