"""docs/bus.md says what the DBC files say."""

import re
from pathlib import Path
from typing import Any

import pytest
from bus_keys import keys_of, plain

from supervisor.bus import BoatMap, MessageCodec, load_dbc

ROOT = Path(__file__).resolve().parents[2]
TEXT = (ROOT / "docs" / "bus.md").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def guarded() -> dict[str, MessageCodec]:
    return load_dbc(ROOT / "configs" / "dbc" / "guarded.dbc")


def test_every_message_with_its_numbers(guarded: dict[str, MessageCodec]) -> None:
    rows = re.findall(r"^\| 0x(\w+) \| (\w+) \| \w+ \| (\d+) \| (\d+) \| 0x(\w+) \|", TEXT, re.MULTILINE)
    documented = {
        name: (int(identifier, 16), int(size), int(period) / 1000, int(data_id, 16))
        for identifier, name, size, period, data_id in rows
    }
    assert documented == {
        name: (codec.arbitration_id, codec.length, codec.period_s, codec.data_id) for name, codec in guarded.items()
    }


def test_every_layout(guarded: dict[str, MessageCodec]) -> None:
    sections = re.findall(r"^\*\*(\w+)\*\*\n\n((?:\|.*\n?)+)", TEXT, re.MULTILINE)
    layouts: dict[str, dict[str, tuple[Any, ...]]] = {}
    for title, table in sections:
        rows = re.findall(
            r"^\| (\w+) \| (\d+)/(\d+)( signed)? \| ([\d.e+-]+) \| ([\d.e+-]+) \| (\S+) to (\S+) \| ([^|]*) \|",
            table,
            re.M,
        )
        layout = {
            name: (
                int(start),
                int(bits),
                bool(sign),
                float(scale),
                float(offset),
                float(low),
                float(high),
                unit.strip(),
            )
            for name, start, bits, sign, scale, offset, low, high, unit in rows
        }
        for name in [title] if not title.endswith("_n") else [f"{title[:-1]}{n}" for n in (1, 2, 3, 4)]:
            layouts[name] = layout
    assert set(layouts) == set(guarded)
    for name, codec in guarded.items():
        expected = {
            signal.name: (
                signal.shift, signal.bits, signal.signed, signal.scale, signal.offset, signal.low, signal.high,
                signal.unit,
            )
            for signal in codec.signals.values()
            if signal.name not in ("Crc", "Counter")
        }  # fmt: skip
        shown = {
            key: (*row[:5], float(f"{row[5]:g}"), float(f"{row[6]:g}"), row[7]) for key, row in layouts[name].items()
        }
        rounded = {key: (*row[:5], float(f"{row[5]:g}"), float(f"{row[6]:g}"), row[7]) for key, row in expected.items()}
        assert shown == rounded, name


def test_every_key_in_the_boat_file(marsh_map: BoatMap, reed_map: BoatMap, house_map: BoatMap) -> None:
    """Beside each signal stands the key under which the boats that ship map it, "not mapped" where none does."""
    mapped = keys_of((marsh_map, reed_map, house_map))
    shown: dict[tuple[str, str], str] = {}
    for title, table in re.findall(r"^\*\*(\w+)\*\*\n\n((?:\|.*\n?)+)", TEXT, re.MULTILINE):
        for signal, key in re.findall(r"^\| (\w+) \| \d.* \| ([^|]*) \|$", table, re.MULTILINE):
            of_shaft = key.endswith(", shaft")
            shown[plain(title, signal, of_shaft)] = key
    for message, keys in re.findall(r"^\| `\w+\.dbc` \| (\w+) \|.* \| ([^|]*) \|$", TEXT, re.MULTILINE):
        found = re.findall(r"(\w+): (`.*?)(?=; \w+: |$)", keys)
        assert found or keys == "not mapped", message
        shown |= {plain(message, signal, key.endswith(", shaft")): key for signal, key in found}
    shown = {signal: key for signal, key in shown.items() if key != "not mapped"}
    there = {codec for boat in (marsh_map, reed_map, house_map) for bus in boat.messages.values() for codec in bus}
    assert shown == {one: key for one, key in mapped.items() if one[0] in there or one[0].endswith("_n")}


@pytest.mark.parametrize(
    ("boat", "frames", "load_pct", "worst_pct"), [("marsh_map", 9.5, 19, 23), ("reed_map", 5.6, 11, 14)]
)
def test_bus_load(request: pytest.FixtureRequest, boat: str, frames: float, load_pct: float, worst_pct: float) -> None:
    """Frames and load of the private bus as documented: 250 kbit/s is 5000 bits a tick of 20 ms.

    Bits of a frame: 34 (54 with a 29-bit identifier) that may be stuffed and 13 that may not, and the data; at most one
    stuff bit after each four but the first (Davis et al. 2007, from memory).
    """
    boat_map: BoatMap = request.getfixturevalue(boat)
    periods = {row.message.name: row.message.period_s for row in boat_map.inputs if row.bus == "private"}
    periods |= {name: period_s or 0.02 for (_, name), period_s in boat_map.periods.items()}
    count = plain = worst = 0.0
    for name, period_s in periods.items():
        codec = boat_map.messages["private"][name]
        stuffable = (54 if codec.is_extended else 34) + 8 * codec.length
        count += 0.02 / period_s
        plain += (stuffable + 13) / period_s
        worst += (stuffable + 13 + (stuffable - 1) // 4) / period_s
    assert count == pytest.approx(frames, abs=0.05)
    assert plain / 2500 == pytest.approx(load_pct, abs=0.5)
    assert worst / 2500 == pytest.approx(worst_pct, abs=0.5)
    assert f"| {frames:.1f} | {load_pct} % | {worst_pct} % |" in TEXT
