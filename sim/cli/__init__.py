"""The command `thwart`: one module a verb, each with `add_parser(subparsers)` and `run(args) -> int`."""

import sys
from collections.abc import Sequence

from sim.cli.ours import complaint_about_supervisor


def main(argv: Sequence[str] | None = None) -> int:
    """Entry point of the console script.

    Returns the exit status: 0 good, 1 a failed verdict, 2 bad input or a broken installation, 70 a fault of the program
    itself, 130 stopped by hand.
    """
    try:
        complaint = complaint_about_supervisor()
        if complaint is not None:  # before anything else is imported: it would come from the wrong package
            print(f"thwart: {complaint}", file=sys.stderr)
            return 2
        from sim.cli.app import dispatch
        from sim.console import any_letters

        any_letters()
        return dispatch(sys.argv[1:] if argv is None else argv)
    except KeyboardInterrupt:  # while the modules were still being loaded
        print("thwart: stopped by hand", file=sys.stderr)
        return 130
