"""The wire read by an independent decoder: cantools on the shipped DBC file, no codec of ours."""

from pathlib import Path
from typing import NamedTuple

import cantools
from hub.process import Hub, OnWire

DBC = Path(__file__).resolve().parents[2] / "configs" / "dbc" / "guarded.dbc"
MONITOR_GUARD, DRIVE_A_1, SHAFT_ORDER_1, PERMITS, STATUS = 0x012, 0x021, 0x031, 0x03A, 0x079
_DATABASE = cantools.database.load_file(DBC)


class Reading(NamedTuple):
    """One frame on the wire, decoded."""

    time_s: float
    sender: str
    values: dict[str, float]


def decode(frame: OnWire) -> dict[str, float]:
    """Signals of a frame of guarded.dbc."""
    message = _DATABASE.get_message_by_frame_id(frame.arbitration_id)
    return {name: float(value) for name, value in message.decode(frame.data, decode_choices=False).items()}  # type: ignore[union-attr, arg-type]


def readings(hub: Hub, number: int, since_s: float = 0.0) -> list[Reading]:
    """All frames with one identifier on the private bus since then."""
    return [
        Reading(one.time_s, one.sender, decode(one))
        for one in hub.wire(since_s)
        if one.bus == "private" and one.arbitration_id == number and not one.is_extended
    ]


def zero_from(hub: Hub, since_s: float, number: int = DRIVE_A_1, floor_nm: float = 1.0) -> float:
    """When the drive's own torque (as it says on the wire) came to zero for good; infinity if it did not."""
    since = readings(hub, number, since_s)
    found = float("inf")
    for one in since:
        if abs(one.values["Torque"]) > floor_nm:
            found = float("inf")
        elif found == float("inf"):
            found = one.time_s
    return found
