"""The own interlocks against their DBC messages: what `thwart check` says of thresholds, periods and wiring."""

from collections.abc import Iterator

from supervisor.bus.register import OWN
from supervisor.bus.rows import BoatMap, InputRow
from supervisor.config.finding import Finding
from supervisor.config.interlocks import effect_of, is_number, key_of
from supervisor.config.limits import own_thresholds
from supervisor.config.schema import BoatConfig, Interlock
from supervisor.signals import OwnEffect


def own_rows(boat_map: BoatMap) -> list[InputRow]:
    """The rows of the own interlocks, in the order of the boat file."""
    return [row for row in boat_map.inputs if row.level == OWN]


def own_findings(config: BoatConfig, boat_map: BoatMap) -> Iterator[Finding]:
    """What is wrong or doubtful about the own interlocks, seen with their messages."""
    for entry, row in zip(config.interlock, own_rows(boat_map), strict=True):
        yield from _frames(config, entry, row)
        if is_number(entry):
            yield from _threshold(entry, row)
        else:
            yield from _wire(entry)


def reaction_s(config: BoatConfig, entry: Interlock, row: InputRow) -> float:
    """The longest time from the first frame that says bad to the order that follows it (s), as far as the DBC gives the
    message's period."""
    frames = 1 if row.own is None else row.own.frames
    return (frames - 1) * row.message.period_s + entry.debounce_s + 2 * config.boat.tick_s


def _frames(config: BoatConfig, entry: Interlock, row: InputRow) -> Iterator[Finding]:
    message = row.message
    frames = 1 if row.own is None else row.own.frames
    if frames > 1:
        yield Finding(
            "note",
            f"{key_of(entry)}.message",
            f"{message.name} has no counter and checksum, and {entry.effect} ends running thrust or charging: this "
            f"interlock acts only after {frames} frames in a row from one source say the same, up to "
            f"{reaction_s(config, entry, row):.3g} s after the first",
            "Accept it, or map a guarded message",
        )
        if message.pgn is not None and row.source < 0:
            yield Finding(
                "warning",
                f"{key_of(entry)}.source",
                "any box on the bus may be the source of this signal",
                "Give the source address of the one that is meant",
            )
    if frames == 1 and 0.0 < entry.debounce_s < message.period_s:
        yield Finding(
            "warning",
            f"{key_of(entry)}.debounce_s",
            f"{entry.debounce_s:g} s is shorter than the period of "
            f"{message.name}, {message.period_s:g} s: one frame decides",
            "Set debounce_s to 2 to 3 periods, or accept it",
        )


def _reachable(row: InputRow) -> tuple[float, float] | None:
    """The least and the greatest value that the supervisor takes from this signal; None where that cannot be said."""
    signal = row.signal
    if row.values is not None:
        found = [value for value in row.values.values() if row.low <= value <= row.high]
        return (min(found), max(found)) if found else None
    if signal.is_float:
        return row.low, row.high
    lowest = -(1 << (signal.bits - 1)) if signal.signed else 0
    highest = lowest + (1 << signal.bits) - 1
    while lowest < highest and lowest in signal.absent:
        lowest += 1
    while highest > lowest and highest in signal.absent:
        highest -= 1
    ends = sorted(signal.physical(code) * row.factor + row.offset for code in (lowest, highest))
    return max(ends[0], row.low), min(ends[1], row.high)


def _threshold(entry: Interlock, row: InputRow) -> Iterator[Finding]:
    reach = _reachable(row)
    if reach is None:
        problem = "no code gives a value that is plausible"
        yield Finding("error", f"{key_of(entry)}.values", problem, "Correct values, low or high")
        return
    low, high = reach
    above, bad_at, good_at = own_thresholds(entry)
    key = f"{key_of(entry)}.{'bad_above' if above else 'bad_below'}"
    unit = f" {row.signal.unit}" if row.signal.unit else ""
    span = f"{row.message.name}.{row.signal.name} runs from {low:g} to {high:g}{unit}"
    if bad_at > high if above else bad_at < low:
        yield Finding(
            "error",
            key,
            f"{bad_at:g}{unit} is out of reach: {span}, so that it is never bad",
            f"Correct {key.rpartition('.')[2]}",
        )
    elif bad_at <= low if above else bad_at >= high:
        yield Finding(
            "error",
            key,
            f"{bad_at:g}{unit} leaves nothing good: {span}, so that it is always bad",
            f"Correct {key.rpartition('.')[2]}",
        )
    elif good_at < low if above else good_at > high:
        yield Finding(
            "error",
            f"{key_of(entry)}.hysteresis",
            f"good again only at {good_at:g}{unit}, out of reach: {span}",
            "Give a smaller hysteresis",
        )
    step = abs(row.signal.scale * row.factor)
    if row.values is None and not row.signal.is_float and 0.0 < (entry.hysteresis or 0.0) < step:
        yield Finding(
            "note",
            f"{key_of(entry)}.hysteresis",
            f"{entry.hysteresis:g}{unit} is less than one step of the signal, {step:g}{unit}",
            "Make hysteresis several steps, or the interlock will come and go",
        )


def _wire(entry: Interlock) -> Iterator[Finding]:
    if entry.good_when == "off" and effect_of(entry) is not OwnEffect.WARN:
        yield Finding(
            "warning",
            f"{key_of(entry)}.good_when",
            "off is good here, and a broken wire reads off as well",
            'Wire the contact so that it is closed while all is well, and give good_when = "on"',
        )
