"""A proposed boat file out of a survey: the inputs that open standards let one recognise.

It is a listen-only file, complete enough to replay the same recording at once. What a recording cannot say (ratings) is
a guess and marked so.
"""

import math
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

from sim.replay.recognise import Line, bank_lines, leftovers, shaft_lines, worth_of_channels
from sim.replay.survey import Decoded, Survey
from supervisor.config import shipped_path

GUESS = "# a guess: put your value here"
NAME = "surveyed_boat"
_CELL_V = 3.3
_BUSES_MAX = 2


class _Bus(NamedTuple):
    name: str
    channel: str
    kind: str
    dbc: str


def propose(survey: Survey, folder: Path | None = None) -> str:
    """The boat file as TOML text; "" when nothing was recognised. With a `folder` the DBC files are copied there, so
    that the file can go with it to another computer; without, it names the shipped ones where they lie."""
    buses = _buses(survey)
    channels = [bus.channel for bus in buses]
    bank, shafts = bank_lines(survey, channels), shaft_lines(survey, channels)
    if not bank and not shafts:
        return ""
    used = {line.device.channel for lines in (bank, *shafts.values()) for line in lines}
    buses = [bus for bus in buses if bus.channel in used]
    volts = next((line.decoded.fields["Voltage"].middle() for line in bank if line.signal == "Voltage"), 0.0)
    cells = max(1, round(volts / _CELL_V)) if volts else 8
    lines = [
        f"# {NAME}: proposed from a survey; it only listens. Numbers marked as guesses are not from the recording.",
        "",
        "[boat]",
        f'name = "{NAME}"',
        'title = "proposed from a survey, recordings only"',
        "tick_s = 0.02",
        "listen_only = true",
        "",
        "[bank]",
        f"capacity_ah = 400.0 {GUESS}",
        f"cells_in_series = {cells} # from {volts:.1f} V as seen" if volts else f"cells_in_series = {cells} {GUESS}",
        f"min_voltage_v = {cells * 2.8:.1f} {GUESS}",
        f"max_voltage_v = {cells * 3.6:.1f} {GUESS}",
        f"max_charge_a = 200.0 {GUESS}",
        f"max_discharge_a = 400.0 {GUESS}",
        f"opening_warning_s = 2.0 {GUESS}",
        "",
        "[limits]",
        f"full_charge_a = 100.0 {GUESS}",
    ]
    for bus in buses:
        lines += [
            "",
            f"[buses.{bus.name}] # {f'channel {bus.channel}' if bus.channel else 'the channel without a name'} "
            "of the recording",
            f'kind = "{bus.kind}"',
            'interface = "virtual"',
            f'channel = "{NAME}_{bus.name}"',
            f"dbc = [{_quoted(_dbc(bus.dbc, folder))}]",
        ]
    bus_of = {bus.channel: bus.name for bus in buses}
    lines += ["", "[inputs]", *(_input(line, bus_of) for line in bank)]
    for shaft, found in shafts.items():
        lines += _shaft_table(shaft, found, bus_of)
    notes = leftovers(survey, [*bank, *(line for found in shafts.values() for line in found)])
    if notes:
        lines += ["", "# also recorded:", *(f"#   {note}" for note in notes)]
    return "\n".join(lines) + "\n"


def _buses(survey: Survey) -> list[_Bus]:
    """The two channels that tell most of a boat."""
    worth = worth_of_channels(survey)
    channels = sorted(sorted(worth, key=lambda channel: (-worth[channel], channel))[:_BUSES_MAX])
    found: list[_Bus] = []
    for channel in channels:
        rvc = any(one.channel == channel and one.message.startswith("DC_SOURCE") for one in survey.devices)
        name = "private" if rvc else "backbone"
        if any(bus.name == name for bus in found):
            name = f"{name}_2"
        found.append(_Bus(name, channel, "private" if rvc else "nmea2000",
                          "dbc/rvc_bank.dbc" if rvc else "dbc/nmea2000.dbc"))  # fmt: skip
    return found


def _dbc(shipped: str, folder: Path | None) -> str:
    source = shipped_path(shipped)
    if folder is None:
        return str(source)
    (folder / source.name).write_bytes(source.read_bytes())
    return source.name


def _input(line: Line, bus_of: dict[str, str]) -> str:
    device = line.device
    where = f", where = {{ Instance = {device.instance} }}" if device.instance >= 0 else ""
    source = f", source = {device.source}" if line.contested and device.source < 254 else ""
    note = f" # {line.note}" if line.note else ""
    return (
        f'"{line.name}" = {{ bus = "{bus_of[device.channel]}", message = "{device.message}", '
        f'signal = "{line.signal}", stale_s = {_stale_s(line.decoded)}{where}{source}{line.extra} }}{note}'
    )


def _stale_s(decoded: Decoded) -> float:
    """Four of its periods as seen, and more than the standard's own period."""
    seen_s = decoded.interval_s if math.isfinite(decoded.interval_s) else 0.0
    return min(600.0, round(max(4 * seen_s, 3 * decoded.codec.period_s, 0.2), 1))


def _shaft_table(shaft: str, lines: Sequence[Line], bus_of: dict[str, str]) -> list[str]:
    rapid = [line.decoded.fields["Speed"] for line in lines if line.signal == "Speed"]
    top_rpm = min(8000.0, max(1000.0, math.ceil(rapid[0].sane_most / 500.0) * 500.0)) if rapid else 3000.0
    return [
        "",
        f"[[shaft]] # engine instance {lines[0].device.instance}",
        f'name = "{shaft}"',
        "",
        f"[shaft.drive] {GUESS}: only the engine is on this bus",
        "rated_torque_nm = 100.0",
        "rated_power_kw = 10.0",
        "generate_power_kw = 6.0",
        "generate_torque_nm = 90.0",
        f"max_speed_rpm = {top_rpm:.1f}",
        "max_current_a = 250.0",
        "rectification_protected = true",
        "torque_slew_nm_per_s = 250.0",
        "",
        "[shaft.engine]",
        f"rated_power_kw = 40.0 {GUESS}",
        f"idle_rpm = 700.0 {GUESS}",
        f"max_rpm = {top_rpm:.1f} # the next 500 above what was seen",
        f"torque_curve = [[700.0, 80.0], [{top_rpm:.1f}, 100.0]] {GUESS}",
        "",
        "[shaft.gearbox]",
        f"ratio = 2.0 {GUESS}",
        "",
        "[shaft.clutch]",
        "fitted = false",
        "",
        "[shaft.lock]",
        "fitted = false",
        "",
        "[shaft.rules]",
        f"propeller_nm_per_krpm2 = 100.0 {GUESS}",
        f"harvest_nm_per_krpm2 = 50.0 {GUESS}",
        "",
        "[shaft.inputs]",
        *(_input(line, bus_of) for line in lines),
    ]


def _quoted(text: str) -> str:
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'
