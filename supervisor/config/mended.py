"""A boat file as it was probably meant, to look for what else is wrong in it. Nothing ever runs on it."""

import copy
import difflib
from collections.abc import Mapping, Sequence
from typing import Any

from pydantic import ValidationError

from supervisor.config.errors import ConfigError
from supervisor.config.load import parse_config
from supervisor.config.schema import BoatConfig


def mended(data: Mapping[str, Any], file: str) -> BoatConfig | None:
    """`data` with misspelt keys taken for the missing ones that they come near, and other unknown keys left out; None
    where it does not fit the schema even so."""
    meant = copy.deepcopy(dict(data))
    try:
        BoatConfig.model_validate(meant)
    except ValidationError as exc:
        missing = [tuple(error["loc"]) for error in exc.errors() if error["type"] == "missing"]
        for error in exc.errors():
            if error["type"] == "extra_forbidden":
                _mend(meant, tuple(error["loc"]), missing)
    try:
        return parse_config(meant, file)
    except ConfigError:
        return None


def _mend(data: Any, loc: Sequence[int | str], missing: Sequence[Sequence[int | str]]) -> None:
    table = data
    for part in loc[:-1]:
        table = table[part]
    value = table.pop(loc[-1])
    beside = [str(other[-1]) for other in missing if tuple(other[:-1]) == tuple(loc[:-1])]
    near = difflib.get_close_matches(str(loc[-1]), beside, n=1)
    if near and near[0] not in table:
        table[near[0]] = value
