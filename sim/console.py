"""Words to the person: stdout for results, stderr for complaints; a closed pipe is no error."""

import io
import os
import sys

NOT_EXERCISED = "not exercised: nothing in this run called on it, which is no failure"
"""What a line with counts of requirements says of those that were not exercised."""


def any_letters() -> None:
    """A screen that does not know a letter (an umlaut in a boat's name, where nothing is set to UTF-8) shows its number
    instead: that is no reason to end."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")


def say(text: str = "") -> None:
    """One or more lines on stdout. When the reader has gone (`| head`), the rest goes nowhere and the work goes on."""
    try:
        print(text, flush=True)
    except BrokenPipeError:
        hush()


def complain(text: str) -> None:
    """One complaint on stderr."""
    try:
        print(f"thwart: {text}", file=sys.stderr, flush=True)
    except BrokenPipeError:
        return


def hush() -> None:
    """Point stdout at nothing, so that neither we nor the interpreter's last flush meet the closed pipe again."""
    nothing = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nothing, sys.stdout.fileno())
    os.close(nothing)
