"""The replay as one self-contained HTML page: no script, no font, no picture from elsewhere; its policy forbids it."""

import re
from collections.abc import Iterable, Sequence
from html import escape

from sim.replay.disagreements import Disagreements, Stretch
from sim.replay.look import NO_SCRIPT, STYLE
from sim.replay.result import Result, Run
from sim.replay.rules import RuleReport
from sim.replay.short import short_lines
from sim.replay.sources import source_rows
from sim.replay.whatif import value_text
from sim.replay.words import clock_text, duration_text, event_text, held_text, unjudged_by_reason
from sim.requirements import Judgement
from sim.requirements.register import title_of
from supervisor.controller.events import EventKind

_ROWS_MAX = 500
_STYLE = """
:root { color-scheme: light dark; --ink: #1d2733; --muted: #5b6b7f; --line: #d9dee5; --bad: #7d1128; --good: #1c6b47; }
body { font: 15px/1.5 system-ui, sans-serif; color: var(--ink); max-width: 72rem; margin: 2rem auto; padding: 0 1rem; }
h1 { font-size: 1.5rem; margin-bottom: .2rem; } h2 { font-size: 1.15rem; margin-top: 2.2rem; }
p.sub, td.muted, .muted { color: var(--muted); }
table { border-collapse: collapse; width: 100%; font-size: .88rem; }
th { text-align: left; font-weight: 600; border-bottom: 2px solid var(--line); }
th, td { padding: .22rem .6rem .22rem 0; vertical-align: top; } td { border-bottom: 1px solid var(--line); }
td.n, th.n { text-align: right; font-variant-numeric: tabular-nums; white-space: nowrap; }
.bad { color: var(--bad); font-weight: 600; } .good { color: var(--good); font-weight: 600; }
.wide { overflow-x: auto; } svg { width: 100%; min-width: 52rem; height: auto; }
p.caption { color: var(--muted); font-size: .88rem; margin: 0; } ul.short { padding-left: 1.2rem; }
.note { border-left: 4px solid var(--line); padding: .3rem .8rem; margin: .6rem 0; }
details summary { cursor: pointer; font-weight: 600; margin: .6rem 0; }
svg, #look, .fixed img { background: #fff; color: #1d2733; } #look svg { background: none; }
@media (prefers-color-scheme: dark) {
  :root { color-scheme: dark; --ink: #e4e9f0; --muted: #9fb0c3; --line: #3a4757; --bad: #ff8fa3; --good: #7fd6ac; }
  body { background: #121820; } a { color: #8ec1ff; }
}
@media (max-width: 48rem) { body { margin: 1rem auto; padding: 0 .6rem; } th, td { padding-right: .4rem; } }
"""


_POLICY = (
    "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'; "
    "script-src 'unsafe-inline'; img-src data: blob:\">"
)
"""Whatever a script in the page might try: nothing is fetched from anywhere."""
_CAPTION = (
    '<p class="caption">Bands: the modes. A filled curve lies between the least and the most in each moment of the '
    "picture. Dashed upright lines: trips. Where decisions are compared, bars show when they differ. Signals that "
    "never moved are left out; the table of inputs has them.</p>"
)


def page_text(result: Result, overview: str, windows: Sequence[str], look: str = "") -> str:
    """The page. `overview` and `windows` are SVG elements; "" leaves the picture out. With `look` (sim.replay.look)
    they are only for print, and for a reader without scripts."""
    run = result.run
    parts = [
        f"<h1>Replay of {escape(result.name.rsplit('/', 1)[-1])}</h1>",
        f'<p class="sub">{escape(run.title)} ({escape(run.boat)}): '
        "what the supervisor would have read and decided.</p>",
        *_head(result),
        "<h2>In short</h2>",
        '<ul class="short">' + "".join(f"<li>{escape(line)}</li>" for line in short_lines(result)) + "</ul>",
        look,
        *([f'<div class="{"fixed" if look else "wide"}">{overview}{_CAPTION}</div>'] if overview else []),
        *_trips(result, windows, fixed=bool(look)),
        *_held(run),
        *_modes(run, result.begin),
        *_events(run, result.begin),
        *_shadow(result),
        *_whatif(result),
        *_rules(result.rules),
        *_inputs(run),
        *_sources(result),
        '<p class="muted">Not a certified safety system; the recording does not answer to decisions that differ '
        "from those made when it was taken.</p>",
    ]
    body = "\n".join(parts)
    if not look:
        body = _MOMENT.sub(r"\1", body)  # there is nothing to lead to
    return (
        '<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"{_POLICY}\n"
        f"<title>Replay of {escape(result.name)}</title>\n<style>{_STYLE}{STYLE if look else ''}</style>\n"
        f"{NO_SCRIPT if look else ''}\n</head>\n<body>\n"
        f"{body}\n</body>\n</html>\n"
    )


def _table(head: Sequence[str], rows: Iterable[Sequence[str]], numeric: Sequence[int] = ()) -> str:
    """A table of texts that are already escaped; a column without any text is left out."""
    rows = list(rows)
    shown = [k for k in range(len(head)) if not rows or any(row[k] for row in rows)]
    cells = "".join(f"<th{_class(k in numeric)}>{escape(head[k])}</th>" for k in shown)
    body = "\n".join(
        "<tr>" + "".join(f"<td{_class(k in numeric)}>{row[k]}</td>" for k in shown) + "</tr>" for row in rows
    )
    return f'<div class="wide"><table><thead><tr>{cells}</tr></thead><tbody>\n{body}\n</tbody></table></div>'


def _moment(time_s: float) -> str:
    """A time in a table, which leads to its moment in the part to look into."""
    return f'<a class="moment" href="#look" data-moment="{time_s:.4f}">{time_s:.2f}</a>'


_MOMENT = re.compile(r'<a class="moment"[^>]*>([^<]*)</a>')


def _class(numeric: bool) -> str:
    return ' class="n"' if numeric else ""


def _head(result: Result) -> list[str]:
    begin = clock_text(result.begin, 0.0)
    facts = [
        f"{escape(result.kind)}, {duration_text(result.end_s)}{f' from {begin}' if begin else ''}, "
        f"{result.frames} frames, of which {result.fed} were for the supervisor; {result.ticks} ticks of "
        f"{result.run.tick_s * 1000:g} ms, mode changes: {result.run.mode_changes}, trips: {len(result.run.trips)}."
    ]
    if result.stopped:
        facts.insert(0, '<span class="bad">Stopped by hand: this is a part of the recording.</span>')
    notes = [f"Assumed, not recorded: {name} = {value:g}" for name, value in result.assumed.items()]
    notes += [*result.wiring, *result.health.lines_of_text()]
    out = [f"<p>{' '.join(facts)}</p>"]
    if notes:
        out.append('<div class="note">' + "<br>".join(escape(note) for note in notes) + "</div>")
    return out


def _trips(result: Result, windows: Sequence[str], fixed: bool) -> list[str]:
    if not result.run.trips:
        return []
    rows = [
        (_moment(trip.time_s), clock_text(result.begin, trip.time_s), escape(trip.subject),
         f'<span class="bad">{escape(trip.first_out)}</span>', escape(trip.text))
        for trip in result.run.trips[:_ROWS_MAX]
    ]  # fmt: skip
    out = ["<h2>Trips</h2>", _table(("log time, s", "recorder's clock", "of", "first-out", "cause"), rows, (0,))]
    for k, window in enumerate(windows):
        is_open = " open" if k == 0 else ""
        trip = result.run.trips[k]
        title = f"Ten seconds around {escape(trip.subject)}, {trip.time_s:.2f} s"
        kind = ' class="fixed"' if fixed else ""
        out.append(f"<details{is_open}{kind}><summary>{title}</summary>"
                   f'<div class="wide">{window}</div></details>')  # fmt: skip
    return out


def _stretches(disagreements: Disagreements, ours: str, theirs: str) -> str:
    longest = sorted(disagreements.stretches, key=lambda stretch: -stretch.length_s)[:_ROWS_MAX]
    rows = [_stretch_row(stretch) for stretch in sorted(longest, key=lambda stretch: stretch.begin_s)]
    return _table(("from, s", "for, s", "what", ours, theirs, "differs by", "explained by"), rows, (0, 1, 3, 4, 5))


def _stretch_row(stretch: Stretch) -> tuple[str, ...]:
    what = stretch.what
    return (
        _moment(stretch.begin_s), f"{stretch.length_s:.2f}", escape(what), escape(value_text(what, stretch.ours)),
        escape(value_text(what, stretch.theirs)), f"{stretch.by:.4g}", escape(stretch.why),
    )  # fmt: skip


def _shadow(result: Result) -> list[str]:
    shadow = result.shadow
    if shadow is None:
        return []
    disagreements = shadow.disagreements
    stretches = len(disagreements.stretches) + disagreements.more
    head = (
        f"<p>{shadow.frames} command frames in the recording, {disagreements.compared} comparisons, "
        f"{disagreements.different} beyond tolerance, in {stretches} stretches, {disagreements.brief} brief ones.</p>"
    )
    out = ["<h2>Against the controller that was in charge</h2>", head]
    if disagreements.stretches:
        out.append(_stretches(disagreements, "ours", "recorded"))
    return out


def _whatif(result: Result) -> list[str]:
    difference = result.difference
    if difference is None:
        return []
    settings = ", ".join(f"{key} = {value}" for key, value in difference.settings.items())
    if difference.first_s is None:
        return ["<h2>What if</h2>", f"<p>With {escape(settings)} every decision is the same.</p>"]
    first = f"With {escape(settings)} the decisions first differ at {difference.first_s:.2f} s."
    return ["<h2>What if</h2>", f"<p>{first}</p>", _stretches(difference.disagreements, "as it is", "as changed")]


def _rules(reports: Sequence[RuleReport]) -> list[str]:
    out = []
    for report in reports:
        judged = [judgement for judgement in report.judgements if judgement.held is not None]
        rows = [_verdict_row(judgement) for judgement in sorted(judged, key=lambda one: bool(one.held))]
        silent = [f"{judgement.id} {_title(judgement)}" for judgement in report.judgements if judgement.held is None]
        out.append(f"<h2>Requirements: orders of {escape(report.of)}</h2>")
        head = ("requirement", "", "verdict", "closest approach", "at, s", "violated for, s", "seen")
        if rows:
            out.append(_table(head, rows, (3, 4, 5)))
        if silent:
            out.append(
                f'<p class="muted">Not exercised (nothing in this recording called on them; no failure): '
                f"{escape('; '.join(silent))}.</p>"
            )
        for why, names in unjudged_by_reason(report):
            titles = "; ".join(f"{name} {title_of(name)}" for name in names)
            out.append(f'<p class="muted"><b>Not judged</b>, {escape(why)}: {escape(titles)}.</p>')
    return out


def _verdict_row(judgement: Judgement) -> tuple[str, ...]:
    verdict = '<span class="good">held</span>' if judgement.held else '<span class="bad">violated</span>'
    closest = "" if judgement.closest is None else f"{judgement.closest:.4g} {escape(judgement.unit)}"
    when = "" if judgement.time_s is None else _moment(judgement.time_s)
    lasted = f"{judgement.duration_s:.2f}" if judgement.duration_s else ""
    return escape(judgement.id), _title(judgement), verdict, closest, when, lasted, escape(judgement.words)


def _title(judgement: Judgement) -> str:
    """What a requirement is about."""
    return escape(title_of(judgement.id))


def _inputs(run: Run) -> list[str]:
    rows = []
    for reading in run.readings:
        if not reading.mapped:
            continue
        numbers = ["" if value is None else f"{value:.6g}" for value in (reading.least, reading.most, reading.last)]
        rows.append(
            (
                escape(reading.name),
                f"{reading.known_pct:.2f}",
                *numbers,
                escape(reading.unit),
                escape(reading.why),
                escape(reading.doubt),
            )
        )
    missing = [reading.name for reading in run.readings if not reading.mapped]
    head = ("input", "known, %", "least", "most", "last", "unit", "unknown at the end because", "doubtful because")
    out = ["<h2>Inputs</h2>", _table(head, rows, (1, 2, 3, 4))]
    if missing:
        out.append(f'<p class="muted">Not mapped in the boat file: {escape(", ".join(missing))}.</p>')
    return out


def _held(run: Run) -> list[str]:
    if not run.held:
        return []
    rows = [
        (escape(held.subject), escape(held.what), escape(held_text(held)), f"{held.time_s:.2f}", _moment(held.first_s))
        for held in run.held
    ]
    head = ("of", "held back", "why", "for, s in all", "first at, s")
    note = ('<p class="muted">A way to the next mode is shown with what it lacked; a limit with what was left of it, '
            "and in brackets the settings that a what-if would change (<code>--set KEY=VALUE</code>).</p>")  # fmt: skip
    return ["<h2>What held it back</h2>", note, _table(head, rows, (3, 4))]


def _modes(run: Run, begin: float | None) -> list[str]:
    spans = sorted(run.spans, key=lambda span: span.begin_s)
    rows = [
        (_moment(span.begin_s), clock_text(begin, span.begin_s), escape(span.subject), escape(span.mode),
         f"{span.end_s - span.begin_s:.2f}", escape(span.cause))
        for span in spans[:_ROWS_MAX]
    ]  # fmt: skip
    head = ("from, s", "recorder's clock", "of", "mode", "for, s", "because")
    more = len(spans) - len(rows)
    note = [f'<p class="muted">{more} more are in replay.json.</p>'] if more > 0 else []
    return ["<h2>Modes</h2>", _table(head, rows, (0, 4)), *note]


def _events(run: Run, begin: float | None) -> list[str]:
    rows = []
    for event in run.events[:_ROWS_MAX]:
        kind = f'<span class="bad">{event.kind.value}</span>' if event.kind is EventKind.TRIP else event.kind.value
        rows.append((_moment(event.time_s), clock_text(begin, event.time_s), kind, escape(event_text(event))))
    more = len(run.events) - len(rows) + run.events_lost
    out = [f"<details><summary>Events ({len(run.events) + run.events_lost})</summary>",
           _table(("log time, s", "recorder's clock", "kind", "event"), rows, (0,))]  # fmt: skip
    if more > 0:
        out.append(f'<p class="muted">{more} more are in events.csv.</p>')
    return [*out, "</details>"]


def _sources(result: Result) -> list[str]:
    rows = [
        (
            escape(row.channel),
            escape(row.name),
            escape(row.source),
            str(row.frames),
            f"{row.per_s:.2f}",
            escape(row.role),
        )
        for row in source_rows(result)
    ]
    head = ("channel", "message", "source", "frames", "a second", "for the supervisor")
    return [
        f"<details><summary>Frames by source ({len(rows)})</summary>",
        _table(head, rows[:_ROWS_MAX], (3, 4)),
        "</details>",
    ]
