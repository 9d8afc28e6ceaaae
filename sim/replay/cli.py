"""`thwart replay`: what a recording would have made the supervisor do, and why."""

import argparse
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from sim.console import say
from sim.replay.assumed import parse_assumptions
from sim.replay.errors import ReplayError
from sim.replay.opening import FORMATS
from sim.replay.playback import Player, parse_onto
from sim.replay.progress import bar_for, stopped_by_hand
from sim.replay.session import GAP_S, Options, Session
from sim.replay.source import Source
from sim.replay.whatif import parse_settings
from sim.replay.words import playback_lines, summary_lines

_DESCRIPTION = """\
Feed a recording to the supervisor: what it would have read and decided, with every mode change and its cause.

  thwart replay CONFIG LOG                      what would it have done, and why
  thwart replay CONFIG LOG --out runs/trial     the same as a page, pictures and tables
  thwart replay CONFIG LOG --set limits.taper_start_pct=85    and what under another limit
  thwart replay --survey LOG                    what is on this bus, and a proposed boat file
  thwart replay LOG --onto socketcan:vcan0      play it onto a bus in real time
"""
_EPILOG = """\
LOG is a recording (candump, ASC, BLF, CSV, TRC, SQLite, MF4; .gz, .bz2, .xz), a run folder, or - for standard input.
Exit status: 0 done, 2 nothing usable, 130 stopped by hand (what was found until then is written).
"""


class _WithoutConfig(argparse.Action):
    """A flag or option that makes CONFIG superfluous."""

    def __init__(self, *args: Any, log_action: argparse.Action | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.log_action = log_action

    def __call__(
        self, parser: argparse.ArgumentParser, namespace: argparse.Namespace, values: Any, option: str | None = None
    ) -> None:
        if self.log_action is not None:
            self.log_action.required = False
        if self.nargs == 0:
            setattr(namespace, self.dest, True)
        else:
            setattr(namespace, self.dest, [*(getattr(namespace, self.dest) or []), values])


def add_parser(subparsers: Any) -> None:
    """Add the verb."""
    parser = subparsers.add_parser(
        "replay",
        description=_DESCRIPTION,
        epilog=_EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    parser.add_argument("config", metavar="CONFIG", help="a boat file, or the name of a shipped boat")
    log = parser.add_argument("log", metavar="LOG", help="the recording")
    add = parser.add_argument
    add("--out", type=Path, metavar="DIR", help="write report.html, pictures, replay.json, events and signals here")
    add("--no-plot", action="store_true", help="leave the pictures out of it")
    add("--channel", action="append", default=[], metavar="CHANNEL=BUS",
        help="which bus of the boat a channel of the recording is, e.g. can0=backbone")  # fmt: skip
    add("--format", choices=sorted(FORMATS), help="format of LOG (default: by its name or first bytes)")
    add("--set", action="append", default=[], metavar="KEY=VALUE", dest="settings",
        help="what if: replay under this setting as well, and show the difference; may be repeated")  # fmt: skip
    add("--assume", action="append", default=[], metavar="INPUT=VALUE",
        help="a value for an input that the recording does not hold, e.g. bank.cell_max_v=3.35")  # fmt: skip
    add("--commands", type=Path, metavar="FILE", help="mapping of a foreign controller's commands, to compare with")
    add("--rules", action=argparse.BooleanOptionalAction,
        help="check the safety requirements (default: with --out; it takes about as long as the replay)")  # fmt: skip
    add("--ticks", type=Path, metavar="FILE", help="the recorded run's ticks (default: ticks.csv beside LOG)")
    add("--own-ticks", action="store_true", help="use tick times calculated from boat.tick_s, ignore ticks.csv")
    add("--gap", type=float, default=GAP_S, metavar="S", help="silence that counts as a gap (default: %(default)g s)")
    add("--survey", action=_WithoutConfig, nargs=0, log_action=log, default=False,
        help="list what is on the bus and propose a boat file; needs no CONFIG")  # fmt: skip
    add("--onto", action=_WithoutConfig, log_action=log, default=[], metavar="[CHANNEL=]INTERFACE:CHANNEL",
        help="play LOG onto a bus in real time; needs no CONFIG; may be repeated")  # fmt: skip
    add("--max-gap", type=float, metavar="S", help="with --onto: shorten longer silences to this (default: keep them)")
    add("--bitrate", type=int, default=250_000, help="with --onto: bit/s of the adapters (default: %(default)d)")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """0 done, 130 stopped by hand; ReplayError and ConfigError mean 2."""
    if not 0.1 <= args.gap <= 3600.0:
        raise ReplayError(f"--gap {args.gap:g}: from 0.1 to 3600 s")
    if args.survey and args.onto:
        raise ReplayError("--survey and --onto: one at a time")
    if args.survey:
        return _survey(args)
    if args.onto:
        return _play(args)
    return _replay(args)


def _replay(args: argparse.Namespace) -> int:
    from sim.replay.outputs import OutputFolder, make_folder

    options = Options(
        channels=tuple(args.channel), form=args.format, gap_s=args.gap, ticks=args.ticks, own_ticks=args.own_ticks,
        commands=args.commands, settings=parse_settings(args.settings),
        assume=parse_assumptions(args.assume),
        rules=args.out is not None if args.rules is None else args.rules,
    )  # fmt: skip
    session = Session(args.config, args.log, options)
    folder = None if args.out is None else OutputFolder(make_folder(args.out), session)
    try:
        with stopped_by_hand() as asked, bar_for(lambda: session.source) as bar:

            def stop() -> bool:
                bar.update()
                return asked()

            session.run(stop, () if folder is None else folder.observers)
    except BaseException:
        if folder is not None:
            folder.close()
        raise
    result = session.result()
    _say_all(list(summary_lines(result)))
    if folder is not None:
        files = folder.finish(result, pictures=not args.no_plot)
        say()
        say(f"written: {', '.join(str(file) for file in files)}")
    return 130 if result.stopped else 0


def _survey(args: argparse.Namespace) -> int:
    from sim.replay.propose import NAME, propose
    from sim.replay.survey import survey
    from sim.replay.surveytext import survey_lines

    log = args.log or args.config
    reading: list[Source] = []
    with stopped_by_hand() as asked, bar_for(lambda: reading[0] if reading else None) as bar:

        def stop(source: Source) -> bool:
            reading[:] = [source]
            bar.update()
            return asked()

        found = survey(log, args.format, stop, args.gap)
    _say_all(list(survey_lines(found)))
    folder = None
    if args.out is not None:
        from sim.replay.outputs import make_folder

        folder = make_folder(args.out)
    proposal = propose(found, folder)
    say()
    if not proposal:
        say("nothing was recognised by open standards: map the inputs by hand, with a DBC file")
    elif folder is None:
        say("proposed boat file:")
        say()
        say(proposal)
    else:
        path = folder / f"{NAME}.toml"
        path.write_text(proposal, encoding="utf-8")
        say(f"proposed boat file: {path}; try: thwart replay {path} {log}")
    return 130 if found.stopped else 0


def _play(args: argparse.Namespace) -> int:
    log = args.log or args.config
    if args.max_gap is not None and not 0.0 <= args.max_gap <= 3600.0:
        raise ReplayError(f"--max-gap {args.max_gap:g}: from 0 to 3600 s")
    player = Player(log, parse_onto(args.onto, args.bitrate), args.format, args.max_gap)
    with stopped_by_hand() as asked:
        report = player.play(asked)
    _say_all(list(playback_lines(report)))
    return 130 if report.stopped else 0


def _say_all(lines: Sequence[str]) -> None:
    for line in lines:
        say(line)
