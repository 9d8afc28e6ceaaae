"""The part of the page to look into: one overview that zooms, reads values under the pointer and jumps to a moment.

plotly's script lies in the page itself, so that it works without internet; the drawing is described here, in its own
terms. What stands in the page are changes of signals, thinned by their extremes where there are too many of them
(sim.replay.traces). Without plotly there is no such part, and the fixed picture takes its place.
"""

import json
import math
from collections.abc import Iterable, Mapping, Sequence
from importlib.util import find_spec
from typing import Any

from sim.palette import BOAT_MODE_COLOURS, GRID, INK, ORDERED, SHAFT_MODE_COLOURS, UNKNOWN_COLOUR
from sim.replay.disagreements import Stretch
from sim.replay.plots import DIFFERENCE, Curve, Panel
from sim.replay.result import Run
from sim.replay.traces import Trace

_PANEL_PX = 118
_BAND_PX = 26
_TRIPS_MAX = 200
_SPANS_MAX = 5000
"""Stretches of modes that are drawn; a sound day has some hundreds."""

STYLE = """
#look { min-width: 52rem; } .look .wide { overflow-y: hidden; }
.look-keys button { font: inherit; margin: 0 .3rem .3rem 0; padding: .2rem .7rem; }
a.moment { color: inherit; text-decoration: underline dotted; } .fixed { display: none; } .fixed img { width: 100%; }
@media print { .look { display: none; } .fixed { display: block; } }
"""

NO_SCRIPT = "<noscript><style>.look { display: none; } .fixed { display: block; }</style></noscript>"

_BEHAVIOUR = """
const look = document.getElementById("look"), whole = [0, LOOK.end_s], trips = LOOK.layout.shapes;
for (const one of LOOK.curves) {
  const x = [], y = [];
  one.points.forEach(([at, value], k) => {
    x.push(at, k + 1 < one.points.length ? one.points[k + 1][0] : LOOK.end_s);
    y.push(value, value);
  });
  Object.assign(one.trace, {x, y});
}
Plotly.newPlot(look, [...LOOK.bands, ...LOOK.curves.map(one => one.trace)], LOOK.layout,
               {responsive: true, displaylogo: false});
function range() { return look.layout.xaxis.range.map(Number); }
function show(low, high) {
  const length = Math.min(Math.max(high - low, 0.1), whole[1]);
  low = Math.min(Math.max(low, 0), whole[1] - length);
  Plotly.relayout(look, {"xaxis.range": [low, low + length]});
}
function moment(at) {
  const mark = {type: "line", yref: "paper", y0: 0, y1: 1, x0: at, x1: at, line: {color: LOOK.ink, width: 1.5}};
  Plotly.relayout(look, {shapes: [...trips, mark]});
  show(at - 10, at + 10);
  look.scrollIntoView({block: "start"});
}
const MOVES = {
  whole: () => show(...whole),
  nearer: (low, high) => show(low + (high - low) / 4, high - (high - low) / 4),
  further: (low, high) => show(low - (high - low) / 2, high + (high - low) / 2),
  earlier: (low, high) => show(low - (high - low) / 2, high - (high - low) / 2),
  later: (low, high) => show(low + (high - low) / 2, high + (high - low) / 2),
};
document.addEventListener("click", event => {
  const one = event.target.closest("[data-moment], [data-move]");
  if (one === null) return;
  event.preventDefault();
  if (one.dataset.moment !== undefined) moment(Number(one.dataset.moment));
  else MOVES[one.dataset.move](...range());
});
"""


def available() -> bool:
    """Whether plotly is installed (extra `replay`)."""
    return find_spec("plotly") is not None


def look_html(
    shown: Sequence[Panel], traces: Mapping[str, Trace], run: Run, differences: Sequence[Stretch], end_s: float
) -> str:
    """The element with its script. Same arguments, same text."""
    from plotly.offline import get_plotlyjs

    shown = [panel for panel in shown if any(_moves(traces[curve.name]) for curve in panel.curves)]
    data = _described(shown, traces, run, differences, end_s)
    text = json.dumps(data, separators=(",", ":"), allow_nan=False).replace("</", "<\\/")
    keys = "".join(
        f'<button type="button" data-move="{move}">{words}</button>'
        for move, words in (
            ("whole", "whole recording"), ("nearer", "nearer"), ("further", "further"), ("earlier", "earlier"),
            ("later", "later"),
        )
    )  # fmt: skip
    thinned = max((trace.slice_s for trace in traces.values()), default=0.0)
    note = (
        f"Changes closer together than {thinned:g} s may be left out here, but never the least and the most of a "
        "signal: the table of signals has up to ten values a second."
        if thinned
        else "Every change is in the page."
    )
    left = [f"{_SPANS_MAX} of {len(run.spans)} stretches of modes are drawn."] if len(run.spans) > _SPANS_MAX else []
    left += [f"{_TRIPS_MAX} of {len(run.trips)} trips are marked."] if len(run.trips) > _TRIPS_MAX else []
    note = " ".join([note, *left])
    return (
        f'<div class="look"><div class="look-keys">{keys}</div><div class="wide"><div id="look"></div></div>'
        f'<p class="caption">Drag to zoom, double-click for the whole, point to read values; a time in a table below '
        f"leads to its moment. {note}</p>"
        f"<script>{get_plotlyjs()}</script>\n<script>const LOOK = {text};{_BEHAVIOUR}</script></div>"
    )


def _moves(trace: Trace) -> bool:
    """More than one value: a line that never moves is left out, as in the picture; the table of inputs has it."""
    return len({value for _, value in trace.points() if math.isfinite(value)}) > 1


def _described(
    shown: Sequence[Panel], traces: Mapping[str, Trace], run: Run, differences: Sequence[Stretch], end_s: float
) -> dict[str, Any]:
    differing = sorted({stretch.what for stretch in differences})
    heights = [_BAND_PX * len(run.names), *([_BAND_PX * len(differing)] if differing else [])]
    heights += [_PANEL_PX] * len(shown)
    layout = _layout(heights, end_s)
    bands = list(_mode_bands(run))
    _rows(layout["yaxis"], run.names)
    first = 2
    if differing:
        bands += list(_difference_bands(differing, differences))
        _rows(layout["yaxis2"], differing)
        first = 3
    curves = []
    for number, panel in enumerate(shown, start=first):
        axis = layout[f"yaxis{number}"]
        axis["title"] = {"text": panel.label.replace("\n", "<br>"), "font": {"size": 11}}
        for curve in panel.curves:
            points = traces[curve.name].points()
            if points:
                unit = panel.label.rpartition(", ")[2]
                curves.append({"trace": _curve(curve, number, unit), "points": [_point(point) for point in points]})
    trips = [trip.time_s for trip in run.trips[:_TRIPS_MAX]]
    line = {"color": BOAT_MODE_COLOURS["TRIPPED"], "width": 1, "dash": "dash"}
    layout["shapes"] = [
        {"type": "line", "yref": "paper", "y0": 0, "y1": 1, "x0": time_s, "x1": time_s, "line": line}
        for time_s in trips
    ]
    return {"end_s": max(end_s, 0.001), "ink": INK, "bands": bands, "curves": curves, "layout": layout}


def _point(point: tuple[float, float]) -> list[float | None]:
    """Short numbers: six digits, as in the tables; what is not known is null, and leaves a gap."""
    time_s, value = point
    return [round(time_s, 4), float(f"{value:.6g}") if math.isfinite(value) else None]


def _layout(heights: Sequence[int], end_s: float) -> dict[str, Any]:
    gap = 10
    total = sum(heights) + gap * (len(heights) - 1)
    layout: dict[str, Any] = {
        "height": total + 80,
        "margin": {"l": 84, "r": 170, "t": 34, "b": 46},
        "font": {"family": "system-ui, sans-serif", "size": 11, "color": INK},
        "plot_bgcolor": "#ffffff",
        "paper_bgcolor": "#ffffff",
        "hovermode": "x unified",
        "hoversubplots": "axis",
        "hoverdistance": -1,
        "spikedistance": -1,
        "dragmode": "zoom",
        "shapes": [],
        "xaxis": {
            "title": {"text": "log time, s"}, "range": [0, max(end_s, 0.001)], "anchor": f"y{len(heights)}",
            "showspikes": True, "spikemode": "across", "spikethickness": 1, "spikedash": "solid", "spikecolor": INK,
            "gridcolor": GRID, "zeroline": False, "hoverformat": ".2f",
        },
    }  # fmt: skip
    upper = float(total)
    for number, height in enumerate(heights, start=1):
        lower = upper - height
        layout[f"yaxis{number if number > 1 else ''}"] = {
            "domain": [max(0.0, lower / total), upper / total], "anchor": "x", "gridcolor": GRID, "zeroline": False,
            "fixedrange": True,
        }  # fmt: skip
        layout[f"legend{number if number > 1 else ''}"] = {
            "x": 1.01, "y": upper / total, "yanchor": "top", "font": {"size": 10}, "bgcolor": "rgba(255,255,255,0)",
            "tracegroupgap": 0,
        }  # fmt: skip
        upper = lower - gap
    layout["legend"] |= {"orientation": "h", "x": 0, "y": 1.0, "yanchor": "bottom"}
    return layout


def _rows(axis: dict[str, Any], names: Sequence[str]) -> None:
    """An axis with one row for each name, the first on top."""
    labels = [name.replace(".drive.", " ").replace(".", " ") for name in names]
    axis |= {"tickvals": list(range(len(names))), "ticktext": labels, "range": [len(names) - 0.5, -0.5]}
    axis |= {"showgrid": False}


def _mode_bands(run: Run) -> Iterable[dict[str, Any]]:
    """One trace for each subject and mode: thick lines, with breaks between."""
    found: dict[tuple[str, str], tuple[list[float | None], list[str]]] = {}
    for span in run.spans[:_SPANS_MAX]:
        times, causes = found.setdefault((span.subject, span.mode), ([], []))
        times += [round(span.begin_s, 4), round(span.end_s, 4), None]
        causes += [span.cause, span.cause, ""]
    named: set[str] = set()
    for (subject, mode), (times, causes) in found.items():
        colours = BOAT_MODE_COLOURS if subject == run.names[0] else SHAFT_MODE_COLOURS
        row = run.names.index(subject)
        yield {
            "type": "scatter", "mode": "lines", "x": times, "y": [None if at is None else row for at in times],
            "yaxis": "y", "legend": "legend", "name": mode, "showlegend": mode not in named, "text": causes,
            "legendgroup": mode, "line": {"color": colours.get(mode, UNKNOWN_COLOUR), "width": 15},
            "hovertemplate": f"{subject}: {mode}, %{{text}}<extra></extra>", "connectgaps": False,
        }  # fmt: skip
        named.add(mode)


def _difference_bands(names: Sequence[str], differences: Sequence[Stretch]) -> Iterable[dict[str, Any]]:
    for row, name in enumerate(names):
        mine = [stretch for stretch in differences if stretch.what == name][:_SPANS_MAX]
        times: list[float | None] = []
        for stretch in mine:
            times += [round(stretch.begin_s, 4), round(stretch.begin_s + max(stretch.length_s, 0.02), 4), None]
        yield {
            "type": "scatter", "mode": "lines", "x": times, "y": [None if at is None else row for at in times],
            "yaxis": "y2", "legend": "legend2", "name": "decisions differ", "showlegend": row == 0,
            "legendgroup": "differ", "line": {"color": DIFFERENCE, "width": 12},
            "hovertemplate": f"{name} differs<extra></extra>", "connectgaps": False,
        }  # fmt: skip


def _curve(curve: Curve, number: int, unit: str) -> dict[str, Any]:
    dash = "solid" if curve.dash == "-" else "dot" if curve.dash[1][0] < 3 else "dash"
    width = 4 if curve.colour == ORDERED else 1.4
    return {
        "type": "scatter", "mode": "lines", "yaxis": f"y{number}", "legend": f"legend{number}", "name": curve.label,
        "line": {"color": curve.colour, "width": width, "dash": dash}, "connectgaps": False,
        "hovertemplate": f"{curve.label}: %{{y:.6g}} {unit}<extra></extra>",
    }  # fmt: skip
