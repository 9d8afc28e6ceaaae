"""Defects put into the running rules by changing their source: one edit of one function, undone afterwards.

The changed function replaces the sound one in every module that took it by name, and its source can be read as that of
any other (so the solver's walker reads the defect, not the sound rule). No file is touched.
"""

import inspect
import itertools
import linecache
import sys
import textwrap
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from importlib import import_module
from types import FunctionType
from typing import Any, NamedTuple

_COUNTER = itertools.count()


class Edit(NamedTuple):
    """In the function `where` ("rules.torque.order", under `supervisor`) the text `old` becomes `new`. `which` is the
    place of the occurrence that is meant, from 0, where there are several."""

    where: str
    old: str
    new: str
    which: int | None = None


class Constant(NamedTuple):
    """The module-level name `where` ("rules.shaft_word.LINK_OFF_S") has this value."""

    where: str
    value: Any


class Misplaced(Exception):
    """An edit that does not fit the source: the defect list must follow the rules."""


def changed(edit: Edit) -> tuple[FunctionType, FunctionType]:
    """The sound function and the changed one. Raises Misplaced."""
    module, _, name = f"supervisor.{edit.where}".rpartition(".")
    sound = getattr(import_module(module), name)
    source = textwrap.dedent(inspect.getsource(sound))
    pieces = source.split(edit.old)
    count = len(pieces) - 1
    if count == 0 or (count > 1 and edit.which is None) or (edit.which or 0) >= count:
        raise Misplaced(f"{edit.where}: {edit.old!r} stands there {count} times")
    place = edit.which or 0
    text = edit.old.join(pieces[: place + 1]) + edit.new + edit.old.join(pieces[place + 1 :])
    file = f"<defect {next(_COUNTER)} in {edit.where}>"
    linecache.cache[file] = (len(text), None, text.splitlines(keepends=True), file)
    made: dict[str, Any] = {}
    exec(compile(text, file, "exec"), sound.__globals__, made)  # noqa: S102 - the rule's own source, one text changed
    return sound, made[name]


@contextmanager
def _taken_everywhere(name: str, sound: Any, other: Any) -> Iterator[None]:
    """While inside, every module of ours that has `sound` under `name` has `other`."""
    places = [
        module
        for key, module in list(sys.modules.items())
        if key.split(".")[0] in ("supervisor", "sim") and getattr(module, name, None) is sound
    ]
    for module in places:
        setattr(module, name, other)
    try:
        yield
    finally:
        for module in places:
            setattr(module, name, sound)


@contextmanager
def seeded(*edits: Edit | Constant) -> Iterator[None]:
    """While inside, the rules have these defects."""
    with ExitStack() as stack:
        for edit in edits:
            if isinstance(edit, Constant):
                module, _, name = f"supervisor.{edit.where}".rpartition(".")
                stack.enter_context(_taken_everywhere(name, getattr(import_module(module), name), edit.value))
            else:
                sound, other = changed(edit)
                stack.enter_context(_taken_everywhere(sound.__name__, sound, other))
        yield
