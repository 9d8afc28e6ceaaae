"""Which signals are plotted, in which picture. Lines are told apart by dashes and names, not by colour alone."""

from collections.abc import Sequence
from typing import Any

from sim.bench.units import unit_of

PERIOD_S = 0.2
"""A point this often, in time of the wall clock."""
KEPT = 1500
"""Points kept for a page that comes later: five minutes."""

_SOLID, _DASHED, _DOTTED = "solid", "dashed", "dotted"


def pictures(shafts: Sequence[str]) -> list[dict[str, Any]]:
    """The pictures of a boat with these shafts: title, unit, and the lines with signal, name, dash, shade (which of the
    page's inks) and factor; `span` is the least that its axis
    shows, so that noise does not look like an event."""
    torque = [
        line
        for shade, shaft in enumerate(shafts)
        for line in (
            _line(f"{shaft}.torque_nm", shaft, _SOLID, shade),
            _line(f"{shaft}.order_nm", f"{shaft} ordered", _DOTTED, shade),
        )
    ]
    speed = [
        line
        for shade, shaft in enumerate(shafts)
        for line in (
            _line(f"{shaft}.speed_rpm", f"{shaft} machine", _SOLID, shade),
            _line(f"{shaft}.propeller_rpm", f"{shaft} propeller", _DOTTED, shade),
            _line(f"{shaft}.engine_rpm", f"{shaft} engine", _DASHED, shade),
        )
    ]
    current = [
        _line("bank.current_a", "bank", _SOLID, 0),
        _line("boat.charge_limit_a", "charging limit", _DASHED, 2),
        _line("bank.seen_charge_limit_a", "bank monitor's charging limit", _DOTTED, 2),
        _line("bank.seen_discharge_limit_a", "bank monitor's discharging limit", _DOTTED, 3, -1.0),
    ]
    cells = [_line("bank.cell_max_v", "highest cell", _SOLID, 0), _line("bank.cell_min_v", "lowest cell", _DASHED, 1)]
    soc = [_line("bank.soc_pct", "bank", _SOLID, 0), _line("bank.seen_soc_pct", "as the supervisor has it", _DOTTED, 1)]
    found = [
        _picture("Bank current, positive into the bank", 20.0, current),
        _picture("State of charge", 1.0, soc),
        _picture("Torque of each machine, positive ahead", 10.0, torque),
        _picture("Speed of each shaft", 100.0, speed),
        _picture("Cell voltages", 0.02, cells),
    ]
    return [one for one in found if one["lines"]]  # a boat without shafts has two of them less


def _line(signal: str, name: str, dash: str, shade: int, factor: float = 1.0) -> dict[str, Any]:
    return {"signal": signal, "name": name, "dash": dash, "shade": shade, "factor": factor}


def _picture(title: str, span: float, lines: list[dict[str, Any]]) -> dict[str, Any]:
    return {"title": title, "unit": unit_of(lines[0]["signal"]) if lines else "", "span": span, "lines": lines}


def plotted(shafts: Sequence[str]) -> list[str]:
    """Every signal of these pictures, each once."""
    return list(dict.fromkeys(line["signal"] for picture in pictures(shafts) for line in picture["lines"]))
