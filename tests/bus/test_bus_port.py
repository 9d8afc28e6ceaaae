"""Adapters that fail: every failure is counted, shown and mended later; nothing is hidden and nothing blocks."""

import threading
from typing import Any

import can
import pytest

from supervisor.bus import BusPort, BusSetting, bus_settings, compile_boat
from supervisor.bus.port import DRAIN_LIMIT
from supervisor.config import BoatConfig, ConfigError, load_config

Step = can.Message | Exception | None


class ScriptedBus(can.BusABC):
    """A python-can bus that does what a script says: yields frames, raises, refuses to send."""

    def __init__(self) -> None:
        super().__init__(channel="scripted")
        self.script: list[Step] = []
        self.send_errors: list[Exception] = []
        self.sent: list[can.Message] = []
        self.shut = 0
        self.mode = can.BusState.ACTIVE

    def _recv_internal(self, timeout: float | None) -> tuple[can.Message | None, bool]:
        assert timeout == 0, "the receive path must never wait"
        step = self.script.pop(0) if self.script else None
        if isinstance(step, Exception):
            raise step
        return step, False

    def send(self, msg: can.Message, timeout: float | None = None) -> None:
        if self.send_errors:
            raise self.send_errors.pop(0)
        self.sent.append(msg)

    @property
    def state(self) -> can.BusState:
        return self.mode

    @state.setter
    def state(self, new: can.BusState) -> None:
        self.mode = new

    def shutdown(self) -> None:
        super().shutdown()
        self.shut += 1


class Rack:
    """Opens scripted buses, or fails to."""

    def __init__(self) -> None:
        self.opened: list[ScriptedBus] = []
        self.failures: list[Exception] = []
        self.calls: list[tuple[str, str, int]] = []

    def __call__(self, interface: str, channel: str, bitrate: int) -> can.BusABC:
        self.calls.append((interface, channel, bitrate))
        if self.failures:
            raise self.failures.pop(0)
        self.opened.append(ScriptedBus())
        return self.opened[-1]


SETTING = {"private": BusSetting("scripted", "a", 250000)}


def frame(identifier: int = 0x12, **more: Any) -> can.Message:
    return can.Message(arbitration_id=identifier, is_extended_id=False, data=bytes(8), **more)


@pytest.fixture
def rack() -> Rack:
    return Rack()


@pytest.fixture
def port(rack: Rack) -> BusPort:
    port = BusPort(SETTING, opener=rack, background=False)
    assert port.open(0.0) == []
    assert port.receive_all(0.0) == []
    assert port.receive_ok
    return port


def test_not_ok_before_the_first_receive(rack: Rack) -> None:
    port = BusPort(SETTING, opener=rack, background=False)
    assert not port.receive_ok
    port.open(0.0)
    assert not port.receive_ok
    port.receive_all(0.0)
    assert port.receive_ok


def test_frames_in_order_with_their_bus(rack: Rack, port: BusPort) -> None:
    frames = [frame(identifier) for identifier in (0x14, 0x12, 0x21)]
    rack.opened[0].script = [*frames]
    assert port.receive_all(0.02) == [("private", message) for message in frames]


def test_what_lay_waiting_at_the_opening_is_thrown_away(rack: Rack) -> None:
    port = BusPort(SETTING, opener=rack, background=False)
    port.open(0.0)
    rack.opened[0].script = [frame()] * 50
    assert port.receive_all(0.0) == []
    rack.opened[0].script = [frame()]
    assert len(port.receive_all(0.02)) == 1


def test_backlog_is_a_fault_and_its_rest_is_thrown_away(rack: Rack, port: BusPort) -> None:
    """More than a few ticks' worth in one call: the frames are old, though they look fresh."""
    rack.opened[0].script = [frame()] * (DRAIN_LIMIT + 30)
    assert len(port.receive_all(0.02)) == DRAIN_LIMIT
    assert not port.receive_ok
    assert "backlog" in port.problems()["private"]
    assert port.receive_all(0.04) == []
    assert port.receive_ok
    assert port.report()["private"]["backlog"] == 1


@pytest.mark.parametrize("error", [can.CanOperationError("unplugged"), OSError(5, "Input/output error")])
def test_receive_error_closes_and_comes_back_with_backoff(rack: Rack, port: BusPort, error: Exception) -> None:
    rack.opened[0].script = [frame(), error, frame()]
    assert len(port.receive_all(1.0)) == 1  # what came before is still used
    assert not port.receive_ok
    assert "receive error" in port.problems()["private"]
    assert rack.opened[0].shut == 1
    rack.failures = [can.CanInitializationError("still away"), OSError(2, "No such file")]
    for now_s in (1.02, 1.48, 1.52, 2.0, 2.48, 2.54, 4.0, 4.5):
        port.receive_all(now_s)
        assert not port.receive_ok
    # first try 0.5 s after the loss, then 1 s after that, then 2 s
    assert len(rack.calls) == 3
    port.receive_all(4.56)
    assert port.receive_ok
    assert port.reopened == {"private"}
    assert port.problems() == {}
    port.receive_all(4.58)
    assert port.reopened == frozenset()
    assert port.report()["private"] == {"opened": 2, "receive error": 1, "open error": 2}


def test_backoff_stops_growing(rack: Rack, port: BusPort) -> None:
    rack.opened[0].script = [can.CanOperationError("gone")]
    rack.failures = [can.CanInitializationError("away")] * 1000
    now_s = 0.0
    while now_s < 300.0:
        port.receive_all(now_s)
        now_s += 0.02
    assert 30 <= len(rack.calls) <= 40  # every 10 s in the end


def test_garbled_line_is_a_fault_but_no_reason_to_reopen(rack: Rack, port: BusPort) -> None:
    """slcan raises ValueError on garbage."""
    rack.opened[0].script = [ValueError("invalid literal for int() with base 16: 'zz'")]
    port.receive_all(0.02)
    assert not port.receive_ok
    assert rack.opened[0].shut == 0
    port.receive_all(0.04)
    assert port.receive_ok
    assert port.report()["private"]["garbled"] == 1


@pytest.mark.parametrize("error", [ValueError("zz"), IndexError("string index out of range")])
def test_no_garbled_line_escapes(rack: Rack, port: BusPort, error: Exception) -> None:
    rack.opened[0].script = [frame(), error, frame()]
    assert len(port.receive_all(0.02)) == 1
    assert not port.receive_ok
    assert len(port.receive_all(0.04)) == 1


def test_a_line_that_stays_garbled_is_reopened(rack: Rack, port: BusPort) -> None:
    rack.opened[0].script = [ValueError("zz")] * 5
    for tick in range(5):
        port.receive_all(1.0 + tick * 0.02)
        assert not port.receive_ok
    assert rack.opened[0].shut == 1
    port.receive_all(1.7)
    assert port.receive_ok


def test_send_error_is_counted_and_shown(rack: Rack, port: BusPort) -> None:
    rack.opened[0].send_errors = [can.CanOperationError("transmit buffer full")]
    assert len(port.send([("private", frame()), ("private", frame(0x31))], 0.02)) == 1
    assert not port.receive_ok
    assert [message.arbitration_id for message in rack.opened[0].sent] == [0x31]
    port.receive_all(0.04)
    assert not port.receive_ok  # the tick after the failure hears of it
    port.receive_all(0.06)
    assert port.receive_ok
    assert port.report()["private"]["send error"] == 1


def test_sending_on_a_closed_bus_is_counted(rack: Rack, port: BusPort) -> None:
    rack.opened[0].script = [can.CanOperationError("gone")]
    port.receive_all(0.02)
    assert len(port.send([("private", frame())], 0.02)) == 0
    assert port.report()["private"]["not sent, bus closed"] == 1
    with pytest.raises(KeyError):
        port.send([("nowhere", frame())], 0.02)


def test_bus_off_reported_by_the_adapter(rack: Rack, port: BusPort) -> None:
    rack.opened[0].mode = can.BusState.ERROR
    port.receive_all(0.02)
    assert not port.receive_ok
    assert rack.opened[0].shut == 1


@pytest.mark.parametrize(
    ("identifier", "data", "ok", "word"),
    [
        (0x40, bytes(8), False, "bus-off"),  # CAN_ERR_BUSOFF
        (0x04, bytes([0, 0x01, 0, 0, 0, 0, 0, 0]), False, "receive overflow"),  # CAN_ERR_CRTL, RX_OVERFLOW
        (0x04, bytes([0, 0x10, 0, 0, 0, 0, 0, 0]), True, "error frame"),  # receive error passive: warned, not lost
    ],
)
def test_error_frames_of_linux(rack: Rack, port: BusPort, identifier: int, data: bytes, ok: bool, word: str) -> None:
    rack.opened[0].script = [can.Message(arbitration_id=identifier, is_error_frame=True, data=data)]
    assert len(port.receive_all(0.02)) == 1
    assert port.receive_ok == ok
    assert port.report()["private"][word] == 1


def test_open_problems_are_told_in_words(rack: Rack) -> None:
    rack.failures = [can.CanInitializationError("no such device")]
    port = BusPort(SETTING, opener=rack, background=False)
    (problem,) = port.open(0.0)
    assert problem == "bus private (scripted:a): open error: no such device"
    assert not port.receive_ok


def test_an_interface_that_python_can_does_not_know() -> None:
    port = BusPort({"private": BusSetting("no_such_interface", "x", 250000)})
    (problem,) = port.open(0.0)
    assert "no_such_interface" in problem
    port.close()


def test_only_essential_buses_count(rack: Rack) -> None:
    settings = SETTING | {"backbone": BusSetting("scripted", "b", 250000)}
    port = BusPort(settings, essential={"private"}, opener=rack, background=False)
    port.open(0.0)
    port.receive_all(0.0)
    rack.opened[1].script = [can.CanOperationError("gone")]
    rack.opened[0].script = [frame()]
    assert len(port.receive_all(0.02)) == 1
    assert port.receive_ok
    assert set(port.problems()) == {"backbone"}
    both = BusPort(settings, opener=rack, background=False)
    both.open(0.0)
    rack.opened[3].script = [can.CanOperationError("gone")]
    both.receive_all(0.0)
    assert not both.receive_ok


def test_reopening_in_the_background_does_not_hold_the_tick() -> None:
    """An adapter that takes long to open: the calls go on, not ok, until it is there."""
    gate, started = threading.Event(), threading.Event()
    rack = Rack()

    def slow(interface: str, channel: str, bitrate: int) -> can.BusABC:
        if rack.opened:
            started.set()
            if not gate.wait(10.0):
                raise OSError("gate never opened")
        return rack(interface, channel, bitrate)

    port = BusPort(SETTING, opener=slow)
    port.open(0.0)
    port.receive_all(0.0)
    rack.opened[0].script = [can.CanOperationError("gone")]
    port.receive_all(1.0)
    port.receive_all(2.0)
    assert started.wait(10.0)
    assert not port.receive_ok
    assert port.receive_all(2.02) == []
    gate.set()
    done = threading.Event()
    for _ in range(1000):
        port.receive_all(3.0)
        if port.receive_ok:
            break
        done.wait(0.005)
    assert port.receive_ok
    port.close()
    assert rack.opened[1].shut == 1


def test_close_shuts_down_and_ends_receive_ok(rack: Rack, port: BusPort) -> None:
    port.close()
    assert rack.opened[0].shut == 1
    assert not port.receive_ok


# ---- settings


@pytest.fixture(scope="module")
def marsh() -> BoatConfig:
    return load_config("marsh_tern")


def test_settings_and_overrides(marsh: BoatConfig) -> None:
    settings = bus_settings(marsh, ["private=slcan:/dev/ttyACM0", "backbone=socketcand:host:29536"])
    assert settings["private"] == BusSetting("slcan", "/dev/ttyACM0", 250000)
    assert settings["backbone"] == BusSetting("socketcand", "host:29536", 250000)
    assert bus_settings(marsh)["private"] == BusSetting("virtual", "marsh_tern_private", 250000)


@pytest.mark.parametrize(
    "text", ["private", "private=slcan", "private=:x", "=a:b", "privat=virtual:x", "private=virtual:"]
)
def test_override_that_says_nothing(marsh: BoatConfig, text: str) -> None:
    with pytest.raises(ConfigError) as caught:
        bus_settings(marsh, [text])
    assert caught.value.key == text


@pytest.mark.parametrize(
    ("texts", "words"),
    [
        (["private=nosuch:can0"], "'nosuch' is no interface of python-can"),
        (["private=slcan:/dev/a", "private=slcan:/dev/b"], "bus private is given twice"),
        (["private=socketcan:can0", "backbone=socketcan:can0"], "is given for private and backbone"),
    ],
)
def test_override_that_cannot_be(marsh: BoatConfig, texts: list[str], words: str) -> None:
    with pytest.raises(ConfigError, match=words):
        bus_settings(marsh, texts)


def test_over_the_virtual_bus(marsh: BoatConfig) -> None:
    """python-can's own virtual bus: what one port sends, another receives."""
    boat_map = compile_boat(marsh, "marsh_tern")
    settings = {"private": BusSetting("virtual", "test_over_the_virtual_bus", 250000)}
    mine, theirs = BusPort(settings, boat_map.essential), BusPort(settings, boat_map.essential)
    try:
        assert mine.open(0.0) == theirs.open(0.0) == []
        mine.receive_all(0.0)
        theirs.receive_all(0.0)
        assert len(mine.send([("private", frame(0x31)), ("private", frame(0x32))], 0.0)) == 2
        assert [(bus, message.arbitration_id) for bus, message in theirs.receive_all(0.02)] == [
            ("private", 0x31),
            ("private", 0x32),
        ]
        assert mine.receive_all(0.02) == []
        assert mine.receive_ok
        assert theirs.receive_ok
    finally:
        mine.close()
        theirs.close()
