"""Each effect with each defect is caught: a table of who catches what (catches.md), kept true.

With every run a part of the table; all of it with `-m campaign`. What the bench does not catch, a proof must.
"""

from pathlib import Path

import own_defects
import pytest
from own_defects import DEFECTS, catch, cells, row_of

from supervisor.signals import OwnEffect

TABLE = Path(__file__).with_name("catches.md").read_text(encoding="utf-8")
KEPT = [line for line in TABLE.splitlines() if line.startswith("| ") and "---" not in line][1:]
_E = OwnEffect

PART = [
    *((_E.STOP_THRUST, name) for name in DEFECTS),
    (_E.WARN, "contact inverted"), (_E.INHIBIT_THRUST, "wrong shaft"), (_E.RAMP_THRUST, "effect forgotten"),
    (_E.LIMIT_THRUST, "threshold a count late"), (_E.INHIBIT_CHARGE, "debounce in ticks"),
    (_E.INHIBIT_ENGINE_START, "unknown taken for good"), (_E.TRIP_SHAFT, "forgotten in UNLOAD"),
    (_E.TRIP_BOAT, "debounce in milliseconds"),
]  # fmt: skip


def kept(effect: OwnEffect, name: str) -> str:
    """The row of the page."""
    (found,) = (row for row in KEPT if row.startswith(f"| {effect.name.lower()} | {name} |"))
    return found


def test_the_table_has_every_cell_and_each_is_caught() -> None:
    assert [(row.split(" | ")[0][2:], row.split(" | ")[1]) for row in KEPT] == [
        (effect.name.lower(), name) for effect, name in cells()
    ]
    for row in KEPT:
        assert "**nothing**" not in row, row


def test_the_head_is_the_programs() -> None:
    assert TABLE.startswith(own_defects.HEAD)


@pytest.mark.parametrize(("effect", "name"), PART, ids=str)
def test_a_part_of_the_table(tmp_path: Path, effect: OwnEffect, name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    assert row_of(catch(tmp_path, effect, name, monkeypatch)) == kept(effect, name)


@pytest.mark.campaign
@pytest.mark.parametrize(("effect", "name"), [cell for cell in cells() if cell not in PART], ids=str)
def test_the_rest_of_it(tmp_path: Path, effect: OwnEffect, name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    assert row_of(catch(tmp_path, effect, name, monkeypatch)) == kept(effect, name)
