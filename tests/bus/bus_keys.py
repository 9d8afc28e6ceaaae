"""Which key of a boat file each signal stands behind, read from the boats that ship."""

import re
from collections.abc import Iterable

from supervisor.bus import OWN, BoatMap
from supervisor.signals import BOAT


def plain(message: str, signal: str, of_shaft: bool) -> tuple[str, str]:
    """Names without the number of a shaft."""
    if not of_shaft:
        return message, signal
    return re.sub(r"_[1-4]$", "_n", message), re.sub(r"[1-4]$", "", signal)


def keys_of(boats: Iterable[BoatMap]) -> dict[tuple[str, str], str]:
    """(message, signal), both without the number of a shaft -> the keys that it is mapped to, as docs/bus.md shows
    them."""
    found: dict[tuple[str, str], list[str]] = {}
    for boat in boats:
        for row in (*boat.inputs, *boat.outputs):
            if row.level == OWN:
                continue
            key = f"`{row.spec.name}`" + ("" if row.level == BOAT else ", shaft")
            keys = found.setdefault(plain(row.message.name, row.signal.name, row.level != BOAT), [])
            if key not in keys:
                keys.append(key)
    return {signal: "; ".join(keys) for signal, keys in found.items()}
