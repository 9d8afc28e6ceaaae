"""`thwart log`: what the journal and the bus logs of a run folder hold."""

import argparse
import csv
import io
import itertools
import json
from collections import deque
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from sim.console import say
from sim.errors import BenchError
from supervisor.journal import Entry, JournalError, RunRecord, bus_files, read_events, read_frames, read_kept, read_runs

_DESCRIPTION = """\
Read a run folder of `thwart run`, also after a crash: list its runs, then the events of the last one (or of --run N).
"""


def add_parser(subparsers: Any) -> None:
    """Add the verb."""
    parser = subparsers.add_parser(
        "log",
        description=_DESCRIPTION,
        epilog="examples:\n  thwart log runs/marsh_tern\n  thwart log runs/marsh_tern --trips\n"
        "  thwart log runs/marsh_tern --run 0 --format csv > events.csv\n"
        "  thwart log runs/marsh_tern --frames --last 200",
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    parser.add_argument(
        "folder", metavar="FOLDER", type=Path, help="run folder; the default of thwart run is runs/BOAT"
    )
    parser.add_argument(
        "--run", type=whole_number, dest="number", metavar="N", help="show run N only (for events, 0 means all runs)"
    )
    parser.add_argument("--trips", action="store_true", help="trips only, of all runs unless --run is given")
    parser.add_argument(
        "--frames", action="store_true", help="the bus logs' frames instead, as `candump -L` writes them"
    )
    parser.add_argument(
        "--format", choices=("text", "csv", "json"), default="text",
        help="events for a person, as CSV with a head, or as one JSON object a line (default: %(default)s)",
    )  # fmt: skip
    parser.add_argument("--last", type=whole_number, metavar="N", help="only the last N lines")
    parser.set_defaults(run=run)


def whole_number(text: str) -> int:
    """A whole number of at least 0."""
    number = int(text)
    if number < 0:
        raise argparse.ArgumentTypeError("must be 0 or more")
    return number


def run(args: argparse.Namespace) -> int:
    """0; BenchError (status 2) when there is nothing to read."""
    if not args.folder.is_dir():
        raise BenchError(f"{args.folder}: there is no such folder. Give the one that `thwart run` named")
    if args.frames and args.format != "text":
        raise BenchError("--frames are written as `candump -L` writes them; leave out --format")
    try:
        if args.frames:
            _print_last(_frame_lines(args.folder, args.number or None), args.last)
            return 0
        runs = read_runs(args.folder)
        number = args.number if args.number is not None else (0 if args.trips or not runs else runs[-1].run)
        if number and number not in {record.run for record in runs}:
            raise BenchError(
                f"{args.folder}: there is no run {number}; runs: {', '.join(str(one.run) for one in runs)}"
            )
        events = read_events(args.folder, number or None)
        kept = read_kept(args.folder)
    except JournalError as exc:
        raise BenchError(str(exc)) from exc
    if args.format != "text":
        chosen = (row for row in events if not args.trips or row[2].kind == "trip")
        rows = deque(chosen, maxlen=args.last)
        _print_last(_as_csv(rows) if args.format == "csv" else _as_json(rows), None)
        return 0
    for record in runs:
        if number in (0, record.run):
            _print_run(args.folder, record)
    say()
    lines = (
        f"{f'run {one:<4} ' if not number else ''}{utc[:23]}  {entry.line}"
        for one, utc, entry in events
        if not args.trips or entry.kind == "trip"
    )
    _print_last(lines, args.last)
    say()
    files = bus_files(args.folder)
    size = sum(path.stat().st_size for path in files)
    say(f"{len(runs)} runs in this journal; bus logs: {len(files)} files, {size / 1e6:.1f} MB")
    for name, value in kept.items():
        say(f"kept from run to run: {name} = {value:.0f}")
    return 0


def _print_run(folder: Path, record: RunRecord) -> None:
    say(f"run {record.run}: {record.boat}, {record.config_file}, sha256 {record.config_sha256}")
    say(f"  began {record.started_utc} by {record.started_by}, thwart {record.thwart}, {record.events} events")
    if record.ended_why:
        say(f"  ended {record.ended_utc}: {record.ended_why}")
    else:
        say("  no end recorded: it still runs, was killed, or lost its power")
    path = folder / f"timing-{record.run}.json"
    if not path.is_file():
        return
    try:
        timing = json.loads(path.read_text(encoding="utf-8"))
        late, cycle = timing["lateness"], timing["cycle"]
        say(
            f"  {timing['ticks']} ticks, {timing['missed_ticks']} missed; late p99.9 {late['p99_9_s'] * 1e3:.2f} ms,"
            f" worst {late['max_s'] * 1e3:.2f} ms; tick takes p50 {cycle['p50_s'] * 1e3:.2f} ms,"
            f" worst {cycle['max_s'] * 1e3:.2f} ms"
        )
    except (ValueError, KeyError, TypeError) as exc:
        say(f"  {path.name} cannot be read: {exc}")


_Row = tuple[int, str, Entry]


def _as_csv(rows: Iterable[_Row]) -> Iterable[str]:
    for row in [("run", "utc", *Entry._fields), *((run, utc, *entry) for run, utc, entry in rows)]:
        line = io.StringIO()
        csv.writer(line, lineterminator="").writerow(row)
        yield line.getvalue()


def _as_json(rows: Iterable[_Row]) -> Iterable[str]:
    for run, utc, entry in rows:
        yield json.dumps({"run": run, "utc": utc, **entry._asdict()}, ensure_ascii=False)


def _frame_lines(folder: Path, number: int | None) -> Iterable[str]:
    for frame in read_frames(folder, number):
        way = "" if frame.sent is None else (" T" if frame.sent else " R")
        yield f"({frame.time_s:.6f}) {frame.channel} {frame.frame}{way}"


def _print_last(lines: Iterable[str], last: int | None) -> None:
    kept = deque(lines, maxlen=last) if last is not None else lines
    iterator = iter(kept)
    while chunk := list(itertools.islice(iterator, 500)):
        say("\n".join(chunk))
