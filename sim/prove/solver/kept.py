"""Results kept from one run to the next, by what the question says.

A question is named by a hash of its formula (what the source, the boat file and the claim come to), of the solver's own
source, and of z3's version: whatever is changed, only the questions that it reaches are asked again. What was proven is
kept, with the tick that shows that the claim speaks of something; that tick is run again on the real rules. What z3 did
not decide is kept as that, with the effort: it is asked again with more of it only. What was refuted is not kept.
"""

import hashlib
import json
import os
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import z3

from sim.cache import cache_folder


def solver_hash() -> str:
    """A hash of the solver's own source and z3's version: results of another solver are not believed."""
    digest = hashlib.sha256(z3.get_full_version().encode())
    for path in sorted(Path(__file__).parent.glob("*.py")):
        digest.update(path.read_bytes())
    return digest.hexdigest()


MOST = 20_000
"""The most answers that are kept of one boat: those of boat files long edited away are dropped in the end."""


class Kept:
    """Answers on one boat. With `read` false none is believed, but what is found is kept. A file that cannot be read or
    written keeps nothing, and harms nothing."""

    def __init__(self, boat: str, where: Path | None = None, *, read: bool = True) -> None:
        self._path = (cache_folder() if where is None else where) / f"proven-{boat}.json"
        self._solver = solver_hash()
        self._proven: dict[str, dict[str, Any]] = {}
        self._seconds: dict[str, float] = {}
        try:
            told = json.loads(self._path.read_text(encoding="utf-8"))
        except (OSError, ValueError):
            return
        if isinstance(told, dict):
            self._seconds = told.get("seconds", {})
            if read and told.get("solver") == self._solver:
                self._proven = told.get("proven", {})

    def get(self, key: str) -> dict[str, Any] | None:
        """What was kept of a question: "answer", "effort_s", "over", "means", "words" and "values"."""
        return self._proven.get(key)

    def seconds(self, name: str) -> float | None:
        """How long a claim took last time, whatever came of it."""
        return self._seconds.get(name)

    def write(self, proven: Mapping[str, Mapping[str, Any]], seconds: Mapping[str, float]) -> None:
        """Keep what this run has shown beside what was kept; of more than MOST answers only this run's."""
        both = {**self._proven, **proven}
        kept = both if len(both) <= MOST else dict(proven)
        told = {"solver": self._solver, "proven": kept, "seconds": {**self._seconds, **seconds}}
        try:
            self._path.parent.mkdir(parents=True, exist_ok=True)
            draft = self._path.with_suffix(f".{os.getpid()}")
            draft.write_text(json.dumps(told), encoding="utf-8")
            draft.replace(self._path)
        except OSError:
            return
