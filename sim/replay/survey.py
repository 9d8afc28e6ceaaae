"""What is on a bus: identifiers, parameter groups, rates, senders, and which fields look alive."""

import math
from collections.abc import Callable, Mapping
from typing import NamedTuple

from sim.replay.errors import ReplayError
from sim.replay.health import Health
from sim.replay.logclock import GAP
from sim.replay.opening import open_recording
from sim.replay.session import GAP_S, nothing_in
from sim.replay.source import Place, Source
from supervisor.bus import MessageCodec, load_dbc
from supervisor.bus.codec import pgn_of
from supervisor.bus.faults import Bad
from supervisor.bus.n2k import FastPackets, split_id
from supervisor.config import shipped_path

STANDARDS = ("dbc/nmea2000.dbc", "dbc/rvc_bank.dbc")
"""Messages of open standards whose fields are looked into."""

INSTANCES_MAX = 32
_DISTINCT_MAX = 1000


_SANE = {
    "rpm": (0.0, 8000.0), "V": (5.0, 1000.0), "A": (-5000.0, 5000.0), "%": (0.0, 100.0), "K": (233.15, 398.15),
    "degC": (-40.0, 125.0),
}  # fmt: skip
"""What a reading in a unit can be on a boat; beyond it is a glitch, or a field that means something else."""
_GEARS = (0.0, 2.0)


class Field:
    """One field of a message, over time. `low` and `high` bound what it can soundly say; `sane` counts what lay
    between, `sane_most` is the highest of it."""

    __slots__ = ("_high", "_low", "absent", "distinct", "least", "most", "sane", "sane_most", "seen")

    def __init__(self, low: float = -math.inf, high: float = math.inf) -> None:
        self._low = low
        self._high = high
        self.seen = 0
        self.absent = 0
        self.sane = 0
        self.least = math.inf
        self.most = self.sane_most = -math.inf
        self.distinct: dict[float, int] = {}

    def take(self, value: float | None) -> None:
        """One reading; None is "not available"."""
        if value is None:
            self.absent += 1
            return
        self.seen += 1
        self.least = min(self.least, value)
        self.most = max(self.most, value)
        if self._low <= value <= self._high:
            self.sane += 1
            self.sane_most = max(self.sane_most, value)
        if value in self.distinct or len(self.distinct) < _DISTINCT_MAX:
            self.distinct[value] = self.distinct.get(value, 0) + 1

    def middle(self) -> float:
        """The median of what was said, as far as its values were kept; 0.0 if nothing was."""
        left = sum(self.distinct.values()) / 2.0
        for value, times in sorted(self.distinct.items()):
            left -= times
            if left <= 0.0:
                return value
        return 0.0

    @property
    def alive(self) -> str:
        """alive (it moves), constant, or not available."""
        if not self.seen:
            return "not available"
        return "alive" if len(self.distinct) > 1 else "constant"


class Device(NamedTuple):
    """A message of an open standard, from one sender about one instance (-1: the message has none)."""

    channel: str
    message: str
    source: int
    instance: int


class Decoded:
    """What one Device said."""

    def __init__(self, codec: MessageCodec) -> None:
        self.codec = codec
        self.count = 0
        self.first_s = math.nan
        self.last_s = math.nan
        self.fields = {
            name: Field(*(_GEARS if name == "Gear" else _SANE.get(signal.unit, ())))
            for name, signal in codec.signals.items()
            if name not in ("Instance", "Sid")
        }

    @property
    def interval_s(self) -> float:
        """Mean time between two messages (s); NaN for fewer than two."""
        return (self.last_s - self.first_s) / (self.count - 1) if self.count > 1 else math.nan


class Heard:
    """One identifier on one channel."""

    def __init__(self, place: Place) -> None:
        self.place = place
        self.count = 0
        self.first_s = math.nan
        self.last_s = math.nan
        self.longest_s = 0.0
        self.shortest_length = 8
        self.longest_length = 0
        self.first = 0
        self.moved = 0
        self.ones = -1
        self.codec: MessageCodec | None = None
        self.source = -1

    def take(self, time_s: float, data: bytes) -> None:
        """One frame."""
        word = int.from_bytes(data, "little")
        if self.count == 0:
            self.first_s = time_s
            self.first = word
        elif time_s - self.last_s > self.longest_s:
            self.longest_s = time_s - self.last_s
        self.count += 1
        self.last_s = time_s
        self.moved |= word ^ self.first
        self.ones &= word
        self.shortest_length = min(self.shortest_length, len(data))
        self.longest_length = max(self.longest_length, len(data))

    @property
    def interval_s(self) -> float:
        """Mean time between two frames (s)."""
        return (self.last_s - self.first_s) / (self.count - 1) if self.count > 1 else math.nan

    def bytes_text(self) -> str:
        """Which bytes move, which say nothing, for frames whose layout is not known here."""
        length = self.longest_length
        moving = [str(k) for k in range(length) if self.moved >> 8 * k & 0xFF]
        silent = [str(k) for k in range(length) if self.ones >> 8 * k & 0xFF == 0xFF]
        parts = [f"bytes {' '.join(moving)} move" if moving else "nothing moves"]
        if silent:
            parts.append(f"{' '.join(silent)} always FF")
        return ", ".join(parts)


class Survey(NamedTuple):
    """The whole survey. Times in s of log time."""

    name: str
    kind: str
    begin: float | None
    end_s: float
    health: Health
    heard: list[Heard]
    devices: Mapping[Device, Decoded]
    bad: Mapping[str, int]
    """Messages of open standards that could not be decoded, by reason."""
    stopped: bool


class _Surveyor:
    def __init__(self) -> None:
        self.heard: dict[Place, Heard] = {}
        self.devices: dict[Device, Decoded] = {}
        self.bad: dict[str, int] = {}
        self._by_pgn: dict[int, MessageCodec] = {}
        for name in STANDARDS:
            for codec in load_dbc(shipped_path(name)).values():
                if codec.is_extended:
                    self._by_pgn[pgn_of(codec.arbitration_id) if codec.pgn is None else codec.pgn] = codec
        self._packets: dict[str, FastPackets] = {}

    def select(self, channel: str, arbitration_id: int, is_extended: bool) -> Heard:
        place = Place(channel, arbitration_id, is_extended)
        heard = self.heard[place] = Heard(place)
        if is_extended:
            heard.codec = self._by_pgn.get(pgn_of(arbitration_id))
            heard.source = split_id(arbitration_id).source
            if heard.codec is not None and channel not in self._packets:
                self._packets[channel] = FastPackets(self._packet_bad)
        return heard

    def take(self, time_s: float, heard: Heard, data: bytes) -> None:
        heard.take(time_s, data)
        codec = heard.codec
        if codec is None:
            return
        if codec.length > 8:
            whole = self._packets[heard.place.channel].feed(heard.place.arbitration_id, data, time_s)
            if whole is None:
                return
            data = whole
        if len(data) < codec.min_length:
            self._count("message too short")
            return
        values = codec.decode(data)
        instance = values.get("Instance")
        device = Device(heard.place.channel, codec.name, heard.source, -1 if instance is None else int(instance))
        decoded = self.devices.get(device)
        if decoded is None:
            same = sum(1 for one in self.devices if one.message == codec.name and one.channel == device.channel)
            if same >= INSTANCES_MAX:
                self._count("yet another instance (more than are possible)")
                return
            decoded = self.devices[device] = Decoded(codec)
            decoded.first_s = time_s
        decoded.count += 1
        decoded.last_s = time_s
        for name, field in decoded.fields.items():
            field.take(values[name])

    def _packet_bad(self, _pgn: int, reason: Bad) -> None:
        self._count(f"fast packet: {reason.name.lower().replace('_', ' ')}")

    def _count(self, what: str) -> None:
        self.bad[what] = self.bad.get(what, 0) + 1


def survey(
    log: str, form: str | None = None, stop: Callable[[Source], bool] = lambda _source: False, gap_s: float = GAP_S
) -> Survey:
    """Read a recording and say what is on it. `stop` is asked after each batch. Raises ReplayError."""
    surveyor = _Surveyor()
    source = open_recording(log, surveyor.select, gap_s=gap_s, form=form)
    end_s = 0.0
    stopped = False
    try:
        for batch in source.batches():
            for time_s, handle, data in batch.items:
                if handle is not GAP and isinstance(handle, Heard):
                    surveyor.take(time_s, handle, data)
            end_s = max(end_s, batch.end_s)
            if stop(source):
                stopped = True
                break
    finally:
        source.close()
    if source.health.frames == 0:
        raise ReplayError(nothing_in(log, source))
    heard = sorted(surveyor.heard.values(), key=lambda one: (one.place.channel, -one.count, one.place.arbitration_id))
    name = "standard input" if log == "-" else log
    return Survey(
        name, source.kind, source.begin(), end_s, source.health, heard, surveyor.devices, surveyor.bad, stopped
    )
