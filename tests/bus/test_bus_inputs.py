"""Frames that must move an input, and frames that must not: every kind of bad frame, freshness, absence."""

import math
from pathlib import Path
from typing import Any

import pytest
from bus_support import Sender, compile_data
from hypothesis import given, settings
from hypothesis import strategies as st

from supervisor.bus import BoatMap, InputTable
from supervisor.bus.e2e import protect
from supervisor.bus.faults import Bad
from supervisor.signals import BOAT, SHAFT_INPUTS, BoatInput, ShaftInput

PORT, STARBOARD = 0, 1
LEVER = {"Neutral": 0, "Position": 40.0, "OutOfService": 0, "ChargeUnderWay": 0, "ChargeAtRest": 0, "Harvest": 0}


def lever_pct(table: InputTable, now_s: float) -> float | None:
    _, shafts = table.snapshot(now_s)
    return shafts[PORT].lever_pct if shafts[PORT].known & ShaftInput.LEVER else None


def test_nothing_is_known_before_anything_was_heard(table: InputTable) -> None:
    boat, shafts = table.snapshot(0.0)
    assert boat.known == boat.on == 0
    assert all(shaft.known == shaft.on == 0 for shaft in shafts)
    assert boat.own == (0, 0, (0.0,) * 16)
    assert all(value == 0.0 for record in (boat[:-1], *shafts) for value in record)


@pytest.mark.sr("SR-47")
def test_the_second_guarded_frame_counts(sender: Sender, table: InputTable) -> None:
    sender.send("LEVER_1", LEVER, 1.00)
    assert lever_pct(table, 1.00) is None
    assert "first frame after the start or a gap" in table.why_unknown(PORT, ShaftInput.LEVER, 1.00)
    sender.send("LEVER_1", LEVER, 1.04)
    assert lever_pct(table, 1.04) == 40.0
    assert table.why_unknown(PORT, ShaftInput.LEVER, 1.04) == ""


def test_each_shaft_hears_its_own(sender: Sender, table: InputTable) -> None:
    sender.twice("LEVER_1", LEVER, 1.0)
    sender.twice("LEVER_2", LEVER | {"Position": -7.5}, 1.0)
    _, shafts = table.snapshot(1.0)
    assert (shafts[PORT].lever_pct, shafts[STARBOARD].lever_pct) == (40.0, -7.5)


# ---- freshness: LEVER_1 is stale after 0.16 s in marsh_tern.toml


@pytest.mark.sr("SR-47")
@pytest.mark.parametrize(("age_s", "known"), [(0.0, True), (0.16, True), (0.161, False), (60.0, False), (-0.01, False)])
def test_fresh_until_stale_and_never_from_the_future(
    sender: Sender, table: InputTable, age_s: float, known: bool
) -> None:
    sender.twice("LEVER_1", LEVER | {"Neutral": 1}, 8.0)
    _, shafts = table.snapshot(8.0 + age_s)
    assert bool(shafts[PORT].known & ShaftInput.LEVER) == known
    assert bool(shafts[PORT].on & ShaftInput.LEVER_NEUTRAL) == known
    assert shafts[PORT].lever_pct == (40.0 if known else 0.0)


def test_stale_is_explained_with_its_age(sender: Sender, table: InputTable) -> None:
    sender.twice("LEVER_1", LEVER, 8.0)
    words = table.why_unknown(PORT, ShaftInput.LEVER_NEUTRAL, 9.2)
    assert words.startswith("no good frame for 1.20 s, 0.16 s allowed: LEVER_1 0x041 on bus private")
    assert table.ages(9.2)["port.lever.neutral"] == pytest.approx(1.2)
    assert table.ages(9.2)["starboard.lever.neutral"] is None
    assert "in the future" in table.why_unknown(PORT, ShaftInput.LEVER, 7.0)


def test_what_is_missing_is_told_by_key_and_age_those_of_one_message_together(
    sender: Sender, table: InputTable
) -> None:
    sender.send("LEVER_1", LEVER, 7.96)
    sender.send("LEVER_1", LEVER, 8.0)
    lever = [(PORT, int(ShaftInput.LEVER)), (PORT, int(ShaftInput.LEVER_NEUTRAL))]
    assert table.why_missing(lever, 8.1) == ""
    assert table.why_missing(lever, 8.2) == (
        "port lever.lever_pct, port lever.neutral: no good frame for 0.20 s, 0.16 s allowed: "
        "LEVER_1 0x041 on bus private"
    )
    more = [*lever, (BOAT, int(BoatInput.CHARGE_LIMIT)), (STARBOARD, int(ShaftInput.LEVER))]
    told = table.why_missing(more, 8.2).split("; ")
    assert told[1] == "bank.charge_limit_a: no frame yet: MONITOR_GUARD 0x012 on bus private"
    assert told[2] == "starboard lever.lever_pct: no frame yet: LEVER_2 0x042 on bus private"
    every = [(PORT, int(spec.bit)) for spec in SHAFT_INPUTS]
    told = table.why_missing(every, 8.2).split("; ")
    assert "and 4 more: no good frame" in told[0]
    assert len(told) == 4
    assert told[3].endswith(" reasons more")


def test_the_same_payload_again_keeps_it_fresh(sender: Sender, table: InputTable) -> None:
    for step in range(20):
        sender.send("LEVER_1", LEVER, step * 0.1)
    assert lever_pct(table, 1.95) == 40.0
    sender.send("LEVER_1", LEVER | {"Position": 41.0}, 2.0)
    assert lever_pct(table, 2.0) == 41.0


# ---- bad frames: counted under their reason, and nothing moves


def _bad(sender: Sender, table: InputTable, data: bytes | bytearray, reason: Bad) -> None:
    """A good lever at 40 %, then a bad frame that says something else: the lever stays, grows stale, is counted."""
    before = table.counts("private", "LEVER_1").get(reason, 0)
    sender.raw("LEVER_1", data, 5.04)
    assert lever_pct(table, 5.04) == 40.0
    assert lever_pct(table, 5.15) == 40.0
    assert lever_pct(table, 5.17) is None
    assert table.counts("private", "LEVER_1")[reason] == before + 1


@pytest.fixture
def good(sender: Sender) -> Sender:
    sender.twice("LEVER_1", LEVER, 5.0)
    return sender


AWAY = LEVER | {"Position": -99.0}


@pytest.mark.sr("SR-47")
def test_short(good: Sender, table: InputTable) -> None:
    _bad(good, table, good.bytes_of("LEVER_1", AWAY)[:4], Bad.SHORT)


def test_empty(good: Sender, table: InputTable) -> None:
    _bad(good, table, b"", Bad.SHORT)


@pytest.mark.sr("SR-47")
def test_long(good: Sender, table: InputTable) -> None:
    _bad(good, table, good.bytes_of("LEVER_1", AWAY) + b"\0", Bad.LONG)


@pytest.mark.sr("SR-47")
def test_corrupt(good: Sender, table: InputTable) -> None:
    data = good.bytes_of("LEVER_1", AWAY)
    data[3] ^= 0x10
    _bad(good, table, data, Bad.CRC)
    assert "bad checksum" in table.why_unknown(PORT, ShaftInput.LEVER, 5.3)


@pytest.mark.sr("SR-47")
def test_masquerade_of_the_other_lever(good: Sender, table: InputTable) -> None:
    _bad(good, table, good.bytes_of("LEVER_2", AWAY), Bad.CRC)


@pytest.mark.sr("SR-47")
def test_repeated(good: Sender, table: InputTable) -> None:
    data = good.bytes_of("LEVER_1", LEVER)
    good.raw("LEVER_1", data, 5.0)
    _bad(good, table, data, Bad.REPEATED)


@pytest.mark.sr("SR-47")
def test_counter_jump(good: Sender, table: InputTable) -> None:
    good.counters["LEVER_1"] = (good.counters["LEVER_1"] + 3) % 15  # three lost: a step of four
    _bad(good, table, good.bytes_of("LEVER_1", AWAY), Bad.COUNTER)


def test_two_lost_frames_are_bridged(good: Sender, table: InputTable) -> None:
    good.counters["LEVER_1"] = (good.counters["LEVER_1"] + 2) % 15
    good.send("LEVER_1", AWAY, 5.12)
    assert lever_pct(table, 5.12) == -99.0


@pytest.mark.sr("SR-47")
def test_out_of_range_is_not_used_and_the_rest_of_the_frame_is(good: Sender, table: InputTable) -> None:
    data = good.bytes_of("LEVER_1", LEVER | {"Neutral": 1})
    data[2:4] = (10100).to_bytes(2, "little")  # 101 %
    protect(data, 0xB541, good.counters["LEVER_1"])
    _bad(good, table, data, Bad.OUT_OF_RANGE)
    _, shafts = table.snapshot(5.17)
    assert shafts[PORT].on & ShaftInput.LEVER_NEUTRAL
    assert "out of its plausible range (Position in LEVER_1" in table.why_unknown(PORT, ShaftInput.LEVER, 5.17)


def test_a_lasting_wild_reading_grows_stale(good: Sender, table: InputTable) -> None:
    for step in range(1, 10):
        data = good.bytes_of("LEVER_1", LEVER)
        data[2:4] = (-10100 & 0xFFFF).to_bytes(2, "little")
        protect(data, 0xB541, good.counters["LEVER_1"])
        good.raw("LEVER_1", data, 5.0 + step * 0.04)
        assert (lever_pct(table, 5.0 + step * 0.04) == 40.0) == (step <= 4)
    good.send("LEVER_1", LEVER, 5.4)
    assert lever_pct(table, 5.4) == 40.0


def test_not_available_is_unknown_at_once(good: Sender, table: InputTable) -> None:
    good.send("LEVER_1", LEVER | {"Position": None, "Neutral": None}, 5.04)
    _, shafts = table.snapshot(5.04)
    assert not shafts[PORT].known & (ShaftInput.LEVER | ShaftInput.LEVER_NEUTRAL)
    assert shafts[PORT].known & ShaftInput.OUT_OF_SERVICE
    assert shafts[PORT].lever_pct == 0.0
    assert table.counts("private", "LEVER_1")[Bad.NOT_AVAILABLE] == 2
    assert table.why_unknown(PORT, ShaftInput.LEVER, 5.04).startswith("sender says not available (Position")
    good.send("LEVER_1", LEVER, 5.08)
    assert lever_pct(table, 5.08) == 40.0


def test_contact_in_error_is_unknown_at_once(good: Sender, table: InputTable) -> None:
    good.send("LEVER_1", LEVER | {"Neutral": 1}, 5.04)
    data = good.bytes_of("LEVER_1", LEVER)
    data[1] = data[1] & 0xCF | 0x20  # code 2
    protect(data, 0xB541, data[1] & 15)
    good.raw("LEVER_1", data, 5.08)
    _, shafts = table.snapshot(5.08)
    assert not (shafts[PORT].known | shafts[PORT].on) & ShaftInput.LEVER_NEUTRAL


def test_after_a_lost_bus_the_first_frame_is_not_used(good: Sender, table: InputTable) -> None:
    table.restart_bus("private")
    good.send("LEVER_1", AWAY, 5.04)
    assert lever_pct(table, 5.04) == 40.0
    good.send("LEVER_1", AWAY, 5.08)
    assert lever_pct(table, 5.08) == -99.0


@pytest.mark.sr("SR-47")
def test_after_a_silence_the_first_frame_is_not_used(good: Sender, table: InputTable) -> None:
    """Stale at 0.16 s: whatever comes after that, even in sequence, is checked against the frame after it."""
    good.send("LEVER_1", AWAY, 5.15)
    assert lever_pct(table, 5.15) == -99.0
    good.send("LEVER_1", LEVER, 5.40)
    assert lever_pct(table, 5.40) is None
    assert table.counts("private", "LEVER_1") == {Bad.INITIAL: 2}
    good.send("LEVER_1", LEVER, 5.44)
    assert lever_pct(table, 5.44) == 40.0


def test_corrupt_frames_do_not_break_a_silence(good: Sender, table: InputTable) -> None:
    bad = good.bytes_of("LEVER_1", AWAY)
    bad[0] ^= 0xFF
    for step in range(1, 6):
        good.raw("LEVER_1", bad, 5.0 + step * 0.1)
    good.send("LEVER_1", AWAY, 5.55)
    assert lever_pct(table, 5.55) is None
    assert table.counts("private", "LEVER_1") == {Bad.CRC: 5, Bad.INITIAL: 2}


def test_looking_changes_nothing(good: Sender, table: InputTable) -> None:
    assert lever_pct(table, 9.0) is None
    assert lever_pct(table, 5.0) == 40.0


def test_foreign_frames_are_counted(table: InputTable) -> None:
    table.feed("private", 0x041, True, bytes(5), 0.0)  # 29-bit 0x41 is not our 11-bit 0x41
    table.feed("private", 0x7FF, False, bytes(8), 0.0)
    table.feed("backbone", 0x041, False, bytes(5), 0.0)  # our identifier on the other bus
    report = table.report()
    assert report["private"]["foreign"] == 2
    assert report["backbone"]["foreign"] == 1


def test_unknown_bus_is_our_callers_fault(table: InputTable) -> None:
    with pytest.raises(KeyError):
        table.feed("nowhere", 1, False, b"", 0.0)


def test_remote_error_and_fd_frames_are_counted(table: InputTable) -> None:
    import can

    table.take("private", can.Message(arbitration_id=0x41, is_remote_frame=True, is_extended_id=False), 0.0)
    table.take("private", can.Message(arbitration_id=4, is_error_frame=True), 0.0)
    table.take("private", can.Message(arbitration_id=0x41, is_fd=True, is_extended_id=False, data=bytes(5)), 0.0)
    assert table.report()["private"]["noted"] == {"remote frame": 1, "error frame": 1, "CAN FD frame": 1}
    assert table.report()["private"]["frames"] == 0


# ---- unguarded frames


STATUS_1 = {"Instance": 1, "Priority": 120, "Voltage": 52.1, "Current": 30.0}


def test_rvc_current_counts_into_the_bank(sender: Sender, table: InputTable) -> None:
    sender.send("DC_SOURCE_STATUS_1", STATUS_1, 1.0)
    boat, _ = table.snapshot(1.0)
    assert boat.voltage_v == pytest.approx(52.1)
    assert boat.current_a == pytest.approx(-30.0)


def test_rvc_trap_keeps_the_current_unknown(sender: Sender, table: InputTable) -> None:
    """13.1 V and -2,000,000 A, read in an open decoder's sample: the voltage is used, the current cannot be."""
    sender.raw("DC_SOURCE_STATUS_1", bytes.fromhex("0114060100000000"), 1.0)
    boat, _ = table.snapshot(1.0)
    assert boat.voltage_v == pytest.approx(13.1)
    assert not boat.known & BoatInput.CURRENT
    assert boat.current_a == 0.0
    assert table.counts("private", "DC_SOURCE_STATUS_1") == {Bad.OUT_OF_RANGE: 1}


def test_other_instance_is_not_ours(sender: Sender, table: InputTable) -> None:
    sender.send("DC_SOURCE_STATUS_1", STATUS_1 | {"Instance": 2}, 1.0)
    boat, _ = table.snapshot(1.0)
    assert boat.known == 0
    assert "not with the wanted where and source" in table.why_unknown(BOAT, BoatInput.VOLTAGE, 1.0)


def test_engines_are_told_apart_by_instance(sender: Sender, table: InputTable) -> None:
    for _ in range(3):  # without a guard three have to agree: test_bus_reports
        sender.send("ENGINE_RAPID", {"Instance": 0, "Speed": 900}, 1.0, "backbone")
        sender.send("ENGINE_RAPID", {"Instance": 1, "Speed": 1700}, 1.0, "backbone")
    _, shafts = table.snapshot(1.0)
    assert [shaft.engine_speed_rpm for shaft in shafts] == [900.0, 1700.0]


@pytest.mark.parametrize(("code", "gear"), [(0, 1.0), (1, 0.0), (2, -1.0), (3, None)])
def test_coded_gear(sender: Sender, table: InputTable, code: int, gear: float | None) -> None:
    for _ in range(3):
        sender.raw("TRANSMISSION", bytes([1, 0xFC | code, *[0xFF] * 6]), 1.0, "backbone")
    _, shafts = table.snapshot(1.0)
    assert not shafts[PORT].known & ShaftInput.GEAR_REPORT
    assert bool(shafts[STARBOARD].known & ShaftInput.GEAR_REPORT) == (gear is not None)
    assert shafts[STARBOARD].gear_report == (gear or 0.0)


def test_priority_and_source_may_differ(sender: Sender, table: InputTable) -> None:
    data = sender.bytes_of("ENGINE_RAPID", {"Instance": 0, "Speed": 900}, "backbone")
    for _ in range(3):
        table.feed("backbone", 0x05F20000 | 0x77, True, data, 1.0)
    _, shafts = table.snapshot(1.0)
    assert shafts[PORT].engine_speed_rpm == 900.0
    messages: Any = table.report()["backbone"]["messages"]
    assert messages["ENGINE_RAPID"]["sources"] == [0x77]


@pytest.mark.sr("SR-47")
def test_wrong_source_is_counted_and_not_used(marsh_data: Any) -> None:
    data = marsh_data()
    data["inputs"]["bank.voltage_v"]["source"] = 0x80
    boat_map = compile_data(data)
    table = InputTable(boat_map)
    frame = Sender(boat_map, table).bytes_of("DC_SOURCE_STATUS_1", STATUS_1)
    table.feed("private", 0x19FFFD42, True, frame, 1.0)
    assert not table.snapshot(1.0)[0].known & BoatInput.VOLTAGE
    assert table.snapshot(1.0)[0].known & BoatInput.CURRENT  # no source asked for
    assert table.counts("private", "DC_SOURCE_STATUS_1") == {Bad.WRONG_SOURCE: 1}
    assert "wrong source" in table.why_unknown(BOAT, BoatInput.VOLTAGE, 1.0)
    table.feed("private", 0x19FFFD80, True, frame, 1.0)
    assert table.snapshot(1.0)[0].voltage_v == pytest.approx(52.1)


# ---- derived and assumed


@pytest.mark.parametrize(
    ("code", "known", "ours"), [(87, True, True), (86, True, False), (0, True, False), (None, False, False)]
)
def test_handset_is_ours_by_its_pairing_code(
    sender: Sender, table: InputTable, code: int | None, known: bool, ours: bool
) -> None:
    """marsh_tern's handset_id is 87."""
    sender.twice("HANDSET", {"Held": 1, "PairingId": code, "Thrust1": 20}, 1.0)
    boat, shafts = table.snapshot(1.0)
    assert bool(boat.known & BoatInput.HANDSET_OURS) == known
    assert bool(boat.on & BoatInput.HANDSET_OURS) == ours
    assert boat.on & BoatInput.HANDSET_HELD
    assert shafts[PORT].handset_thrust_pct == 20.0


def test_stop_loop_is_inverted(sender: Sender, table: InputTable) -> None:
    sender.twice("HELM_CONTACTS", {"StopLoop": 0}, 1.0)
    assert table.snapshot(1.0)[0].on & BoatInput.EMERGENCY_STOP
    sender.send("HELM_CONTACTS", {"StopLoop": 1}, 1.04)
    assert not table.snapshot(1.04)[0].on & BoatInput.EMERGENCY_STOP


def test_not_fitted_takes_the_register_s_value(reed_map: BoatMap) -> None:
    """Without a clutch the shaft is always closed, without a lock always free; air-cooled is never hot."""
    boat, (shaft,) = InputTable(reed_map).snapshot(0.0)
    assert shaft.on == ShaftInput.CLUTCH_CLOSED | ShaftInput.LOCK_RELEASED
    assert shaft.known == (
        ShaftInput.CLUTCH_CLOSED | ShaftInput.CLUTCH_OPEN | ShaftInput.LOCK_RELEASED | ShaftInput.LOCK_ENGAGED
        | ShaftInput.HANDSET_THRUST | ShaftInput.COOLANT_TEMP | ShaftInput.CHARGE_AT_REST | ShaftInput.HARVEST
        | ShaftInput.STOP_AND_LOCK
    )  # fmt: skip
    assert shaft.coolant_c == 20.0
    assert boat.known == BoatInput.HANDSET_HELD | BoatInput.HANDSET_OURS | BoatInput.HANDSET_MINUTES
    assert boat.on == 0


def test_what_the_runtime_sets(table: InputTable) -> None:
    assert table.why_unknown(BOAT, BoatInput.RECEIVE_OK, 0.0) == "not yet measured by the supervisor"
    table.set_contact(BoatInput.RECEIVE_OK, True)
    assert table.snapshot(0.0)[0].on == table.snapshot(0.0)[0].known == BoatInput.RECEIVE_OK
    table.set_contact(BoatInput.RECEIVE_OK, False)
    boat, _ = table.snapshot(0.0)
    assert (boat.known, boat.on) == (BoatInput.RECEIVE_OK, 0)
    with pytest.raises(ValueError, match="comes from the bus"):
        table.set_contact(BoatInput.ENABLE, True)


def test_not_mapped_is_explained(house_map: BoatMap) -> None:
    assert InputTable(house_map).why_unknown(BOAT, BoatInput.CELL_MAX, 0.0) == "not mapped in the boat file"


# ---- devices of one's own: floats, big-endian, coded contacts, multiplexed, short forms


OWN = """VERSION ""
NS_ :
BS_:
BU_: X
BO_ 1024 OWN_FLOAT: 8 X
 SG_ Volts : 0|32@1- (1,0) [0|0] "V" X
 SG_ Hot : 39|16@0- (0.1,0) [-40|125] "degC" X
 SG_ Kind : 48|8@1+ (1,0) [0|0] "" X

BO_ 1026 OWN_GEAR: 4 X
 SG_ Crc : 0|8@1+ (1,0) [0|0] "" X
 SG_ Counter : 8|4@1+ (1,0) [0|0] "" X
 SG_ Gear : 16|8@1+ (1,0) [0|0] "" X
 SG_ Ahead : 24|1@1+ (1,0) [0|0] "" X

BO_ 2566845696 OWN_GROUP: 8 X
 SG_ Crc : 0|8@1+ (1,0) [0|0] "" X
 SG_ Counter : 8|4@1+ (1,0) [0|0] "" X
 SG_ Closed : 16|2@1+ (1,0) [0|0] "" X

BO_ 1025 OWN_MUX: 4 X
 SG_ Page M : 0|8@1+ (1,0) [0|0] "" X
 SG_ Top m0 : 8|16@1+ (0.001,0) [0|0] "V" X
 SG_ Bottom m1 : 8|16@1+ (0.001,0) [0|0] "V" X

BA_DEF_ BO_ "GuardDataId" INT 0 65535;
BA_DEF_DEF_ "GuardDataId" 0;
BA_DEF_ BO_ "VFrameFormat" ENUM "StandardCAN","ExtendedCAN","reserved","J1939PG";
BA_DEF_DEF_ "VFrameFormat" "StandardCAN";
BA_ "VFrameFormat" BO_ 2566845696 3;
BA_ "GuardDataId" BO_ 2566845696 4712;
BA_ "GuardDataId" BO_ 1026 4711;
SIG_VALTYPE_ 1024 Volts : 1;
VAL_ 1026 Gear 9 "Not available" ;
"""


@pytest.fixture
def own(tmp_path: Path, marsh_data: Any) -> InputTable:
    (tmp_path / "own.dbc").write_text(OWN, encoding="utf-8")
    data = marsh_data()
    data["buses"]["private"]["dbc"].append(str(tmp_path / "own.dbc"))

    def row(message: str, signal: str, **more: Any) -> dict[str, Any]:
        return {"bus": "private", "message": message, "signal": signal, "stale_s": 1.0, **more}

    data["inputs"]["bank.voltage_v"] = row("OWN_FLOAT", "Volts")
    data["inputs"]["bank.cell_hot_c"] = row("OWN_FLOAT", "Hot", where={"Kind": 5})
    data["inputs"]["bank.cell_max_v"] = row("OWN_MUX", "Top")
    data["inputs"]["bank.cell_min_v"] = row("OWN_MUX", "Bottom")
    gear = {"4": 0.0, "5": 1.0, "6": 0.0}
    data["shaft"][0]["inputs"]["gearbox.neutral"] = row("OWN_GEAR", "Gear", values=gear)
    data["shaft"][0]["inputs"]["gearbox.ahead"] = row("OWN_GEAR", "Gear", values=gear, invert=True)
    data["shaft"][0]["inputs"]["engine.running"] = row("OWN_GEAR", "Ahead")
    data["inputs"]["bank.contactor_closed"] = row("OWN_GROUP", "Closed", source=0x21)
    return InputTable(compile_data(data))


@pytest.mark.sr("SR-47")
def test_guarded_group_from_the_wrong_source(own: InputTable) -> None:
    """A second sender of the same guarded group, in step with the counter and saying the same, is still not used."""
    for step, source in enumerate((0x21, 0x21, 0x22, 0x22)):
        data = bytearray([0, 0, 1, 0, 0, 0, 0, 0])
        protect(data, 4712, step)
        own.feed("private", 2566845696 - 0x80000000 | source, True, data, 1.0 + step * 0.5)
    assert own.counts("private", "OWN_GROUP") == {Bad.INITIAL: 1, Bad.WRONG_SOURCE: 2}
    assert own.snapshot(1.5)[0].on & BoatInput.CONTACTOR_CLOSED
    assert not own.snapshot(2.6)[0].known & BoatInput.CONTACTOR_CLOSED


@pytest.mark.parametrize(
    ("code", "known", "on"), [(4, True, False), (5, True, True), (6, True, False), (7, False, False), (9, False, False)]
)
def test_coded_contact(own: InputTable, code: int, known: bool, on: bool) -> None:
    """A gear selector that reports 4 astern, 5 neutral, 6 ahead, 9 not available; 7 is no code of it."""
    for counter in (0, 1):
        data = bytearray([0, 0, code, 1])
        protect(data, 4711, counter)
        own.feed("private", 1026, False, data, 1.0)
    _, shafts = own.snapshot(1.0)
    assert bool(shafts[PORT].known & ShaftInput.GEAR_NEUTRAL) == known
    assert bool(shafts[PORT].on & ShaftInput.GEAR_NEUTRAL) == on
    assert bool(shafts[PORT].on & ShaftInput.GEAR_AHEAD) == (known and not on)  # mapped with invert
    assert shafts[PORT].on & ShaftInput.ENGINE_RUN
    reason = {7: Bad.NO_SUCH_CODE, 9: Bad.NOT_AVAILABLE}.get(code)
    assert own.counts("private", "OWN_GEAR") == {Bad.INITIAL: 1} | ({reason: 2} if reason is not None else {})


def test_float_and_big_endian(own: InputTable) -> None:
    own.feed("private", 1024, False, bytes.fromhex("0000504200FB0500"), 1.0)  # 52.0 V, 25.1 degC, kind 5
    boat, _ = own.snapshot(1.0)
    assert boat.voltage_v == 52.0
    assert boat.cell_hot_c == pytest.approx(25.1)


@pytest.mark.parametrize("text", ["0000C07F", "0000807F", "000080FF"])  # NaN, +inf, -inf as IEEE 754 singles
def test_not_a_number_never_leaves(own: InputTable, text: str) -> None:
    own.feed("private", 1024, False, bytes.fromhex("0000504200FB0500"), 1.0)
    own.feed("private", 1024, False, bytes.fromhex(text + "00FC0500"), 1.5)
    boat, _ = own.snapshot(1.5)
    assert boat.voltage_v == 52.0  # still the older one
    assert boat.cell_hot_c == pytest.approx(25.2)
    assert own.counts("private", "OWN_FLOAT") == {Bad.NOT_A_NUMBER: 1}
    boat, _ = own.snapshot(2.2)
    assert not boat.known & BoatInput.VOLTAGE
    assert boat.voltage_v == 0.0
    assert "not a number" in own.why_unknown(BOAT, BoatInput.VOLTAGE, 2.2)


def test_where_on_another_signal(own: InputTable) -> None:
    own.feed("private", 1024, False, bytes.fromhex("0000504200FB0400"), 1.0)  # kind 4
    boat, _ = own.snapshot(1.0)
    assert boat.known == BoatInput.VOLTAGE


def test_multiplexed_pages(own: InputTable) -> None:
    own.feed("private", 1025, False, bytes.fromhex("00540D00"), 1.0)
    boat, _ = own.snapshot(1.0)
    assert boat.known == BoatInput.CELL_MAX
    assert boat.cell_max_v == pytest.approx(3.412)
    own.feed("private", 1025, False, bytes.fromhex("013D0D00"), 1.0)
    assert own.snapshot(1.0)[0].cell_min_v == pytest.approx(3.389)
    own.feed("private", 1025, False, bytes.fromhex("02FFFF00"), 1.0)
    assert own.snapshot(1.0)[0].cell_min_v == pytest.approx(3.389)


def test_nine_byte_variant_of_127506(house_map: BoatMap) -> None:
    """FF 00 FF 58 FF FF FF FF FF: 88 %, from the CANboat tests, as a fast packet."""
    table = InputTable(house_map)
    table.feed("backbone", 0x19F21201, True, bytes.fromhex("2009FF00FF58FFFF"), 1.0)
    table.feed("backbone", 0x19F21201, True, bytes.fromhex("21FFFFFFFFFFFFFF"), 1.0)
    assert table.snapshot(1.0)[0].soc_pct == 88.0


def test_too_short_packet_and_lost_packet_are_counted(house_map: BoatMap) -> None:
    table = InputTable(house_map)
    table.feed("backbone", 0x19F21201, True, bytes.fromhex("2006FF00FF58FFFF"), 1.0)
    table.feed("backbone", 0x19F21201, True, bytes.fromhex("41FFFFFFFFFFFFFF"), 1.0)
    assert table.snapshot(1.0)[0].known == 0
    assert table.counts("backbone", "DC_DETAILED_STATUS") == {Bad.SHORT: 1, Bad.PACKET_MISSING: 1}


# ---- whatever arrives


identifiers = st.one_of(
    st.sampled_from([0x12, 0x14, 0x21, 0x22, 0x41, 0x49, 0x51, 0x61, 0x69, 0x71]), st.integers(0, 0x1FFFFFFF)
)
pgn_identifiers = st.sampled_from([0x19FFFD80, 0x19FFFC80, 0x09F20001, 0x09F20501, 0x19F21201, 0x19F21401])


@settings(max_examples=100, deadline=None)
@given(
    st.lists(
        st.tuples(
            st.sampled_from(["private", "backbone"]),
            st.one_of(identifiers, pgn_identifiers),
            st.binary(max_size=8),
            st.floats(0, 1),
        ),
        max_size=40,
    )
)
def test_random_frames_never_raise_and_only_finite_numbers_leave(
    marsh_map: BoatMap, frames: list[tuple[str, int, bytes, float]]
) -> None:
    table = InputTable(marsh_map)
    for bus, identifier, data, time_s in frames:
        table.feed(bus, identifier, identifier > 0x7FF, data, time_s)
    boat, shafts = table.snapshot(1.0)
    for record, numbers in ((boat, boat[2:-1]), *((shaft, shaft[2:]) for shaft in shafts)):
        assert all(math.isfinite(value) for value in numbers)
        assert record.on & ~record.known == 0
        assert all(type(value) is float for value in numbers)
        assert type(record.known) is type(record.on) is int
    # nothing guarded gets in by chance: the first good frame of a message is never used, and none here has two
    for bit in BoatInput:
        table.why_unknown(BOAT, bit, 1.0)
    assert sum(report["frames"] for report in table.report().values() if isinstance(report["frames"], int)) == len(
        frames
    )


delays_s = st.one_of(st.floats(0, 0.1), st.floats(0.17, 10))


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(delays_s, st.integers(0, 255), st.sampled_from([0, 1, 2, 3])), max_size=30))
def test_known_means_fresh_and_within_range(marsh_map: BoatMap, steps: list[tuple[float, int, int]]) -> None:
    """A lever sender that sends anything, guarded well, at any times: known numbers are the last in range, fresh."""
    table = InputTable(marsh_map)
    sender = Sender(marsh_map, table)
    sender.send("LEVER_1", LEVER, 0.0)
    now_s, value, stamp_s = 0.0, 0.0, -1e9
    for delta_s, high, neutral in steps:
        now_s += delta_s
        if delta_s > 0.16:  # after a silence the first frame is not used
            sender.send("LEVER_1", LEVER, now_s)
        data = sender.bytes_of("LEVER_1", {})
        data[1] |= neutral << 4
        data[3] = high
        protect(data, 0xB541, sender.counters["LEVER_1"])
        sender.raw("LEVER_1", data, now_s)
        raw = int.from_bytes(data[2:4], "little", signed=True)
        if raw == -32768:
            stamp_s = -1e9
        elif abs(raw * 0.01) <= 100:
            value, stamp_s = raw * 0.01, now_s
        _, shafts = table.snapshot(now_s)
        shaft = shafts[PORT]
        assert bool(shaft.known & ShaftInput.LEVER) == (now_s - stamp_s <= 0.16)
        if shaft.known & ShaftInput.LEVER:
            assert shaft.lever_pct == pytest.approx(value)
        assert bool(shaft.known & ShaftInput.LEVER_NEUTRAL) == (neutral < 2)
        assert bool(shaft.on & ShaftInput.LEVER_NEUTRAL) == (neutral == 1)


def test_a_gap_that_made_an_input_stale_is_known_with_its_length(marsh_map: BoatMap) -> None:
    table = InputTable(marsh_map)
    sender = Sender(marsh_map, table)
    for number in range(10):
        sender.send("LEVER_1", {"Neutral": 1, "Position": 0.0}, number * 0.04)
    assert table.gaps() == {}
    sender.send("LEVER_1", {"Neutral": 1, "Position": 0.0}, 0.36 + 0.183)
    assert table.gaps() == {("private", "LEVER_1 0x041"): (pytest.approx(0.183), pytest.approx(0.16))}
    assert table.gaps() == {}
