"""One thing that `thwart check` has to say."""

from typing import NamedTuple


class Finding(NamedTuple):
    """One thing that `check` has to say. `level` is "error" (the file is refused), "warning" or "note"."""

    level: str
    key: str
    problem: str
    remedy: str
