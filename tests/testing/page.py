"""Reads a page of the documentation as what it says: changes to files, new files, tests."""

import re
from pathlib import Path
from typing import NamedTuple

_BLOCK = re.compile(r"^```(\w+)\n(.*?)^```$", re.MULTILINE | re.DOTALL)
_NEW = re.compile(r"^# new file: (\S+)\n")


class Hunk(NamedTuple):
    """One change: `old` stands exactly once in `file` and becomes `new`."""

    file: str
    old: str
    new: str


def blocks(text: str, language: str) -> list[str]:
    """The fenced blocks of one language, in order."""
    return [body for found, body in _BLOCK.findall(text) if found == language]


def hunks(text: str) -> list[Hunk]:
    """Every change of every `diff` block."""
    found: list[Hunk] = []
    for body in blocks(text, "diff"):
        file = ""
        for part in re.split(r"^(\+\+\+ \S+|@@)\n", body, flags=re.MULTILINE):
            if part.startswith("+++ "):
                file = part[4:].strip()
            elif part.strip() and part != "@@":
                lines = part.splitlines(keepends=True)
                old = "".join(line[1:] for line in lines if line[0] in " -")
                found.append(Hunk(file, old, "".join(line[1:] for line in lines if line[0] in " +")))
    return found


def new_files(text: str) -> dict[str, str]:
    """The blocks that begin with `# new file: NAME`."""
    found: dict[str, str] = {}
    for _, body in _BLOCK.findall(text):
        name = _NEW.match(body)
        if name is not None:
            found[name[1]] = body[name.end() :]
    return found


def apply(text: str, root: Path) -> None:
    """Do to the files under `root` what the page says. Raises ValueError where the page has come to differ."""
    for hunk in hunks(text):
        path = root / hunk.file
        source = path.read_text(encoding="utf-8")
        if source.count(hunk.old) != 1:
            raise ValueError(f"{hunk.file} has {source.count(hunk.old)} times, not once:\n{hunk.old}")
        path.write_text(source.replace(hunk.old, hunk.new), encoding="utf-8")
    for name, body in new_files(text).items():
        (root / name).parent.mkdir(parents=True, exist_ok=True)
        (root / name).write_text(body, encoding="utf-8")
