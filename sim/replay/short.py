"""A replay in a few sentences: what the reader of the page sees first."""

from collections.abc import Iterator, Sequence

from sim.replay.disagreements import Disagreements
from sim.replay.holding import Held
from sim.replay.result import Result
from sim.replay.rules import RuleReport
from sim.replay.words import duration_text, held_text, mode_text
from sim.requirements.register import called

_HELD = 8
_DOUBTS = 5


def short_lines(result: Result) -> Iterator[str]:
    """What was decided, what held it back, and how it compares."""
    run = result.run
    if result.same is not None and result.same.first_tick is not None:
        yield f"{result.same.words()}."
    if run.trips:
        first = run.trips[0]
        more = f", the first of {len(run.trips)} trips" if len(run.trips) > 1 else ""
        yield f"Tripped at {first.time_s:.2f} s{more}: {first.subject}: {first.text}, first-out {first.first_out}."
        if first.doubt:
            yield f"DOUBTFUL: {first.doubt}."
        sound = next((trip for trip in run.trips if not trip.doubt), None)
        if first.doubt and sound is not None:
            yield f"First trip that is not: at {sound.time_s:.2f} s, {sound.subject}: {sound.text}, {sound.first_out}."
    else:
        yield f"No trip; {run.mode_changes} changes of mode."
    for doubt in result.health.doubts[:_DOUBTS]:
        yield f"Doubtful from {doubt.from_s:.2f} s: {doubt.words}."
    yield from (f"{note[0].upper()}{note[1:]}." for note in result.health.notes)
    for held in _weightiest(run.held):
        yield f"{held.subject}: {held.what} for {duration_text(held.time_s)}: {held_text(held)}."
    if result.shadow is not None:
        yield _disagreements(result.shadow.disagreements, "Against the controller that was in charge")
    if result.difference is not None:
        settings = ", ".join(f"{key} = {value}" for key, value in result.difference.settings.items())
        yield _disagreements(result.difference.disagreements, f"What if {settings}")
    for report in result.rules:
        yield _verdicts(report)
    for name in run.names:
        yield mode_text(run, name)


def _weightiest(held: Sequence[Held]) -> list[Held]:
    """The longest answer for each thing that was held back."""
    found: dict[tuple[str, str], Held] = {}
    for one in held:
        found.setdefault((one.subject, one.what), one)
    return list(found.values())[:_HELD]


def _disagreements(disagreements: Disagreements, head: str) -> str:
    if not disagreements.stretches:
        brief = f", {disagreements.brief} brief ones" if disagreements.brief else ""
        return f"{head}: no difference{brief}."
    longest = max(disagreements.total_s, key=lambda what: disagreements.total_s[what])
    number, first = len(disagreements.stretches) + disagreements.more, disagreements.stretches[0]
    return (
        f"{head}: {number} differences from {first.begin_s:.2f} s on, most of all in {longest}, for "
        f"{duration_text(disagreements.total_s[longest])} in all."
    )


def _verdicts(report: RuleReport) -> str:
    broken = [one for one in report.judgements if one.held is False]
    held = sum(1 for one in report.judgements if one.held)
    named = ", ".join(called(one.id) for one in broken)
    violated = f"{len(broken)} violated: {named}" if broken else "none violated"
    judged = f"{held} of {len(report.judgements) + len(report.unjudged)} held, {violated}"
    unjudged = f", {len(report.unjudged)} that this recording cannot judge" if report.unjudged else ""
    return f"Requirements, orders of {report.of}: {judged}{unjudged}."
