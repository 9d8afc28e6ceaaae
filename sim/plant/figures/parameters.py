"""The parameter table of the documentation, written from the schema."""

from __future__ import annotations

from sim.plant.ranges import quantities
from sim.plant.schema import PlantConfig


def parameter_table(config: PlantConfig) -> str:
    """Markdown table of every number of a plant file: key, value, unit, plausible range, source; first shaft only."""
    lines = [
        "# Parameters of a plant file",
        "",
        f"Written by `python -m sim.plant.figures` from the schema; values of `{config.name}`, first shaft.",
        "Outside the plausible range `thwart check` warns.",
        "",
        "| key | value | unit | plausible range | source |",
        "| --- | --- | --- | --- | --- |",
    ]
    for key, value, unit, low, high, source in quantities(config):
        if key.startswith("shaft.") and not key.startswith("shaft.0."):
            continue
        lines.append(f"| `{key}` | {value:g} | {unit} | {low:g} to {high:g} | {source} |")
    return "\n".join(lines) + "\n"
