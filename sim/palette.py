"""Colours of the plot: our own, told apart by lightness as well as hue, so that colour-blind readers can use them.

A test simulates the three kinds of colour blindness and checks the distances.
"""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from matplotlib.patches import Patch

BOAT_MODE_COLOURS = {
    "STANDBY": "#d5dae1",
    "NEUTRAL_WAIT": "#f0c93a",
    "READY": "#4a8fd6",
    "TRIPPED": "#7d1128",
}

SHAFT_MODE_COLOURS = {
    "REST": "#e6e9ed",
    "PROPEL": "#2563a8",
    "GENERATE": "#e58a12",
    "HARVEST": "#5cc4a9",
    "UNLOAD": "#f2dc4b",
    "ISOLATED": "#5a0f3c",
}

HATCHES = {
    "TRIPPED": ("////", "#ffffff"),
    "ISOLATED": ("////", "#ffffff"),
    "STANDBY": ("---", "#9aa6b5"),
    "NEUTRAL_WAIT": ("....", "#6e5800"),
    "UNLOAD": ("\\\\\\\\", "#8a7600"),
}
"""Modes that also carry a pattern, and its colour: those that must not be missed in a black and white print, and of two
greys and two yellows one each."""


def hatch_of(mode: str) -> tuple[str | None, str]:
    """(pattern or None, colour of pattern and edge) of a mode's band."""
    return HATCHES.get(mode, (None, "#ffffff"))


def band_patch(mode: str, colour: str) -> "Patch":
    """The entry of a mode in a legend."""
    from matplotlib.patches import Patch

    hatch, edge = hatch_of(mode)
    return Patch(facecolor=colour, edgecolor=edge if hatch else "#8a97a8", lw=0.4, hatch=hatch, label=mode)


UNKNOWN_COLOUR = "#ffffff"

INK = "#1d2733"
MUTED = "#5b6b7f"
GRID = "#d9dee5"
MEASURED = "#1f4e8c"
ORDERED = "#93a9c4"
LIMIT = "#c2410c"
SPEED = "#0f766e"
ENGINE = "#9a6a12"

EVENT_MARKS = {
    "trip": ("trip", "v", "#7d1128"),
    "fault": ("fault injected", "X", "#c2410c"),
    "refusal": ("refusal", "s", "#6b4fa0"),
    "alarm": ("alarm", "^", "#b78103"),
    "jump": ("boat set (jump)", "D", "#111827"),
    "action": ("action", "|", "#5b6b7f"),
}
"""Event kind -> (name on the axis, marker, colour), most urgent first. Mode changes are the bands themselves."""
