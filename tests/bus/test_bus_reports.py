"""Gear, engine speed and bank voltage come without a guard: what a stranger says once moves no shaft (SR-47)."""

import can
import pytest
from bus_support import Sender, boat_data, compile_data

from supervisor.bus import InputTable
from supervisor.signals import BoatInput, ShaftInput

pytestmark = pytest.mark.sr("SR-47")

NEUTRAL, AHEAD, ASTERN, NONE = 1, 0, 2, 3
"""Codes of the gear in PGN 127493."""
OWN, STRANGER = 12, 77


class Backbone:
    """The port gearbox and engine of marsh_tern on the backbone, heard by a table."""

    def __init__(self) -> None:
        self.table = InputTable(boat_map := compile_data(boat_data("marsh_tern")))
        self.sender = Sender(boat_map, self.table)
        self.now_s = 0.0

    def _frame(self, message: str, values: dict[str, float | None], source: int, bus: str = "backbone") -> None:
        codec = self.sender.boat_map.messages[bus][message]
        identifier = codec.arbitration_id & ~0xFF | source
        data = self.sender.bytes_of(message, values, bus)
        self.table.take(bus, can.Message(arbitration_id=identifier, data=data), self.now_s)

    def volts(self, volts: float | None, source: int = OWN) -> float | None:
        """The bank's voltage, on the private bus."""
        self.now_s += 0.1
        self._frame("DC_SOURCE_STATUS_1", {"Instance": 1, "Voltage": volts}, source, "private")
        bank = self.table.snapshot(self.now_s)[0]
        return bank.voltage_v if bank.known & int(BoatInput.VOLTAGE) else None

    def gear(self, code: int, source: int = OWN) -> float | None:
        """One frame, a tenth of a second after the last; what the shaft hears then."""
        self.now_s += 0.1
        self._frame("TRANSMISSION", {"Instance": 0, "Gear": None if code == NONE else code}, source)
        return self.heard(int(ShaftInput.GEAR_REPORT), "gear_report")

    def speed(self, rpm: float, source: int = OWN) -> float | None:
        self.now_s += 0.1
        self._frame("ENGINE_RAPID", {"Instance": 0, "Speed": rpm}, source)
        return self.heard(int(ShaftInput.ENGINE_SPEED), "engine_speed_rpm")

    def heard(self, bit: int, field: str) -> float | None:
        port = self.table.snapshot(self.now_s)[1][0]
        return getattr(port, field) if port.known & bit else None


@pytest.fixture
def line() -> Backbone:
    return Backbone()


def test_the_first_three_that_agree_are_believed(line: Backbone) -> None:
    assert [line.gear(NEUTRAL) for _ in range(4)] == [None, None, 0.0, 0.0]
    assert [line.speed(0.0) for _ in range(4)] == [None, None, 0.0, 0.0]


@pytest.mark.parametrize("source", [OWN, STRANGER])
@pytest.mark.parametrize("code", [AHEAD, ASTERN, NONE])
def test_one_or_two_frames_to_the_contrary_move_nothing(line: Backbone, source: int, code: int) -> None:
    for _ in range(5):
        line.gear(NEUTRAL)
    assert [line.gear(code, source) for _ in range(2)] == [0.0, 0.0]
    assert line.gear(NEUTRAL) == 0.0
    assert [line.gear(code, source), line.gear(NEUTRAL), line.gear(code, source), line.gear(NEUTRAL)] == [0.0] * 4


def test_three_of_one_source_act(line: Backbone) -> None:
    for _ in range(5):
        line.gear(NEUTRAL)
    assert [line.gear(AHEAD) for _ in range(3)] == [0.0, 0.0, 1.0]
    assert [line.gear(ASTERN) for _ in range(3)] == [1.0, 1.0, -1.0]
    assert [line.gear(NONE) for _ in range(3)] == [-1.0, -1.0, None]


def test_three_of_three_sources_do_not(line: Backbone) -> None:
    for _ in range(5):
        line.gear(NEUTRAL)
    assert [line.gear(AHEAD, source) for source in (STRANGER, OWN, STRANGER + 1)] == [0.0] * 3


def test_a_stranger_that_goes_on_for_ever_is_heard_once_the_own_box_is_silent(line: Backbone) -> None:
    for _ in range(5):
        line.gear(NEUTRAL)
    for _ in range(10):
        assert line.gear(AHEAD, STRANGER) is not None
        assert line.gear(NEUTRAL) == 0.0, "the own box speaks as often"
    said = [line.gear(AHEAD, STRANGER) for _ in range(4)]
    assert said[-1] == 1.0


@pytest.mark.parametrize("source", [OWN, STRANGER])
def test_one_frame_does_not_make_a_stopped_engine_turn(line: Backbone, source: int) -> None:
    for _ in range(5):
        line.speed(0.0)
    assert [line.speed(900.0, source) for _ in range(2)] == [0.0, 0.0]
    assert line.speed(0.0) == 0.0
    assert [line.speed(900.0) for _ in range(3)] == [0.0, 0.0, 900.0]


def test_a_running_engine_is_followed_frame_by_frame_and_a_stall_is_seen_at_once(line: Backbone) -> None:
    for _ in range(3):
        line.speed(900.0)
    assert [line.speed(rpm) for rpm in (1500.0, 700.0, 60.0, 40.0, 0.0)] == [1500.0, 700.0, 60.0, 40.0, 0.0]


def test_a_stranger_cannot_stall_a_running_engine(line: Backbone) -> None:
    for _ in range(3):
        line.speed(900.0)
    assert line.speed(0.0, STRANGER) == 900.0


def test_after_silence_three_are_asked_again(line: Backbone) -> None:
    for _ in range(3):
        line.gear(NEUTRAL)
    line.now_s += 0.6
    assert [line.gear(AHEAD) for _ in range(3)] == [None, None, 1.0]


def test_the_banks_voltage_is_followed_from_its_own_source(line: Backbone) -> None:
    assert [line.volts(52.0) for _ in range(3)] == [52.0, 52.0, 52.0]
    assert [line.volts(volts) for volts in (51.0, 44.0, 56.0)] == [51.0, 44.0, 56.0]


def test_a_stranger_with_the_same_instance_does_not_say_the_banks_voltage(line: Backbone) -> None:
    for _ in range(3):
        line.volts(52.0)
    for _ in range(5):
        assert [line.volts(27.0, STRANGER), line.volts(27.0, STRANGER), line.volts(52.0)] == [52.0] * 3
    assert [line.volts(27.0, STRANGER) for _ in range(3)] == [52.0, 52.0, 27.0], "the own box has fallen silent"
