"""The adapters: python-can buses opened, drained and mended. Every failure is caught by its kind, counted, and shown as
`receive_ok` False; nothing is retried in a hurry, and nothing here ever enables anything.

No Notifier: its thread dies with the first exception and says nothing. Frames are fetched without blocking, and a
backlog that fills the bound of one call is itself a fault, because frames in a backlog are old and look fresh.
"""

import concurrent.futures
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any, NamedTuple

import can

from supervisor.bus.own_frames import ECHOING
from supervisor.config.errors import ConfigError
from supervisor.config.schema import BoatConfig

GARBLED = (ValueError, IndexError)
"""What python-can's slcan raises on a garbled line."""
ADAPTER_ERRORS = (can.CanError, OSError, *GARBLED)
"""What an adapter may raise: python-can's own errors; OSError (an unplugged serial port is one); a garbled line."""
DRAIN_LIMIT = 200
"""Frames taken from one bus in one call at most: some four ticks' worth of a full bus at 250 kbit/s."""
FIRST_BACKOFF_S = 0.5
LONGEST_BACKOFF_S = 10.0
FAULTS_BEFORE_REOPEN = 5
"""Calls in a row with a fault that did not close the bus by itself, e.g. garbled lines or a full send queue."""

# Linux error frames, from linux/can/error.h: classes in the identifier, detail of the controller class in data[1].
_ERROR_CONTROLLER = 0x04
_ERROR_BUS_OFF = 0x40
_CONTROLLER_RX_OVERFLOW = 0x01

Opener = Callable[[str, str, int], can.BusABC]


class BusSetting(NamedTuple):
    """How one bus is opened: python-can's interface and channel, and the bit rate in bit/s."""

    interface: str
    channel: str
    bitrate: int


_GROUP = "239.74.163."
"""Multicast groups of python-can's udp_multicast. Each has a port of its own, counted from python-can's default: a
socket that is bound to a port hears all groups there, and one bus must not hear the other."""
_FIRST_GROUP, _FIRST_PORT = 2, 43113


def no_hardware(config: BoatConfig) -> dict[str, BusSetting]:
    """Buses that are multicast groups: processes on one computer hear each other there without an adapter."""
    return {
        name: BusSetting("udp_multicast", f"{_GROUP}{number}", bus.bitrate)
        for number, (name, bus) in enumerate(config.buses.items(), start=_FIRST_GROUP)
    }


def inside_only(interface: str, channel: str) -> dict[str, Any]:
    """What python-can is told besides of a bus without hardware: it ends at this computer, for another one on the same
    network has a boat of its own, and has a port of its own. Nothing of other adapters."""
    number = channel.removeprefix(_GROUP)
    if interface != "udp_multicast" or number == channel or not number.isdecimal():
        return {}
    return {"hop_limit": 0, "port": _FIRST_PORT + int(number) - _FIRST_GROUP}


def open_adapter(interface: str, channel: str, bitrate: int) -> can.BusABC:
    """Open one adapter through python-can. Raises one of ADAPTER_ERRORS."""
    # A stray can.ini or ~/.canrc must not change which adapter this is.
    inside = inside_only(interface, channel)
    try:
        return can.Bus(interface=interface, channel=channel, bitrate=bitrate, ignore_config=True, **inside)
    except NotImplementedError as exc:  # what python-can raises of a name it does not know, where no file is read
        raise can.CanInterfaceNotImplementedError(str(exc)) from exc


def bus_settings(config: BoatConfig, overrides: Iterable[str] = ()) -> dict[str, BusSetting]:
    """The boat's buses, with `name=interface:channel` overrides.

    Raises ConfigError for one that names no bus, or a bus twice, or an interface that python-can does not know, and for
    two buses on one adapter.
    """
    settings = {name: BusSetting(bus.interface, bus.channel, bus.bitrate) for name, bus in config.buses.items()}
    given: set[str] = set()
    for text in overrides:
        name, equals, place = text.partition("=")
        interface, colon, channel = place.partition(":")
        if not (equals and colon and interface and channel):
            raise ConfigError("--bus", text, "is not name=interface:channel", "For example private=socketcan:can0")
        if name not in settings:
            raise ConfigError("--bus", text, f"{name!r} is no bus of this boat", f"Allowed: {', '.join(settings)}")
        if name in given:
            raise ConfigError("--bus", text, f"bus {name} is given twice", "Give each bus one adapter")
        if interface not in can.VALID_INTERFACES:
            allowed = ", ".join(sorted(can.VALID_INTERFACES))
            raise ConfigError("--bus", text, f"{interface!r} is no interface of python-can", f"Allowed: {allowed}")
        given.add(name)
        settings[name] = settings[name]._replace(interface=interface, channel=channel)
    owners: dict[tuple[str, str], str] = {}
    for name, setting in settings.items():
        first = owners.setdefault(setting[:2], name)
        if first != name:
            where = f"{setting.interface}:{setting.channel}"
            raise ConfigError("--bus", where, f"is given for {first} and {name}", "Give each bus an adapter of its own")
    return settings


class _Line:
    """One bus, open or not."""

    def __init__(self, name: str, setting: BusSetting) -> None:
        self.name = name
        self.setting = setting
        self.bus: can.BusABC | None = None
        self.opening: concurrent.futures.Future[can.BusABC] | None = None
        self.retry_s = 0.0
        self.backoff_s = FIRST_BACKOFF_S
        self.faults_in_row = 0
        self.send_failed = False
        self.sent = 0
        self.flush = True
        self.ok = False
        self.problem = "not opened yet"
        self.counts: dict[str, int] = {}

    def count(self, what: str) -> None:
        self.counts[what] = self.counts.get(what, 0) + 1


class BusPort:
    """All buses of a boat. Times are passed in; only `recv` and `send` of python-can touch the world.

    `essential` names the buses whose loss makes `receive_ok` False (all of them by default); the loss of another bus is
    the loss of its inputs, which grow stale. With `background` a lost adapter is reopened in a worker thread, since
    opening may block for seconds; without it, in `receive_all`.
    """

    def __init__(
        self,
        settings: Mapping[str, BusSetting],
        essential: Iterable[str] | None = None,
        opener: Opener = open_adapter,
        background: bool = True,
    ) -> None:
        self._lines = {name: _Line(name, setting) for name, setting in settings.items()}
        self._essential = frozenset(self._lines if essential is None else essential)
        self._opener = opener
        self._pool: concurrent.futures.ThreadPoolExecutor | None = None
        self._background = background
        self.reopened: frozenset[str] = frozenset()
        """Buses that came back in the last `receive_all`: their guard counters start anew."""

    def open(self, now_s: float) -> list[str]:
        """Open all buses, waiting for each. Returns what went wrong, in words; those buses are tried again later."""
        problems = []
        for line in self._lines.values():
            try:
                self._opened(line, self._opener(*line.setting))
            except ADAPTER_ERRORS as exc:
                self._lost(line, "open error", exc, now_s)
                problems.append(f"bus {line.name} ({line.setting.interface}:{line.setting.channel}): {line.problem}")
        return problems

    def close(self) -> None:
        """Shut all adapters down."""
        for line in self._lines.values():
            self._shutdown(line)
            if line.opening is not None:
                line.opening.add_done_callback(_discard)
                line.opening = None
        if self._pool is not None:
            self._pool.shutdown(wait=False, cancel_futures=True)
            self._pool = None

    def receive_all(self, now_s: float) -> list[tuple[str, can.Message]]:
        """Everything received since the last call, in order within each bus, error and remote frames included.

        Never waits. A bus that fails yields what came before the failure.
        """
        received: list[tuple[str, can.Message]] = []
        back = []
        for line in self._lines.values():
            if line.bus is None and self._reopen(line, now_s):
                back.append(line.name)
            if line.bus is not None:
                self._drain(line, received, now_s)
        self.reopened = frozenset(back)
        return received

    def send(self, frames: Sequence[tuple[str, can.Message]], now_s: float) -> list[tuple[str, can.Message]]:
        """Send frames on their buses; returns those that were handed over. Failures are counted and shown by the next
        `receive_all`. Raises KeyError for a bus that the boat does not have."""
        sent: list[tuple[str, can.Message]] = []
        for name, message in frames:
            line = self._lines[name]
            if line.bus is None:
                line.count("not sent, bus closed")
                continue
            try:
                line.bus.send(message)
                line.sent += 1
                sent.append((name, message))
            except ADAPTER_ERRORS as exc:
                line.count("send error")
                line.problem = f"sending failed: {exc}"
                line.send_failed = True
                line.ok = False
        return sent

    @property
    def receive_ok(self) -> bool:
        """True while every essential bus is open and its last `receive_all` saw no fault."""
        return all(line.ok for name, line in self._lines.items() if name in self._essential)

    @property
    def echoing(self) -> frozenset[str]:
        """The buses whose adapter gives back what was sent through it."""
        return frozenset(name for name, line in self._lines.items() if line.setting.interface in ECHOING)

    def problems(self) -> dict[str, str]:
        """What is wrong with each bus that is not in order, in words."""
        return {name: line.problem for name, line in self._lines.items() if not line.ok}

    def report(self) -> dict[str, dict[str, int]]:
        """Counters of each bus."""
        return {name: dict(line.counts) for name, line in self._lines.items()}

    # ---- one line

    def _opened(self, line: _Line, bus: can.BusABC) -> None:
        line.bus = bus
        line.flush = True
        line.faults_in_row = 0
        line.send_failed = False
        line.count("opened")

    def _reopen(self, line: _Line, now_s: float) -> bool:
        if line.opening is None:
            if now_s < line.retry_s:
                return False
            if not self._background:
                try:
                    self._opened(line, self._opener(*line.setting))
                except ADAPTER_ERRORS as exc:
                    self._lost(line, "open error", exc, now_s)
                return line.bus is not None
            if self._pool is None:
                self._pool = concurrent.futures.ThreadPoolExecutor(max_workers=2, thread_name_prefix="bus-open")
            line.opening = self._pool.submit(self._opener, *line.setting)
            return False
        if not line.opening.done():
            return False
        opening, line.opening = line.opening, None
        try:
            self._opened(line, opening.result())
        except ADAPTER_ERRORS as exc:
            self._lost(line, "open error", exc, now_s)
        return line.bus is not None

    def _drain(self, line: _Line, received: list[tuple[str, can.Message]], now_s: float) -> None:
        fault = "sending failed" if line.send_failed else ""
        line.send_failed = False
        bus = line.bus
        if bus is None:
            return
        count = 0
        # slcan answers each frame sent with a line that `recv` reports as nothing: nothing does not mean empty yet.
        blanks, line.sent = 2 + line.sent, 0
        try:
            while count < DRAIN_LIMIT:
                message = bus.recv(timeout=0)
                if message is None:
                    blanks -= 1
                    if blanks <= 0:
                        break
                    continue
                count += 1
                if message.is_error_frame:
                    fault = _error_frame(line, message) or fault
                if not line.flush:
                    received.append((line.name, message))
            if bus.state is can.BusState.ERROR:
                line.count("bus-off")
                raise can.CanOperationError("adapter reports bus-off")
        except GARBLED as exc:  # none of python-can's own errors is one of these
            line.count("garbled")
            fault = f"garbled line: {exc}"
        except ADAPTER_ERRORS as exc:
            self._lost(line, "receive error", exc, now_s)
            return
        if count >= DRAIN_LIMIT:
            line.count("backlog")
            line.flush = True
            fault = f"backlog of {DRAIN_LIMIT} frames or more: what they say is old"
        else:
            # What lay waiting when the bus was opened, or behind a backlog, has been thrown away by now.
            line.flush = False
        if fault:
            line.ok = False
            line.problem = fault
            line.faults_in_row += 1
            if line.faults_in_row >= FAULTS_BEFORE_REOPEN:
                self._lost(line, "given up", can.CanOperationError(fault), now_s)
            return
        line.faults_in_row = 0
        line.backoff_s = FIRST_BACKOFF_S
        line.ok = True
        line.problem = ""

    def _lost(self, line: _Line, what: str, exc: Exception, now_s: float) -> None:
        line.count(what)
        line.ok = False
        line.problem = f"{what}: {exc}"
        line.retry_s = now_s + line.backoff_s
        line.backoff_s = min(line.backoff_s * 2, LONGEST_BACKOFF_S)
        self._shutdown(line)

    def _shutdown(self, line: _Line) -> None:
        bus, line.bus = line.bus, None
        line.ok = False
        if bus is None:
            return
        try:
            bus.shutdown()
        except ADAPTER_ERRORS:
            line.count("shutdown error")


def _error_frame(line: _Line, message: can.Message) -> str:
    """Count an error frame; returns the fault if it means that frames were lost."""
    line.count("error frame")
    if message.arbitration_id & _ERROR_BUS_OFF:
        line.count("bus-off")
        return "bus-off"
    if message.arbitration_id & _ERROR_CONTROLLER and len(message.data) > 1:
        if message.data[1] & _CONTROLLER_RX_OVERFLOW:
            line.count("receive overflow")
            return "receive overflow: frames were lost"
    return ""


def _discard(opening: "concurrent.futures.Future[can.BusABC]") -> None:
    """Shut down an adapter that came up after nobody wanted it."""
    if not opening.cancelled() and opening.exception() is None:
        opening.result().shutdown()
