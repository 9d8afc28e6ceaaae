"""`thwart check`: a boat file's limits against each other and against the ratings."""

import argparse
from pathlib import Path
from typing import Any

from sim.console import complain, say
from supervisor.bus import compile_boat
from supervisor.config import check_config, parse_config
from supervisor.config.load import read_toml, resolve_boat
from supervisor.config.schema import BoatConfig


def add_parser(subparsers: Any) -> None:
    """Add the verb."""
    parser = subparsers.add_parser(
        "check",
        help="choose and check limits against ratings",
        description="Read a boat file and say everything that is wrong or doubtful about it.",
        epilog="example:  thwart check marsh_tern",
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    parser.add_argument("config", metavar="CONFIG", help="a boat file, or the name of a shipped boat")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """0: nothing refused; 1: at least one error; ConfigError (status 2) for a file that cannot be read at all."""
    path = resolve_boat(args.config)
    config = parse_config(read_toml(path), str(path))
    findings = check_config(config)
    for finding in findings:
        line = f"{finding.level}: {finding.key}: {finding.problem}. {finding.remedy}."
        if finding.level == "error":
            complain(f"{path}: {line}")
        else:
            say(f"{path}: {line}")
    if not any(finding.level == "error" for finding in findings):
        compile_boat(config, path)  # DBC files, messages and signals that the mapping names
        for warning in _plant_warnings(config, path):
            say(f"{path}: {warning}")
    errors = sum(finding.level == "error" for finding in findings)
    shafts = ", ".join(shaft.name for shaft in config.shaft) or "none"
    others = len(findings) - errors
    say(f"{config.boat.name} ({config.boat.title}), shafts: {shafts}: {errors} errors, {others} other findings")
    return 1 if errors else 0


def _plant_warnings(config: BoatConfig, path: Path) -> list[str]:
    """What is unusual about the simulated boat. Raises PlantConfigError where its file cannot be used."""
    if config.simulation is None:
        return []
    from sim.plant import range_warnings, shaft_names

    plant = path.parent / config.simulation.plant
    warnings = [f"warning: {text}" for text in range_warnings(plant)]
    names, simulated = [shaft.name for shaft in config.shaft], list(shaft_names(plant))
    if names != simulated:
        warnings.append(f"warning: {plant.name} has the shafts {', '.join(simulated)}, the boat {', '.join(names)}")
    return warnings
