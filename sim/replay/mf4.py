"""MF4 recordings, by python-can's reader on the optional package asammdf, with that package's own ways made plain."""

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import can


class GuardedMf4Reader(can.MF4Reader):
    """python-can's MF4 reader; whatever is raised on a damaged file becomes a ValueError."""

    def __init__(self, path: Path) -> None:
        if not isinstance(sys.unraisablehook, _Unheard):
            sys.unraisablehook = _Unheard(sys.unraisablehook)
        with _plain_errors():
            super().__init__(str(path))

    def __iter__(self) -> Iterator[can.Message]:
        with _plain_errors():
            yield from super().__iter__()


class _Unheard:
    """asammdf's finaliser stumbles over an object that failed in its constructor, and says so on stderr, past every
    `except`, when the object is thrown away: not heard. Everything else is passed on."""

    def __init__(self, before: Callable[[Any], object]) -> None:
        self._before = before

    def __call__(self, unraisable: Any) -> object:
        if getattr(unraisable.object, "__qualname__", "") == "MDF4.__del__":
            return None
        return self._before(unraisable)


@contextmanager
def _plain_errors() -> Iterator[None]:
    try:
        yield
    except (KeyboardInterrupt, SystemExit, GeneratorExit, MemoryError):
        raise
    except Exception as exc:  # what the package is made of raises its own kinds (the decompressor's among them)
        raise ValueError(f"{type(exc).__name__}: {exc}") from exc
