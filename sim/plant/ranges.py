"""Warns about numbers of a plant file outside their plausible range."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from sim.plant.loading import load_config
from sim.plant.schema import PlantConfig


def _numbers(prefix: str, section: BaseModel) -> Iterator[tuple[str, FieldInfo, Any]]:
    for name, field in type(section).model_fields.items():
        value = getattr(section, name)
        key = f"{prefix}{name}"
        if isinstance(value, BaseModel):
            yield from _numbers(key + ".", value)
        elif isinstance(value, list):
            for index, item in enumerate(value):
                yield from _numbers(f"{key}.{index}.", item)
        else:
            yield key, field, value


def quantities(config: PlantConfig) -> list[tuple[str, float, str, float, float, str]]:
    """Every number of a plant file: (key, value, unit, plausible low, plausible high, source)."""
    listed = []
    for key, field, value in _numbers("", config):
        extra = field.json_schema_extra
        if isinstance(extra, dict) and value is not None:
            low, high = float(str(extra["low"])), float(str(extra["high"]))
            listed.append((key, float(value), str(extra["unit"]), low, high, str(extra["source"])))
    return listed


def range_warnings(config: PlantConfig | str | Path) -> list[str]:
    """One line for each number outside its plausible range, with unit and source. Raises PlantConfigError for a bad
    file.
    """
    checked = config if isinstance(config, PlantConfig) else load_config(config)
    return [
        f"{key} = {value:g} {unit}: outside the plausible range {low:g} to {high:g} ({source})"
        for key, value, unit, low, high, source in quantities(checked)
        if not low <= value <= high
    ]
