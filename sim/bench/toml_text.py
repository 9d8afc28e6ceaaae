"""Values and procedures as TOML."""

import json
from collections.abc import Iterable, Mapping, Sequence
from typing import Any


def toml(value: object) -> str:
    """A value as TOML, on one line. Keys with dots are quoted: the bench takes them so."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int):
        return str(value)
    if isinstance(value, float):
        return repr(value)
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=True)
    if isinstance(value, Mapping):
        inner = ", ".join(f"{key(str(name))} = {toml(item)}" for name, item in value.items())
        return f"{{ {inner} }}" if inner else "{}"
    if isinstance(value, Iterable):
        return "[" + ", ".join(toml(item) for item in value) + "]"
    raise TypeError(f"{type(value).__name__} cannot be written to a procedure")


def key(name: str) -> str:
    """A key, quoted where TOML wants it."""
    return name if name.replace("_", "").replace("-", "").isalnum() else json.dumps(name)


_LISTS = ("expect", "inject", "clear")


def procedure_toml(head: Mapping[str, Any], steps: Sequence[Mapping[str, Any]], remark: str = "") -> str:
    """A procedure file of plain values: keys of the file first, then its steps; empty values are left out."""
    lines = [f"# {line}" for line in remark.splitlines()]
    lines += [f"{key(name)} = {toml(value)}" for name, value in head.items() if value not in ("", [], None)]
    for step in steps:
        lines += ["", "[[step]]"]
        for name, value in step.items():
            if value in ("", [], {}, None):
                continue
            if name in _LISTS:
                lines += [f"{name} = [", *(f"    {toml(one)}," for one in value), "]"]
            else:
                lines.append(f"{key(name)} = {toml(value)}")
    return "\n".join(lines) + "\n"
