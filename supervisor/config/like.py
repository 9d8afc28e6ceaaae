"""`like = "port"`: a shaft that is as another one, but for what it says itself.

In names of messages and signals, and in what a message is chosen by, `{unit}` stands for the number of the shaft in its
file, 1 for the first, and `{unit0}` for that number counted from 0. Nothing is renumbered that does not say so.
"""

from collections.abc import Mapping
from typing import Any

from supervisor.config.errors import ConfigError
from supervisor.config.words import NAME, is_name


def expand_shafts(data: Mapping[str, Any], file: str) -> dict[str, Any]:
    """A copy of a boat or plant file's contents with each shaft written out. Raises ConfigError for a shaft that is
    like one that does not stand above it."""
    result = dict(data)
    shafts = data.get("shaft")
    if not isinstance(shafts, list):
        return result
    above: dict[str, dict[str, Any]] = {}
    written = []
    for number, shaft in enumerate(shafts):
        if not isinstance(shaft, dict):
            written.append(shaft)
            continue
        whole = _whole(shaft, above, f"shaft.{shaft.get('name', number)}.like", file)
        if isinstance(shaft.get("name"), str):
            above[shaft["name"]] = whole
        written.append({key: _numbered(value, number + 1) for key, value in whole.items()})
    result["shaft"] = written
    return result


def _whole(shaft: dict[str, Any], above: Mapping[str, dict[str, Any]], key: str, file: str) -> dict[str, Any]:
    if "like" not in shaft:
        return shaft
    own = {name: value for name, value in shaft.items() if name != "like"}
    model = above.get(shaft["like"]) if isinstance(shaft["like"], str) else None
    if model is None:
        for name in above:
            if not is_name(name):
                raise ConfigError(file, "shaft.name", f"{name!r} is not allowed", NAME)
        allowed = ", ".join(above) or "none, for this is the first"
        raise ConfigError(file, key, f"{shaft['like']!r} is no shaft above this one", f"Allowed: {allowed}")
    return _over(model, own)


def _over(model: dict[str, Any], own: Mapping[str, Any]) -> dict[str, Any]:
    """`own` laid over `model`: tables key by key, but a mapping (a table with a `message`) whole."""
    found = dict(model)
    for key, value in own.items():
        under = found.get(key)
        tables = isinstance(value, dict) and isinstance(under, dict)
        found[key] = _over(under, value) if tables and "message" not in value else value  # type: ignore[arg-type]
    return found


def _numbered(value: Any, unit: int) -> Any:
    if isinstance(value, dict):
        return {key: _numbered(item, unit) for key, item in value.items()}
    if isinstance(value, list):
        return [_numbered(item, unit) for item in value]
    if value == "{unit}":
        return unit
    if value == "{unit0}":
        return unit - 1
    if isinstance(value, str):
        return value.replace("{unit}", str(unit)).replace("{unit0}", str(unit - 1))
    return value
