"""The parameter page of the documentation, written from the schema."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from sim.plant.meanings import MEANINGS
from sim.plant.schema import BankConfig, HullConfig, MonitorConfig, PlantConfig, SupplyConfig
from sim.plant.schema_cable import CableConfig
from sim.plant.schema_shaft import (
    DriveConfig,
    EngineConfig,
    GearboxConfig,
    LineConfig,
    PropellerConfig,
    StartingConfig,
)

TABLES: dict[str, tuple[type[BaseModel], str]] = {
    "hull": (HullConfig, "hull"),
    "bank": (BankConfig, "bank"),
    "monitor": (MonitorConfig, "bank monitor"),
    "supply": (SupplyConfig, "DC bus, hotel loads, sun, shore charger"),
    "supply.bank_cable": (
        CableConfig,
        "cable and fuse between bank and bus bar; without this table it has no resistance",
    ),
    "shaft.engine": (EngineConfig, "engine, at its flywheel"),
    "shaft.engine.starting": (
        StartingConfig,
        "starter battery and alternator; without this table the starter battery is always full",
    ),
    "shaft.gearbox": (GearboxConfig, "gearbox"),
    "shaft.drive": (DriveConfig, "electric drive; torque, power and speed at the shaft"),
    "shaft.drive.cable": (
        CableConfig,
        "cable and fuse between bus bar and this drive; without this table it has no resistance",
    ),
    "shaft.line": (LineConfig, "shaft line"),
    "shaft.propeller": (PropellerConfig, "propeller, Wageningen B-series"),
}
"""Table of a plant file -> (its schema, title)."""


def parameter_table(config: PlantConfig) -> str:
    """The page: for each key of a plant file its meaning, unit, default or that it is required, plausible range and
    source, and the value of `config`; of shafts the first."""
    lines = [
        "# Keys of a plant file",
        "",
        f"Written by `python -m sim.plant.figures` from the schema; values of `{config.name}`, first shaft.",
        "A key without a default is required. Outside the plausible range `thwart check` warns; a list has none.",
        "Tables whose name begins with `shaft` stand under each `[[shaft]]`, which has a `name` too; the file itself",
        "has `name` and `description`.",
    ]
    for table, (schema, title) in TABLES.items():
        lines += ["", f"## `[{table}]`: {title}", ""]
        lines += ["| key | means | unit | default | plausible | here | source |", "| --- " * 7 + "|"]
        lines += list(_rows(table, schema, _values(config, table)))
    lines += [
        "",
        "## Not in the file",
        "",
        "The shape of the bank's resistance over its state of charge, `1 + 0.8 exp(-soc/8) + 0.15 exp(-(100 - soc)/5)`",
        "over its value at 50 %, is fixed (rises towards both ends in pulse tests of LFP cells; shape: own choice).",
        "Over temperature it follows `activation_k`.",
    ]
    return "\n".join(lines) + "\n"


def _values(config: PlantConfig, table: str) -> BaseModel | None:
    found: Any = config
    for part in table.split("."):
        found = found.shaft[0] if part == "shaft" else getattr(found, part)
        if found is None:
            return None
    return found if isinstance(found, BaseModel) else None


def _rows(table: str, schema: type[BaseModel], values: BaseModel | None) -> Iterator[str]:
    for key, field in schema.model_fields.items():
        if key in MEANINGS[table]:
            here = "" if values is None else _shown(getattr(values, key))
            unit, plausible, source = _facts(field)
            default = "required" if field.is_required() else _shown(field.default)
            yield f"| `{key}` | {MEANINGS[table][key]} | {unit} | {default} | {plausible} | {here} | {source} |"


def _facts(field: FieldInfo) -> tuple[str, str, str]:
    extra = field.json_schema_extra
    if isinstance(extra, dict):
        low, high = float(str(extra["low"])), float(str(extra["high"]))
        return str(extra["unit"]), f"{low:g} to {high:g}", str(extra["source"])
    return "", "", field.description or ""


def _shown(value: object) -> str:
    if value is None:
        return "not given"
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, tuple):
        return ", ".join(f"{item:g}" for item in value)
    return f"{value:g}" if isinstance(value, int | float) else str(value)
