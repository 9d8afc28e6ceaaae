"""Reads and checks a plant file."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from sim.errors import BenchError
from sim.plant.building import build_params
from sim.plant.params import PlantParams
from sim.plant.schema import PlantConfig


class PlantConfigError(BenchError):
    """A plant file cannot be used.

    The message names file, key, value and what is allowed, one problem a line. Examples: the file is missing, it is not
    TOML, a key is unknown or missing, a number is out of range.
    """


def _allowed(error: dict[str, Any]) -> str:
    kind = error["type"]
    context = error.get("ctx", {})
    words = {
        "extra_forbidden": "this key is not known; check its spelling",
        "missing": "this key is required",
    }
    if kind in words:
        return words[kind]
    limits = [
        f"{word} {context[key]:g}"
        for key, word in _LIMIT_WORDS
        if key in context and isinstance(context[key], int | float)
    ]
    if limits:
        return "allowed: " + ", ".join(limits)
    return str(error["msg"]).removeprefix("Value error, ")


_LIMIT_WORDS = (("gt", "above"), ("ge", "at least"), ("lt", "below"), ("le", "at most"))


def load_config(path: str | Path) -> PlantConfig:
    """The checked contents of a plant file. Raises PlantConfigError."""
    file = Path(path)
    try:
        raw = tomllib.loads(file.read_text(encoding="utf-8"))
    except OSError as error:
        raise PlantConfigError(f"{file}: cannot be read ({error.strerror or error}); check the path") from error
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise PlantConfigError(f"{file}: is not valid TOML ({error})") from error
    try:
        return PlantConfig.model_validate(raw)
    except ValidationError as error:
        lines = []
        for problem in error.errors():
            key = ".".join(str(part) for part in problem["loc"]) or "(file)"
            shown = (
                "" if problem["type"] == "missing" or isinstance(problem["input"], dict) else f" = {problem['input']!r}"
            )
            lines.append(f"{file}: {key}{shown}: {_allowed(dict(problem))}")
        raise PlantConfigError("\n".join(lines)) from error


def load_plant(path: str | Path) -> PlantParams:
    """Parameters of the plant described by a TOML file. Raises PlantConfigError."""
    return build_params(load_config(path))


def shaft_names(path: str | Path) -> tuple[str, ...]:
    """Names of the shafts in the order of ``PlantParams.shafts``. Raises PlantConfigError."""
    return tuple(shaft.name for shaft in load_config(path).shaft)
