"""Every shipped procedure runs green on the simulated boat, and a seeded violation makes it fail.

The two demonstrations are run through the command line: tests/cli/test_cli_demo.py.
"""

import hashlib
import json
import math
import platform
from pathlib import Path

import pytest

from sim.bench import NullSink, Procedure, Recorder, load_procedure, parse_procedure, run_procedure
from sim.bench.bind import bind
from sim.bench.rig import Rig
from sim.rig.simulated import SimRig
from sim.rig.targets import targets_for
from supervisor.config import load_config
from supervisor.config.load import resolve_boat
from supervisor.controller.decided import Codes
from supervisor.rules import torque

FOLDER = Path(__file__).resolve().parents[2] / "configs" / "procedures"
DEMOS = ("demo_marsh_tern", "demo")
PINNED = Path(__file__).with_name("decisions.json")
PROCEDURES = sorted(path.stem for path in FOLDER.glob("*.toml"))
NEED_MORE = ("handset", "lock_and_clutch", "stop_and_lock")
"""What the single-shaft boat has none of; all others are run on it as well."""
LONG = ("idle_off",)
"""A quarter of an hour of simulated time: run on the single-shaft boat only, with `-m campaign`; tests/rules has it
in less."""


def load(name: str, boat: str = "marsh_tern") -> Procedure:
    return load_procedure(FOLDER / f"{name}.toml", load_config(boat))


class Decided(NullSink):
    """A digest of every tick's decisions: modes, orders, permits, condition words."""

    def __init__(self, rig: SimRig) -> None:
        self._rig = rig
        self._codes = Codes()
        self._digest = hashlib.sha256()

    def tick(self, time_s: float, signals: object) -> None:
        """One tick more."""
        assert self._rig.outcome is not None
        self._digest.update(self._codes.state(self._rig.outcome).to_bytes(4, "big"))

    def text(self) -> str:
        """What it comes to."""
        return self._digest.hexdigest()[:24]


CLOSES_PCT = 0.1
"""What of the energy moved in a run may be unaccounted for."""


def tried(boat: str, procedure: Procedure) -> tuple[list[str], str]:
    """What was not met, and the digest of the decisions. The energy of the simulated boat closes in each of them."""
    rig = SimRig(boat)
    sink = Decided(rig)
    try:
        result = run_procedure(rig, procedure, sink)
    finally:
        rig.close()
    failures = [
        f"step {step.number} {step.name}: {check.expected}; seen {check.seen}"
        for step in result.steps
        for check in step.checks
        if check.verdict != "pass"
    ]
    assert result.energy is not None
    if abs(result.energy.left_over_pct) > CLOSES_PCT:
        failures.append(f"energy: {result.energy.left_over_pct:.3f} % is not accounted for")
    return failures, sink.text()


def failures(boat: str, procedure: Procedure) -> list[str]:
    return tried(boat, procedure)[0]


def here() -> str:
    """Arithmetic that may differ in the last bit: processor, C library, Python."""
    return " ".join([platform.machine(), *platform.libc_ver(), platform.python_version()])


def pinned(boat: str, name: str, digest: str) -> None:
    """A refactoring changes no decision of a shipped procedure. A change of behaviour that is meant changes these, in
    its own commit: `python tests/bench/test_bench_shipped.py` writes them anew."""
    kept = json.loads(PINNED.read_text(encoding="utf-8"))
    if kept["here"] != here():
        pytest.skip(f"decisions were pinned on {kept['here']}, whose arithmetic may differ from {here()}")
    assert kept["decisions"].get(f"{name} on {boat}") == digest


@pytest.mark.parametrize("name", PROCEDURES)
def test_it_loads_and_fits_its_boat(name: str) -> None:
    procedure = load(name)
    assert procedure.purpose, "a procedure says what it is for"
    assert any(step.expect for step in procedure.step), "a procedure expects something"
    rig = SimRig(procedure.boat or "marsh_tern")
    bind(procedure, rig, name)
    rig.close()


@pytest.mark.parametrize("name", [name for name in PROCEDURES if name not in DEMOS and name not in LONG])
def test_it_runs_green(name: str) -> None:
    procedure = load(name)
    boat = procedure.boat or "marsh_tern"
    missed, digest = tried(boat, procedure)
    assert missed == []
    pinned(boat, name, digest)


@pytest.mark.parametrize("name", [
    *(name for name in PROCEDURES if name not in (*DEMOS, *LONG, *NEED_MORE)),
    *(pytest.param(name, marks=pytest.mark.campaign) for name in LONG),
])  # fmt: skip
def test_it_runs_green_on_one_shaft(name: str) -> None:
    missed, digest = tried("reed_warbler", load(name, "reed_warbler"))
    assert missed == []
    pinned("reed_warbler", name, digest)


EVERY_OTHER = [name for name in PROCEDURES if name not in LONG]
QUICK = ("belt_slipping", "astern", "dead_engine_in_gear")


@pytest.mark.parametrize(
    "name", [name if name in QUICK else pytest.param(name, marks=pytest.mark.campaign) for name in EVERY_OTHER]
)
def test_energy_closes_in_steps_of_5_ms_as_well(name: str) -> None:
    procedure = load(name)
    path = resolve_boat(procedure.boat or "marsh_tern")
    config = load_config(path)
    fine = config.model_copy(update={"boat": config.boat.model_copy(update={"tick_s": 0.005})})
    rig = SimRig(fine, file=path)
    try:
        energy = run_procedure(rig, procedure, NullSink()).energy
    finally:
        rig.close()
    assert energy is not None
    assert energy.moved_wh > 0.01
    assert abs(energy.left_over_pct) < CLOSES_PCT


def test_without_its_relief_a_weak_engine_is_pulled_down(monkeypatch: pytest.MonkeyPatch) -> None:
    """The sagging engine is not noticed: charging pulls it below the bound with 40 % of its torque, and with 10 %."""
    monkeypatch.setattr(torque, "sag", lambda lim, state, shaft: 0)
    failed = failures("marsh_tern", load("soft_start"))
    assert {line.split()[1] for line in failed} == {"9", "11"}


@pytest.mark.parametrize("relieved", [True, False])
def test_the_drive_can_stall_a_weak_engine(relieved: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    """At idle in gear, with 10 % of its torque: it stalls when charging does not back off, and only then."""
    if not relieved:
        monkeypatch.setattr(torque, "sag", lambda lim, state, shaft: 0)
    rig = SimRig("marsh_tern")
    try:
        rig.run(2.0)
        rig.act("helm.enable", "press")
        rig.run(2.0)
        rig.act("port.engine", "start")
        rig.run(7.0)
        rig.act("port.gear", "ahead")
        rig.run(8.0)
        rig.set_plant("bank.soc_pct", 50.0)
        rig.inject("engine_weak", "port", torque_pct=10.0)
        rig.act("port.charge", "under_way")
        rig.run(30.0)
        assert (rig.plant.shafts[0].engine.stalled == 0) == relieved
        assert (rig.plant.shafts[0].engine.running == 1) == relieved
    finally:
        rig.close()


SEEDED = [
    # procedure, what stands there, what would be expected of a worse boat, the step that must then fail
    ("permit_withdrawn", "value = 1, never = true, after_s = 0.2 }", "value = -5, never = true, after_s = 0.2 }", 6),
    ("soft_start", 'value = "limits.charge_rise_a_per_s", tol', 'value = "limits.charge_rise_a_per_s - 0.5", tol', 5),
    ("trip_and_reset", 'value = "STANDBY", within_s = 0.2', 'value = "READY", within_s = 0.2', 7),
    ("neutral_before_enable", 'value = "NEUTRAL_WAIT", for_s = 0.48', 'value = "NEUTRAL_WAIT", for_s = 0.6', 7),
    ("handset", "limits.handset_thrust_pct / 100 + 1", "limits.handset_thrust_pct / 100 - 1", 7),
]


@pytest.mark.parametrize(("name", "old", "new", "step"), SEEDED, ids=[row[0] for row in SEEDED])
def test_a_seeded_violation_fails(name: str, old: str, new: str, step: int) -> None:
    """The bound moved to just the wrong side of what the boat does: that step fails, and no other."""
    text = (FOLDER / f"{name}.toml").read_text()
    assert old in text
    failed = failures("marsh_tern", parse_procedure(text.replace(old, new), name, load_config("marsh_tern")))
    assert failed
    assert {line.split()[1] for line in failed} == {str(step)}


def test_a_boat_that_misbehaves_fails() -> None:
    """Not the expectation is seeded but the fault: a drive that goes on with 40 N m whatever is ordered. The supervisor
    isolates its shaft when the order has gone to zero, so that the thrust expected last does not come."""
    text = (FOLDER / "lost_lever.toml").read_text()
    ready = 'name = "Enable with every lever in neutral"\n'
    assert ready in text
    fault = 'inject = [{ fault = "drive_disobeys", target = "port", torque_nm = 40 }]\n'
    failed = failures("marsh_tern", parse_procedure(text.replace(ready, ready + fault), "p", load_config("marsh_tern")))
    assert any(line.startswith("step 7 ") and "; seen ISOLATED" in line for line in failed), failed


@pytest.mark.parametrize("boat", ["marsh_tern", "reed_warbler"])
def test_the_simulated_boat_keeps_the_benchs_contract(boat: str) -> None:
    """Complete signals before the first step, none ever new; every operator target is known or refused in words."""
    rig = SimRig(boat)
    assert isinstance(rig, Rig)
    before = rig.signals()
    for _ in range(50):
        rig.step()
    after = rig.signals()
    assert list(after) == list(before)
    assert [type(v) is str for v in after.values()] == [type(v) is str for v in before.values()]
    refusals: list[str] = []
    for target, kind in targets_for(tuple(rig.shafts)).items():
        value: float | bool | str = kind.words[0] if kind.words else False if kind.contact else 0.0
        try:
            rig.act(target, value)
        except ValueError as refusal:
            refusals.append(str(refusal))
    assert all(len(refusal.split()) > 3 for refusal in refusals), "a refusal is a sentence"
    for target in rig.plant_targets():
        rig.set_plant(target, 10.0)
    rig.close()


def test_the_same_run_twice_is_the_same_to_the_last_bit() -> None:
    runs = []
    for _ in range(2):
        rig, recorder = SimRig("marsh_tern"), Recorder(0.0)
        result = run_procedure(rig, load("trip_and_reset"), recorder)
        rig.close()
        rows = [tuple("nan" if value != value else value for value in row) for row in recorder.rows]  # noqa: PLR0124
        runs.append((rows, recorder.events, result._replace(wall_s=0.0)))
    assert runs[0] == runs[1]
    assert not math.isnan(runs[0][2].sim_s)


def test_the_end_of_an_alarm_is_not_taken_for_its_coming() -> None:
    """An alarm that was there before the step and ends in it is `gone`, not `alarm`."""
    away = 'name = "withdrawn"\ninject = [{ fault = "permit_withdrawn", target = "monitor", permit = "charge" }]\n'
    back = 'name = "back"\nclear = [{ fault = "permit_withdrawn", target = "monitor" }]\n'
    text = f"""
title = "t"
[[step]]
name = "cold"
wait_s = 2
[[step]]
name = "on"
do.helm.enable = "press"
expect = [{{ signal = "boat.mode", value = "READY", within_s = 3 }}]
[[step]]
{away}wait_s = 1
expect = [{{ event = "alarm", says = "withdrawn its charge permit" }}]
[[step]]
{back}wait_s = 1
expect = [
    {{ event = "gone", says = "withdrawn its charge permit" }},
    {{ event = "alarm", says = "withdrawn its charge permit", never = true }},
]
"""
    assert failures("reed_warbler", parse_procedure(text, "t")) == []


if __name__ == "__main__":
    decisions = {}
    for one in PROCEDURES:
        boats = ["marsh_tern", *(["reed_warbler"] if one not in (DEMOS[0], *NEED_MORE) else [])]
        for boat_name in boats if one not in (DEMOS[1], *LONG) else boats[1:]:
            decisions[f"{one} on {boat_name}"] = tried(boat_name, load(one, boat_name))[1]
    found = {"here": here(), "decisions": dict(sorted(decisions.items()))}
    PINNED.write_text(json.dumps(found, indent=1) + "\n", encoding="utf-8")
