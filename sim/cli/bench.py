"""`thwart bench`: a written procedure on a simulated boat, with a verdict and a run folder."""

import argparse
import textwrap
from functools import partial
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from sim.bench.rig import Rig
from sim.cli.adapters import add_bus_options, seconds, settings_of
from sim.cli.running import add_run_options, run_and_write
from sim.console import say
from sim.errors import BenchError
from supervisor.config import BoatConfig, ConfigError, load_config, shipped_root
from supervisor.config.load import resolve_boat

_DESCRIPTION = """\
Run a procedure (operator actions, faults, expectations with deadlines) on the simulated boat and write a run folder:
bus log, signals, events, verdict and plot. On the simulated boat every safety requirement that can be judged on signals
is judged on every tick, and each own interlock of the boat file by its name. Exit status 1 if an expectation was not
met or a requirement violated.

With --interlock the procedure is written by the program itself, for one own interlock: its effect in each mode that it
concerns, its threshold or contact, its debounce, an unknown signal, and the way back.

With --live the device under test is elsewhere: `thwart run`, or a controller of your own, on real buses. The boat
around it is simulated in real time; the device is judged by what it says on the bus and by what the boat does. What
cannot be seen there (why it refused, for instance) is marked "not shown". Read docs/adapters.md before you connect
anything.
"""
_EXAMPLES = """\
examples:
  thwart bench marsh_tern soft_start --out runs/first
  thwart bench my_boat.toml --interlock swim_ladder --write tests/swim_ladder.toml
  thwart bench marsh_tern soft_start --live --bus private=slcan:/dev/ttyACM1 --bus backbone=slcan:/dev/ttyACM3
"""


def add_parser(subparsers: Any) -> None:
    """Add the verb."""
    parser = subparsers.add_parser(
        "bench",
        description=_DESCRIPTION,
        epilog=f"{_listed()}\n\n{_EXAMPLES}",
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    parser.add_argument("config", metavar="CONFIG", help="a boat file, or the name of a shipped boat")
    parser.add_argument(
        "procedure", metavar="PROCEDURE", nargs="?", help="a procedure file, or the name of a shipped one"
    )
    parser.add_argument("--interlock", metavar="NAME", help="run a procedure written for this own interlock")
    parser.add_argument("--write", metavar="FILE", type=Path, help="with --interlock: keep that procedure as a file")
    add_run_options(parser)
    live = parser.add_argument_group("a device under test elsewhere")
    live.add_argument(
        "--live", action="store_true", help="the supervisor under test is on the buses of the boat file or of --bus"
    )
    live.add_argument(
        "--nodes", default=None, metavar="NODE,NODE,...",
        help="simulate only these nodes, beside real ones (default: all; names as for stand-in)",
    )  # fmt: skip
    live.add_argument(
        "--wait", type=seconds, default=30.0, metavar="SECONDS",
        help="for the device to be heard (default: %(default)s)",
    )  # fmt: skip
    add_bus_options(live)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """0 passed, 1 failed, 130 stopped by hand."""
    if args.interlock is not None:
        if args.procedure is not None:
            raise BenchError(f"give a procedure ({args.procedure}) or --interlock {args.interlock}, not both")
        with TemporaryDirectory() as folder:
            return _run(args, _written(args, Path(folder)))
    if args.write is not None:
        raise BenchError("--write keeps the procedure of --interlock NAME: add that, or leave --write out")
    if args.procedure is None:
        raise BenchError(
            "no procedure is named; usage: thwart bench CONFIG PROCEDURE, or thwart bench CONFIG --interlock NAME; "
            f"{_listed()}"
        )
    return _run(args, find_procedure(args.procedure))


def _written(args: argparse.Namespace, folder: Path) -> Path:
    """The procedure of an own interlock, in the file of --write or in `folder`."""
    from sim.bench.own_procedure import interlock_procedure
    from supervisor.bus import compile_boat

    file = resolve_boat(args.config)
    config = load_config(file)
    text = interlock_procedure(config, compile_boat(config, file), args.interlock)
    path: Path = folder / f"interlock_{args.interlock}.toml" if args.write is None else args.write
    if args.write is not None and path.exists() and path.read_text(encoding="utf-8") != text:
        raise BenchError(f"--write {path}: this file is there already, and is another one; name a new one or delete it")
    path.write_text(text, encoding="utf-8")
    if args.write is not None:
        say(f"written: {path}")
    return path


def _run(args: argparse.Namespace, procedure: Path) -> int:
    """Run it, on the simulated boat or against a device elsewhere."""
    if args.live:
        return run_and_write(args.config, procedure, args, partial(_live, args), partial(_power_up, args.wait))
    if args.bus or args.no_hardware or args.nodes is not None:
        raise BenchError(
            "--bus, --no-hardware and --nodes are for a device under test elsewhere: add --live, or leave them out"
        )
    return run_and_write(args.config, procedure, args)


def _live(args: argparse.Namespace, config: BoatConfig, file: Path) -> Rig:
    from sim.rig.live import LiveRig
    from supervisor.runtime.run import refuse_embedded_buses

    settings = settings_of(config, args)
    nodes = [name.strip() for name in (args.nodes or "all").split(",") if name.strip()]
    rig = LiveRig(config, file, nodes, settings, args.settle)
    try:
        for warning in refuse_embedded_buses(settings, rig.stand_in.buses, str(file)):
            say(warning)
    except ConfigError:
        rig.close()
        raise
    return rig


def _power_up(wait_s: float, rig: Rig) -> None:
    from sim.rig.live import LiveRig

    if isinstance(rig, LiveRig):
        say("simulated boat powered up; waiting for the device under test")
        rig.power_up(wait_s)


def find_procedure(path_or_name: str) -> Path:
    """A path as given, or a shipped procedure by its bare name. Raises BenchError if neither is there."""
    path = Path(path_or_name)
    if path.is_file():
        return path
    shipped = _shipped()
    if path_or_name in shipped:
        return shipped[path_or_name]
    raise BenchError(f"{path_or_name}: no such procedure file; shipped ones: {', '.join(shipped) or 'none'}")


def _shipped() -> dict[str, Path]:
    return {one.stem: one for one in sorted((shipped_root() / "procedures").glob("*.toml"))}


def _listed() -> str:
    return textwrap.fill("shipped procedures: " + ", ".join(_shipped()), 100, subsequent_indent="  ")
