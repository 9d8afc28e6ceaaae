"""What `thwart check` says of own interlocks: propulsion that is left, thresholds, periods, wires."""

import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from own_boat import BILGE, LADDER, ROOT, SEAL, boat_data, write_boat

from supervisor.bus import compile_boat
from supervisor.bus.own_checks import own_findings
from supervisor.config import Finding, check_config, load_config, parse_config

STARTER = LADDER | {"name": "starter", "bad": "starter is barred", "good": "starter is free", "message": "PLAIN",
                    "stale_s": 0.4, "effect": "inhibit_engine_start"}  # fmt: skip


def findings(*entries: dict[str, Any], boat: str = "marsh_tern") -> list[Finding]:
    config = parse_config(boat_data(*entries, boat=boat), "boat.toml")
    return [finding for finding in check_config(config) if finding.key.startswith("interlock")]


def against_dbc(folder: Path, entry: dict[str, Any]) -> list[Finding]:
    file = write_boat(folder, entry)
    config = load_config(file)
    return list(own_findings(config, compile_boat(config, file)))


class TestPropulsionLeft:
    TAKES = ("inhibit_thrust", "stop_thrust", "ramp_thrust", "stop_both", "trip_shaft", "trip_boat")
    ENDS = ("stop_thrust", "ramp_thrust", "stop_both", "trip_shaft", "trip_boat")

    @pytest.mark.parametrize("effect", TAKES)
    def test_an_effect_that_takes_thrust_from_every_shaft(self, effect: str) -> None:
        (found,) = findings(LADDER | {"effect": effect})
        assert (found.level, found.key) == ("note", "interlock.swim_ladder.effect")
        assert '"swim ladder is down", or its signal unknown: no electric thrust is left' in found.problem
        assert ("running thrust ends" in found.problem) == (effect in self.ENDS)
        assert "an engine may still be started on port, starboard" in found.problem

    @pytest.mark.parametrize(
        "effect", ["warn", "inhibit_charge", "unload_charge", "stop_charge", "inhibit_engine_start"]
    )
    def test_an_effect_that_takes_none(self, effect: str) -> None:
        assert findings(LADDER | {"effect": effect}) == []

    def test_a_limit_leaves_some(self) -> None:
        assert findings(SEAL) == []

    def test_one_shaft_of_two(self) -> None:
        assert findings(LADDER | {"shafts": ["port"]}) == []
        assert len(findings(LADDER | {"shafts": ["port", "starboard"]})) == 1

    def test_thrust_and_engine_start_from_one_box(self) -> None:
        both = findings(LADDER | {"message": "PLAIN"}, STARTER)
        assert [one.level for one in both] == ["warning", "note"]
        assert both[0].problem == (
            "when PLAIN falls silent, swim_ladder, starter together leave no electric thrust and no engine start"
        )

    def test_from_two_boxes_on_one_bus(self) -> None:
        warnings = [one for one in findings(LADDER, STARTER) if one.level == "warning"]
        assert [one.problem for one in warnings] == [
            "when bus private is lost, swim_ladder, starter together leave no electric thrust and no engine start"
        ]

    def test_from_two_buses_bad_at_once(self) -> None:
        notes = findings(LADDER | {"bus": "backbone"}, STARTER)
        assert any("when all of them are bad at once" in one.problem and one.level == "note" for one in notes)

    def test_shafts_that_share_the_loss(self) -> None:
        port, starboard = LADDER | {"name": "a", "shafts": ["port"]}, STARTER | {"shafts": ["port"]}
        assert findings(port, starboard) == []

    def test_the_same_words_twice(self) -> None:
        (found,) = findings(SEAL, SEAL | {"name": "other_seal"})
        assert (found.level, found.key) == ("warning", "interlock.other_seal.bad")
        assert "says the same as that of interlock.shaft_seal" in found.problem


class TestAgainstTheFile:
    def test_a_plain_one_has_nothing_to_say(self, tmp_path: Path) -> None:
        assert against_dbc(tmp_path, LADDER) == []

    def test_the_frame_rule_is_said_with_its_time(self, tmp_path: Path) -> None:
        """Three frames at 100 ms, 0.2 s of debounce, two ticks: (3 - 1) x 0.1 + 0.2 + 0.04 = 0.44 s."""
        (found,) = against_dbc(tmp_path, LADDER | {"message": "PLAIN", "stale_s": 0.4})
        assert (found.level, found.key) == ("note", "interlock.swim_ladder.message")
        assert "PLAIN has no counter and checksum, and stop_thrust ends running thrust or charging" in found.problem
        assert "after 3 frames in a row from one source say the same, up to 0.44 s after the first" in found.problem

    def test_not_for_what_ends_nothing(self, tmp_path: Path) -> None:
        assert against_dbc(tmp_path, BILGE | {"message": "PLAIN", "stale_s": 0.4}) == []

    def test_any_source(self, tmp_path: Path) -> None:
        seal = {key: value for key, value in SEAL.items() if key != "limit_pct"}
        seal |= {"message": "SEAL", "signal": "Temp", "stale_s": 0.4, "effect": "stop_thrust"}
        found = against_dbc(tmp_path / "any", seal)
        assert [(one.level, one.key) for one in found] == [
            ("note", "interlock.shaft_seal.message"), ("warning", "interlock.shaft_seal.source"),
        ]  # fmt: skip
        assert len(against_dbc(tmp_path / "one", seal | {"source": 4})) == 1

    @pytest.mark.parametrize(("debounce_s", "said"), [(0.0, False), (0.05, True), (0.099, True), (0.1, False)])
    def test_a_debounce_shorter_than_the_period(self, tmp_path: Path, debounce_s: float, said: bool) -> None:
        found = against_dbc(tmp_path, BILGE | {"message": "PLAIN", "stale_s": 0.4, "debounce_s": debounce_s})
        assert [one.key for one in found] == (["interlock.bilge.debounce_s"] if said else [])

    @pytest.mark.parametrize(
        ("changes", "key", "words"),
        [
            ({"bad_above": 200.1}, "bad_above", "200.1 degC is out of reach: DECK.SealTemp runs from -40 to 200 degC"),
            ({"bad_above": 120.0, "high": 110.0}, "bad_above", "runs from -40 to 110 degC, so that it is never bad"),
            ({"bad_above": -40.0}, "bad_above", "-40 degC leaves nothing good"),
            ({"bad_above": 80.0, "hysteresis": 121.0}, "hysteresis", "good again only at -41 degC, out of reach"),
            ({"bad_above": 80.0, "hysteresis": 0.05}, "hysteresis", "0.05 degC is less than one step of the signal"),
            ({"bad_above": 393.0, "factor": 1.8, "offset": 32.0}, "bad_above", "runs from -40 to 392 degC"),
        ],
    )
    def test_thresholds_upwards(self, tmp_path: Path, changes: dict[str, Any], key: str, words: str) -> None:
        (found,) = against_dbc(tmp_path, SEAL | changes)
        assert found.key == f"interlock.shaft_seal.{key}"
        assert found.level == ("note" if "less than" in words else "error")
        assert words in found.problem

    @pytest.mark.parametrize(
        ("bad_below", "hysteresis", "key"),
        [(-0.5, 1.0, "bad_below"), (100.0, 1.0, "bad_below"), (95.0, 6.0, "hysteresis")],
    )
    def test_thresholds_downwards(self, tmp_path: Path, bad_below: float, hysteresis: float, key: str) -> None:
        tank = {name: value for name, value in SEAL.items() if name not in ("bad_above", "limit_pct")}
        tank |= {"signal": "Tank", "bad_below": bad_below, "hysteresis": hysteresis, "effect": "warn"}
        (found,) = against_dbc(tmp_path, tank)
        assert (found.level, found.key) == ("error", f"interlock.shaft_seal.{key}")

    def test_the_ends_themselves_can_be_used(self, tmp_path: Path) -> None:
        assert against_dbc(tmp_path, SEAL | {"bad_above": 200.0, "hysteresis": 240.0}) == []

    def test_an_open_circuit_reads_good(self, tmp_path: Path) -> None:
        (found,) = against_dbc(tmp_path, LADDER | {"good_when": "off"})
        assert (found.level, found.key) == ("warning", "interlock.swim_ladder.good_when")
        assert "a broken wire reads off as well" in found.problem
        assert against_dbc(tmp_path, LADDER | {"good_when": "off", "effect": "warn"}) == []


class TestCommand:
    def check(self, folder: Path, *entries: dict[str, Any]) -> subprocess.CompletedProcess[str]:
        file = write_boat(folder, *entries)
        return subprocess.run(
            [sys.executable, "-m", "sim.cli", "check", str(file)],
            cwd=ROOT, capture_output=True, text=True, check=False,
        )  # fmt: skip

    def test_it_is_printed(self, tmp_path: Path) -> None:
        done = self.check(tmp_path, LADDER | {"message": "PLAIN", "stale_s": 0.4})
        assert done.returncode == 0
        assert "note: interlock.swim_ladder.effect" in done.stdout
        assert "3 frames in a row from one source say the same" in done.stdout

    def test_an_error_refuses(self, tmp_path: Path) -> None:
        done = self.check(tmp_path, SEAL | {"bad_above": 300.0})
        assert done.returncode == 1
        assert "interlock.shaft_seal.bad_above: 300 degC is out of reach" in done.stderr

    def test_a_mistake_cannot_be_read(self, tmp_path: Path) -> None:
        done = self.check(tmp_path, LADDER | {"effect": "stop_trust"})
        assert done.returncode == 2
        assert "interlock.swim_ladder.effect: 'stop_trust' is not allowed. Did you mean stop_thrust?" in done.stderr
        assert "Traceback" not in done.stderr
