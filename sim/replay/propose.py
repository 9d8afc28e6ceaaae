"""A proposed boat file out of a survey: the inputs that open standards let one recognise.

It is a listen-only file, complete enough to replay the same recording at once. What a recording cannot say (ratings) is
a guess and marked so.
"""

import math
from collections.abc import Sequence
from typing import NamedTuple

from sim.replay.survey import Decoded, Device, Survey
from supervisor.config import shipped_path

GUESS = "# a guess: mend it"
_SHAFTS = {0: "port", 1: "starboard"}
"""NMEA 2000 counts engines from port to starboard; a single engine is instance 0."""
_CELL_V = 3.3


class Line(NamedTuple):
    """One input of the proposal."""

    name: str
    device: Device
    decoded: Decoded
    signal: str
    extra: str
    note: str
    contested: bool
    """Others send the same message about the same instance: the sender must be named."""


def propose(survey: Survey, name: str = "surveyed_boat") -> str:
    """The boat file as TOML text; "" when nothing was recognised."""
    buses = _buses(survey)
    if not buses:
        return ""
    bank = _bank_lines(survey)
    shafts = _shaft_lines(survey)
    if not bank and not shafts:
        return ""
    volts = _typical_volts(bank)
    cells = max(1, round(volts / _CELL_V)) if volts else 8
    lines = [
        f"# {name}: proposed from a survey; it only listens. Numbers marked as guesses are not from the recording.",
        "",
        "[boat]",
        f'name = "{name}"',
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
    for bus, (channel, kind, dbc) in buses.items():
        lines += [
            "",
            f"[buses.{bus}] # {f'channel {channel}' if channel else 'the channel without a name'} of the recording",
            f'kind = "{kind}"',
            'interface = "virtual"',
            f'channel = "{name}_{bus}"',
            f"dbc = [{_quoted(str(shipped_path(dbc)))}]",
        ]
    bus_of = {channel: bus for bus, (channel, _, _) in buses.items()}
    if bank:
        lines += ["", "[inputs]", *_input_lines(bank, bus_of)]
    else:
        lines += ["", "[inputs]"]
    for shaft, found in shafts.items():
        lines += _shaft_table(shaft, found, bus_of)
    notes = _notes(survey, bank)
    if notes:
        lines += ["", "# also on the bus:", *(f"#   {note}" for note in notes)]
    return "\n".join(lines) + "\n"


def _buses(survey: Survey) -> dict[str, tuple[str, str, str]]:
    """bus name -> (channel, kind, DBC): at most two, NMEA 2000 first."""
    found: dict[str, tuple[str, str, str]] = {}
    channels = sorted({device.channel for device in survey.devices})
    for channel in channels:
        names = {device.message for device in survey.devices if device.channel == channel}
        rvc = any(name.startswith("DC_SOURCE") for name in names)
        bus = "private" if rvc else "backbone"
        if bus not in found and len(found) < 2:
            found[bus] = (channel, "private" if rvc else "nmea2000", "dbc/rvc_bank.dbc" if rvc else "dbc/nmea2000.dbc")
    return found


def _alive(decoded: Decoded, signal: str, low: float, high: float) -> bool:
    """The field is there and reads as something that can be."""
    field = decoded.fields.get(signal)
    return field is not None and field.seen > 0 and low <= field.least and field.most <= high


def _of(survey: Survey, message: str) -> list[tuple[Device, Decoded]]:
    found = [(device, decoded) for device, decoded in survey.devices.items() if device.message == message]
    return sorted(found, key=lambda pair: (pair[0].channel, pair[0].instance, pair[0].source))


def _bank_lines(survey: Survey) -> list[Line]:
    """The bank that says most: state of charge, current and voltage."""
    status, detail = _of(survey, "BATTERY_STATUS"), _of(survey, "DC_DETAILED_STATUS")
    rvc_1, rvc_2 = _of(survey, "DC_SOURCE_STATUS_1"), _of(survey, "DC_SOURCE_STATUS_2")
    scores: dict[tuple[str, int], float] = {}
    for device, decoded in [*status, *detail, *rvc_1, *rvc_2]:
        score = 0.0
        for signal, weight, low, high in (
            ("StateOfCharge", 4.0, 0.0, 100.0), ("Current", 2.0, -5000.0, 5000.0), ("Voltage", 1.0, 5.0, 1000.0),
            ("Temperature", 0.5, -40.0, 400.0),
        ):  # fmt: skip
            if _alive(decoded, signal, low, high):
                score += weight + (0.25 if decoded.fields[signal].alive == "alive" else 0.0)
        key = (device.channel, device.instance)
        scores[key] = scores.get(key, 0.0) + score
    if not any(scores.values()):
        return []
    channel, instance = max(sorted(scores), key=lambda key: scores[key])
    mine = [
        (device, decoded)
        for device, decoded in [*status, *detail, *rvc_1, *rvc_2]
        if device.channel == channel and device.instance == instance
    ]
    lines: list[Line] = []
    for name, signal, low, high, extra in (
        ("bank.voltage_v", "Voltage", 5.0, 1000.0, ""), ("bank.current_a", "Current", -5000.0, 5000.0, ""),
        ("bank.soc_pct", "StateOfCharge", 0.0, 100.0, ""),
    ):  # fmt: skip
        best = _best(mine, signal, low, high)
        if best is not None:
            turned = ", factor = -1" if best[0].message == "DC_SOURCE_STATUS_1" and signal == "Current" else ""
            note = "RV-C counts current out of the bank" if turned else ""
            lines.append(Line(name, *best, signal, extra + turned, note, _contested(survey, best[0])))
    for message, low, high, extra in (
        ("BATTERY_STATUS", 233.15, 398.15, ", offset = -273.15"), ("DC_SOURCE_STATUS_2", -40.0, 125.0, ""),
    ):  # fmt: skip
        best = _best([pair for pair in mine if pair[0].message == message], "Temperature", low, high)
        if best is not None:
            for name in ("bank.cell_hot_c", "bank.cell_cold_c"):
                lines.append(Line(name, *best, "Temperature", extra, "one sensor for the whole bank",
                                  _contested(survey, best[0])))  # fmt: skip
            break
    return lines


def _contested(survey: Survey, device: Device) -> bool:
    """More than one sender says this about the same instance."""
    return sum(1 for other in survey.devices if other._replace(source=0) == device._replace(source=0)) > 1


def _best(
    pairs: Sequence[tuple[Device, Decoded]], signal: str, low: float, high: float
) -> tuple[Device, Decoded] | None:
    """The sender that says this most often."""
    able = [pair for pair in pairs if _alive(pair[1], signal, low, high)]
    return max(able, key=lambda pair: pair[1].fields[signal].seen) if able else None


def _shaft_lines(survey: Survey) -> dict[str, list[Line]]:
    shafts: dict[str, list[Line]] = {}
    for instance, shaft in _SHAFTS.items():
        lines = []
        for name, message, signal, low, high, extra in (
            ("engine.engine_speed_rpm", "ENGINE_RAPID", "Speed", 0, 8000, ""),
            ("gearbox.gear_report", "TRANSMISSION", "Gear", 0, 2, ', values = { "0" = 1, "1" = 0, "2" = -1 }'),
        ):  # fmt: skip
            pairs = [pair for pair in _of(survey, message) if pair[0].instance == instance]
            best = _best(pairs, signal, low, high)
            if best is not None:
                lines.append(Line(name, *best, signal, extra, "", _contested(survey, best[0])))
        if lines:
            shafts[shaft] = lines
    return shafts


def _input_lines(lines: Sequence[Line], bus_of: dict[str, str]) -> list[str]:
    out = []
    for line in lines:
        bus = bus_of.get(line.device.channel)
        if bus is None:
            continue
        where = f", where = {{ Instance = {line.device.instance} }}" if line.device.instance >= 0 else ""
        source = f", source = {line.device.source}" if line.contested and line.device.source < 254 else ""
        note = f" # {line.note}" if line.note else ""
        out.append(
            f'"{line.name}" = {{ bus = "{bus}", message = "{line.device.message}", signal = "{line.signal}", '
            f"stale_s = {_stale_s(line.decoded)}{where}{source}{line.extra} }}{note}"
        )
    return out


def _stale_s(decoded: Decoded) -> float:
    """Four of its periods as seen, and more than the standard's own period."""
    seen_s = decoded.interval_s if math.isfinite(decoded.interval_s) else 0.0
    return min(600.0, round(max(4 * seen_s, 3 * decoded.codec.period_s, 0.2), 1))


def _shaft_table(shaft: str, lines: Sequence[Line], bus_of: dict[str, str]) -> list[str]:
    rapid = [line.decoded.fields["Speed"] for line in lines if line.signal == "Speed"]
    top_rpm = max(1000.0, math.ceil(rapid[0].most / 500.0) * 500.0) if rapid else 3000.0
    return [
        "",
        "[[shaft]]",
        f'name = "{shaft}"',
        "",
        f"[shaft.drive] {GUESS}: only the engine is on this bus",
        "rated_torque_nm = 100.0",
        "rated_power_kw = 10.0",
        "generate_power_kw = 6.0",
        "generate_torque_nm = 90.0",
        f"max_speed_rpm = {min(8000.0, top_rpm):.1f}",
        "max_current_a = 250.0",
        "rectification_protected = true",
        "torque_slew_nm_per_s = 250.0",
        "",
        "[shaft.engine]",
        f"rated_power_kw = 40.0 {GUESS}",
        f"idle_rpm = 700.0 {GUESS}",
        f"max_rpm = {min(8000.0, top_rpm):.1f} # the next 500 above what was seen",
        f"torque_curve = [[700.0, 80.0], [{min(8000.0, top_rpm):.1f}, 100.0]] {GUESS}",
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
        *_input_lines(lines, bus_of),
    ]


def _typical_volts(lines: Sequence[Line]) -> float:
    for line in lines:
        if line.name == "bank.voltage_v":
            field = line.decoded.fields["Voltage"]
            return (field.least + field.most) / 2.0
    return 0.0


def _notes(survey: Survey, bank: Sequence[Line]) -> list[str]:
    """What was recognised and is not mapped, so that nothing is passed over in silence."""
    used = {line.device for line in bank}
    notes = []
    for device, decoded in sorted(survey.devices.items()):
        if device in used or device.message in ("ENGINE_RAPID", "TRANSMISSION"):
            continue
        alive = [name for name, field in decoded.fields.items() if field.seen]
        instance = f" instance {device.instance}" if device.instance >= 0 else ""
        notes.append(f"{device.message}{instance} from {device.source}: {', '.join(alive) or 'nothing available'}")
    return notes


def _quoted(text: str) -> str:
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'
