"""What pictures and page show of a replay, gathered while it runs: signals, and what the recorded one ordered."""

import math
from collections.abc import Mapping, Sequence

from sim.replay.commands import CommandDecoder, CommandRow
from sim.replay.envelope import Envelope
from sim.replay.pace import Pace
from sim.replay.replayed import Change, Heard
from sim.replay.signals import Signals
from sim.replay.ticks import Ticks
from sim.replay.traces import Trace
from supervisor.bus.codec import pgn_of
from supervisor.signals import BOAT

_SHOWN = {
    "drive.torque_nm": "recorded_order_nm",
    "boat.charge_limit_a": "recorded_charge_limit_a",
    "boat.derate_pct": "recorded_derate_pct",
}
"""Recorded orders that are drawn beside ours, and how they are called here."""


class RecordedOrders:
    """The orders in the recording, as numbers by name; NaN once one is no longer repeated."""

    def __init__(self, rows: Sequence[CommandRow], shafts: Sequence[str]) -> None:
        self._decoder = CommandDecoder([row for row in rows if row.name in _SHOWN])
        self._names = {
            (row.level, row.name): f"{'boat' if row.level == BOAT else shafts[row.level]}.{_SHOWN[row.name]}"
            for row in self._decoder.rows
        }
        self._pace: dict[str, Pace] = {}
        self.names = tuple(dict.fromkeys(self._names.values()))

    def take(self, now_s: float, commands: Sequence[Heard]) -> dict[str, float]:
        """What the frames since the last call ordered, and what they no longer do."""
        found = {}
        for wire, data in commands:
            pgn = pgn_of(wire.arbitration_id)
            for row, value in self._decoder.decode(wire.bus, wire.arbitration_id, wire.is_extended, pgn, data):
                name = self._names[row.level, row.name]
                found[name] = value
                self._pace.setdefault(name, Pace()).heard(now_s)
        for name, pace in self._pace.items():
            if now_s > pace.stands_until_s:
                found[name] = math.nan
        return found


class Drawn:
    """Observes one subject. `envelope` is for pictures of a fixed size, `traces` for a page that zooms."""

    def __init__(
        self, which: int, signals: Signals, names: Sequence[str], ticks: Ticks, orders: RecordedOrders
    ) -> None:
        self._which = which
        self._signals = signals
        self._ticks = ticks
        self._orders = orders
        self._places = {name: signals.names.index(name) for name in names if name in signals.names}
        kept = [name for name in names if name in self._places or name in orders.names]
        self._now = dict.fromkeys(kept, math.nan)
        self.envelope = Envelope(kept)
        self.traces = {name: Trace() for name in kept}

    def span(self, first: int, stop: int, changes: Sequence[Sequence[Change]], commands: Sequence[Heard]) -> None:
        """Take what changed, and what was ordered."""
        now_s = self._ticks.at(first)
        ordered = self._orders.take(now_s, commands)
        if ordered:
            self._put(now_s, ordered)
        for change in changes[self._which]:
            row = self._signals.row(change)
            self._put(change.time_s, {name: float(row[place]) for name, place in self._places.items()})

    def _put(self, time_s: float, values: Mapping[str, float]) -> None:
        for name, value in values.items():
            if name in self._now:
                self._now[name] = value
                self.traces[name].take(time_s, value)
        self.envelope.put(time_s, list(self._now.values()))

    def finish(self, end_s: float) -> None:
        """Let the last values stand until the end."""
        self.envelope.finish(end_s)
