"""Messages go out at their deadlines, guarded; the mapping is read backwards as the supervisor reads it forwards."""

from pathlib import Path
from typing import Any

import can
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sim.nodes import Nodes, build_nodes, new_panel
from sim.plant import PlantState, initial_state
from sim.rig.simulated import SimRig
from supervisor.bus import BoatMap, InputTable, compile_boat
from supervisor.config import parse_config
from supervisor.config.load import read_boat, shipped_path, shipped_root
from supervisor.signals import BOAT, BoatInput, ShaftInput


def _times(nodes: Nodes, plant: PlantState, node: str, identifier: int, tick_s: float, ticks: int) -> list[float]:
    found = []
    for number in range(ticks):
        now_s = number * tick_s
        found += [now_s for _, message in nodes.all[node].step(now_s, plant) if message.arbitration_id == identifier]
    return found


@pytest.mark.parametrize(
    ("node", "identifier", "period_s"),
    [("monitor", 0x012, 0.04), ("monitor", 0x071, 0.2), ("monitor", 0x19FFFD46, 0.1), ("helm", 0x014, 0.04),
     ("drive.port", 0x021, 0.02), ("drive.port", 0x061, 0.1), ("lever.port", 0x041, 0.04), ("handset", 0x049, 0.04),
     ("handset", 0x069, 0.5), ("contacts.starboard", 0x052, 0.04), ("engine.port", 0x09F2006E, 0.1)],
)  # fmt: skip
def test_periods(nodes: Nodes, plant: PlantState, node: str, identifier: int, period_s: float) -> None:
    times = _times(nodes, plant, node, identifier, 0.02, 1001)
    assert len(times) == round(20.0 / period_s) + 1
    assert times == pytest.approx([number * period_s for number in range(len(times))], abs=1e-6)


def test_no_drift_where_the_period_is_no_multiple_of_the_tick(nodes: Nodes, plant: PlantState) -> None:
    """40 ms on a tick of 30 ms: each frame on the first tick at or after its deadline, 250 in 10 s."""
    times = _times(nodes, plant, "helm", 0x014, 0.03, 334)
    assert len(times) == 250
    for number, sent_s in enumerate(times):
        assert 0.0 <= sent_s - number * 0.04 + 1e-9 < 0.03


def test_missed_deadlines_are_left_out_not_caught_up(nodes: Nodes, plant: PlantState) -> None:
    helm = nodes.all["helm"]
    counts = [len(helm.step(now_s, plant)) for now_s in (0.0, 0.04, 1.0, 1.02, 1.04)]
    assert counts == [1, 1, 1, 0, 1]


def test_counters_run_from_0_to_14(nodes: Nodes, plant: PlantState) -> None:
    frames = [nodes.all["helm"].step(number * 0.04, plant)[0][1] for number in range(32)]
    assert [frame.data[1] & 0x0F for frame in frames] == [number % 15 for number in range(32)]


def test_a_node_without_power_is_silent(nodes: Nodes, plant: PlantState) -> None:
    nodes.all["monitor"].powered = False
    assert nodes.all["monitor"].step(0.0, plant) == []


def test_a_seed_spreads_the_messages(marsh_map: BoatMap, plant: PlantState) -> None:
    def first_tick(seed: int | None) -> set[int]:
        spread = build_nodes(marsh_map, new_panel(marsh_map), seed)
        return {message.arbitration_id for node in spread.all.values() for _, message in node.step(0.0, plant)}

    assert len(first_tick(None)) == 21
    assert len(first_tick(1)) < 10
    assert first_tick(1) == first_tick(1)
    assert any(first_tick(seed) != first_tick(1) for seed in range(2, 6))


# one message of each kind; the stand-in's packing must be that of the codec
@given(
    torque=st.floats(-4000, 4000), speed=st.floats(-9000, 9000), current=st.floats(-4000, 4000), fault=st.booleans()
)  # fmt: skip
def test_payload_is_what_the_codec_encodes(
    marsh_map: BoatMap, marsh_state: PlantState, torque: float, speed: float, current: float, fault: bool
) -> None:
    shaft = marsh_state.shafts[0]
    shaft = shaft._replace(
        drive=shaft.drive._replace(torque_nm=torque, current_a=current, fault=int(fault), enabled=1),
        line=shaft.line._replace(machine_rpm=speed, drive_rpm=speed),
    )
    state = marsh_state._replace(shafts=(shaft, marsh_state.shafts[1]))
    nodes = build_nodes(marsh_map, new_panel(marsh_map))
    sender = next(s for s in nodes.all["drive.port"].senders if s.codec.name == "DRIVE_A_1")
    wanted = sender.codec.encode(
        {"Fault": float(fault), "Enabled": 1.0, "Torque": torque, "Speed": speed, "Current": current}
    )
    assert sender.payload(state, nodes.panel, 0.0) == wanted


@pytest.fixture(scope="module")
def marsh_state(marsh_plant: Any) -> PlantState:
    return initial_state(marsh_plant)


# ---- a boat with a device of another make: big-endian, floats, coded fields, other units and signs

FOREIGN_DBC = """VERSION "1"

NS_ :

BS_:

BU_: DEVICE SUPERVISOR

BO_ 1283 GAUGES: 8 DEVICE
 SG_ ChargeTenths : 7|16@0+ (0.1,0) [0|100] "%" SUPERVISOR
 SG_ Discharge : 16|32@1- (1,0) [-5000|5000] "A" SUPERVISOR
 SG_ Fahrenheit : 48|16@1+ (0.1,-100) [-40|250] "degF" SUPERVISOR

BO_ 1284 GEARS: 2 DEVICE
 SG_ Which : 0|8@1+ (1,0) [0|3] "" SUPERVISOR
 SG_ Position : 8|4@1+ (1,0) [0|15] "" SUPERVISOR

BA_DEF_ BO_ "GenMsgCycleTime" INT 0 3600000;
BA_DEF_DEF_ "GenMsgCycleTime" 0;
BA_ "GenMsgCycleTime" BO_ 1283 200;
SIG_VALTYPE_ 1283 Discharge : 1;
"""


def _foreign_boat(folder: Path) -> Path:
    """marsh_tern with SOC, bank current and a temperature from a foreign gauge, and the gears in a coded field."""
    (folder / "foreign.dbc").write_text(FOREIGN_DBC, encoding="utf-8")
    text = shipped_path("marsh_tern.toml").read_text(encoding="utf-8").replace('"dbc/', f'"{shipped_root()}/dbc/')
    text = text.replace('"plants/', f'"{shipped_root()}/plants/')
    lines = []
    for line in text.splitlines():
        name = line.partition(" ")[0].strip('"')
        which = 'where = { Which = "{unit}" }'
        changed = {
            "bank.soc_pct": _entry(name, "GAUGES", "ChargeTenths", 1.0),
            "bank.current_a": _entry(name, "GAUGES", "Discharge", 1.0, "factor = -1"),
            "bank.cell_hot_c": _entry(name, "GAUGES", "Fahrenheit", 1.0, f"factor = {5 / 9}, offset = {-160 / 9}"),
            "gearbox.gear_report": _entry(
                name, "GEARS", "Position", 0.4, which, 'values = { "4" = 1, "0" = 0, "9" = -1 }'
            ),
        }.get(name, line)
        if name == "dbc" and "rvc_bank" in line:
            changed = line.replace("]", f', "{folder}/foreign.dbc"]')
        lines.append(changed)
    path = folder / "foreign.toml"
    path.write_text("\n".join(lines), encoding="utf-8")
    return path


def _entry(name: str, message: str, signal: str, stale_s: float, *more: str) -> str:
    parts = [f'bus = "private", message = "{message}", signal = "{signal}", stale_s = {stale_s}', *more]
    return f'"{name}" = {{ {", ".join(parts)} }}'


def test_another_make_is_spoken_and_understood(tmp_path: Path) -> None:
    rig = SimRig(_foreign_boat(tmp_path), soc_pct=63.7)
    try:
        seen: list[can.Message] = []
        rig.on_frame = lambda time_s, message, bus: seen.append(message)
        rig.act("hotel.load_w", 2000.0)
        rig.act("port.gear", "ahead")
        rig.act("starboard.gear", "astern")
        rig.run(2.0)
        boat, (port, starboard) = rig.supervisor.table.snapshot(rig.now_s)
        known = int(BoatInput.SOC) | int(BoatInput.CURRENT) | int(BoatInput.CELL_HOT)
        assert boat.known & known == known
        assert boat.soc_pct == pytest.approx(63.7, abs=0.6)  # the monitor counts in steps of its own
        assert boat.current_a == pytest.approx(-2000 / 52.0, abs=1.5)
        assert boat.cell_hot_c == pytest.approx(20.0, abs=1.0)
        assert (port.gear_report, starboard.gear_report) == (1.0, -1.0)
        gauges = [message for message in seen if message.arbitration_id == 1283]
        # 63.7 % or so is about 637 tenths, big end first
        assert int.from_bytes(gauges[-1].data[:2], "big") == pytest.approx(637, abs=6)
        assert 9 <= len(gauges) <= 11  # every 0.2 s
        assert 18 <= sum(message.arbitration_id == 1284 for message in seen) <= 44  # no period given: 0.4 s / 4, each
    finally:
        rig.close()


def test_house_bank_is_spoken_as_fast_packets(plant: PlantState) -> None:
    """A boat that only listens maps 127506 and 127508; its monitor can be stood in for."""
    path = shipped_path("house_bank_24v.toml")
    boat_map = compile_boat(parse_config(read_boat(path), str(path)), path)
    table = InputTable(boat_map)
    nodes = build_nodes(boat_map, new_panel(boat_map))
    state = plant._replace(
        monitor=plant.monitor._replace(soc_pct=88.0, terminal_v=26.57, current_a=-11.3, hot_c=28.8, cold_c=28.8)
    )
    frames = nodes.all["monitor"].step(0.0, state)
    assert [f"{message.arbitration_id:08X}" for _, message in frames].count("19F21246") == 2  # 11 bytes: two frames
    for bus, message in frames:
        table.take(bus, message, 0.0)
    boat, _ = table.snapshot(0.1)
    assert (boat.soc_pct, boat.voltage_v, boat.current_a) == (88.0, pytest.approx(26.57), pytest.approx(-11.3))
    assert boat.cell_hot_c == pytest.approx(28.8, abs=0.01)
    assert table.why_unknown(BOAT, int(BoatInput.SOC), 0.1) == ""


def test_every_input_of_every_shipped_boat_arrives(make_rig: Any) -> None:
    for boat in ("marsh_tern", "reed_warbler"):
        rig = make_rig(boat)
        rig.run(1.5)
        for level in (BOAT, *range(len(rig.shafts))):
            for bit in BoatInput if level == BOAT else ShaftInput:
                assert rig.supervisor.table.why_unknown(level, int(bit), rig.now_s) == "", (boat, level, bit.name)
