"""`thwart run`: the supervisor itself on real buses, in real time."""

import argparse
import os
import tempfile
from pathlib import Path
from typing import Any

from sim.cli.adapters import add_bus_options, reason_to_stop, settings_of
from sim.console import complain, say
from sim.errors import BenchError
from supervisor.config import ConfigError, load_config
from supervisor.config.load import resolve_boat
from supervisor.journal import FolderInUseError
from supervisor.runtime.run import BoatRun, RunOptions

_DESCRIPTION = """\
Run the supervisor on one or two real buses. It begins in STANDBY, whatever levers and switches say, and prints modes,
trips with their first-out, refusals and alarms, one line each; a line is in the journal when it appears. Ctrl-C,
SIGTERM or SIGHUP: zero commands with every enable off, then exit status 0.

The run folder (default runs/BOAT) is kept from start to start: journal of all runs, bus logs with a size cap, timing of
each run. Read it with `thwart log FOLDER`.
"""
_EPILOG = """\
examples:
  thwart run my_boat.toml --bus private=socketcan:can0 --bus backbone=socketcan:can1
  thwart run my_boat.toml --bus private=slcan:/dev/ttyACM0

INTERFACE is any that python-can knows; wiring, bit rates and limits: docs/adapters.md.
"""


def add_parser(subparsers: Any) -> None:
    """Add the verb."""
    parser = subparsers.add_parser(
        "run",
        description=_DESCRIPTION,
        epilog=_EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    parser.add_argument("config", metavar="CONFIG", help="a boat file, or the name of a shipped boat")
    add_bus_options(parser)
    parser.add_argument("--out", type=Path, metavar="DIR", help="run folder, kept from run to run (default: runs/BOAT)")
    parser.add_argument(
        "--log-megabytes", type=positive, default=256, metavar="N", help="cap on all bus logs (default: %(default)s)"
    )
    parser.add_argument(
        "--priority", type=int, choices=range(1, 100), default=0, metavar="1..99",
        help="real-time priority of the tick, where the system grants it (Linux, SCHED_FIFO)",
    )  # fmt: skip
    parser.set_defaults(run=run)


def positive(text: str) -> int:
    """A whole number of at least 1."""
    number = int(text)
    if number < 1:
        raise argparse.ArgumentTypeError("must be 1 or more")
    return number


def writable(folder: Path) -> Path:
    """`folder`, made if need be; one for this run alone where it cannot be written, for a boat must start all the
    same."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
        if os.access(folder, os.W_OK | os.X_OK):
            return folder
        why = "it may not be written"
    except OSError as exc:
        why = exc.strerror or str(exc)
    instead = Path(tempfile.mkdtemp(prefix="thwart-run-"))
    complain(
        f"RUN FOLDER {folder}: {why}. This run is kept in {instead}, and knows nothing of earlier ones (such as when "
        "the bank was last charged full). Free space on the disk or repair it, or give another folder with --out"
    )
    return instead


def run(args: argparse.Namespace) -> int:
    """0 after a stop by hand or SIGTERM, 1 after an error in the program; ConfigError and BenchError give 2."""
    path = resolve_boat(args.config)
    config = load_config(path)
    if config.boat.listen_only:
        remedy = "Record the bus with candump and ask `thwart replay`, or give a boat with shafts"
        raise ConfigError(str(path), "boat.listen_only", "is true: there is nothing to supervise", remedy)
    settings = settings_of(config, args)
    folder = writable(args.out or Path("runs") / config.boat.name)
    options = RunOptions(settle_s=args.settle, log_bytes=args.log_megabytes * 1_000_000, priority=args.priority)
    with reason_to_stop() as stop:
        try:
            boat_run = BoatRun(config, path, settings, folder, say, options)
        except FolderInUseError as exc:
            raise BenchError(str(exc)) from exc
        return boat_run.run(stop)
