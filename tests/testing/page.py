"""Reads a page of the documentation as what it says: blocks of code, and files."""

import re

_BLOCK = re.compile(r"^```(\w+)\n(.*?)^```$", re.MULTILINE | re.DOTALL)
_NEW = re.compile(r"^# new file: (\S+)\n")


def blocks(text: str, language: str) -> list[str]:
    """The fenced blocks of one language, in order."""
    return [body for found, body in _BLOCK.findall(text) if found == language]


def new_files(text: str) -> dict[str, str]:
    """The blocks that begin with `# new file: NAME`."""
    found: dict[str, str] = {}
    for _, body in _BLOCK.findall(text):
        name = _NEW.match(body)
        if name is not None:
            found[name[1]] = body[name.end() :]
    return found
