"""The own interlocks of one boat as a page of the cause-and-effect matrix: cause, condition, effect in each mode."""

from collections.abc import Sequence
from typing import Any

from supervisor.config import BoatConfig
from supervisor.config.interlocks import acts_on, effect_of
from supervisor.config.schema import Interlock
from supervisor.controller.causes import OWN_BITS
from supervisor.modes import (
    BOAT_TABLE,
    SHAFT_TABLE,
    BoatCondition,
    BoatMode,
    Row,
    ShaftCondition,
    ShaftMode,
)
from supervisor.signals import OwnEffect

_NOTHING = "."
_BESIDES = {
    OwnEffect.WARN: "alarm only",
    OwnEffect.LIMIT_THRUST: "thrust within {limit_pct:g} % of rated torque and power",
    OwnEffect.INHIBIT_ENGINE_START: "no engine start permit",
}
"""What an effect does that is no row of a mode table."""


def own_page(config: BoatConfig) -> str:
    """The page; "" for a boat without own interlocks."""
    if not config.interlock:
        return ""
    lines = [
        "<!-- generated from the boat file and the mode tables by thwart prove; do not edit -->",
        "",
        f"# {config.boat.name}: own interlocks",
        "",
        "Each is bad once its signal has been bad for its debounce, and good again at once; while it is bad an alarm "
        "stands in its own words. At power-up each counts as bad until it is seen good.",
        "",
        "| interlock | good | bad | signal | bad when | for | unknown | effect | on |",
        "| --- | --- | --- | --- | --- | --- | --- | --- | --- |",
    ]
    names = [shaft.name for shaft in config.shaft]
    for entry in config.interlock:
        where = ", ".join(names[number] for number in acts_on(config, entry))
        on = "boat" if effect_of(entry) in (OwnEffect.WARN, OwnEffect.TRIP_BOAT) else where
        signal = f"{entry.message}.{entry.signal} on {entry.bus}"
        cells = (entry.name, entry.good, entry.bad, signal, _bad_when(entry), f"{entry.debounce_s:g} s", entry.unknown,
                 entry.effect, on)  # fmt: skip
        lines.append(f"| {' | '.join(map(_cell, cells))} |")
    lines += _effects(config)
    return "\n".join(lines) + "\n"


def _cell(text: str) -> str:
    """Text that cannot break the table."""
    return text.replace("|", "\\|")


def _bad_when(entry: Interlock) -> str:
    if entry.good_when is not None:
        return "off" if entry.good_when == "on" else "on"
    if entry.bad_above is not None:
        return f"{entry.bad_above:g} or more, until {entry.bad_above - (entry.hysteresis or 0.0):g} or less"
    limit = entry.bad_below or 0.0
    return f"{limit:g} or less, until {limit + (entry.hysteresis or 0.0):g} or more"


def _effects(config: BoatConfig) -> list[str]:
    """What each does in each mode, as far as it is the only cause."""
    lines = [
        "", "## Effects", "",
        "What one of them by itself does in each mode of the boat, or of a shaft that it acts on; `bars` keeps from "
        f"entering a mode from there, `{_NOTHING}` is nothing. *Disarms*: thrust comes back only after fresh neutral.",
        "",
    ]  # fmt: skip
    shown = {"boat": BoatMode, "shaft": ShaftMode}
    for level, modes in shown.items():
        rows: Sequence[Row[Any, Any]] = BOAT_TABLE if level == "boat" else SHAFT_TABLE
        kind: type[Any] = BoatCondition if level == "boat" else ShaftCondition
        table = [f"| of the {level} | {' | '.join(mode.name for mode in modes)} |", f"| --- |{' --- |' * len(modes)}"]
        for entry in config.interlock:
            bits = [bit for bit, effects in OWN_BITS.items() if isinstance(bit, kind) and effect_of(entry) in effects]
            if bits:
                cells = [_in_mode(rows, mode, sum(int(bit) for bit in bits)) for mode in modes]
                table.append(f"| {_cell(entry.bad)} | {' | '.join(cells)} |")
        if len(table) > 2:
            lines += [*table, ""]
    besides = [
        f"- {entry.bad}: {_BESIDES[effect_of(entry)].format(limit_pct=entry.limit_pct or 0.0)}"
        f"{' ahead' if effect_of(entry) is OwnEffect.LIMIT_THRUST and not entry.astern else ''}"
        for entry in config.interlock
        if effect_of(entry) in _BESIDES
    ]
    return lines + besides


def _in_mode(rows: Sequence[Row[Any, Any]], mode: Any, bits: int) -> str:
    """Where a clear bit leads from a mode; else what it bars."""
    leads = [row for row in rows if row.source == mode and int(row.must_not) & bits]
    if leads:
        marks = ", disarms" if any(row.disarms for row in leads) else ""
        return " or ".join(dict.fromkeys(row.dest.name for row in leads)) + marks
    barred = dict.fromkeys(row.dest.name for row in rows if row.source == mode and int(row.must) & bits)
    return f"bars {', '.join(barred)}" if barred else _NOTHING
