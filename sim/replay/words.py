"""Replay in words, for a person at a terminal."""

from collections.abc import Iterator, Sequence
from datetime import UTC, datetime

from sim.console import NOT_EXERCISED
from sim.replay.coverage import Reading
from sim.replay.disagreements import Disagreements
from sim.replay.holding import Held
from sim.replay.playback import Report
from sim.replay.result import Result, Run
from sim.replay.rules import RuleReport
from sim.replay.sources import source_rows
from sim.replay.whatif import value_text
from sim.requirements.register import title_of
from supervisor.controller import Event
from supervisor.controller.events import EventKind

EVENTS_SHOWN = 200
STRETCHES_SHOWN = 40
SOURCES_SHOWN = 30
HELD_SHOWN = 20
_EPOCH_S = 86400.0 * 365
"""Stamps beyond this are taken for a date, smaller ones for seconds since some start."""


def clock_text(begin: float | None, time_s: float) -> str:
    """The recorder's own time of a log time, "" where its stamps are no dates."""
    if begin is None or not _EPOCH_S < begin < 32503680000.0:
        return ""
    return datetime.fromtimestamp(begin + time_s, UTC).strftime("%Y-%m-%d %H:%M:%S.%f")[:-3] + "Z"


def duration_text(time_s: float) -> str:
    """A duration as a person says it."""
    if time_s < 120:
        return f"{time_s:.2f} s"
    minutes, seconds = divmod(time_s, 60)
    if minutes < 120:
        return f"{int(minutes)} min {seconds:.0f} s"
    hours, minutes = divmod(minutes, 60)
    return f"{int(hours)} h {int(minutes)} min"


def summary_lines(result: Result) -> Iterator[str]:
    """The whole summary."""
    yield from recording_lines(result)
    run = result.run
    yield ""
    yield f"{run.boat} ({run.title}): {result.ticks} ticks of {run.tick_s * 1000:g} ms"
    yield from reading_lines(run.readings)
    if result.assumed:
        yield f"  ASSUMED, not recorded: {', '.join(f'{name} = {value:g}' for name, value in result.assumed.items())}"
    yield ""
    yield from mode_lines(run)
    yield ""
    yield from event_lines(run, result.begin)
    if run.held:
        yield ""
        yield from held_lines(run)
    if result.shadow is not None:
        disagreements = result.shadow.disagreements
        yield ""
        yield (
            f"against the controller that was in charge: {result.shadow.frames} command frames, "
            f"{disagreements.compared} comparisons, {disagreements.different} beyond tolerance, "
            f"{disagreements.brief} brief differences"
        )
        yield from disagreement_lines(disagreements, "ours", "recorded")
    if result.difference is not None:
        yield ""
        yield from whatif_lines(result)
    for report in result.rules:
        yield ""
        yield from rule_lines(report)
    yield ""
    if result.same is not None:
        yield result.same.words()
    yield f"decisions sha256 {run.digest}"


def disagreement_lines(disagreements: Disagreements, ours: str, theirs: str) -> Iterator[str]:
    """Disagreements, the longest in the order of time."""
    longest = sorted(disagreements.stretches, key=lambda stretch: -stretch.length_s)[:STRETCHES_SHOWN]
    for stretch in sorted(longest, key=lambda stretch: stretch.begin_s):
        values = f"{ours} {value_text(stretch.what, stretch.ours)}, {theirs} {value_text(stretch.what, stretch.theirs)}"
        explained = f": {stretch.why}" if stretch.why else ""
        yield f"  {stretch.begin_s:>10.2f} s  for {stretch.length_s:.2f} s  {stretch.what}: {values}{explained}"
    more = len(disagreements.stretches) - len(longest) + disagreements.more
    if more > 0:
        yield f"  ... and {more} shorter ones"


def whatif_lines(result: Result) -> Iterator[str]:
    """Where the decisions part under the changed settings."""
    difference = result.difference
    if difference is None:
        return
    settings = ", ".join(f"{key} = {value}" for key, value in difference.settings.items())
    if difference.first_s is None:
        yield f"what if {settings}: every decision is the same"
        return
    share = 100.0 * difference.ticks / max(result.ticks, 1)
    yield f"what if {settings}: decisions differ from {difference.first_s:.2f} s on, in {share:.1f} % of the ticks"
    yield from disagreement_lines(difference.disagreements, "as it is", "as changed")
    yield "  (the recording does not answer to changed decisions: these are orders on the inputs as they were)"


def rule_lines(report: RuleReport) -> Iterator[str]:
    """Violated requirements, and the closest approach of the others."""
    judged = [judgement for judgement in report.judgements if judgement.held is not None]
    broken = [judgement for judgement in judged if not judgement.held]
    total = len(report.judgements) + len(report.unjudged)
    silent = len(report.judgements) - len(judged)
    meaning = f" ({NOT_EXERCISED})" if silent else ""
    yield (f"requirements, orders of {report.of}: {len(judged) - len(broken)} of {total} held, {len(broken)} violated, "
           f"{silent} not exercised{_and_unjudged(report)}{meaning}")  # fmt: skip
    for judgement in [*broken, *(one for one in judged if one.held)]:
        closest = "" if judgement.closest is None else f"closest {judgement.closest:.4g} {judgement.unit}"
        when = "" if judgement.time_s is None else f" at {judgement.time_s:.2f} s"
        lasted = "" if judgement.held else f", violated for {judgement.duration_s:.2f} s"
        words = f": {judgement.words}" if judgement.words else ""
        verdict = "held" if judgement.held else "VIOLATED"
        title = title_of(judgement.id)
        yield f"  {judgement.id} {verdict}  {title}: {closest}{when}{lasted}{words}"
    for why, names in unjudged_by_reason(report):
        yield f"  NOT JUDGED  {', '.join(names)}: {why}"


def unjudged_by_reason(report: RuleReport) -> list[tuple[str, list[str]]]:
    """(reason, requirements) of what this recording cannot judge, in the order of the register."""
    found: dict[str, list[str]] = {}
    for identifier, why in report.unjudged.items():
        found.setdefault(why, []).append(identifier)
    return list(found.items())


def _and_unjudged(report: RuleReport) -> str:
    return f", {len(report.unjudged)} that this recording cannot judge" if report.unjudged else ""


def playback_lines(report: Report) -> Iterator[str]:
    """How a playback went."""
    state = " (stopped by hand)" if report.stopped else ""
    yield (f"{report.frames} frames sent in {duration_text(report.took_s)}{state}, "
           f"{report.failed} refused by the adapter")  # fmt: skip
    yield (f"  late by {report.median_late_s * 1000:.3f} ms in the median, "
           f"{report.worst_late_s * 1000:.3f} ms at worst, drift {report.drift_s * 1000:.3f} ms")  # fmt: skip
    if report.skipped_s:
        yield f"  {report.skipped_s:.1f} s of silence left out"


def recording_lines(result: Result) -> Iterator[str]:
    """What the recording is, and what is wrong with it."""
    begin = clock_text(result.begin, 0.0)
    since = f" from {begin}" if begin else ""
    state = "  STOPPED BY HAND, what follows is a part" if result.stopped else ""
    yield f"{result.name}: {result.kind}, {duration_text(result.end_s)}{since}, {result.frames} frames{state}"
    for reason in result.wiring:
        yield f"  {reason}"
    for line in result.health.lines_of_text():
        yield f"  {line}"
    rows = source_rows(result)
    of_interest = [row for row in rows if row.role]
    senders = {(row.channel, row.source) for row in rows if row.source}
    yield (f"  {len(rows)} identifiers from {len(senders)} addresses; "
           f"{result.fed} frames were for the supervisor")  # fmt: skip
    for row in of_interest[:SOURCES_SHOWN]:
        sender = f" from {row.source}" if row.source else ""
        yield f"    {row.channel} {row.name}{sender}: {row.frames} frames, {row.per_s:.2f} a second, {row.role}"
    if result.gap_ticks:
        yield f"  {result.gap_ticks} ticks inside gaps were passed over in one step each"


def reading_lines(readings: Sequence[Reading]) -> Iterator[str]:
    """The table of inputs."""
    mapped = [reading for reading in readings if reading.mapped]
    width = max((len(reading.name) for reading in mapped), default=10)
    yield f"  {'input':<{width}}  {'known':>7}  {'least':>10} {'most':>10} {'last':>10}"
    for reading in mapped:
        numbers = " ".join(f"{_number(value):>10}" for value in (reading.least, reading.most, reading.last))
        note = f"  {reading.why}" if reading.known_pct == 0.0 and reading.why else ""
        note += f"  DOUBTFUL: {reading.doubt}" if reading.doubt else ""
        yield f"  {reading.name:<{width}}  {reading.known_pct:6.2f}%  {numbers} {reading.unit}{note}".rstrip()
    missing = [reading.name for reading in readings if not reading.mapped]
    if missing:
        shown = ", ".join(missing[:6])
        yield f"  not mapped: {shown}{f' and {len(missing) - 6} more' if len(missing) > 6 else ''}"


def mode_lines(run: Run) -> Iterator[str]:
    """Time in each mode, and every change with its cause."""
    for name in run.names:
        yield f"  {mode_text(run, name)}"
    if run.mode_changes == 0:
        yield "  no mode changes"


def mode_text(run: Run, name: str) -> str:
    """The share of each mode of the boat or a shaft."""
    total_s = max(sum(time_s for (subject, _), time_s in run.mode_s.items() if subject == name), 1e-9)
    shares = [(mode, time_s) for (subject, mode), time_s in run.mode_s.items() if subject == name]
    return f"{name}: {', '.join(f'{mode} {100 * time_s / total_s:.1f} %' for mode, time_s in shares)}"


def event_lines(run: Run, begin: float | None) -> Iterator[str]:
    """Events in order, each mode change with its cause."""
    if not run.events:
        yield "  no events"
    doubts = {(trip.time_s, trip.subject): trip.doubt for trip in run.trips}
    for event in run.events[:EVENTS_SHOWN]:
        doubt = doubts.get((event.time_s, event.subject), "") if event.kind is EventKind.TRIP else ""
        shown = f"{event_text(event)}{f' [DOUBTFUL: {doubt}]' if doubt else ''}"
        yield f"  {event.time_s:>10.2f} s  {_padded(clock_text(begin, event.time_s))}{shown}".rstrip()
    more = len(run.events) - EVENTS_SHOWN + run.events_lost
    if more > 0:
        yield f"  ... and {more} more events"


def held_lines(run: Run) -> Iterator[str]:
    """What held the boat back, and how long in all."""
    yield "what held it back"
    width = max(len(held.what) for held in run.held[:HELD_SHOWN])
    for held in run.held[:HELD_SHOWN]:
        yield f"  {held.time_s:>10.2f} s  {held.subject}: {held.what:<{width}}  {held_text(held)}"
    if len(run.held) > HELD_SHOWN:
        yield f"  ... and {len(run.held) - HELD_SHOWN} more, for less"


def held_text(held: Held) -> str:
    """Why, and for a limit what was left of it."""
    if held.least is None or held.most is None:
        return held.why
    low, high = f"{held.least:.3g}", f"{held.most:.3g}"
    return f"{low if low == high else f'{low} to {high}'} {held.unit}: {held.why}"


def event_text(event: Event) -> str:
    """One event."""
    if event.kind in (EventKind.MODE, EventKind.TRIP):
        first = f" [first-out {event.first_out}]" if event.first_out else ""
        trip = "TRIP " if event.kind is EventKind.TRIP else ""
        return f"{event.subject}: {trip}{event.source} -> {event.dest}: {event.told}{first}"
    return f"{event.subject}: {event.kind.value}: {event.told}"


def _padded(clock: str) -> str:
    return f"{clock}  " if clock else ""


def _number(value: float | None) -> str:
    if value is None:
        return "-"
    return f"{value:.6g}"
