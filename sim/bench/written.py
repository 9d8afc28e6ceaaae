"""A page of the docs that a module measures and writes: `python -m MODULE PAGE.md`."""

from collections.abc import Callable, Sequence
from pathlib import Path

from sim.console import complain, say


def write_page(arguments: Sequence[str], module: str, page: Callable[[], str]) -> int:
    """Write the page; 2 for another command line, or a place that cannot be written."""
    if len(arguments) != 1:
        complain(f"usage: python -m {module} PAGE.md")
        return 2
    place = Path(arguments[0])
    if not place.parent.is_dir():
        complain(f"{place}: cannot be written: there is no folder {place.parent}. Give a place that can")
        return 2
    try:
        place.write_text(page(), encoding="utf-8")
    except OSError as error:
        complain(f"{place}: cannot be written: {error.strerror}. Give a place that can")
        return 2
    say(f"written: {place}")
    return 0
