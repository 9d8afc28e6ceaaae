"""What a supervisor elsewhere says on the bus, read from its own output frames; the numbers are typed by hand."""

import math
from pathlib import Path

import pytest

from sim.rig.live.reported import NOT_HEARD, Reported
from supervisor.bus import BoatMap, OutputTable, compile_boat
from supervisor.config import load_config
from supervisor.modes import BoatMode, ShaftMode
from supervisor.signals import BoatCommand, ShaftCommand

MARSH_TERN = Path(__file__).parents[2] / "configs" / "marsh_tern.toml"
CHARGE_WITHDRAWN, BOAT_TRIPPED = 1 << 8, 1 << 20
DRIVE_ENABLE, CLUTCH_CLOSE = 1, 8


@pytest.fixture(scope="module")
def boat_map() -> BoatMap:
    return compile_boat(load_config("marsh_tern"), "marsh_tern")


class Elsewhere:
    """The supervisor's side."""

    def __init__(self, boat_map: BoatMap) -> None:
        self.table = OutputTable(boat_map)
        self.reported = Reported(boat_map)

    def says(
        self, now_s: float, boat: BoatMode, port: ShaftMode, torque_nm: float = 0.0, permits: int = 0, alarms: int = 0
    ) -> None:
        shafts = (ShaftCommand(torque_nm, 12.0, permits), ShaftCommand())
        command = BoatCommand(stop_sources=0, sounder=1, alarms=alarms, charge_limit_a=150.0, derate_pct=50.0)
        for bus, message in self.table.frames(now_s, command, shafts, boat, (port, ShaftMode.REST)):
            self.reported.take(bus, message, now_s)


def test_everything_it_says(boat_map: BoatMap) -> None:
    there = Elsewhere(boat_map)
    for number in range(11):  # the status goes out every 0.2 s, and the first of guarded frames only sets the counter
        there.says(0.02 * number, BoatMode.READY, ShaftMode.PROPEL, -31.4, DRIVE_ENABLE | CLUTCH_CLOSE)
    says = there.reported.decided(0.2)
    assert (says.boat_mode, list(says.shaft_modes)) == ("READY", ["PROPEL", "REST"])
    assert says.shafts[0].torque_nm == pytest.approx(-31.4, abs=0.051)
    assert (says.shafts[0].current_a, says.shafts[0].permits) == (pytest.approx(12.0, abs=0.06), 9)
    assert (says.boat.charge_limit_a, says.boat.derate_pct) == (150.0, 50.0)
    assert (says.boat.stop_sources, says.boat.sounder, says.boat.alarms) == (0, 1, 0)
    assert all(math.isnan(value) for value in says.rearmed)  # not on the bus
    assert there.reported.heard(0.2)


def test_silence_is_no_mode(boat_map: BoatMap) -> None:
    there = Elsewhere(boat_map)
    assert not there.reported.heard(0.0)
    assert there.reported.decided(0.0).boat_mode == NOT_HEARD
    for number in range(11):
        there.says(0.02 * number, BoatMode.READY, ShaftMode.PROPEL, 20.0)
    # the last of all came at 0.2 s; orders come every 20 ms: gone after 0.2 s; the status every 0.2 s: after three
    assert there.reported.heard(0.39)
    assert not there.reported.heard(0.4)
    assert there.reported.decided(0.39).shafts[0].torque_nm == 20.0
    assert there.reported.decided(0.4).shafts[0].torque_nm == 0.0
    assert there.reported.decided(0.79).boat_mode == "READY"
    assert there.reported.decided(0.8).boat_mode == NOT_HEARD


WITHDRAWN = "no charging: the bank monitor has withdrawn its charge permit, or the permit is unknown"


def test_changes_become_events_without_a_cause(boat_map: BoatMap) -> None:
    there = Elsewhere(boat_map)

    def events(now_s: float, boat: BoatMode, port: ShaftMode, alarms: int = 0) -> list[tuple[str, str, str]]:
        there.says(now_s, boat, port, alarms=alarms)
        found = there.reported.events(there.reported.decided(now_s), now_s)
        assert all(event.time_s == now_s for event in found)
        return [(event.kind, event.subject, event.text) for event in found]

    assert events(0.0, BoatMode.READY, ShaftMode.REST) == []
    assert [text for _, _, text in events(0.2, BoatMode.READY, ShaftMode.REST)] == [
        "not heard -> READY", "not heard -> REST", "not heard -> REST",
    ]  # fmt: skip
    assert events(0.22, BoatMode.READY, ShaftMode.GENERATE) == [("mode", "port", "REST -> GENERATE")]
    # the alarm word goes out every 0.2 s
    assert events(0.3, BoatMode.READY, ShaftMode.GENERATE, CHARGE_WITHDRAWN) == []
    assert events(0.41, BoatMode.READY, ShaftMode.GENERATE, CHARGE_WITHDRAWN) == [("alarm", "boat", WITHDRAWN)]
    assert events(0.62, BoatMode.TRIPPED, ShaftMode.REST, BOAT_TRIPPED) == [
        ("trip", "boat", "READY -> TRIPPED"),
        ("mode", "port", "GENERATE -> REST"),
        ("gone", "boat", f"ended: {WITHDRAWN}"),
        ("alarm", "boat", "boat is TRIPPED: find the cause, then press RESET"),
    ]


def test_bad_frames_are_not_believed(boat_map: BoatMap) -> None:
    """One bit of each order turned over: the guard says so, and the supervisor counts as silent."""
    reported, table = Reported(boat_map), OutputTable(boat_map)
    for number in range(20):
        shafts = (ShaftCommand(40.0), ShaftCommand(40.0))
        for bus, message in table.frames(number * 0.02, BoatCommand(), shafts, 2, (1, 1)):
            if message.arbitration_id in (0x031, 0x032):
                message.data[3] ^= 0x10
            reported.take(bus, message, number * 0.02)
    assert not reported.heard(0.4)
    assert reported.decided(0.4).shafts[0].torque_nm == 0.0


def test_what_a_boat_does_not_map_is_unseen(tmp_path: Path) -> None:
    """A controller that sends orders and permits only."""
    configs = MARSH_TERN.parent
    lines = [
        line
        for line in MARSH_TERN.read_text().splitlines()
        if not any(f'"{name}"' in line for name in ("STATUS", "ALARMS", "MORE_ALARMS"))
    ]
    text = "\n".join(lines).replace('"dbc/', f'"{configs}/dbc/').replace('"plants/', f'"{configs}/plants/')
    boat = tmp_path / "boat.toml"
    boat.write_text(text.replace("STATUS = 0.2\n", "").replace("MORE_ALARMS = 0.2\n", "").replace("ALARMS = 0.2\n", ""))
    reported = Reported(compile_boat(load_config(boat), boat))
    assert reported.unseen >= {
        "boat.mode", "boat.alarms", "boat.charge_limit_a", "port.mode", "starboard.mode", "port.rearmed",
        "refusal", "mode", "trip", "alarm", "gone",
    }  # fmt: skip
    assert not reported.unseen & {"port.order_nm", "port.engine_start", "port.permits", "boat.stop_sources"}


def test_what_the_shipped_boat_shows(boat_map: BoatMap) -> None:
    assert Reported(boat_map).unseen == {"refusal", "port.rearmed", "starboard.rearmed"}


def test_a_tick_begins_with_the_first_order_of_its_shafts(boat_map: BoatMap) -> None:
    """Two shafts are ordered in each tick; one whose frames are lost does not merge two ticks into one."""
    for lost in (0x031, 0x032):  # port's, starboard's
        reported, table = Reported(boat_map), OutputTable(boat_map)
        found = []
        for number in range(12):
            frames = table.frames(0.02 * number, BoatCommand(), (ShaftCommand(), ShaftCommand()), 2, (1, 1))
            heard = [one for one in frames if number not in range(4, 8) or one[1].arbitration_id != lost]
            found.append(sum(reported.begins_tick(bus, one) for bus, one in heard))
        assert found == [0] + [1] * 11
