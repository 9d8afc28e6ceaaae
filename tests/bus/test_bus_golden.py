"""Frames typed by hand from docs/bus.md: supervisor and stand-ins share the codec, a common mistake would go unseen.

Payload bytes were worked out on paper from the layout; checksums come from PyPI autosar-e2e, not from our code.
"""

import pytest

from supervisor.bus import BoatMap, InputTable, OutputTable
from supervisor.bus.e2e import GuardChecker, Verdict
from supervisor.controller.status import BoatStatus, ShaftStatus
from supervisor.signals import BoatCommand, BoatInput, ShaftCommand, ShaftInput

# message, identifier, data identifier, bytes, values
GOLDEN = [
    ("DRIVE_A_1", 0x021, 0xB521, "6B 45 83 FD 70 17 4B FB",
     {"Fault": 0, "Enabled": 1, "Torque": -63.7, "Speed": 1500, "Current": -120.5, "Counter": 5}),
    ("MONITOR_GUARD", 0x012, 0xB512, "41 50 01 D0 07 94 11 00",
     {"ChargePermit": 1, "DischargePermit": 1, "ContactorClosed": 1, "Fault": 0, "Opening": 0, "ChargeLimit": 200,
      "DischargeLimit": 450, "Counter": 0}),
    ("HELM_CONTACTS", 0x014, 0xB514, "03 1E 10 04",
     {"Enable": 1, "Disable": 0, "Reset": 0, "Acknowledge": 0, "StopLoop": 1, "GetHome": 0, "FullCharge": 0,
      "ShoreConnected": 1, "DiverLockout": 0, "Counter": 14}),
    ("LEVER_1", 0x041, 0xB541, "5E 03 66 EF 0D",
     {"Neutral": 0, "OutOfService": 0, "Position": -42.5, "ChargeUnderWay": 1, "ChargeAtRest": None, "Harvest": 0}),
    ("HANDSET", 0x049, 0xB549, "6A 12 57 E2 32 80 80",
     {"Held": 1, "PairingId": 87, "Thrust1": -30, "Thrust2": 50, "Thrust3": None, "Thrust4": None}),
    ("CONTACTS_2", 0x052, 0xB552, "C8 17 44 00 D9 04",
     {"GearNeutral": 1, "GearAhead": 0, "EngineRun": 0, "ClutchClosed": 1, "ClutchOpen": 0, "LockReleased": 1,
      "LockEngaged": 0, "PropellerSpeed": 310.25}),
    ("DRIVE_B_1", 0x061, 0xB561, "10 19 2D 0A 7D 65 FF",
     {"Precharged": 1, "LinkVoltage": 52.1, "MotorTemp": 85, "InverterTemp": 61, "CoolantTemp": None}),
    ("HANDSET_STATE", 0x069, 0xB569, "15 04 57 50 86 00", {"PairingId": 87, "Link": 80, "Minutes": 134}),
    ("MONITOR_CELLS", 0x071, 0xB571, "3B 01 54 0D 3D 0D 40 3D",
     {"CellMax": 3.412, "CellMin": 3.389, "CellHot": 24, "CellCold": 21}),
    ("SHAFT_ORDER_1", 0x031, 0xB531, "EA 10 F4 01 38 FF",
     {"Enable": 1, "Precharge": 0, "Torque": 50, "CurrentAim": -20}),
    ("PERMITS", 0x03A, 0xB53A, "B8 10 11 01 00 00",
     {"StopSources": 1, "Sounder": 0, "DriveEnable1": 1, "EngineStart1": 0, "ClutchClose1": 1, "LockEngage1": 0,
      "DriveEnable2": 1, "DriveEnable3": 0}),
    ("STATUS", 0x079, 0xB579, "2D 00 12 F2 0F 60 09 7D",
     {"HandsetInControl": 0, "BoatMode": 2, "ShaftMode1": 1, "ShaftMode2": 2, "ShaftMode3": None, "ShaftMode4": None,
      "ChargeLimit": 240, "Derate": 62.5}),
    ("ALARMS", 0x07B, 0xB57B, "81 00 21 00 10 00", {"Alarms": 0x00100021}),
    # checksums of the following by PyPI autosar-e2e
    ("SHAFT_STATE_1", 0x074, 0xB574, "31 20 01 05 7D 90 01 00",
     {"Answer": 2, "Cause": 1, "LimitRule": 5, "Limit": 62.5, "Braking": 40}),
    ("MORE_ALARMS", 0x07C, 0xB57C, "D6 00 03 00 00 00", {"MoreAlarms": 3}),
    ("RETURNED", 0x07E, 0xB57E, "A8 00 05 00 00 00 80 00", {"Returned": (1 << 39) + 5}),
    ("LIMITS", 0x07D, 0xB57D, "B9 20 84 67 02 C0 12 00",
     {"ChargeRule": 2, "BrakeRule": 4, "DischargeRule": 8, "Brake": 61.5, "Discharge": 480}),
]  # fmt: skip
IDS = [row[0] for row in GOLDEN]


@pytest.mark.parametrize(("name", "identifier", "data_id", "text", "values"), GOLDEN, ids=IDS)
def test_golden_frame(
    marsh_map: BoatMap, name: str, identifier: int, data_id: int, text: str, values: dict[str, float | None]
) -> None:
    codec = marsh_map.messages["private"][name]
    data = bytes.fromhex(text)
    assert (codec.arbitration_id, codec.is_extended, codec.data_id) == (identifier, False, data_id)
    assert codec.length == len(data)
    assert GuardChecker(data_id).check(data) is Verdict.INITIAL
    decoded = codec.decode(data)
    for signal, value in values.items():
        assert decoded[signal] == (None if value is None else pytest.approx(value, abs=1e-9)), signal
    given = {key: value for key, value in values.items() if key != "Counter"}
    assert codec.encode(given)[2:] == data[2:]
    assert codec.encode(given)[1] & 0xF0 == data[1] & 0xF0


def test_trips_win_the_bus_and_nothing_collides(marsh_map: BoatMap) -> None:
    ours = [codec for codec in marsh_map.messages["private"].values() if codec.data_id is not None]
    identifiers = [codec.arbitration_id for codec in ours]
    assert len(set(identifiers)) == len(ours)
    assert sorted(identifiers)[:2] == [0x012, 0x014]  # monitor and helm: all that trips the boat
    # Against 29-bit frames the first 11 bits decide: no RV-C or NMEA 2000 identifier in use here comes before ours.
    foreign = [codec for codec in marsh_map.messages["private"].values() if codec.is_extended]
    assert max(identifiers) < min(codec.arbitration_id >> 18 for codec in foreign)
    # Below 0x080 nothing of CANopen's predefined set lies, but the network command 0x000 (from memory).
    assert min(identifiers) > 0
    assert max(identifiers) < 0x080


def test_no_guarded_frame_passes_as_another(marsh_map: BoatMap) -> None:
    """Every frame is bad under every other message's data identifier: 16 bits of identifier meet in 8 bits of CRC."""
    ours = {codec.data_id for codec in marsh_map.messages["private"].values() if codec.data_id is not None}
    for _, _, data_id, text, _ in GOLDEN:
        for other in ours - {data_id}:
            assert GuardChecker(other).check(bytes.fromhex(text)) is Verdict.WRONG_CRC


def _feed(table: InputTable, identifier: int, text: str, previous: str) -> None:
    """One frame before it to open the counter, then the golden frame itself."""
    table.feed("private", identifier, False, bytes.fromhex(previous), 9.98)
    table.feed("private", identifier, False, bytes.fromhex(text), 10.0)


# The frames before the golden ones: same payload, counter one less, checksum by PyPI autosar-e2e.
def test_golden_frames_reach_the_inputs(table: InputTable) -> None:
    _feed(table, 0x021, "6B 45 83 FD 70 17 4B FB", "36 44 83 FD 70 17 4B FB")
    _feed(table, 0x012, "41 50 01 D0 07 94 11 00", "40 5E 01 D0 07 94 11 00")
    _feed(table, 0x014, "03 1E 10 04", "8F 1D 10 04")
    _feed(table, 0x049, "6A 12 57 E2 32 80 80", "A0 11 57 E2 32 80 80")
    boat, (port, _) = table.snapshot(10.02)
    assert port.torque_nm == pytest.approx(-63.7)
    assert (port.machine_speed_rpm, port.current_a) == (1500.0, pytest.approx(-120.5))
    assert port.known & ShaftInput.DRIVE_FAULT
    assert not port.on & ShaftInput.DRIVE_FAULT
    assert (boat.charge_limit_a, boat.discharge_limit_a) == (200.0, 450.0)
    assert boat.on & BoatInput.CHARGE_PERMIT
    assert boat.on & BoatInput.CONTACTOR_CLOSED
    assert not boat.on & BoatInput.MONITOR_FAULT
    assert boat.on & BoatInput.ENABLE
    assert boat.known & BoatInput.EMERGENCY_STOP
    assert not boat.on & BoatInput.EMERGENCY_STOP  # the loop is whole
    assert boat.on & BoatInput.SHORE_CONNECTED
    assert boat.on & BoatInput.HANDSET_OURS
    assert port.handset_thrust_pct == -30.0


def test_commands_become_golden_frames(marsh_map: BoatMap) -> None:
    frames = OutputTable(marsh_map).frames(
        0.0,
        BoatCommand(stop_sources=1, sounder=0, alarms=0x3_0010_0021, charge_limit_a=240.0, derate_pct=62.5),
        (
            ShaftCommand(torque_nm=50.0, current_a=-20.0, permits=0b01001),
            ShaftCommand(torque_nm=-12.3, current_a=60.0, permits=0b00011),
        ),
        2,
        (1, 2),
        BoatStatus(2, 61.5, 4, 480.0, 8, (1 << 39) + 5),
        (ShaftStatus(1, 2, 62.5, 5, 40.0), ShaftStatus()),
    )
    sent = {message.arbitration_id: message.data.hex(" ").upper() for _, message in frames}
    assert sent == {
        0x031: "EA 10 F4 01 38 FF",
        0x032: "14 50 85 FF 58 02",
        0x03A: "B8 10 11 01 00 00",
        0x079: "2D 00 12 F2 0F 60 09 7D",
        0x07B: "81 00 21 00 10 00",
        0x074: "31 20 01 05 7D 90 01 00",
        0x075: "E3 00 00 06 00 00 00 00",
        0x07C: "D6 00 03 00 00 00",
        0x07D: "B9 20 84 67 02 C0 12 00",
        0x07E: "A8 00 05 00 00 00 80 00",
    }
    assert [message.arbitration_id for _, message in frames] == sorted(sent)
    assert all(bus == "private" and not message.is_extended_id for bus, message in frames)
