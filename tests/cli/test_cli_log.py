"""`thwart log` on what it cannot do."""

from pathlib import Path

import pytest
from support import complaint, thwart


@pytest.mark.parametrize("number", ["-1", "-3", "x", "1.5"])
def test_a_number_of_lines_that_is_none_is_refused(tmp_path: Path, number: str) -> None:
    done = thwart("log", str(tmp_path), "--last", number)
    assert done.returncode == 2
    assert "--last: " in done.stderr
    assert "Traceback" not in done.stderr
    assert "fault of the program" not in done.stderr


def test_a_folder_without_a_journal_is_told(tmp_path: Path) -> None:
    assert "there is no journal.sqlite" in complaint(thwart("log", str(tmp_path), "--last", "0"))
    assert "there is no such folder" in complaint(thwart("log", str(tmp_path / "gone")))
