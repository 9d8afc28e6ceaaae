"""The drawing of a shaft line as facts: for each part what it is, in words, whether it passes torque on, how it turns,
and where power flows. The page only places them.

From the engine aft: engine, gearbox, machine (motor and generator, on the shaft by belt or coupling), shaft clutch,
shaft lock, propeller. What is not known is said to be unknown, and drawn open.
"""

import math
from collections.abc import Mapping
from typing import Any

Shown = float | str

STILL_RPM = 5.0
"""Slower than this is told as still."""
NO_TORQUE_NM = 0.5
NO_POWER_W = 30.0
"""Less than this is told as nothing: a live drive draws a little."""

PARTS = ("engine", "gearbox", "machine", "clutch", "lock", "propeller")


def drawing(shaft: str, signals: Mapping[str, Shown]) -> dict[str, Any]:
    """One shaft: `parts` by name with `words`, `turns` (-1, 0, 1, None: unknown) and `passes` (True: torque goes
    through it to the next part), and `flow`: power between bank and machine in words, and its direction (1 out of the
    bank, -1 into it, 0 none, None unknown)."""

    def text(name: str) -> str:
        found = signals.get(f"{shaft}.{name}", "")
        return found if isinstance(found, str) and found else "unknown"

    def number(name: str) -> float:
        found = signals.get(f"{shaft}.{name}", math.nan)
        return found if isinstance(found, float | int) else math.nan

    engine_rpm, machine_rpm, propeller_rpm = number("engine_rpm"), number("speed_rpm"), number("propeller_rpm")
    gear, clutch, lock = text("gear"), text("clutch"), text("lock")
    parts = {
        "engine": _part(_engine(number("engine_running"), number("engine_stalled"), engine_rpm), engine_rpm, True),
        "gearbox": _part(gear, machine_rpm if gear in ("ahead", "astern") else math.nan, gear in ("ahead", "astern")),
        "machine": _part(_machine(number("torque_nm"), machine_rpm), machine_rpm, True),
        "clutch": _part(clutch, propeller_rpm if clutch == "closed" else math.nan, clutch == "closed"),
        "lock": _part(lock, propeller_rpm, lock == "released"),
        "propeller": _part(_turning(propeller_rpm), propeller_rpm, True),
    }
    return {"shaft": shaft, "parts": parts, "flow": _flow(number("power_w"))}


def _part(words: str, rpm: float, passes: bool) -> dict[str, Any]:
    return {"words": words, "turns": _way(rpm), "passes": passes}


def _way(rpm: float) -> int | None:
    if math.isnan(rpm):
        return None
    return 0 if abs(rpm) < STILL_RPM else 1 if rpm > 0.0 else -1


def _turning(rpm: float) -> str:
    way = _way(rpm)
    if way is None:
        return "speed unknown"
    return "still" if way == 0 else f"turns {'ahead' if way > 0 else 'astern'}, {abs(rpm):.0f} rpm"


def _engine(running: float, stalled: float, rpm: float) -> str:
    if stalled == 1.0:
        return "stalled"
    if math.isnan(running):
        return "unknown" if math.isnan(rpm) else f"{rpm:.0f} rpm"
    if running == 1.0:
        return f"runs, {rpm:.0f} rpm"
    return "stopped" if not abs(rpm) >= STILL_RPM else f"not running, {rpm:.0f} rpm"


def _machine(torque_nm: float, rpm: float) -> str:
    turning = _turning(rpm)
    if math.isnan(torque_nm):
        return f"torque unknown, {turning}"
    if abs(torque_nm) < NO_TORQUE_NM:
        return f"no torque, {turning}"
    direction = "ahead" if torque_nm > 0.0 else "astern"
    way = _way(rpm)
    does = "against rotation" if way not in (0, None) and (torque_nm > 0.0) != (way > 0) else "with rotation"
    if way == 0:
        return f"{abs(torque_nm):.0f} N m {direction}, still"
    return f"{abs(torque_nm):.0f} N m {direction}, {does}, {turning}"


def _flow(power_w: float) -> dict[str, Any]:
    if math.isnan(power_w):
        return {"way": None, "words": "power unknown"}
    if abs(power_w) < NO_POWER_W:
        return {"way": 0, "words": "no power to speak of"}
    if power_w < 0.0:
        return {"way": 1, "words": f"{-power_w / 1000.0:.1f} kW from bank to machine"}
    return {"way": -1, "words": f"{power_w / 1000.0:.1f} kW from machine to bank"}
