"""`thwart completion`: a script that makes a shell complete verbs, options, shipped boats and files."""

import argparse
from typing import Any

from sim.console import say
from sim.errors import BenchError, installs

_FILES = ("CONFIG", "PROCEDURE", "FILE", "BOAT", "RECORDING", "RUN", "FOLDER", "DIR", "PLANT", "MAP")
"""Words in `--help` that stand for a file, a folder, or a shipped boat."""


def add_parser(subparsers: Any) -> None:
    """Add the verb."""
    parser = subparsers.add_parser(
        "completion",
        description='Prints a script. For bash, in ~/.bashrc:  eval "$(thwart completion bash)"',
        allow_abbrev=False,
    )
    parser.add_argument("shell", choices=("bash", "zsh", "tcsh"), help="the shell that reads it")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """0. Raises BenchError where the package that writes the script is not installed."""
    try:
        import shtab
    except ModuleNotFoundError as error:
        raise BenchError(f"completion needs the Python package 'shtab': {installs('sim')}") from error
    from sim.cli.app import build_parser
    from supervisor.config.load import shipped_boats

    parser = build_parser()
    boats = " ".join(shipped_boats())
    own = f"_thwart_files() {{ compgen -f -- $1; compgen -W '{boats}' -- $1; }}"
    for action in _actions(parser):
        if isinstance(action.metavar, str) and action.metavar.strip("[]").split("=")[0] in _FILES:
            action.complete = {"bash": "_thwart_files", "zsh": "_files", "tcsh": "f"}  # type: ignore[attr-defined]
    say(shtab.complete(parser, shell=args.shell, preamble=own if args.shell == "bash" else ""))
    return 0


def _actions(parser: argparse.ArgumentParser) -> list[argparse.Action]:
    found = []
    for action in parser._actions:  # argparse has no public way to its own arguments
        if isinstance(action, argparse._SubParsersAction):
            for verb in action.choices.values():
                found += _actions(verb)
        else:
            found.append(action)
    return found
