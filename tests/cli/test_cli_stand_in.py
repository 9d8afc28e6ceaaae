"""`thwart stand-in` and `run` with arguments that cannot be: one message, no traceback, nothing left open."""

import pytest
from support import complaint, thwart

WIRES = ("--bus", "private=slcan:/dev/nothing", "--bus", "backbone=slcan:/dev/nothing2")


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("stand-in", "marsh_tern", "--nodes", "all", "--soc", "nan", *WIRES), "nan is not allowed: 0 to 100"),
        (("stand-in", "marsh_tern", "--nodes", "all", "--soc", "170", *WIRES), "170 is not allowed: 0 to 100"),
        (("stand-in", "marsh_tern", "--nodes", "all", "--settle", "nan", *WIRES), "nan is not allowed: 0 to 3600"),
        (("stand-in", "marsh_tern", "--nodes", "all", "--settle", "two", *WIRES), "'two' is not a number"),
        (("stand-in", "marsh_tern", "--nodes", "", *WIRES), "no node is named; this boat has: all, monitor"),
        (("stand-in", "marsh_tern", "--nodes", "galley", *WIRES), "this boat has no node 'galley'"),
        (("stand-in", "marsh_tern", "--nodes", "all"), "'virtual' lives inside one process"),
        (("run", "house_bank_24v", "--bus", "backbone=slcan:/dev/nothing"), "there is nothing to supervise"),
        (("run", "marsh_tern"), "'virtual' lives inside one process"),
        (("run", "marsh_tern", "--bus", "private=nosuch:can0"), "'nosuch' is no interface of python-can"),
        (("run", "marsh_tern", "--bus", "private=slcan:/dev/a", "--bus", "private=slcan:/dev/b"), "given twice"),
    ],
)
def test_arguments_that_cannot_be(arguments: tuple[str, ...], words: str) -> None:
    done = thwart(*arguments)
    text = complaint(done) if "usage:" not in done.stderr else done.stderr
    assert (done.returncode, "Traceback" in text) == (2, False)
    assert words in text
    assert "not properly shut down" not in done.stderr
