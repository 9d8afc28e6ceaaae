"""A boat file's `[buses]`, `inputs`, `outputs` and `periods` compiled against its DBC files.

Every complaint is a ConfigError with file, key, problem and remedy. Nothing here runs while the boat does.
"""

from pathlib import Path

from supervisor.bus.input_map import InputCompiler
from supervisor.bus.lookup import Lookup
from supervisor.bus.output_map import OutputCompiler
from supervisor.bus.rows import BoatMap
from supervisor.config.load import resolve_boat
from supervisor.config.schema import BoatConfig


def compile_boat(config: BoatConfig, path_or_name: str | Path) -> BoatMap:
    """Compile the bus parts of a validated boat file; DBC paths are relative to it. Raises ConfigError."""
    lookup = Lookup(config, resolve_boat(path_or_name))
    inputs, outputs = InputCompiler(lookup), OutputCompiler(lookup)
    input_rows, output_rows = inputs.rows(), outputs.rows()
    lookup.raise_complaints()
    return BoatMap(
        file=lookup.file,
        tick_s=config.boat.tick_s,
        shaft_names=tuple(shaft.name for shaft in config.shaft),
        kinds={name: bus.kind for name, bus in config.buses.items()},
        messages=lookup.messages,
        inputs=input_rows,
        absent=inputs.absent(),
        outputs=output_rows,
        periods=outputs.periods(output_rows),
        essential=frozenset({row.bus for row in input_rows if row.spec.guarded} | {row.bus for row in output_rows}),
    )
