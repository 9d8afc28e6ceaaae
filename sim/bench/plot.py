"""The picture of a run: modes as bands, events, state of charge, bank current with its limit, each shaft."""

import math
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sim.bench.bands import draw_bands, draw_events
from sim.bench.recorder import Recorder
from sim.palette import ENGINE, GRID, INK, LIMIT, MEASURED, MUTED, ORDERED, SPEED

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_WIDTH_IN = 13.0
_LEFT, _RIGHT = 0.105, 0.93
"""Where the time axis begins and ends, as shares of the width."""
_STEP_COLUMNS = 3
_STEP_LINE_IN = 0.165
_MINUTES_FROM_S = 900.0
_STYLE: dict[Any, Any] = {
    "font.size": 10,
    "axes.edgecolor": "#8a97a8",
    "axes.labelcolor": INK,
    "text.color": INK,
    "xtick.color": INK,
    "ytick.color": INK,
    "svg.hashsalt": "thwart",
    "path.simplify_threshold": 0.5,
}


def draw_run(
    recorder: Recorder,
    shafts: Sequence[str],
    title: str,
    subtitle: str,
    paths: Sequence[Path],
    *,
    failed: Sequence[int] = (),
) -> None:
    """Draw what the recorder kept to each path (the ending decides: .png, .svg). `failed` are step numbers to mark.

    Raises OSError when the disk does.
    """
    import matplotlib as mpl

    mpl.use("Agg")
    from matplotlib.figure import Figure

    with mpl.rc_context(_STYLE):
        figure = Figure(figsize=(_WIDTH_IN, 1.0), layout=None)
        _compose(figure, recorder, shafts, title, subtitle, failed)
        for path in paths:
            metadata: dict[str, Any] = {"Date": None} if path.suffix == ".svg" else {}
            figure.savefig(path, dpi=110, metadata=metadata)


def _compose(
    figure: "Figure", recorder: Recorder, shafts: Sequence[str], title: str, subtitle: str, failed: Sequence[int]
) -> None:
    steps = [mark for mark in recorder.events if mark.kind == "step"]
    lines = math.ceil(len(steps) / _STEP_COLUMNS)
    heights = [0.28 * (1 + len(shafts)), 1.2, 1.15, 1.75, *[1.55] * len(shafts)]
    gaps = [0.12, *[0.3] * (len(heights) - 1)]  # a panel's legend stands over it
    top_in, bottom_in = 0.95, 0.5 + _STEP_LINE_IN * lines + 0.25
    total_in = top_in + sum(heights) + sum(gaps) + bottom_in
    figure.set_size_inches(_WIDTH_IN, total_in)
    scale, unit = (60.0, "min") if recorder.times_s[-1] > _MINUTES_FROM_S else (1.0, "s")
    times = [time_s / scale for time_s in recorder.times_s]
    axes: list[Axes] = []
    upper_in = total_in - top_in
    for height, gap_in in zip(heights, gaps, strict=True):
        box = (_LEFT, (upper_in - height) / total_in, _RIGHT - _LEFT, height / total_in)
        axes.append(figure.add_axes(box, sharex=axes[0] if axes else None))
        upper_in -= height + gap_in
    length = max(times[-1] - times[0], 1e-3)
    axes[0].set_xlim(times[0] - 0.006 * length, times[-1] + 0.003 * length)
    draw_bands(axes[0], recorder, shafts, scale)
    draw_events(axes[1], recorder, scale)
    _soc(axes[2], recorder, times)
    _current(axes[3], recorder, times)
    for axis, shaft in zip(axes[4:], shafts, strict=True):
        _shaft(axis, recorder, times, shaft)
    for axis in axes:
        _step_lines(axis, [mark.time_s / scale for mark in steps])
    for axis in axes[:-1]:
        axis.tick_params(labelbottom=False)
    axes[-1].set_xlabel(f"time, {unit} (simulated)")
    _step_numbers(axes[0], [(mark.time_s / scale, int(mark.subject)) for mark in steps], failed)
    _step_list(figure, [(int(mark.subject), mark.text) for mark in steps], failed, bottom_in, total_in)
    figure.text(0.015, 1 - 0.24 / total_in, title, size=14, weight="bold", va="center")
    figure.text(_RIGHT, 1 - 0.24 / total_in, subtitle, size=10, va="center", ha="right")


def _line(axis: "Axes", recorder: Recorder, times: Sequence[float], name: str, **style: Any) -> bool:
    """Draw one signal if the run has it and it is a number."""
    if name not in recorder.names:
        return False
    values = recorder.column(name)
    if any(isinstance(value, str) for value in values):
        return False
    axis.plot(times, values, **style)
    return True


def _soc(axis: "Axes", recorder: Recorder, times: Sequence[float]) -> None:
    _line(axis, recorder, times, "bank.soc_pct", color=MEASURED, lw=1.6, label="state of charge")
    _line(
        axis, recorder, times, "boat.derate_pct", color=LIMIT, lw=1.1, ls=(0, (4, 2)), label="electric thrust allowed"
    )
    axis.set_ylim(-4, 104)
    axis.set_yticks([0, 25, 50, 75, 100])
    _dress(axis, "bank", "%")


def _current(axis: "Axes", recorder: Recorder, times: Sequence[float]) -> None:
    axis.axhline(0, color="#8a97a8", lw=0.8)
    _line(axis, recorder, times, "bank.current_a", color=MEASURED, lw=1.3, label="current (+ into the bank)")
    values = [v for v in recorder.column("bank.current_a") if isinstance(v, float) and math.isfinite(v)] or [0.0]
    if _line(
        axis,
        recorder,
        times,
        "boat.charge_limit_a",
        color=LIMIT,
        lw=1.2,
        ls=(0, (4, 2)),
        label="charging limit in force",
    ):
        values += [v for v in recorder.column("boat.charge_limit_a") if isinstance(v, float) and math.isfinite(v)]
    low, high = min(0.0, *values), max(0.0, *values)
    room = max(5.0, 0.08 * (high - low))
    axis.set_ylim(low - room, high + room)
    _dress(axis, "bank", "current, A")


def _shaft(axis: "Axes", recorder: Recorder, times: Sequence[float], shaft: str) -> None:
    axis.axhline(0, color="#8a97a8", lw=0.8)
    _line(axis, recorder, times, f"{shaft}.order_nm", color=ORDERED, lw=2.4, label="torque ordered")
    _line(axis, recorder, times, f"{shaft}.torque_nm", color=MEASURED, lw=1.2, label="torque")
    speed = axis.twinx()
    speed.tick_params(labelbottom=False)
    _line(speed, recorder, times, f"{shaft}.speed_rpm", color=SPEED, lw=1.3, ls=(0, (6, 1.5)), label="shaft speed")
    _line(speed, recorder, times, f"{shaft}.engine_rpm", color=ENGINE, lw=1.1, ls=(0, (1.5, 1.5)), label="engine speed")
    for one in (axis, speed):  # zero at the same height on both sides
        low, high = one.get_ylim()
        size = 1.05 * max(abs(low), abs(high), 1.0)
        one.set_ylim(-size, size)
    speed.set_ylabel("rpm", color=SPEED, labelpad=0)
    speed.tick_params(axis="y", colors=SPEED)
    _dress(axis, shaft, "torque, N m", also=speed)


def _dress(axis: "Axes", what: str, unit: str, also: "Axes | None" = None) -> None:
    """Name over the left corner, unit at the side, legend in one line over the right corner."""
    axis.set_ylabel(unit)
    axis.set_title(what, loc="left", size=9.5, weight="bold", pad=4)
    axis.grid(axis="y", color=GRID, lw=0.6)
    axis.set_axisbelow(True)
    handles, labels = axis.get_legend_handles_labels()
    if also is not None:
        more_handles, more_labels = also.get_legend_handles_labels()
        handles, labels = handles + more_handles, labels + more_labels
    axis.legend(
        handles, labels, loc="lower right", bbox_to_anchor=(1.005, 0.97), ncols=len(labels), frameon=False, fontsize=9,
        borderaxespad=0.2, handlelength=2.2, columnspacing=1.4,
    )  # fmt: skip


def _step_lines(axis: "Axes", starts: Sequence[float]) -> None:
    for start in starts:
        axis.axvline(start, color="#b4bfcc", lw=0.5, ls=(0, (2, 3)), zorder=0)


def _step_numbers(axis: "Axes", steps: Sequence[tuple[float, int]], failed: Sequence[int]) -> None:
    """Step numbers over the bands, leaving out those that would cover another; a failed step is never left out."""
    low, high = axis.get_xlim()
    room = (high - low) * 0.014
    taken: list[float] = []
    for start, number in sorted(steps, key=lambda item: (item[1] not in failed, item[0])):
        if any(abs(start - other) < room for other in taken):
            continue
        taken.append(start)
        bad = number in failed
        axis.annotate(
            str(number), (start, 1.0), xycoords=("data", "axes fraction"), xytext=(0, 3), textcoords="offset points",
            ha="center", va="bottom", size=7.5, weight="bold" if bad else "normal", color="#ffffff" if bad else MUTED,
            bbox={"boxstyle": "round,pad=0.15", "fc": LIMIT, "ec": "none"} if bad else None, annotation_clip=False,
        )  # fmt: skip


def _step_list(
    figure: "Figure", steps: Sequence[tuple[int, str]], failed: Sequence[int], bottom_in: float, total_in: float
) -> None:
    """What the step numbers mean, in columns under the picture."""
    per_column = math.ceil(len(steps) / _STEP_COLUMNS)
    for place, (number, name) in enumerate(steps):
        column, line = divmod(place, per_column)
        bad = number in failed
        short = name if len(name) <= 58 else f"{name[:56]}..."
        figure.text(
            0.015 + column * 0.328,
            (bottom_in - 0.68 - _STEP_LINE_IN * line) / total_in,
            f"{number:>2}  {short}{'  FAILED' if bad else ''}",
            size=7.5,
            color=LIMIT if bad else INK,
            weight="bold" if bad else "normal",
        )
