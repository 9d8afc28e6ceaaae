"""Assembles the verbs and turns every error that a person can correct into one message."""

import argparse
import importlib
from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

from sim.cli.crash import keep_traceback
from sim.console import complain, hush
from sim.errors import BenchError, installs


class Verb(NamedTuple):
    """A module with `add_parser(subparsers)`, which sets `run` as the default of its parser, and its line in
    `--help`."""

    module: str
    says: str


VERBS: Mapping[str, Verb] = {
    "demo": Verb("sim.cli.demo", "see it work on a simulated boat, nothing attached"),
    "bench": Verb("sim.cli.bench", "run a written test procedure"),
    "check": Verb("sim.cli.check", "check the limits of a boat file against its ratings"),
    "new": Verb("sim.cli.new", "write the files of a boat of your own from its ratings"),
    "run": Verb("sim.cli.run", "run the supervisor itself on a real bus"),
    "stand-in": Verb("sim.cli.stand_in", "stand in for parts of the boat on a real bus"),
    "panel": Verb("sim.cli.panel", "watch and drive a simulated boat from a browser"),
    "log": Verb("sim.cli.log", "read the journal and the bus logs of a run folder"),
    "replay": Verb("sim.replay.cli", "replay a recording: what the supervisor would have ordered, and why"),
    "prove": Verb("sim.prove.cli", "prove the interlocks of a boat file (not the wiring)"),
    "completion": Verb("sim.cli.completion", "print what makes a shell complete verbs, options and files"),
}

EXTRA_PACKAGES = ("numpy", "matplotlib", "rich")
"""Packages of the extra `sim`."""

_DESCRIPTION = """\
Supervisory control of charging and discharging for parallel hybrid boat drives, with a simulated boat to try it on.

First steps:
  thwart demo                      see it work on a simulated boat, nothing attached
  thwart new my_boat               the files of your own boat, from its ratings
  thwart check my_boat/my_boat.toml   limits against ratings
  thwart bench my_boat/my_boat.toml my_boat/first.toml   run a written test procedure
"""


class _Version(argparse.Action):
    """`--version`, which looks for the version only when asked."""

    def __call__(self, parser: argparse.ArgumentParser, *_: object) -> None:
        print(f"thwart {_version()}")
        parser.exit()


class _Named:
    """Gives each verb its line in `--help`."""

    def __init__(self, subparsers: Any) -> None:
        self._subparsers = subparsers

    def add_parser(self, verb: str, **settings: Any) -> Any:
        return self._subparsers.add_parser(verb, help=VERBS[verb].says, **settings)


def build_parser(only: str | None = None) -> argparse.ArgumentParser:
    """The command line: whole, or with the options of one verb alone; the other verbs' modules are not loaded then."""
    parser = argparse.ArgumentParser(
        prog="thwart", description=_DESCRIPTION, allow_abbrev=False,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        epilog="Not a certified safety system; an independent hardware emergency stop is required.",
    )  # fmt: skip
    parser.add_argument("--version", action=_Version, nargs=0, help="show the version and exit")
    subparsers = parser.add_subparsers(title="verbs", metavar="VERB", required=True)
    for verb in VERBS:
        if only is None or verb == only:
            _add_verb(subparsers, verb)
        else:
            subparsers.add_parser(verb, help=VERBS[verb].says, add_help=False)
    return parser


def _add_verb(subparsers: Any, verb: str) -> None:
    """A verb whose packages are missing is listed, and complains when used: `run` on a boat needs none of them."""
    try:
        importlib.import_module(VERBS[verb].module).add_parser(_Named(subparsers))
    except ModuleNotFoundError as error:
        if error.name is None or error.name.split(".")[0] not in EXTRA_PACKAGES:
            raise
        missing = error
        parser = subparsers.add_parser(verb, help=f"needs {installs('sim')}", add_help=False)
        parser.add_argument("rest", nargs=argparse.REMAINDER)

        def complain_of_it(_args: argparse.Namespace) -> int:
            raise missing

        parser.set_defaults(run=complain_of_it)


def dispatch(argv: Sequence[str]) -> int:
    """Parse and run. Returns the exit status; never shows a traceback for what a person can cause."""
    try:
        return _run(argv)
    except BenchError as error:
        complain(str(error))
    except KeyboardInterrupt:
        complain("stopped by hand")
        return 130
    except BrokenPipeError:
        hush()
    except OSError as error:
        where = f"{error.filename}: " if error.filename else ""
        complain(f"{where}{error.strerror or error}")
    except ModuleNotFoundError as error:
        if error.name is None or error.name.split(".")[0] not in EXTRA_PACKAGES:
            return _own_fault(error)
        complain(f"the simulated bench needs the Python package {error.name!r}: {installs('sim')}")
    except Exception as error:  # noqa: BLE001 - the last line of defence: it ends the program, and hides nothing
        from supervisor.config.errors import ConfigError  # not for `--help`, which would wait for it

        if not isinstance(error, ConfigError):
            return _own_fault(error)
        complain(str(error))
    return 2


def _own_fault(error: Exception) -> int:
    """One line on the screen, the traceback in a file; the exit status is EX_SOFTWARE of BSD's sysexits.h."""
    complain(
        f"a fault of the program itself, not of your files: {type(error).__name__}: {error}. "
        f"Please report it with {keep_traceback(error)}"
    )
    return 70


def _run(argv: Sequence[str]) -> int:
    try:
        verb = next((word for word in argv if not word.startswith("-")), "")
        args = build_parser(only=verb).parse_args(argv)
    except SystemExit as done:  # argparse has said what it had to say
        return done.code if isinstance(done.code, int) else 2
    status: int = args.run(args)
    return status


def _version() -> str:
    from importlib.metadata import PackageNotFoundError, version

    try:
        return version("thwart")
    except PackageNotFoundError:
        return "(not installed)"
