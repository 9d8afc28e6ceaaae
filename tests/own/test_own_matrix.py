"""The cause-and-effect matrix of a boat lists its own interlocks, with what each does in each mode."""

from pathlib import Path
from typing import Any

from own_boat import LADDER, SEAL, boat_data, write_boat

from sim.prove.cli import add_parser
from sim.prove.matrix import matrix_files
from sim.prove.matrix_own import own_page
from supervisor.config import load_config, parse_config


def page(*entries: dict[str, Any]) -> str:
    return own_page(parse_config(boat_data(*entries), "boat.toml"))


def cells(text: str, words: str) -> list[str]:
    (row,) = (line for line in text.splitlines() if line.startswith(f"| {words} |"))
    return [cell.strip() for cell in row.strip("|").split("|")][1:]


def test_a_boat_without_any_has_no_page() -> None:
    assert page() == ""
    assert "own.md" not in matrix_files()
    assert "own.md" not in matrix_files(load_config("marsh_tern"))


def test_where_it_comes_from_and_when_it_is_bad() -> None:
    text = page(LADDER | {"shafts": ["port"]}, SEAL)
    assert cells(text, "swim_ladder") == [
        "swim ladder is up", "swim ladder is down", "DECK.Ladder on private", "off", "0.2 s", "bad", "stop_thrust",
        "port",
    ]  # fmt: skip
    assert "80 or more, until 70 or less" in cells(text, "shaft_seal")
    assert "- a shaft seal is hot: thrust within 40 % of rated torque and power ahead" in text


def test_what_it_does_in_each_mode() -> None:
    """REST, PROPEL, GENERATE, HARVEST, UNLOAD, ISOLATED; retyped from docs/interlocks.md."""
    stop = page(LADDER)
    assert cells(stop, "swim ladder is down")[:3] == ["bars PROPEL", "REST, disarms", "."]
    assert cells(stop, "swim ladder is down")[4] == "REST, disarms"
    ramp = page(LADDER | {"effect": "ramp_thrust"})
    assert cells(ramp, "swim ladder is down")[1] == "UNLOAD, disarms"
    trip = cells(page(LADDER | {"effect": "trip_shaft"}), "swim ladder is down")
    assert trip == ["ISOLATED, disarms"] * 5 + ["bars REST"]
    boat = cells(page(LADDER | {"effect": "trip_boat"}), "swim ladder is down")
    assert boat == ["bars NEUTRAL_WAIT", "TRIPPED", "TRIPPED", "bars STANDBY"]
    assert cells(page(LADDER | {"effect": "inhibit_charge"}), "swim ladder is down")[2:4] == [".", "."]


def test_words_cannot_break_the_table() -> None:
    assert "a \\| b" in page(LADDER | {"bad": "a | b"})


def test_the_command_writes_it(tmp_path: Path) -> None:
    import argparse

    file = write_boat(tmp_path, LADDER)
    parser = argparse.ArgumentParser()
    add_parser(parser.add_subparsers())
    args = parser.parse_args(["prove", str(file), "--matrix", str(tmp_path / "matrix")])
    assert args.run(args) == 0
    assert "swim ladder is down" in (tmp_path / "matrix" / "own.md").read_text(encoding="utf-8")
