"""Assembles the verbs and turns every error that a person can mend into one message."""

import argparse
import importlib
from collections.abc import Sequence
from importlib.metadata import PackageNotFoundError, version
from typing import Any

from sim.cli.crash import keep_traceback
from sim.console import complain, hush
from sim.errors import BenchError, installs
from supervisor.config import ConfigError

VERBS = (
    "sim.cli.demo",
    "sim.cli.bench",
    "sim.cli.check",
    "sim.cli.new",
    "sim.cli.run",
    "sim.cli.stand_in",
    "sim.cli.log",
    "sim.replay.cli",
    "sim.prove.cli",
)
"""Modules with `add_parser(subparsers)`, which sets `run` as the default of its parser."""

EXTRA_PACKAGES = ("numpy", "matplotlib", "rich")
"""Packages of the extra `sim`."""

_DESCRIPTION = """\
Supervisory control of charging and discharging for parallel hybrid boat drives, with a simulated boat to prove it on.

First steps:
  thwart demo                      see it work on a simulated boat, nothing attached
  thwart new my_boat               the files of your own boat, from its ratings
  thwart check my_boat.toml        limits against ratings
  thwart bench my_boat.toml test.toml   run a written test procedure
"""


def build_parser() -> argparse.ArgumentParser:
    """The whole command line."""
    parser = argparse.ArgumentParser(
        prog="thwart", description=_DESCRIPTION, allow_abbrev=False,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        epilog="Not a certified safety system; an independent hardware emergency stop is required.",
    )  # fmt: skip
    parser.add_argument("--version", action="version", version=f"thwart {_version()}")
    subparsers = parser.add_subparsers(title="verbs", metavar="VERB", required=True)
    for name in VERBS:
        _add_verb(subparsers, name)
    return parser


def _add_verb(subparsers: Any, name: str) -> None:
    """A verb whose packages are missing is listed, and complains when used: `run` on a boat needs none of them."""
    try:
        importlib.import_module(name).add_parser(subparsers)
    except ModuleNotFoundError as error:
        if error.name is None or error.name.split(".")[0] not in EXTRA_PACKAGES:
            raise
        missing = error
        verb = name.removesuffix(".cli").rpartition(".")[2].replace("_", "-")
        parser = subparsers.add_parser(verb, help=f"needs {installs('sim')}", add_help=False)
        parser.add_argument("rest", nargs=argparse.REMAINDER)

        def complain_of_it(_args: argparse.Namespace) -> int:
            raise missing

        parser.set_defaults(run=complain_of_it)


def dispatch(argv: Sequence[str]) -> int:
    """Parse and run. Returns the exit status; never shows a traceback for what a person can cause."""
    try:
        return _run(argv)
    except (BenchError, ConfigError) as error:
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
        return _own_fault(error)
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
        args = build_parser().parse_args(argv)
    except SystemExit as done:  # argparse has said what it had to say
        return done.code if isinstance(done.code, int) else 2
    status: int = args.run(args)
    return status


def _version() -> str:
    try:
        return version("thwart")
    except PackageNotFoundError:
        return "(not installed)"
