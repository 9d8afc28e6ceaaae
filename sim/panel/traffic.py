"""The bus traffic as a table: each message once, decoded, with its rate and its age."""

from collections.abc import Mapping
from typing import Any

import can

from supervisor.bus import BoatMap, MessageCodec
from supervisor.bus.codec import pgn_of


class _Seen:
    """One message of one bus."""

    __slots__ = ("before", "count", "data", "rate_hz", "time_s")

    def __init__(self) -> None:
        self.count = self.before = 0
        self.time_s = 0.0
        self.data = b""
        self.rate_hz = 0.0


class Traffic:
    """Fed with every frame; `report` is called a few times a second. Times in s since power-up."""

    def __init__(self, boat_map: BoatMap) -> None:
        self._exact: dict[tuple[str, int, bool], MessageCodec] = {}
        self._pgns: dict[tuple[str, int], MessageCodec] = {}
        for bus, messages in boat_map.messages.items():
            for codec in messages.values():
                if codec.pgn is None:
                    self._exact[bus, codec.arbitration_id, codec.is_extended] = codec
                else:
                    self._pgns[bus, codec.pgn] = codec
        self._ours = {(row.bus, row.message.name) for row in boat_map.outputs}
        self._seen: dict[tuple[str, int, bool], _Seen] = {}
        self._reported_s = 0.0

    def take(self, time_s: float, message: can.Message, bus: str) -> None:
        """One frame."""
        place = (bus, message.arbitration_id, message.is_extended_id)
        seen = self._seen.get(place)
        if seen is None:
            seen = self._seen[place] = _Seen()
        seen.count += 1
        seen.time_s = time_s
        seen.data = bytes(message.data)

    def report(self, now_s: float) -> list[dict[str, Any]]:
        """A row for each message so far; rates are of the time since the last report."""
        past_s = now_s - self._reported_s
        rows = []
        for (bus, identifier, extended), seen in sorted(self._seen.items()):
            if past_s > 0.0:
                seen.rate_hz = (seen.count - seen.before) / past_s
                seen.before = seen.count
            codec = self._exact.get((bus, identifier, extended))
            if codec is None and extended:
                codec = self._pgns.get((bus, pgn_of(identifier)))
            rows.append({
                "bus": bus,
                "id": f"{identifier:08X}" if extended else f"{identifier:03X}",
                "name": "" if codec is None else codec.name,
                "from": "supervisor" if codec is not None and (bus, codec.name) in self._ours else "boat",
                "count": seen.count,
                "rate_hz": round(seen.rate_hz, 1),
                "age_s": round(max(now_s - seen.time_s, 0.0), 2),
                "data": bytes(seen.data).hex(" "),
                "values": "" if codec is None else _values(codec, seen.data),
            })  # fmt: skip
        self._reported_s = now_s
        return rows


def _values(codec: MessageCodec, data: bytes) -> str:
    if len(data) < codec.min_length or codec.length > 8:
        return "one part of a longer message" if codec.length > 8 else "shorter than its layout"
    decoded: Mapping[str, float | None] = codec.decode(data)
    return ", ".join(f"{name} {_said(value, codec.signals[name].unit)}" for name, value in decoded.items())


def _said(value: float | None, unit: str) -> str:
    if value is None:
        return "not available"
    return f"{value:.6g} {unit}".rstrip()
