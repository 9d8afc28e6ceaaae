"""A real NMEA 2000 recording, field by field against an independent decoder (PyPI nmea2000)."""

from pathlib import Path

import pytest

from supervisor.bus import BoatMap, InputTable
from supervisor.bus.faults import Bad
from supervisor.bus.n2k import FastPackets, split_id
from supervisor.signals import BoatInput

RECORDING = Path(__file__).resolve().parents[3] / "shared/data/recordings/n2k-bank-24v.log"

pytestmark = pytest.mark.skipif(
    not RECORDING.is_file(), reason="recording n2k-bank-24v.log is not at ../shared/data/recordings beside the checkout"
)

Frame = tuple[float, int, bytes, str]

FIELDS = {
    127508: {"Instance": "instance", "Voltage": "voltage", "Current": "current", "Temperature": "temperature",
             "Sid": "sid"},
    127506: {"Sid": "sid", "Instance": "instance", "DcType": "dcType", "StateOfCharge": "stateOfCharge",
             "StateOfHealth": "stateOfHealth", "TimeRemaining": "timeRemaining", "RippleVoltage": "rippleVoltage",
             "RemainingCapacity": "remainingCapacity"},
}  # fmt: skip
NAMES = {127508: "BATTERY_STATUS", 127506: "DC_DETAILED_STATUS"}


@pytest.fixture(scope="module")
def frames() -> list[Frame]:
    result = []
    for line in RECORDING.read_text(encoding="ascii").splitlines():
        stamp, _, frame = line.split()
        identifier, _, data = frame.partition("#")
        result.append((float(stamp.strip("()")), int(identifier, 16), bytes.fromhex(data), line))
    return result


def test_every_battery_message_field_by_field(house_map: BoatMap, frames: list[Frame]) -> None:
    nmea2000 = pytest.importorskip("nmea2000")
    theirs = nmea2000.NMEA2000Decoder()
    bad: list[Bad] = []
    packets = FastPackets(lambda _pgn, reason: bad.append(reason))
    seen = {127508: 0, 127506: 0}
    absent = 0
    for time_s, identifier, data, line in frames:
        pgn = split_id(identifier).pgn
        if pgn not in seen:
            continue
        message = theirs.decode(line)
        ours = data if pgn == 127508 else packets.feed(identifier, data, time_s)
        assert (message is None) == (ours is None), line
        if ours is None or message is None:
            continue
        seen[pgn] += 1
        decoded = house_map.messages["backbone"][NAMES[pgn]].decode(ours)
        fields = {field.id: field for field in message.fields}
        for our_name, their_name in FIELDS[pgn].items():
            value, other = decoded[our_name], fields[their_name].raw_value
            if their_name == "dcType" and other == 255:
                other = None  # a look-up code to them, all ones to us
            absent += value is None
            assert value == (None if other is None else pytest.approx(other, rel=1e-12)), (line, our_name)
    assert seen == {127508: 1308, 127506: 436}
    assert absent > 0
    assert bad == []


def test_what_the_house_bank_reads(house_map: BoatMap, frames: list[Frame]) -> None:
    """Least and most of the live bank as the recording's own description gives them."""
    table = InputTable(house_map)
    start_s = frames[0][0]
    low = dict.fromkeys(("soc_pct", "voltage_v", "current_a", "cell_hot_c", "cell_cold_c"), 1e9)
    high = dict.fromkeys(low, -1e9)
    wanted = int(
        BoatInput.SOC | BoatInput.VOLTAGE | BoatInput.CURRENT | BoatInput.CELL_HOT | BoatInput.CELL_COLD
    )  # fmt: skip
    unknown_after_start = 0
    now_s = 0.0
    for time_s, identifier, data, _ in frames:
        # Split fast packets overlap the frames after them by some milliseconds; the boat's clock never runs back.
        now_s = max(now_s, time_s - start_s)
        table.feed("backbone", identifier, True, data, now_s)
        if split_id(identifier).pgn not in (127508, 127506):
            continue
        boat, shafts = table.snapshot(now_s)
        assert shafts == ()
        if boat.known & wanted != wanted:
            unknown_after_start += now_s > 3.0
            continue
        for name in low:
            low[name] = min(low[name], getattr(boat, name))
            high[name] = max(high[name], getattr(boat, name))
    assert unknown_after_start == 0
    assert (low["voltage_v"], high["voltage_v"]) == (pytest.approx(26.56), pytest.approx(26.58))
    assert (low["current_a"], high["current_a"]) == (pytest.approx(-6.6), pytest.approx(15.9))
    assert (low["cell_hot_c"], high["cell_hot_c"]) == (pytest.approx(28.12), pytest.approx(28.46))
    assert (low["cell_cold_c"], high["cell_cold_c"]) == (low["cell_hot_c"], high["cell_hot_c"])
    assert (low["soc_pct"], high["soc_pct"]) == (73.0, 73.0)
    assert table.counts("backbone", "BATTERY_STATUS") == {}
    assert table.counts("backbone", "DC_DETAILED_STATUS") == {}
    last_s = now_s
    boat, _ = table.snapshot(last_s + 6.5)
    assert boat.known == 0
    assert boat.voltage_v == 0.0
    assert "no good frame" in table.why_unknown(-1, BoatInput.VOLTAGE, last_s + 6.5)
