"""`thwart panel`: watch and drive the bench from a browser."""

import argparse
from pathlib import Path
from typing import Any

from sim.cli.adapters import add_bus_options, settings_of
from sim.console import say
from sim.errors import BenchError, installs
from supervisor.config import load_config
from supervisor.config.load import resolve_boat

_DESCRIPTION = """\
Open a page in the browser that shows a simulated boat and lets you work it: levers, engines, gears, handset, faults;
modes, alarms, limits and why; plots, bus traffic, events; procedures with their verdicts. Nothing is attached, and
nothing is fetched from the internet.

One page controls, all others watch. A page that controls and is not heard for 0.3 s is lost, as a handset is whose link
breaks: its levers go to neutral, the handset is let go, electric thrust stops, and every page says so. Engines in gear
and charging go on.

Only this computer can reach the page, unless --host says otherwise; whoever opens it then needs the token in its
address.
"""
_EPILOG = """\
examples:
  thwart panel marsh_tern
  thwart panel marsh_tern --watch --no-hardware
  thwart panel marsh_tern --replay runs/demo_marsh_tern-marsh_tern-1
"""


def add_parser(subparsers: Any) -> None:
    """Add the verb."""
    parser = subparsers.add_parser(
        "panel",
        description=_DESCRIPTION,
        epilog=_EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    parser.add_argument("config", metavar="CONFIG", help="a boat file, or the name of a shipped boat")
    parser.add_argument("--port", type=_port, default=8350, metavar="N", help="0 for any (default: %(default)s)")
    parser.add_argument(
        "--host", default="127.0.0.1", metavar="ADDRESS",
        help="listen on this address, for other computers of the network; a token is then required",
    )  # fmt: skip
    parser.add_argument("--no-browser", action="store_true", help="do not open a browser: only print the address")
    parser.add_argument(
        "--runs", type=Path, default=Path("runs"), metavar="DIR", help="where run folders are made (default: runs)"
    )
    parser.add_argument("--no-plot", action="store_true", help="leave the picture out of run folders")
    parser.add_argument(
        "--replay", metavar="RECORDING", help="look through a recording or run folder, as `thwart replay` reads them"
    )
    live = parser.add_argument_group("watch a live boat: listen to its buses, send nothing")
    live.add_argument(
        "--watch", action="store_true", help="show what is heard on the buses of a `thwart run` elsewhere"
    )
    add_bus_options(live)
    parser.set_defaults(run=run)


def _port(text: str) -> int:
    if not text.isdecimal() or int(text) > 65535:
        raise argparse.ArgumentTypeError(f"{text!r} is no port: 0 to 65535")
    return int(text)


def _task(args: argparse.Namespace) -> tuple[dict[str, object], str]:
    """What the boat's process is to do, and what that is in words. Raises BenchError and ConfigError."""
    file = resolve_boat(args.config)
    if args.replay is not None:
        if args.watch or args.bus or args.no_hardware:
            raise BenchError("--replay plays a recording, --watch listens to a live boat: give one of them, and no bus")
        if not Path(args.replay).exists():
            raise BenchError(f"{args.replay}: no such file or folder")
        log = str(Path(args.replay).resolve())
        return {"mode": "playing", "boat": str(file), "log": log}, f"PLAYING {args.replay}: nothing is attached"
    if not args.watch:
        if args.bus or args.no_hardware:
            raise BenchError(
                "--bus and --no-hardware are for watching a live boat: add --watch, or leave them out. The panel "
                "does not work a real bus"
            )
        task = {"mode": "simulated", "boat": str(file), "runs": str(args.runs.resolve()), "plot": not args.no_plot}
        return task, "simulated boat, nothing attached"
    from supervisor.runtime.run import refuse_embedded_buses

    config = load_config(file)
    settings = settings_of(config, args)
    for warning in refuse_embedded_buses(settings, frozenset(settings), str(file)):
        say(warning)
    task = {"mode": "watching", "boat": str(file), "buses": settings, "settle_s": args.settle}
    return task, f"WATCHING {', '.join(settings)}: listens only, sends no frame"


def run(args: argparse.Namespace) -> int:
    """0 after a stop by hand. Raises BenchError and ConfigError."""
    task, what = _task(args)
    try:
        from sim.panel.server import Options, boat_process, is_loopback, new_token, serve
    except ModuleNotFoundError as error:
        if error.name is None or error.name.split(".")[0] != "aiohttp":
            raise
        raise BenchError(f"the panel needs the Python package 'aiohttp': {installs('panel')}") from error
    token = "" if is_loopback(args.host) else new_token()
    if token:
        say(
            f"OPEN TO THE NETWORK on {args.host}: whoever has the address below, with its token, can work this "
            "simulated boat and read its run. The way there is not encrypted."
        )
    say(f"{what}; Ctrl-C ends it")
    serve(Options(args.host, args.port, token, boat_process(task), not args.no_browser), say)
    say("stopped by hand")
    return 0
