"""Pictures of a replay: the whole recording, and the seconds around each trip."""

import io
import math
from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any, NamedTuple

from sim.palette import (
    BOAT_MODE_COLOURS,
    ENGINE,
    GRID,
    INK,
    LIMIT,
    MEASURED,
    ORDERED,
    SHAFT_MODE_COLOURS,
    SPEED,
    UNKNOWN_COLOUR,
    band_patch,
    hatch_of,
)
from sim.replay.disagreements import Stretch
from sim.replay.envelope import Envelope
from sim.replay.history import ModeSpan, Trip
from sim.replay.signals import Signals
from sim.replay.windows import AROUND_S, Window

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_WIDTH_IN = 11.5
_STYLE: dict[Any, Any] = {
    "font.size": 8.5, "axes.edgecolor": "#8a97a8", "axes.labelcolor": INK, "text.color": INK, "xtick.color": INK,
    "ytick.color": INK, "svg.hashsalt": "thwart", "svg.fonttype": "none", "axes.spines.top": False,
    "axes.spines.right": False, "font.family": "DejaVu Sans",
}  # fmt: skip
DIFFERENCE = "#b78103"


class Curve(NamedTuple):
    """One signal in a panel."""

    name: str
    label: str
    colour: str
    dash: Any = "-"


class Panel(NamedTuple):
    """One axis."""

    label: str
    curves: tuple[Curve, ...]


def panels(signals: Signals, recorded: Sequence[str] = ()) -> list[Panel]:
    """What is drawn for this boat, where it is read at all; `recorded` are the orders that the recording holds."""
    limit, theirs = (0, (4, 2)), (0, (1, 1.2))
    found = [
        Panel("SOC, %", (
            Curve("bank.soc_pct", "state of charge", MEASURED),
            *([Curve("boat.derate_pct", "electric thrust allowed", LIMIT, limit)] if signals.shafts else []),
            Curve("boat.recorded_derate_pct", "allowed, recorded", INK, theirs),
        )),
        Panel("bank current, A", (
            Curve("bank.current_a", "into the bank", MEASURED),
            Curve("boat.charge_limit_a", "charge limit", LIMIT, limit),
            Curve("boat.recorded_charge_limit_a", "limit, recorded", INK, theirs),
        )),
        Panel("bank, V", (Curve("bank.voltage_v", "voltage", MEASURED),)),
        Panel("cell, V", (Curve("bank.cell_max_v", "highest", LIMIT), Curve("bank.cell_min_v", "lowest", MEASURED))),
        Panel("cells, \u00b0C", (
            Curve("bank.cell_hot_c", "hottest", LIMIT), Curve("bank.cell_cold_c", "coldest", MEASURED, limit),
        )),
    ]  # fmt: skip
    for shaft in signals.shafts:
        found.append(Panel(f"{shaft}\ntorque, N m", (
            Curve(f"{shaft}.order_nm", "ordered", ORDERED), Curve(f"{shaft}.torque_nm", "measured", MEASURED),
            Curve(f"{shaft}.recorded_order_nm", "ordered, recorded", INK, theirs),
        )))  # fmt: skip
        found.append(Panel(f"{shaft}\nspeed, rpm", (
            Curve(f"{shaft}.speed_rpm", "drive", SPEED), Curve(f"{shaft}.propeller_rpm", "propeller", MEASURED, limit),
            Curve(f"{shaft}.engine_rpm", "engine", ENGINE, (0, (1.5, 1.5))),
        )))  # fmt: skip
        found.append(Panel(f"{shaft}\nlever, %", (Curve(f"{shaft}.lever_pct", "lever", INK),)))
    kept = []
    for panel in found:
        curves = tuple(curve for curve in panel.curves if curve.name in signals.names or curve.name in recorded)
        if any(not curve.name.startswith("boat.") for curve in curves):
            kept.append(Panel(panel.label, curves))
    return kept


def curve_names(shown: Iterable[Panel]) -> list[str]:
    """All signals that the panels need."""
    return [curve.name for panel in shown for curve in panel.curves]


def _width(curve: Curve) -> float:
    """What is ordered lies wide under what is measured: where the drive obeys, both are seen."""
    return 3.2 if curve.colour == ORDERED else 1.2


def draw_overview(
    shown: Sequence[Panel], envelope: Envelope, spans: Sequence[ModeSpan], names: Sequence[str],
    trips: Sequence[Trip], differences: Sequence[Stretch], end_s: float,
) -> "Figure":  # fmt: skip
    """The whole recording; signals as bands between their least and most in each slice of time."""
    scale, unit = _scale(end_s)
    shown = [
        panel
        for panel in shown
        if any(_moves([*envelope.least[curve.name], *envelope.most[curve.name]]) for curve in panel.curves)
        or (panel.label.startswith(("SOC", "bank")) and any(_any(envelope.most[curve.name]) for curve in panel.curves))
    ]
    figure, axes = _frame(len(shown), {stretch.what for stretch in differences}, len(names), unit)
    times = [k * envelope.slice_s / scale for k in range(envelope.slices)]
    for axis, panel in zip(axes[len(axes) - len(shown) :], shown, strict=True):
        for curve in panel.curves:
            least, most = envelope.least[curve.name], envelope.most[curve.name]
            axis.fill_between(times, least, most, color=curve.colour, alpha=0.35, lw=0, step="post")
            axis.plot(times, most, color=curve.colour, lw=_width(curve), ls=curve.dash, label=curve.label,
                      drawstyle="steps-post")  # fmt: skip
        _dress(axis, panel.label)
    _bands(axes[0], spans, names, scale, 0.0, end_s)
    if differences:
        _difference_rows(axes[1], differences, scale)
    for axis in axes:
        axis.set_xlim(0.0, max(end_s, 1e-3) / scale)
        for trip in trips[:200]:
            axis.axvline(trip.time_s / scale, color=BOAT_MODE_COLOURS["TRIPPED"], lw=0.9, ls=(0, (3, 2)))
    return figure


def draw_window(
    shown: Sequence[Panel], signals: Signals, window: Window, spans: Sequence[ModeSpan], names: Sequence[str]
) -> "Figure":
    """The seconds around one trip, every row."""
    at_s = window.trip.time_s
    low_s, high_s = max(0.0, at_s - AROUND_S), at_s + AROUND_S
    columns = {name: [row[place] for row in window.rows] for place, name in enumerate(signals.names)}
    shown = [Panel(panel.label, tuple(one for one in panel.curves if one.name in columns)) for panel in shown]
    shown = [panel for panel in shown if any(_moves(columns[curve.name]) for curve in panel.curves)]
    figure, axes = _frame(len(shown), set(), len(names), "s")
    times = [*window.times_s, max(window.times_s[-1], min(high_s, window.times_s[-1]))]
    for axis, panel in zip(axes[1:], shown, strict=True):
        for curve in panel.curves:
            values = columns[curve.name]
            axis.plot(times, [*values, values[-1]], color=curve.colour, lw=_width(curve), ls=curve.dash,
                      label=curve.label, drawstyle="steps-post")  # fmt: skip
        _dress(axis, panel.label)
    _bands(axes[0], spans, names, 1.0, low_s, high_s)
    high_s = max(min(high_s, max((span.end_s for span in spans), default=high_s)), at_s + 0.5)
    for axis in axes:
        axis.set_xlim(low_s, high_s)
        axis.axvline(at_s, color=BOAT_MODE_COLOURS["TRIPPED"], lw=1.2, ls=(0, (3, 2)))
    axes[0].set_title(f"{window.trip.subject}: {window.trip.text} at {at_s:.2f} s", loc="left", fontsize=9.5)
    return figure


def svg_text(figure: "Figure") -> str:
    """The picture as an SVG element to put into a page."""
    out = io.StringIO()
    figure.savefig(out, format="svg", metadata={"Date": None, "Creator": None})
    text = out.getvalue()
    return text[text.index("<svg") :]


def styled() -> Any:
    """The style of all pictures, as a context manager; sets up a backend that needs no screen."""
    import matplotlib as mpl

    mpl.use("Agg")
    return mpl.rc_context(_STYLE)


def _frame(panels_shown: int, differing: set[str], bands: int, unit: str) -> "tuple[Figure, list[Axes]]":
    from matplotlib.figure import Figure

    heights = [0.24 * bands + 0.15, *([0.16 * len(differing) + 0.2] if differing else []), *([0.95] * panels_shown)]
    gap, top, bottom = 0.16, 0.35, 0.45
    total = top + bottom + sum(heights) + gap * (len(heights) - 1)
    figure = Figure(figsize=(_WIDTH_IN, total), layout=None)
    axes: list[Any] = []
    # room for the longest name of what differs, which stands left of its row
    left = max(0.085, 0.02 + 0.0056 * max((len(what) for what in differing), default=0))
    upper = total - top
    for height in heights:
        box = (left, (upper - height) / total, 0.785 - left, height / total)
        axes.append(figure.add_axes(box, sharex=axes[0] if axes else None))
        upper -= height + gap
    for axis in axes[:-1]:
        axis.tick_params(labelbottom=False)
    axes[-1].set_xlabel(f"log time, {unit}")
    return figure, axes


def _bands(
    axis: "Axes", spans: Sequence[ModeSpan], names: Sequence[str], scale: float, low_s: float, high_s: float
) -> None:
    used: dict[str, str] = {}
    for span in spans:
        if span.end_s < low_s or span.begin_s > high_s:
            continue
        colours: Mapping[str, str] = BOAT_MODE_COLOURS if span.subject == "boat" else SHAFT_MODE_COLOURS
        colour = used[span.mode] = colours.get(span.mode, UNKNOWN_COLOUR)
        hatch, edge = hatch_of(span.mode)
        axis.broken_barh([(span.begin_s / scale, (span.end_s - span.begin_s) / scale)],
                         (names.index(span.subject) - 0.4, 0.8), facecolor=colour, hatch=hatch, edgecolor=edge,
                         lw=0.2)  # fmt: skip
    axis.set_ylim(len(names) - 0.5, -0.5)
    axis.set_yticks(range(len(names)), list(names))
    axis.tick_params(axis="y", length=0)
    patches = [band_patch(mode, colour) for mode, colour in used.items()]
    axis.legend(handles=patches, loc="upper left", bbox_to_anchor=(1.01, 1.15), frameon=False, fontsize=7,
                ncols=1 if len(patches) <= 3 else 2, handlelength=1.3, labelspacing=0.25,
                columnspacing=0.7)  # fmt: skip


def _difference_rows(axis: "Axes", differences: Sequence[Stretch], scale: float) -> None:
    names = sorted({stretch.what for stretch in differences})
    for stretch in differences:
        axis.broken_barh([(stretch.begin_s / scale, max(stretch.length_s, 0.02) / scale)],
                         (names.index(stretch.what) - 0.4, 0.8), facecolor=DIFFERENCE)  # fmt: skip
    axis.set_ylim(len(names) - 0.5, -0.5)
    labels = [name.replace(".drive.", " ").replace(".", " ") for name in names]
    axis.set_yticks(range(len(names)), labels, size=7.0)
    axis.text(1.01, 0.5, "decisions differ", transform=axis.transAxes, va="center", fontsize=7.5)


def _dress(axis: "Axes", label: str) -> None:
    axis.set_ylabel(label, fontsize=8)
    axis.grid(axis="y", color=GRID, lw=0.6)
    axis.set_axisbelow(True)
    axis.margins(y=0.12)
    axis.ticklabel_format(axis="y", useOffset=False)
    axis.legend(loc="center left", bbox_to_anchor=(1.01, 0.5), frameon=False, fontsize=7.5)


def _scale(end_s: float) -> tuple[float, str]:
    if end_s > 4 * 3600:
        return 3600.0, "h"
    if end_s > 900:
        return 60.0, "min"
    return 1.0, "s"


def _any(values: Sequence[object]) -> bool:
    return any(isinstance(value, float) and math.isfinite(value) for value in values)


def _moves(values: Sequence[object]) -> bool:
    """More than one value: a line that never moves is left out of the picture; the table of inputs has it."""
    numbers = [value for value in values if isinstance(value, float) and math.isfinite(value)]
    return bool(numbers) and min(numbers) < max(numbers)
