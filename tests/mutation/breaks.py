"""Every break that is tried: for each requirement the ways to break its rules that people would.

They stand in breaks/*.toml, written from the sentence of the requirement, one for each thing that it says, not from
the tests. Each is a change of the source: `broken` says in words what no longer holds (docs/safety.md prints it), and
`old`, which must stand in `file` once, is replaced by `new`.
"""

import tomllib
from pathlib import Path
from typing import NamedTuple

PLACE = Path(__file__).resolve().parent / "breaks"


class Break(NamedTuple):
    """One way to break a rule of a requirement."""

    requirement: str
    broken: str
    file: str
    old: str
    new: str


def read_breaks() -> tuple[Break, ...]:
    """All breaks, in the order of the requirements. Raises TypeError for an entry with a key too many or too few."""
    found = []
    for path in sorted(PLACE.glob("*.toml")):
        for requirement, entries in tomllib.loads(path.read_text(encoding="utf-8")).items():
            found += [Break(requirement, **entry) for entry in entries]
    return tuple(sorted(found, key=lambda one: one.requirement))


BREAKS = read_breaks()
