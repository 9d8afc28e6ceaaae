"""The one kind of error that a person at the bench can cause and mend, and the name of the file that failed."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path


class BenchError(Exception):
    """Something given to the bench cannot be used: a procedure, a folder, a name.

    The text is complete: what is wrong, where (file, step, key), what is allowed. It is shown as it stands, without a
    traceback. Examples: a procedure names a signal that this boat does not have; the run folder exists already.
    """


def installs(extra: str) -> str:
    """How to get one of Thwart's extras. Thwart is not in a package index: from its clone."""
    return f"pip install '.[{extra}]' in a clone of Thwart"


@contextmanager
def naming(path: Path) -> Iterator[None]:
    """An OSError from inside says which file it is about: a full disk is noticed in `write`, which does not know."""
    try:
        yield
    except OSError as error:
        if error.filename is None:
            error.filename = str(path)
        raise
