"""`thwart check`: a boat file's limits against each other and against the ratings."""

import argparse
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from sim.console import complain, say
from sim.errors import BenchError
from supervisor.bus import BoatMap, compile_boat
from supervisor.bus.own_checks import own_findings
from supervisor.config import ConfigError, Finding, check_config, parse_config
from supervisor.config.load import read_boat, resolve_boat
from supervisor.config.mended import mended
from supervisor.config.schema import BoatConfig

_RVC = frozenset((0x1FFFD, 0x1FFFC, 0x1FEC9, 0x1FEC7, 0x1FECA))
_NMEA2000 = frozenset((127488, 127489, 127493, 127506, 127508))
"""Numbers of the two open protocols that the shipped DBC files describe; see docs/bus.md."""


def add_parser(subparsers: Any) -> None:
    """Add the verb."""
    parser = subparsers.add_parser(
        "check",
        description="Read a boat file and print its errors, and warnings and notes on what is doubtful.\n"
        "One error can hide others: correct it, then run check again.\n"
        "Exit status 0: not refused, though there may be warnings; 1: refused;\n"
        "2: it cannot be read, or does not fit the tables of docs/boat-file.md.",
        epilog="example:  thwart check marsh_tern",
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    parser.add_argument("config", metavar="CONFIG", help="a boat file, or the name of a shipped boat")
    parser.add_argument(
        "--quick", action="store_true",
        help="leave out what is tried on the simulated boat: how soon it has thrust astern, and stop and lock",
    )  # fmt: skip
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """0: nothing refused; 1: at least one error; 2: a file that does not fit the schema; ConfigError (status 2) for one
    that cannot be read at all or names what is not there."""
    path = resolve_boat(args.config)
    refused = 0
    try:
        data = read_boat(path)
    except ConfigError as error:
        _complain_of(error)
        return 2
    try:
        config = parse_config(data, str(path))
    except ConfigError as error:
        refused += _complain_of(error)
        meant = mended(data, str(path))
        if meant is None:
            return 2
        config = meant  # what else is wrong with it
    findings = check_config(config)
    try:
        findings += _against_files(config, path)
    except ConfigError as error:
        refused += _complain_of(error)
    except BenchError as error:
        complain(str(error))
        refused += 1
    for finding in findings:
        line = f"{path}: {finding.level}: {finding.key}: {finding.problem}. {finding.remedy}."
        if finding.level == "error":
            complain(line)
        else:
            say(line)
    errors = refused + sum(finding.level == "error" for finding in findings)
    if not errors and config.simulation is not None and config.shaft and not args.quick:
        _astern(config, path)
        _stop_and_lock(config, path)
    if not errors and config.simulation is not None and config.shaft:
        _cables(config, path, config.simulation.plant)
    shafts = ", ".join(shaft.name for shaft in config.shaft) or "none"
    doubtful = _counted(len(findings) + refused - errors, "warning or note", "warnings and notes")
    found = f"{_counted(errors, 'error')}, {doubtful}"
    if args.quick and config.simulation is not None and config.shaft:
        say("not tried (--quick): astern, stop and lock")
    say(f"{config.boat.name} ({config.boat.title}), shafts: {shafts}: {found}")
    if refused:
        return 2
    return 1 if errors else 0


def _complain_of(error: ConfigError) -> int:
    """Say a complaint and those that came with it; how many."""
    for one in (error, *error.others):
        complain(f"{one.file}: error: {one.line}")
    return 1 + len(error.others)


def _astern(config: BoatConfig, path: Path) -> None:
    """Say how soon this boat has thrust astern: by its boat file, and on its simulated boat."""
    from sim.bench.reversal import SOUND, reversal, soonest_s

    soonest = max(soonest_s(shaft) for shaft in config.shaft)
    allowed = (
        f"the settings torque_slew_nm_per_s and reversal_dwell_s alone need {soonest:.2f} s from rated torque ahead to "
        "half of it astern"
    )
    try:
        seen = reversal(path, SOUND)
    except (ConfigError, BenchError, ValueError, ArithmeticError) as error:
        say(f"astern: {allowed}; on the simulated boat it could not be tried: {error}")
        return
    half = "not within a minute" if seen.half_s is None else f"{seen.half_s:.1f} s"
    say(
        f"astern: {allowed}; the simulated boat, full ahead to full astern with its bank at {SOUND.soc_pct:g} %: {half}"
    )


def _cables(config: BoatConfig, path: Path, plant: str) -> None:
    """Say what the cables of the simulated boat lose."""
    from sim.cli.cables import cable_lines
    from sim.plant.loading import load_config

    for line in cable_lines(config, load_config(path.parent / plant)):
        say(line)


def _stop_and_lock(config: BoatConfig, path: Path) -> None:
    """Say up to which speed the simulated boat stops and locks its first shaft."""
    from sim.bench.holding import CASES, SPEEDS_KN, can_lock, holding

    if not can_lock(config):
        return
    try:
        held = [speed_kn for speed_kn in SPEEDS_KN if holding(path, speed_kn, CASES[0]).permitted_s is not None]
    except (ConfigError, BenchError, ValueError, ArithmeticError) as error:
        say(f"stop and lock: on the simulated boat it could not be tried: {error}")
        return
    tried = ", ".join(f"{speed_kn:g}" for speed_kn in SPEEDS_KN)
    stopped = ", ".join(f"{speed_kn:g}" for speed_kn in held)
    can = f"can stop the shaft for its lock at {stopped} kn" if held else "cannot stop the shaft for its lock"
    say(f"stop and lock: the simulated drive {can} (tried: {tried} kn, {CASES[0].words})")


def _counted(number: int, what: str, several: str = "") -> str:
    return f"{number} {what}" if number == 1 else f"{number} {several or what + 's'}"


def _against_files(config: BoatConfig, path: Path) -> list[Finding]:
    """The boat file against the files it names. Raises ConfigError or PlantConfigError where one cannot be used."""
    for name, bus in config.buses.items():
        for file in bus.dbc:
            _there(path, f"buses.{name}.dbc", file)
    boat_map = compile_boat(config, path)
    found = [*_buses(config, boat_map), *own_findings(config, boat_map)]
    if config.simulation is not None:
        from sim.cli.simulated import plant_findings

        found += plant_findings(config, _there(path, "simulation.plant", config.simulation.plant))
    return found


def _there(path: Path, key: str, name: str) -> Path:
    """The file that a key of the boat file at `path` names. Raises ConfigError where there is none."""
    file = path.parent / name
    if not file.is_file():
        raise ConfigError(
            str(path), key, f"file not found: {file.absolute()}",
            "The path is relative to the folder of the boat file",
        )  # fmt: skip
    return file


def _buses(config: BoatConfig, boat_map: BoatMap) -> Iterator[Finding]:
    import can

    for name, bus in config.buses.items():
        if bus.interface not in can.VALID_INTERFACES:
            yield Finding(
                "warning", f"buses.{name}.interface", f"python-can here knows no interface {bus.interface!r}",
                f"Allowed: {', '.join(sorted(can.VALID_INTERFACES))}; or install the package that brings it",
            )  # fmt: skip
        numbers = {codec.pgn for codec in boat_map.messages[name].values()}
        if numbers & _RVC and numbers & _NMEA2000:
            yield Finding(
                "warning", f"buses.{name}.dbc", "RV-C and NMEA 2000 use the same numbers for different things",
                "Put them on two buses",
            )  # fmt: skip
