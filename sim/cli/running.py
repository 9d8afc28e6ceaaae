"""What `demo` and `bench` share: rig, run, run folder, exit status."""

import argparse
import signal
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from types import FrameType

from sim.bench.bind import bind
from sim.bench.folder import RunFolder, new_folder, source_files
from sim.bench.load import load_procedure
from sim.bench.recorder import Recorder
from sim.bench.rig import Rig
from sim.bench.runner import run_procedure
from sim.bench.screen import LiveLine, print_short, print_table, screen_for
from sim.bench.sinks import Tee
from sim.console import say
from supervisor.config import BoatConfig, load_config
from supervisor.config.load import resolve_boat

_SIGNAL_PERIOD_S = 0.1


def add_run_options(parser: argparse.ArgumentParser) -> None:
    """Options of every verb that runs a procedure."""
    parser.add_argument(
        "--out", type=Path, metavar="DIR", help="run folder, new or empty (default: runs/PROCEDURE-BOAT-NUMBER)"
    )
    parser.add_argument("--no-plot", "--fast", action="store_true", dest="no_plot", help="leave out the picture")
    parser.add_argument("--every-tick", action="store_true", help="record signals on every tick (default: every 0.1 s)")
    parser.add_argument("--stop-at-first", action="store_true", help="end the run with the first failed step")


MakeRig = Callable[[BoatConfig, Path], Rig]
"""From a boat and its file to its rig."""


def simulated(config: BoatConfig, file: Path) -> Rig:
    """The boat with its supervisor, in simulated time."""
    from sim.rig.simulated import SimRig

    return SimRig(config, file=file)


def nothing(_rig: Rig) -> None:
    """A simulated rig is ready as it is."""


def run_and_write(
    boat: str,
    procedure_path: Path,
    args: argparse.Namespace,
    make_rig: MakeRig = simulated,
    power_up: Callable[[Rig], None] = nothing,
) -> int:
    """Run one procedure on the rig. Returns the exit status; raises BenchError and ConfigError."""
    config_path = resolve_boat(boat)
    config = load_config(config_path)
    rig = make_rig(config, config_path)  # first: a boat that cannot be simulated says so
    try:
        procedure = load_procedure(procedure_path, config)
        bind(procedure, rig, str(procedure_path))  # complain before a folder is made
        power_up(rig)
        path = new_folder(args.out, procedure_path.stem, config.boat.name)
        folder = RunFolder(path, rig, source_files(config, config_path, procedure_path))
        recorder = Recorder(0.0 if args.every_tick else _SIGNAL_PERIOD_S)
        screen = screen_for(sys.stdout, say)
        say(f"{procedure.title} - {config.boat.title}")
        try:
            with stop_by_hand() as stop:
                result = run_procedure(
                    rig, procedure, Tee((recorder, screen)), file=str(procedure_path), stop=stop,
                    stop_at_first=args.stop_at_first,
                )  # fmt: skip
        except BaseException:
            folder.close()
            raise
        finally:
            if isinstance(screen, LiveLine):
                screen.close()
        folder.finish(result, procedure, recorder, plot=not args.no_plot)
    finally:
        rig.close()
    if getattr(args, "short", False):
        print_short(result, say, every_step=isinstance(screen, LiveLine))
        say()
        say("each expectation, and what was seen: verdict.md in the run folder, or --table")
    else:
        print_table(result, sys.stdout, say)
    say()
    say(result.summary())
    say(f"run folder: {path}")
    return result.exit_status


@contextmanager
def stop_by_hand() -> Iterator[Callable[[], bool]]:
    """The first Ctrl-C (or a polite end from outside) ends the run in good order; the second one ends it at once."""
    asked = False

    def note(_number: int, _frame: FrameType | None) -> None:
        nonlocal asked
        if asked:
            raise KeyboardInterrupt
        asked = True

    before = {number: signal.signal(number, note) for number in (signal.SIGINT, signal.SIGTERM)}
    try:
        yield lambda: asked
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
