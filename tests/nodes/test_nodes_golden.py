"""Each node's frames for a known state of the boat, typed by hand.

Payloads were worked out on paper from the layouts in docs/bus.md and the open definitions; checksums come from PyPI
autosar-e2e, not from our code. Supervisor and stand-ins share the codec: a common mistake would go unseen otherwise.
"""

import e2e.p01
import pytest

from sim.nodes import Nodes
from sim.plant import FLAG_INTERNAL, PlantState

PRIVATE, BACKBONE = "private", "backbone"


def _known_state(plant: PlantState) -> PlantState:
    port, starboard = plant.shafts
    port = port._replace(
        engine=port.engine._replace(speed_rpm=1885.25, running=1),
        gearbox=port.gearbox._replace(engaged=1),
        drive=port.drive._replace(
            torque_nm=-63.7, current_a=120.5, enabled=1, relay_closed=1, link_v=52.1, motor_c=85.0, inverter_c=61.0,
            coolant_c=30.0,
        ),
        line=port.line._replace(machine_rpm=1500.0, drive_rpm=1500.0, propeller_rpm=310.25),
    )  # fmt: skip
    starboard = starboard._replace(
        gearbox=starboard.gearbox._replace(engaged=0, in_transit=1),
        drive=starboard.drive._replace(fault=1),
        line=starboard.line._replace(clutch_position=-1, lock_position=1),
    )
    monitor = plant.monitor._replace(
        soc_pct=73.5, current_a=-87.5, terminal_v=52.35, cell_max_v=3.330, cell_min_v=3.310, hot_c=25.0, cold_c=18.0,
        charge_permit=1, discharge_permit=0, charge_limit_a=150.0, discharge_limit_a=0.0, flags=0, warning=1,
    )  # fmt: skip
    return plant._replace(shafts=(port, starboard), monitor=monitor)


# node, bus, identifier, data identifier (0: not guarded), payload; byte 0 is the checksum, then the counter's nibble
GOLDEN = [
    ("monitor", PRIVATE, 0x012, 0xB512, "00 10 11 DC 05 00 00 00"),
    ("monitor", PRIVATE, 0x071, 0xB571, "00 00 02 0D EE 0C 41 3A"),
    ("monitor", PRIVATE, 0x19FFFD46, 0, "01 78 17 04 CC E9 36 77"),  # 52.35 V, 87.5 A out of the bank
    ("monitor", PRIVATE, 0x19FFFC46, 0, "01 78 40 25 93 FF FF FF"),  # 25 degC, 73.5 %
    ("monitor", PRIVATE, 0x19FEC946, 0, "01 78 FF FF FF B8 88 FF"),  # 150 A wanted at most
    ("monitor", PRIVATE, 0x19FEC746, 0, "01 78 DC FF FF FF FF FF"),  # low-voltage limit reached
    ("helm", PRIVATE, 0x014, 0xB514, "00 00 11 01"),  # reset, stop loop whole, full charge
    ("handset", PRIVATE, 0x049, 0xB549, "00 10 57 3C E2 80 80"),
    ("handset", PRIVATE, 0x069, 0xB569, "00 00 57 64 E0 01"),
    ("lever.port", PRIVATE, 0x041, 0xB541, "00 10 00 00 04"),  # neutral, charge at rest
    ("lever.starboard", PRIVATE, 0x042, 0xB542, "00 00 66 EF 11"),  # -42.5 %, charge under way, harvest
    ("drive.port", PRIVATE, 0x021, 0xB521, "00 40 83 FD 70 17 B5 04"),
    ("drive.port", PRIVATE, 0x061, 0xB561, "00 10 2D 0A 7D 65 46"),
    ("drive.starboard", PRIVATE, 0x022, 0xB522, "00 10 00 00 00 00 00 00"),
    ("contacts.port", PRIVATE, 0x051, 0xB551, "00 40 45 00 D9 04"),
    ("contacts.starboard", PRIVATE, 0x052, 0xB552, "00 00 00 01 00 00"),  # gear and clutch in transit, lock engaged
    ("engine.port", BACKBONE, 0x09F2006E, 0, "00 75 1D FF FF 7F FF FF"),  # 1885.25 rpm
    ("engine.port", BACKBONE, 0x09F2056E, 0, "00 FC FF FF FF FF FF FF"),  # ahead
    ("engine.starboard", BACKBONE, 0x09F2006F, 0, "01 00 00 FF FF 7F FF FF"),
    ("engine.starboard", BACKBONE, 0x09F2056F, 0, "01 FF FF FF FF FF FF FF"),  # between gears: not available
]


@pytest.mark.parametrize(
    ("node", "bus", "identifier", "data_id", "payload"), GOLDEN, ids=[f"{row[0]}-{row[2]:X}" for row in GOLDEN]
)
def test_golden_frame(
    nodes: Nodes, plant: PlantState, node: str, bus: str, identifier: int, data_id: int, payload: str
) -> None:
    panel = nodes.panel
    panel.press("reset", 0.0)
    panel.switches["full_charge"] = 1
    panel.handset_held = 1
    panel.shafts[0].handset_pct, panel.shafts[1].handset_pct = 60.0, -30.0
    panel.shafts[0].charge = "at_rest"
    panel.shafts[1].lever_pct, panel.shafts[1].charge, panel.shafts[1].harvest = -42.5, "under_way", 1
    frames = nodes.all[node].step(0.0, _known_state(plant))
    (message,) = [message for where, message in frames if (where, message.arbitration_id) == (bus, identifier)]
    expected = bytearray.fromhex(payload)
    if data_id:
        e2e.p01.e2e_p01_protect(expected, data_id, length=len(expected), increment_counter=False)
    assert message.data.hex(" ").upper() == expected.hex(" ").upper()
    assert message.is_extended_id == (identifier > 0x7FF)


def test_every_frame_of_every_node_is_golden(nodes: Nodes, plant: PlantState) -> None:
    """Nothing is sent that the table above does not pin, but for the mirror images of the other shaft."""
    sent = {
        (name, bus, message.arbitration_id)
        for name, node in nodes.all.items()
        for bus, message in node.step(0.0, plant)
    }
    pinned = {row[:3] for row in GOLDEN}
    assert sent - pinned == {("drive.starboard", PRIVATE, 0x062)}
    assert pinned <= sent


def test_emergency_stop_opens_the_loop(nodes: Nodes, plant: PlantState) -> None:
    nodes.panel.switches["emergency_stop"] = 1
    ((_, message),) = nodes.all["helm"].step(0.0, plant)
    assert message.data[1:].hex(" ") == "00 00 00"


def test_handset_without_link_says_so(nodes: Nodes, plant: PlantState) -> None:
    nodes.panel.handset_held = 1
    nodes.panel.handset_link = 0
    frames = {message.arbitration_id: message for _, message in nodes.all["handset"].step(0.0, plant)}
    assert frames[0x049].data[1:].hex(" ") == "30 ff 80 80 80 80"
    assert frames[0x069].data[1:].hex(" ") == "00 ff 00 ff ff"


def test_monitor_fault_stays_shown_while_it_is_latched(nodes: Nodes, plant: PlantState) -> None:
    monitor = nodes.all["monitor"]
    shown = []
    for now_s, flags, tripped in ((0.0, 0, 0), (0.04, FLAG_INTERNAL, 0), (0.08, 0, 1), (0.12, 0, 0)):
        state = plant._replace(monitor=plant.monitor._replace(flags=flags, tripped=tripped))
        frames = {message.arbitration_id: message for _, message in monitor.step(now_s, state)}
        shown.append(frames[0x012].data[2] >> 2 & 3)
    assert shown == [0, 1, 1, 0]
