"""Real-time playback of a recording onto buses.

Every frame has an absolute deadline, counted from the first one: sleeping from frame to frame would drift. A frame that
is late is sent at once, and nothing after it is moved.
"""

import time
from array import array
from collections.abc import Callable, Iterable, Mapping
from typing import NamedTuple, Protocol

import can

from sim.replay.errors import ReplayError
from sim.replay.opening import open_recording
from sim.replay.session import GAP_S, nothing_in
from sim.replay.source import Place, Source
from supervisor.bus.port import ADAPTER_ERRORS, open_adapter

SPIN_S = 0.0006
"""The last bit before a deadline is waited out awake: a sleeping process is woken up to this late."""
LATE_S = 0.001
_SAMPLES = 200_000


class Clock(Protocol):
    """A monotonic clock that can wait."""

    def now_s(self) -> float: ...
    def wait_until(self, deadline_s: float) -> None: ...


class SharpClock:
    """The computer's monotonic clock; waits asleep, and the last bit awake."""

    def now_s(self) -> float:
        """Monotonic time (s)."""
        return time.perf_counter()

    def wait_until(self, deadline_s: float) -> None:
        """Return at `deadline_s`, or at once when it is past."""
        left_s = deadline_s - time.perf_counter()
        if left_s > SPIN_S:
            time.sleep(left_s - SPIN_S)
        while time.perf_counter() < deadline_s:
            pass


class Onto(NamedTuple):
    """Where frames go: adapters by channel of the recording; "" takes every channel that has none of its own."""

    adapters: Mapping[str, tuple[str, str]]
    bitrate: int


class Report(NamedTuple):
    """How a playback went. `late_s` are how late frames were sent, in order; `skipped_s` the silence that was left out.

    `drift_s` is how much later the last quarter was than the first, each by its tenth that was most in time: a busy
    computer delays single frames, and that is no drift.
    """

    frames: int
    failed: int
    length_s: float
    took_s: float
    late_s: "array[float]"
    skipped_s: float
    stopped: bool

    @property
    def drift_s(self) -> float:
        """Lateness of the last quarter less that of the first (s), each by its lowest tenth."""
        count = max(1, len(self.late_s) // 4)
        return _quantile(self.late_s[-count:], 0.1) - _quantile(self.late_s[:count], 0.1)

    @property
    def median_late_s(self) -> float:
        """Median lateness (s)."""
        return _quantile(self.late_s, 0.5)

    @property
    def worst_late_s(self) -> float:
        """The latest frame (s)."""
        return max(self.late_s, default=0.0)


def parse_onto(texts: Iterable[str], bitrate: int = 250_000) -> Onto:
    """`--onto [CHANNEL=]interface:channel` options. Raises ReplayError."""
    found: dict[str, tuple[str, str]] = {}
    for text in texts:
        name, equals, place = text.rpartition("=")
        interface, colon, channel = place.partition(":")
        if not colon or not interface or not channel or (equals and not name):
            raise ReplayError(f"--onto {text}: is not INTERFACE:CHANNEL or LOGCHANNEL=INTERFACE:CHANNEL, for example "
                              "socketcan:vcan0")  # fmt: skip
        if name in found:
            raise ReplayError(f"--onto {text}: {name or 'every channel'} goes onto one bus only")
        found[name] = (interface, channel)
    return Onto(found, bitrate)


class Player:
    """Plays one recording. `longest_gap_s` None keeps every silence; a number shortens longer ones to it."""

    def __init__(
        self, log: str, onto: Onto, form: str | None = None, longest_gap_s: float | None = None,
        clock: Clock | None = None, opener: Callable[[str, str, int], can.BusABC] = open_adapter,
    ) -> None:  # fmt: skip
        self._log = log
        self._onto = onto
        self._form = form
        self._longest_gap_s = longest_gap_s
        self._clock = clock or SharpClock()
        self._opener = opener
        self._buses: dict[tuple[str, str], can.BusABC] = {}
        self.late_s = array("d")
        self.source: Source | None = None

    def play(self, stop: Callable[[], bool] = lambda: False) -> Report:
        """Play to the end, or until `stop()`, which is asked before each frame. Raises ReplayError."""
        source = self.source = open_recording(self._log, Place, gap_s=GAP_S, form=self._form)
        try:
            self._open()
            report = self._play(source, stop)
        finally:
            source.close()
            for bus in self._buses.values():
                bus.shutdown()
        if source.health.frames == 0:
            raise ReplayError(nothing_in(self._log, source))
        return report

    def _open(self) -> None:
        for place in self._onto.adapters.values():
            if place not in self._buses:
                try:
                    self._buses[place] = self._opener(*place, self._onto.bitrate)
                except (*ADAPTER_ERRORS, ImportError, NotImplementedError) as exc:
                    raise ReplayError(f"--onto {place[0]}:{place[1]}: cannot be opened: {exc}") from exc

    def _bus(self, channel: str) -> can.BusABC | None:
        adapters = self._onto.adapters
        place = adapters.get(channel, adapters.get(""))
        return None if place is None else self._buses[place]

    def _play(self, source: Source, stop: Callable[[], bool]) -> Report:
        clock, late_s = self._clock, self.late_s
        begin_s = -1.0
        skipped_s = 0.0
        last_s = 0.0
        sent = failed = 0
        stopped = False
        longest_s = self._longest_gap_s
        for batch in source.batches():
            for time_s, handle, data in batch.items:
                if not isinstance(handle, Place):
                    continue
                if longest_s is not None and time_s - last_s > longest_s:
                    skipped_s += time_s - last_s - longest_s
                last_s = time_s
                bus = self._bus(handle.channel)
                if bus is None:
                    continue
                message = can.Message(
                    arbitration_id=handle.arbitration_id, is_extended_id=handle.is_extended, data=data
                )
                if begin_s < 0.0:
                    begin_s = clock.now_s() + 0.01 - time_s
                if stop():
                    stopped = True
                    break
                deadline_s = begin_s + time_s - skipped_s
                clock.wait_until(deadline_s)
                late = clock.now_s() - deadline_s
                if not self._send(bus, message):
                    failed += 1
                    continue
                sent += 1
                if len(late_s) < _SAMPLES:
                    late_s.append(late)
                else:
                    late_s[sent % (_SAMPLES // 2) + _SAMPLES // 2] = late
            if stopped:
                break
        took_s = clock.now_s() - begin_s if sent else 0.0
        return Report(sent, failed, last_s, took_s, late_s, skipped_s, stopped)

    @staticmethod
    def _send(bus: can.BusABC, message: can.Message) -> bool:
        """Send; a full send queue is given one more chance."""
        for _ in range(2):
            try:
                bus.send(message)
            except ADAPTER_ERRORS:
                time.sleep(0.001)
            else:
                return True
        return False


def _quantile(values: Iterable[float], part: float) -> float:
    ordered = sorted(values)
    return ordered[int(len(ordered) * part)] if ordered else 0.0
