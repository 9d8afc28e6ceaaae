"""State diagrams drawn from the tables, as SVG: the boxes are laid out by hand, the arrows come from the rows."""

from collections.abc import Mapping, Sequence
from html import escape
from typing import Any, NamedTuple

from supervisor.modes import BOAT_TABLE, SHAFT_TABLE, BoatMode, Row, ShaftMode

INK, PAPER, TRIP, CALM, WORK = "#1d2733", "#ffffff", "#9f2a2a", "#41617f", "#2f6b45"
BOX_W, BOX_H = 150, 46


class Arrow(NamedTuple):
    """One arrow: corner points, where its label stands, and how the label is anchored."""

    points: tuple[tuple[int, int], ...]
    label: tuple[int, int]
    anchor: str = "middle"


_BOAT_BOXES: dict[Any, tuple[int, int, str]] = {
    BoatMode.STANDBY: (120, 110, CALM),
    BoatMode.NEUTRAL_WAIT: (450, 110, CALM),
    BoatMode.READY: (780, 110, WORK),
    BoatMode.TRIPPED: (450, 330, TRIP),
}
_BOAT_ARROWS: dict[tuple[Any, Any], Arrow] = {
    (BoatMode.STANDBY, BoatMode.NEUTRAL_WAIT): Arrow(((195, 100), (375, 100)), (285, 92)),
    (BoatMode.NEUTRAL_WAIT, BoatMode.STANDBY): Arrow(((375, 122), (195, 122)), (285, 138)),
    (BoatMode.NEUTRAL_WAIT, BoatMode.READY): Arrow(((525, 110), (705, 110)), (615, 102)),
    (BoatMode.READY, BoatMode.STANDBY): Arrow(((780, 87), (780, 40), (120, 40), (120, 87)), (450, 32)),
    (BoatMode.STANDBY, BoatMode.TRIPPED): Arrow(((140, 133), (140, 320), (375, 320)), (257, 312)),
    (BoatMode.NEUTRAL_WAIT, BoatMode.TRIPPED): Arrow(((450, 133), (450, 307)), (458, 225), "start"),
    (BoatMode.READY, BoatMode.TRIPPED): Arrow(((780, 133), (780, 330), (525, 330)), (652, 322)),
    (BoatMode.TRIPPED, BoatMode.STANDBY): Arrow(((375, 342), (100, 342), (100, 133)), (237, 360)),
}
_SHAFT_BOXES: dict[Any, tuple[int, int, str]] = {
    ShaftMode.REST: (130, 270, CALM),
    ShaftMode.PROPEL: (480, 110, WORK),
    ShaftMode.GENERATE: (480, 270, WORK),
    ShaftMode.HARVEST: (480, 430, WORK),
    ShaftMode.UNLOAD: (830, 270, CALM),
    ShaftMode.ISOLATED: (480, 640, TRIP),
}
_SHAFT_ARROWS: dict[tuple[Any, Any], Arrow] = {
    (ShaftMode.REST, ShaftMode.PROPEL): Arrow(((130, 247), (130, 100), (405, 100)), (270, 92)),
    (ShaftMode.PROPEL, ShaftMode.REST): Arrow(((405, 122), (160, 122), (160, 247)), (280, 138)),
    (ShaftMode.REST, ShaftMode.GENERATE): Arrow(((205, 260), (405, 260)), (305, 252)),
    (ShaftMode.GENERATE, ShaftMode.REST): Arrow(((405, 282), (205, 282)), (305, 298)),
    (ShaftMode.REST, ShaftMode.HARVEST): Arrow(((160, 293), (160, 420), (405, 420)), (280, 412)),
    (ShaftMode.HARVEST, ShaftMode.REST): Arrow(((405, 442), (130, 442), (130, 293)), (270, 458)),
    (ShaftMode.PROPEL, ShaftMode.UNLOAD): Arrow(((555, 122), (800, 122), (800, 247)), (680, 138)),
    (ShaftMode.UNLOAD, ShaftMode.PROPEL): Arrow(((830, 247), (830, 100), (555, 100)), (690, 92)),
    (ShaftMode.GENERATE, ShaftMode.UNLOAD): Arrow(((555, 270), (755, 270)), (655, 262)),
    (ShaftMode.HARVEST, ShaftMode.UNLOAD): Arrow(((555, 430), (800, 430), (800, 293)), (680, 422)),
    (ShaftMode.UNLOAD, ShaftMode.REST): Arrow(((840, 293), (840, 510), (105, 510), (105, 293)), (480, 502)),
    (ShaftMode.UNLOAD, ShaftMode.UNLOAD): Arrow(((905, 262), (945, 262), (945, 282), (905, 282)), (925, 252)),
    (ShaftMode.ISOLATED, ShaftMode.REST): Arrow(((405, 640), (80, 640), (80, 293)), (240, 632)),
}


def boat_svg() -> str:
    """The diagram of the boat's modes."""
    return _svg(900, 400, "Modes of the boat", BOAT_TABLE, _BOAT_BOXES, _BOAT_ARROWS, [])


def shaft_svg() -> str:
    """The diagram of a shaft's modes. The trips, which lead to ISOLATED from every mode, are drawn once."""
    trips = [number for number, row in enumerate(SHAFT_TABLE) if row.dest == ShaftMode.ISOLATED]
    words = sorted({SHAFT_TABLE[number].words for number in trips})
    extra = [
        f'<rect x="40" y="55" width="920" height="490" rx="14" fill="none" stroke="{TRIP}" stroke-dasharray="6 5"/>',
        _line(Arrow(((480, 545), (480, 617)), (490, 578), "start"), "from every mode, a trip of this shaft:", TRIP, ""),
        f'<text x="490" y="594" font-size="12" fill="{TRIP}">rows {_ranges(trips)}<title>'
        f"{escape('; '.join(words))}</title></text>",
    ]
    rows = [row for row in SHAFT_TABLE if row.dest != ShaftMode.ISOLATED]
    del rows
    return _svg(1000, 700, "Modes of one shaft", SHAFT_TABLE, _SHAFT_BOXES, _SHAFT_ARROWS, extra, ShaftMode.ISOLATED)


def _svg(
    width: int, height: int, title: str, rows: Sequence[Row[Any, Any]], boxes: Mapping[Any, tuple[int, int, str]],
    arrows: Mapping[tuple[Any, Any], Arrow], extra: Sequence[str], once: Any = None,
) -> str:  # fmt: skip
    grouped: dict[tuple[Any, Any], list[int]] = {}
    for number, row in enumerate(rows):
        if once is None or row.dest != once:
            grouped.setdefault((row.source, row.dest), []).append(number)
    missing = set(grouped) - set(arrows)
    if missing:
        names = ", ".join(f"{source.name} -> {dest.name}" for source, dest in sorted(missing))
        raise ValueError(f"the diagram has no arrow for {names}: add it to the layout")
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" font-family="sans-serif" '
        f'role="img" aria-label="{escape(title)}">',
        "<!-- generated from the mode tables by thwart prove; do not edit -->",
        f'<defs><marker id="tip" viewBox="0 0 10 10" refX="9" refY="5" markerWidth="8" markerHeight="8" '
        f'orient="auto-start-reverse"><path d="M0 0 L10 5 L0 10 z" fill="{INK}"/></marker>'
        f'<marker id="trip" viewBox="0 0 10 10" refX="9" refY="5" markerWidth="8" markerHeight="8" '
        f'orient="auto-start-reverse"><path d="M0 0 L10 5 L0 10 z" fill="{TRIP}"/></marker></defs>',
        f'<rect width="{width}" height="{height}" fill="{PAPER}"/>',
        f'<text x="20" y="24" font-size="16" font-weight="bold" fill="{INK}">{escape(title)}</text>',
        *extra,
    ]
    for (source, dest), numbers in sorted(grouped.items()):
        words = "; ".join(rows[number].words for number in numbers)
        colour = TRIP if dest.name in ("TRIPPED", "ISOLATED") else INK
        parts.append(_line(arrows[source, dest], _label(rows, numbers), colour, words))
    for mode, (x, y, colour) in boxes.items():
        parts.append(
            f'<rect x="{x - BOX_W // 2}" y="{y - BOX_H // 2}" width="{BOX_W}" height="{BOX_H}" rx="9" fill="{PAPER}" '
            f'stroke="{colour}" stroke-width="2.5"/><text x="{x}" y="{y + 6}" font-size="16" text-anchor="middle" '
            f'font-weight="bold" fill="{colour}">{mode.name}</text>'
        )
    return "\n".join([*parts, "</svg>"]) + "\n"


def _label(rows: Sequence[Row[Any, Any]], numbers: Sequence[int]) -> str:
    if len(numbers) == 1 and len(rows[numbers[0]].words) <= 24:
        return f"{numbers[0]}: {rows[numbers[0]].words}"
    return f"{'row' if len(numbers) == 1 else 'rows'} {_ranges(numbers)}"


def _ranges(numbers: Sequence[int]) -> str:
    runs: list[list[int]] = []
    for number in numbers:
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    return ", ".join(str(run[0]) if len(run) == 1 else f"{run[0]}-{run[-1]}" for run in runs)


def _line(arrow: Arrow, label: str, colour: str, words: str) -> str:
    points = " ".join(f"{x},{y}" for x, y in arrow.points)
    tip = "trip" if colour == TRIP else "tip"
    x, y = arrow.label
    title = f"<title>{escape(words)}</title>" if words else ""
    return (
        f'<polyline points="{points}" fill="none" stroke="{colour}" stroke-width="1.6" marker-end="url(#{tip})"/>'
        f'<text x="{x}" y="{y}" font-size="12" text-anchor="{arrow.anchor}" fill="{colour}">'
        f"{escape(label)}{title}</text>"
    )
