"""Which inputs of a boat a survey lets one recognise, by open standards alone."""

from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

from sim.replay.survey import Decoded, Device, Survey

SANE_SHARE = 0.9
"""A field is taken for a reading when this share of what it said can be one: the first values after power-up, or one
that was damaged, do not speak against it."""

_KELVIN = ", offset = -273.15"
_WEIGHTS = {"StateOfCharge": 4.0, "Current": 2.0, "Voltage": 1.0, "Temperature": 0.5}
"""What a bank's message is worth: state of charge is said by monitors alone."""
_BANK = ("BATTERY_STATUS", "DC_DETAILED_STATUS", "DC_SOURCE_STATUS_1", "DC_SOURCE_STATUS_2")
_NAMES = {
    1: ("main",), 2: ("port", "starboard"), 3: ("port", "centre", "starboard"),
    4: ("port", "port_inner", "starboard_inner", "starboard"),
}  # fmt: skip
"""NMEA 2000 counts engines from port to starboard."""

Found = tuple[Device, Decoded]


class Line(NamedTuple):
    """One input of the proposal. `contested`: others send the same message about the same instance, so that the sender
    must be named."""

    name: str
    device: Device
    decoded: Decoded
    signal: str
    extra: str
    note: str
    contested: bool


def bank_lines(survey: Survey, channels: Sequence[str]) -> list[Line]:
    """The bank that says most, out of the instances on these channels."""
    pairs = _of(survey, _BANK, channels)
    worth: dict[tuple[str, int], float] = {}
    for device, decoded in pairs:
        key = (device.channel, device.instance)
        worth[key] = worth.get(key, 0.0) + _worth(decoded)
    if not any(worth.values()):
        return []
    measured = _measured(pairs)
    best = max(sorted(measured or worth), key=lambda key: worth[key])
    mine = [pair for pair in pairs if (pair[0].channel, pair[0].instance) == best]
    by_sender: dict[int, float] = {}
    for device, decoded in mine:
        by_sender[device.source] = by_sender.get(device.source, 0.0) + _worth(decoded)
    # one sender for the whole bank where it can be: two monitors do not measure the same
    mine.sort(key=lambda pair: (-by_sender[pair[0].source], pair[0]))
    lines = [_line(survey, "bank.voltage_v", mine, "Voltage"), _line(survey, "bank.current_a", mine, "Current")]
    charge = _line(survey, "bank.soc_pct", mine, "StateOfCharge") or _charge_elsewhere(survey, pairs, best)
    lines.append(charge)
    for name in ("bank.cell_hot_c", "bank.cell_cold_c"):
        lines.append(_line(survey, name, mine, "Temperature", "one sensor for the whole bank"))
    return [line for line in lines if line is not None]


def _charge_elsewhere(survey: Survey, pairs: Sequence[Found], best: tuple[str, int]) -> Line | None:
    """A state of charge that is said under an instance of its own, if there is but one of that kind."""
    measured = _measured(pairs)
    alone = [
        (device, decoded)
        for device, decoded in pairs
        if reads(decoded, "StateOfCharge") and (device.channel, device.instance) not in measured
    ]
    if len({(device.channel, device.instance) for device, _ in alone}) != 1:
        return None
    note = (
        f"this value comes from instance {alone[0][0].instance}, the others from instance {best[1]}: check that "
        "both are the same bank"
    )
    return _line(survey, "bank.soc_pct", alone, "StateOfCharge", note)


def _measured(pairs: Sequence[Found]) -> set[tuple[str, int]]:
    """Banks of which a voltage or a current is told."""
    return {
        (device.channel, device.instance)
        for device, decoded in pairs
        if reads(decoded, "Voltage") or reads(decoded, "Current")
    }


def shaft_lines(survey: Survey, channels: Sequence[str]) -> dict[str, list[Line]]:
    """Engine speed and gear of up to four shafts, by the instances of the engines; the lowest four of more."""
    engines = [pair for pair in _of(survey, ("ENGINE_RAPID",), channels) if reads(pair[1], "Speed")]
    gears = [pair for pair in _of(survey, ("TRANSMISSION",), channels) if reads(pair[1], "Gear")]
    instances = sorted({device.instance for device, _ in engines} or {device.instance for device, _ in gears})[:4]
    shafts: dict[str, list[Line]] = {}
    for name, instance in zip(_NAMES.get(len(instances), ()), instances, strict=True):
        lines = [
            _line(survey, "engine.engine_speed_rpm", _about(engines, instance), "Speed"),
            _line(survey, "gearbox.gear_report", _about(gears, instance), "Gear"),
        ]
        shafts[name] = [line for line in lines if line is not None]
    return shafts


def reads(decoded: Decoded, signal: str) -> bool:
    """The field is there and says, nearly always, something that can be."""
    field = decoded.fields.get(signal)
    return field is not None and field.seen > 0 and field.sane >= SANE_SHARE * field.seen


def leftovers(survey: Survey, lines: Iterable[Line]) -> list[str]:
    """What was recognised and is not mapped, so that nothing is passed over in silence."""
    used = {line.device for line in lines}
    notes = []
    for device, decoded in sorted(survey.devices.items()):
        if device in used:
            continue
        said = [name for name, field in decoded.fields.items() if field.seen]
        instance = f" instance {device.instance}" if device.instance >= 0 else ""
        where = f" on channel {device.channel}" if device.channel else ""
        notes.append(
            f"{device.message}{instance} from {device.source}{where}: {', '.join(said) or 'nothing available'}"
        )
    return notes


def worth_of_channels(survey: Survey) -> Mapping[str, float]:
    """How much of a boat each channel tells: banks and engines."""
    found: dict[str, float] = {}
    for device, decoded in survey.devices.items():
        worth = _worth(decoded) if device.message in _BANK else 1.0
        found[device.channel] = found.get(device.channel, 0.0) + worth
    return found


def _worth(decoded: Decoded) -> float:
    """Weight of what a sender says of a bank; a little more for what moves."""
    return sum(
        weight + (0.25 if decoded.fields[signal].alive == "alive" else 0.0)
        for signal, weight in _WEIGHTS.items()
        if reads(decoded, signal)
    )


def _of(survey: Survey, messages: Sequence[str], channels: Sequence[str]) -> list[Found]:
    found = [pair for pair in survey.devices.items() if pair[0].message in messages and pair[0].channel in channels]
    return sorted(found, key=lambda pair: (pair[0].channel, pair[0].instance, pair[0].source))


def _about(pairs: Sequence[Found], instance: int) -> list[Found]:
    """Those about one instance, the most talkative sender first."""
    return sorted((pair for pair in pairs if pair[0].instance == instance), key=lambda pair: -pair[1].count)


def _line(survey: Survey, name: str, pairs: Sequence[Found], signal: str, note: str = "") -> Line | None:
    """The input from the first sender that tells it."""
    for device, decoded in pairs:
        if not reads(decoded, signal):
            continue
        extra = ""
        if signal == "Temperature" and decoded.codec.signals[signal].unit == "K":
            extra = _KELVIN
        elif signal == "Gear":
            extra = ', values = { "0" = 1, "1" = 0, "2" = -1 }'
        elif signal == "Current" and device.message == "DC_SOURCE_STATUS_1":
            extra, note = ", factor = -1", "RV-C counts current out of the bank"
        same = sum(1 for other in survey.devices if other._replace(source=0) == device._replace(source=0))
        return Line(name, device, decoded, signal, extra, note, same > 1)
    return None
