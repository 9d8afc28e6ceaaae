"""The survey in words."""

import math
from collections.abc import Iterator

from sim.replay.coverage import ALL_ONES
from sim.replay.pgns import pgn_name
from sim.replay.survey import Heard, Survey
from sim.replay.words import clock_text, duration_text
from supervisor.bus.n2k import split_id

ROWS_MAX = 400


def survey_lines(found: Survey) -> Iterator[str]:
    """Everything but the proposed boat file."""
    begin = clock_text(found.begin, 0.0)
    state = "  STOPPED BY HAND, what follows is a part" if found.stopped else ""
    yield (f"{found.name}: {found.kind}, {duration_text(found.end_s)}{f' from {begin}' if begin else ''}, "
           f"{found.health.frames} frames, {len(found.heard)} identifiers{state}")  # fmt: skip
    for line in found.health.lines_of_text():
        yield f"  {line}"
    for reason, count in found.bad.items():
        yield f"  {count} x {reason}"
    for channel in sorted({heard.place.channel for heard in found.heard}):
        yield ""
        yield f"channel {channel or '(no name)'}"
        yield f"  {'identifier':<10} {'PGN':>6} {'from':>4} {'frames':>8} {'a second':>9} {'longest gap':>11}  message"
        rows = [heard for heard in found.heard if heard.place.channel == channel]
        for heard in rows[:ROWS_MAX]:
            yield f"  {_row(heard, found.end_s)}"
        if len(rows) > ROWS_MAX:
            yield f"  ... and {len(rows) - ROWS_MAX} more"
    if found.devices:
        yield ""
        yield "messages of open standards, by sender and instance"
    for device, decoded in sorted(found.devices.items()):
        instance = f", instance {device.instance}" if device.instance >= 0 else ""
        every = f", every {decoded.interval_s:.3g} s" if math.isfinite(decoded.interval_s) else ""
        yield f"  {device.message} from {device.source}{instance}: {decoded.count} messages{every}"
        for name, field in decoded.fields.items():
            if not field.seen:
                yield f"    {name:<20} not available"
                continue
            signal = decoded.codec.signals[name]
            doubt = f"  DOUBTFUL: {ALL_ONES}" if field.least == field.most == signal.all_ones else ""
            yield f"    {name:<20} {field.alive:<9} {field.least:g} to {field.most:g} {signal.unit}".rstrip() + doubt


def _row(heard: Heard, end_s: float) -> str:
    place = heard.place
    heard_s = heard.last_s - heard.first_s
    # a single burst tells no rate of its own: it came so often in the whole recording
    rate = (heard.count - 1) / heard_s if heard_s >= 1.0 else heard.count / max(end_s, 1.0)
    numbers = f"{heard.count:>8} {rate:>9.2f} {heard.longest_s:>10.2f}s"
    if not place.is_extended:
        return f"{place.arbitration_id:03X}{'':<7} {'':>6} {'':>4} {numbers}  {heard.bytes_text()}"
    address = split_id(place.arbitration_id)
    name = pgn_name(address.pgn)
    detail = name if heard.codec is not None else f"{name}; {heard.bytes_text()}" if name else heard.bytes_text()
    return f"{place.arbitration_id:08X}   {address.pgn:>6} {address.source:>4} {numbers}  {detail}"
