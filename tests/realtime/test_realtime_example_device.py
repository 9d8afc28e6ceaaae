"""The guide's worked example: an invented monitor with its own DBC file, mapped, decoded, and run end to end."""

import re
import time
from pathlib import Path

import cantools
import pytest
from hub.process import Hub
from orders import DRIVE_A_1, readings
from processes import ROOT, stand_in, supervisor, under_way

from supervisor.bus import InputTable, compile_boat
from supervisor.config import load_config
from supervisor.signals import BOAT, BoatInput

BOAT_FILE = ROOT / "docs" / "examples" / "example_tender.toml"
GUIDE = (ROOT / "docs" / "adapters.md").read_text(encoding="utf-8")


def table() -> InputTable:
    return InputTable(compile_boat(load_config(BOAT_FILE), BOAT_FILE))


def test_the_guides_frame_says_what_the_guide_says() -> None:
    """0x143C = 5180 hundredths; 0xFF83 = -125 tenths out of the bank; 0x02BC = 700 tenths. Written by hand."""
    found = re.search(
        r"`EX_PACK` bytes `([0-9A-F ]+)` then mean 51\.80 V, .* 12\.5 A \*into\* the bank, and 70\.0 %", GUIDE
    )
    assert found is not None
    inputs = table()
    inputs.feed("private", 0x300, False, bytes.fromhex(found[1]), 1.0)
    boat, _ = inputs.snapshot(1.0)
    assert (boat.voltage_v, boat.current_a, boat.soc_pct) == pytest.approx((51.80, 12.5, 70.0))


def test_kelvin_and_cells_against_cantools() -> None:
    database = cantools.database.load_file(ROOT / "configs" / "dbc" / "example_monitor.dbc")
    data = database.encode_message(
        "EX_CELLS", {"HighestCell": 3.3456, "LowestCell": 3.2988, "HottestCell": 298.15, "ColdestCell": 278.65}
    )
    inputs = table()
    inputs.feed("private", 0x301, False, data, 1.0)
    boat, _ = inputs.snapshot(1.0)
    assert (boat.cell_max_v, boat.cell_min_v) == pytest.approx((3.3456, 3.2988))
    assert (boat.cell_hot_c, boat.cell_cold_c) == pytest.approx((25.0, 5.5))


def test_absent_and_implausible_are_no_numbers() -> None:
    inputs = table()
    inputs.feed("private", 0x300, False, bytes.fromhex("FFFF 8000 FFFF FF 00"), 1.0)
    boat, _ = inputs.snapshot(1.0)
    assert boat.known & (BoatInput.VOLTAGE | BoatInput.CURRENT | BoatInput.SOC) == 0
    inputs.feed("private", 0x300, False, bytes.fromhex("0BB8 0000 02BC C8 00"), 1.1)  # 30.00 V on a 51 V bank
    boat, _ = inputs.snapshot(1.1)
    assert boat.known & BoatInput.VOLTAGE == 0
    assert "plausible" in inputs.why_unknown(BOAT, BoatInput.VOLTAGE, 1.1)


def test_the_guide_quotes_the_boat_file() -> None:
    text = BOAT_FILE.read_text(encoding="utf-8")
    quoted = re.findall(r'^"bank\.[a-z_]+" = \{.*\}$', GUIDE, re.MULTILINE)
    assert len(quoted) == 3
    for line in quoted:
        assert line in text


def test_end_to_end_on_the_hub(hub: Hub, tmp_path: Path) -> None:
    boat = str(BOAT_FILE)
    with supervisor(hub, tmp_path / "run", boat=boat) as supervised, stand_in(hub, boat=boat) as standing:
        under_way(supervised, standing, shaft="main")
        time.sleep(1.0)
        assert readings(hub, DRIVE_A_1)[-1].values["Torque"] > 5.0
        pack = [one for one in hub.wire() if one.arbitration_id == 0x300 and not one.is_extended]
        assert len(pack) > 20
        assert int.from_bytes(pack[-1].data[2:4], "big", signed=True) > 0  # discharging: positive out of the bank
        assert supervised.end() == 0
