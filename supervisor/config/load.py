"""Reading a boat file: TOML in, a validated BoatConfig out, complaints with file, key and remedy."""

import tomllib
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from supervisor.config.checks import check_config
from supervisor.config.errors import ConfigError, raise_all
from supervisor.config.interlocks import refused_interlocks
from supervisor.config.like import expand_shafts
from supervisor.config.schema import BoatConfig, Shaft
from supervisor.config.words import complaints
from supervisor.signals import BOAT_INPUT_BY_NAME, LATER_INPUTS, SHAFT_INPUT_BY_NAME, InputSpec, Reaction


def shipped_root() -> Path:
    """The folder of shipped boats, plants, DBC files and procedures: inside the wheel, or `configs/` of a checkout."""
    package = Path(__file__).resolve().parent.parent
    installed = package / "shipped"
    return installed if installed.is_dir() else package.parent / "configs"


def shipped_path(relative: str) -> Path:
    """A shipped file, e.g. `shipped_path("procedures/demo_marsh_tern.toml")`. Raises ConfigError if there is none."""
    path = shipped_root() / relative
    if not path.is_file():
        raise ConfigError(relative, "", "no such file is shipped", f"Look in {shipped_root()}")
    return path


def shipped_boats() -> list[str]:
    """Names of the boats shipped with Thwart."""
    return sorted(path.stem for path in shipped_root().glob("*.toml"))


def resolve_boat(path_or_name: str | Path) -> Path:
    """A path as given, or a shipped boat by its bare name. Raises ConfigError if neither is there."""
    path = Path(path_or_name)
    if path.is_file():
        return path
    name = str(path_or_name)
    if name in shipped_boats():
        return shipped_root() / f"{name}.toml"
    if path.is_dir() and name:
        raise ConfigError(name, "", "is a folder, not a boat file", "Give the path of the .toml file in it")
    raise ConfigError(
        name or "CONFIG", "", "no such boat file", f"Give a path, or one of: {', '.join(shipped_boats())}"
    )


def read_toml(path: Path) -> dict[str, Any]:
    """A TOML file as nested dicts. Raises ConfigError naming the file, and the line where the TOML is broken."""
    try:
        text = path.read_text(encoding="utf-8-sig")  # some editors put a byte order mark first
    except UnicodeDecodeError as exc:
        raise ConfigError(str(path), "", f"not UTF-8 text (byte {exc.start})", "Save the file as UTF-8") from exc
    except OSError as exc:
        raise ConfigError(str(path), "", f"cannot be read: {exc.strerror}", "Check path and permissions") from exc
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as exc:
        raise ConfigError(str(path), "", f"not valid TOML: {exc}", "Correct that line") from exc


def read_boat(path: Path) -> dict[str, Any]:
    """A boat file as nested dicts, each shaft written out (see `supervisor.config.like`). Raises ConfigError."""
    return expand_shafts(read_toml(path), str(path))


def apply_settings(data: dict[str, Any], settings: Mapping[str, Any]) -> dict[str, Any]:
    """A copy of `data` with dotted keys replaced, e.g. {"limits.taper_start_pct": 85}. Lists are indexed by number or,
    for `shaft`, by the shaft's name. Raises ConfigError when a key leads nowhere."""
    result: dict[str, Any] = _copy(data)
    for dotted, value in settings.items():
        here: Any = result
        parts = dotted.split(".")
        for part in parts[:-1]:
            here = _descend(here, part, dotted)
        if not isinstance(here, dict):
            raise ConfigError("--set", dotted, "is not a key of the boat file", "Give table.key as in the boat file")
        here[parts[-1]] = value
    return result


def _copy(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _copy(item) for key, item in value.items()}
    if isinstance(value, list):
        return [_copy(item) for item in value]
    return value


def _descend(here: Any, part: str, dotted: str) -> Any:
    if isinstance(here, dict) and part in here:
        return here[part]
    if isinstance(here, list):
        for index, item in enumerate(here):
            if part == str(index) or (isinstance(item, dict) and item.get("name") == part):
                return item
    raise ConfigError(
        "--set", dotted, f"is not a key of the boat file: there is no {part!r}", "Give table.key as in the boat file"
    )


def load_config(path_or_name: str | Path, settings: Mapping[str, Any] | None = None) -> BoatConfig:
    """Read, validate and cross-check a boat file.

    `settings` replaces dotted keys before validation. Raises ConfigError for the first thing that is wrong, in the
    order of the file's schema, then of the cross checks; others of the same kind are with it.
    """
    path = resolve_boat(path_or_name)
    config = parse_config(apply_settings(read_boat(path), settings or {}), str(path))
    for finding in check_config(config):
        if finding.level == "error":
            raise ConfigError(str(path), finding.key, finding.problem, finding.remedy)
    return config


def parse_config(data: Mapping[str, Any], file: str) -> BoatConfig:
    """Validate a boat file's contents without the cross checks between limits. Raises ConfigError."""
    data = expand_shafts(data, file)
    try:
        config = BoatConfig.model_validate(data)
    except ValidationError as exc:
        raise as_config_error(exc, file, data) from exc
    config = config.model_copy(update={"shaft": [_with_later_inputs(shaft) for shaft in config.shaft]})
    raise_all([*_refused_inputs(config, file), *refused_interlocks(config, file)])
    return config


def _with_later_inputs(shaft: Shaft) -> Shaft:
    """What boat files from before do not name is not fitted."""
    unknown = [name for name in LATER_INPUTS if name not in shaft.inputs and name not in shaft.not_fitted]
    return shaft.model_copy(update={"not_fitted": [*shaft.not_fitted, *unknown]}) if unknown else shaft


def as_config_error(exc: ValidationError, file: str, data: object = None) -> ConfigError:
    """The first complaint of pydantic in the electrician's words; the others are kept in `others`."""
    first, *others = (ConfigError(file, one.key, one.problem, one.remedy) for one in complaints(exc, data))
    first.others = tuple(others)
    return first


def _refused_inputs(config: BoatConfig, file: str) -> Iterator[ConfigError]:
    yield from _refused_level(config, file, "", config.inputs, config.not_fitted, BOAT_INPUT_BY_NAME)
    names: set[str] = set()
    for index, shaft in enumerate(config.shaft):
        if shaft.name in names:
            yield ConfigError(file, f"shaft.{index}.name", f"{shaft.name!r} is used twice", "Name each shaft once")
        names.add(shaft.name)
        prefix = f"shaft.{shaft.name}."
        yield from _refused_level(config, file, prefix, shaft.inputs, shaft.not_fitted, SHAFT_INPUT_BY_NAME)
    if not config.shaft and not config.boat.listen_only:
        yield ConfigError(file, "shaft", "no shaft is described", "Add one to four [[shaft]] tables, or listen_only")


def _refused_level(
    config: BoatConfig,
    file: str,
    prefix: str,
    inputs: Mapping[str, Any],
    not_fitted: list[str],
    register: Mapping[str, InputSpec],
) -> Iterator[ConfigError]:
    allowed = ", ".join(register)
    for name in [*inputs, *not_fitted]:
        if name not in register:
            yield ConfigError(file, f"{prefix}inputs.{name}", "no such input", f"Allowed: {allowed}")
    for name in not_fitted:
        if name in register and register[name].if_not_fitted is None:
            yield ConfigError(file, f"{prefix}not_fitted", f"{name} is required", "Fit it and map it to a signal")
        if name in inputs:
            yield ConfigError(
                file, f"{prefix}not_fitted", f"{name} is mapped as well",
                f"Remove the mapping, or remove {name} from not_fitted",
            )  # fmt: skip
    for name, mapping in inputs.items():
        if mapping.bus not in config.buses:
            yield ConfigError(
                file, f"{prefix}inputs.{name}.bus", f"{mapping.bus!r} is no bus", f"Allowed: {', '.join(config.buses)}"
            )
        floor = register[name].floor if name in register else Reaction.WARN
        if mapping.reaction is not None and Reaction[mapping.reaction.upper()] < floor:
            enough = [reaction.name.lower() for reaction in Reaction if reaction >= floor]
            yield ConfigError(
                file,
                f"{prefix}inputs.{name}.reaction",
                f"{mapping.reaction!r} is too mild for {register[name].text}",
                f"Use {' or '.join(enough)}",
            )
    if config.boat.listen_only:
        return
    for name, spec in register.items():
        if name not in inputs and name not in not_fitted and not name.startswith("runtime."):
            remedy = f"Map {name} to a signal" + ("" if spec.if_not_fitted is None else ", or list it under not_fitted")
            yield ConfigError(file, f"{prefix}inputs.{name}", f"{spec.text} is not mapped to any signal", remedy)
