"""Frames by source: who sent what, how often."""

from typing import NamedTuple

from sim.replay.pgns import pgn_name
from sim.replay.result import Result
from supervisor.bus.n2k import split_id


class SourceRow(NamedTuple):
    """One identifier on one channel. `source` is the sender's address for 29-bit identifiers, "" for 11-bit ones."""

    channel: str
    name: str
    source: str
    frames: int
    per_s: float
    role: str


def source_rows(result: Result) -> list[SourceRow]:
    """All identifiers of the recording, the most frequent first."""
    rows = []
    span_s = max(result.end_s, 1e-9)
    for place, frames in result.counts.items():
        if place.is_extended:
            address = split_id(place.arbitration_id)
            name, source = f"PGN {address.pgn} ({place.arbitration_id:08X})", f"{address.source}"
            known = pgn_name(address.pgn)
        else:
            name, source, known = f"{place.arbitration_id:03X}", "", ""
        wire = result.wires.get(place)
        if wire is not None:
            known = wire.message
        role = "" if wire is None else wire.role.value
        name = f"{name} {known}" if known else name
        rows.append(SourceRow(place.channel, name, source, frames, frames / span_s, role))
    return sorted(rows, key=lambda row: (-row.frames, row.channel, row.name))
