"""The procedure that is written for an own interlock: it passes on the sound product, for every effect and kind of
signal, and the command runs it, keeps it and refuses what it cannot do."""

import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from own_boat import BILGE, LADDER, ROOT, SEAL, write_boat

from sim.bench import NullSink, Result, parse_procedure, run_procedure
from sim.bench.own_procedure import interlock_procedure
from sim.errors import BenchError
from sim.rig.simulated import SimRig
from supervisor.bus import compile_boat
from supervisor.config import load_config
from supervisor.signals import OwnEffect

NUMBER = {key: value for key, value in SEAL.items() if key not in ("limit_pct", "effect")}
TANK = {key: value for key, value in NUMBER.items() if key != "bad_above"} | {
    "name": "tank", "bad": "day tank is low", "good": "day tank is filled", "signal": "Tank", "bad_below": 10.3,
    "hysteresis": 5.0, "debounce_s": 0.2,
}  # fmt: skip


def text_of(file: Path, name: str) -> str:
    config = load_config(file)
    return interlock_procedure(config, compile_boat(config, file), name)


def run(file: Path, name: str) -> Result:
    """The procedure of one interlock, on its simulated boat."""
    procedure = parse_procedure(text_of(file, name), "written")
    rig = SimRig(file)
    try:
        return run_procedure(rig, procedure, NullSink())
    finally:
        rig.close()


def missed(result: Result) -> list[str]:
    return [
        f"step {step.number} {step.name}: {check.expected}; seen {check.seen}"
        for step in result.steps
        for check in step.checks
        if check.verdict != "pass"
    ] + [f"{one.id}: {one.words}" for one in result.violated]


def passes(folder: Path, entry: dict[str, Any], boat: str = "marsh_tern") -> Result:
    result = run(write_boat(folder, entry, boat=boat), entry["name"])
    assert result.passed, "\n".join(missed(result))
    assert result.failures == 0
    held = {one.id: one.held for one in result.judged}
    assert held[f"interlock {entry['name']}"] is True
    return result


QUICK = [effect for effect in OwnEffect if effect not in (
    OwnEffect.UNLOAD_CHARGE, OwnEffect.STOP_CHARGE, OwnEffect.STOP_BOTH)]  # fmt: skip


def more(effect: OwnEffect) -> dict[str, Any]:
    return {"effect": effect.name.lower()} | ({"limit_pct": 40.0} if effect is OwnEffect.LIMIT_THRUST else {})


@pytest.mark.parametrize("effect", QUICK, ids=lambda effect: effect.name)
class TestEveryEffect:
    def test_a_contact_on_all_shafts(self, tmp_path: Path, effect: OwnEffect) -> None:
        passes(tmp_path, LADDER | more(effect))

    def test_a_number_on_one_shaft(self, tmp_path: Path, effect: OwnEffect) -> None:
        boat = effect in (OwnEffect.WARN, OwnEffect.TRIP_BOAT)
        passes(tmp_path, TANK | more(effect) | ({} if boat else {"shafts": ["starboard"]}))


@pytest.mark.parametrize("effect", [OwnEffect.UNLOAD_CHARGE, OwnEffect.STOP_CHARGE, OwnEffect.STOP_BOTH],
                         ids=lambda effect: effect.name)  # fmt: skip
class TestCharging:
    """Longer: a bank has to be charged first."""

    def test_on_a_boat_without_clutch_and_harvest(self, tmp_path: Path, effect: OwnEffect) -> None:
        result = passes(tmp_path, BILGE | more(effect), boat="reed_warbler")
        assert any("charging under way" in step.name or "Charge under way" in step.name for step in result.steps)

    @pytest.mark.campaign
    def test_in_every_way_of_charging(self, tmp_path: Path, effect: OwnEffect) -> None:
        result = passes(tmp_path, TANK | more(effect) | {"shafts": ["port"]})
        names = " ".join(step.name for step in result.steps)
        assert "Charge at rest" in names
        assert "Harvest" in names


@pytest.mark.parametrize(
    "changes",
    [
        {"good_when": "off"},
        {"message": "PLAIN", "stale_s": 0.4},
        {"message": "PLAIN", "signal": "Single", "stale_s": 0.4},
        {"debounce_s": 0.0},
        {"debounce_s": 2.5},
        {"values": {"0": 1.0, "1": 0.0}, "good_when": "off"},
        {"invert": True, "good_when": "off"},
    ],
    ids=str,
)
def test_kinds_of_contacts(tmp_path: Path, changes: dict[str, Any]) -> None:
    passes(tmp_path, LADDER | changes)


def test_a_signal_from_a_29_bit_message_with_source_and_instance(tmp_path: Path) -> None:
    entry = SEAL | {"message": "SEAL", "signal": "Temp", "source": 33, "where": {"Instance": 1}, "stale_s": 0.4}
    passes(tmp_path, entry | {"shafts": ["starboard"], "limit_pct": 20.0})


def test_astern_too(tmp_path: Path) -> None:
    result = passes(tmp_path, SEAL | {"astern": True})
    assert any(step.name == "Full astern: limited as well" for step in result.steps)


def test_unknown_taken_for_good_warns_of_nothing(tmp_path: Path) -> None:
    passes(tmp_path, LADDER | {"effect": "warn", "unknown": "good"})


def test_one_of_several(tmp_path: Path) -> None:
    """The others in the same box are judged by their names as well: it falls silent, and the tank, too, acts after its
    debounce of 0.2 s; the seal's of 1 s is never reached."""
    file = write_boat(tmp_path, SEAL, LADDER, TANK | {"effect": "warn"})
    result = run(file, "swim_ladder")
    assert result.passed, "\n".join(missed(result))
    own = {one.id: one.held for one in result.judged if one.id.startswith("interlock ")}
    assert own == {"interlock shaft_seal": None, "interlock swim_ladder": True, "interlock tank": True}


def test_a_procedure_names_interlocks_that_the_boat_has(tmp_path: Path) -> None:
    text = 'title = "t"\nrequirements = ["interlock swim_lader"]\n[[step]]\nname = "s"\nwait_s = 0.1\n'
    rig = SimRig(write_boat(tmp_path, LADDER))
    try:
        with pytest.raises(BenchError, match="this boat has no interlock 'swim_lader'; it has: swim_ladder"):
            run_procedure(rig, parse_procedure(text, "p.toml"), NullSink(), file="p.toml")
        sound = parse_procedure(text.replace("lader", "ladder"), "p.toml")
        assert run_procedure(rig, sound, NullSink()).passed
    finally:
        rig.close()


class TestCommand:
    def thwart(self, *words: str, cwd: Path) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [sys.executable, "-m", "sim.cli", *words], cwd=cwd, capture_output=True, text=True, check=False,
            env={"PYTHONPATH": str(ROOT), "PATH": "/usr/bin:/bin"},
        )  # fmt: skip

    def test_it_runs_and_keeps_it(self, tmp_path: Path) -> None:
        file = write_boat(tmp_path, LADDER | {"effect": "warn"})
        done = self.thwart("bench", str(file), "--interlock", "swim_ladder", "--write", "ladder.toml", "--no-plot",
                           cwd=tmp_path)  # fmt: skip
        assert done.returncode == 0, done.stdout + done.stderr
        assert "written: ladder.toml" in done.stdout
        assert "PASS" in done.stdout
        kept = (tmp_path / "ladder.toml").read_text(encoding="utf-8")
        assert kept == text_of(file, "swim_ladder")
        verdict = (tmp_path / "runs" / "ladder-marsh_tern-1" / "verdict.md").read_text(encoding="utf-8")
        assert "| **interlock swim_ladder** | held |" in verdict
        again = self.thwart("bench", str(file), "ladder.toml", "--no-plot", cwd=tmp_path)
        assert again.returncode == 0

    @pytest.mark.parametrize(
        ("words", "says"),
        [
            (["--interlock", "swim_lader"], "no interlock 'swim_lader' in this boat file; it has: swim_ladder"),
            (
                ["derate", "--interlock", "swim_ladder"],
                "give a procedure (derate) or --interlock swim_ladder, not both",
            ),
            (["derate", "--write", "x.toml"], "--write keeps the procedure of --interlock NAME"),
            ([], "no procedure is named"),
            (["--interlock", "swim_ladder", "--write", "deck.dbc"], "this file is there already, and is another one"),
        ],
    )
    def test_what_it_refuses(self, tmp_path: Path, words: list[str], says: str) -> None:
        file = write_boat(tmp_path, LADDER)
        done = self.thwart("bench", str(file), *words, cwd=tmp_path)
        assert done.returncode == 2
        assert says in done.stderr
        assert "Traceback" not in done.stderr

    def test_a_boat_without_any(self) -> None:
        with pytest.raises(BenchError, match="it has: none"):
            text_of(ROOT / "configs" / "marsh_tern.toml", "swim_ladder")
