"""The whole proof of the shipped boats, and its command."""

import subprocess
import sys
from pathlib import Path

import pytest

from sim.prove import Proof, prove_boat
from sim.prove.claims_boat import BOAT_CLAIMS
from sim.prove.claims_source import SHAFT_CLAIMS
from sim.prove.prover import prove_tables, step_claims
from sim.prove.report import report_lines
from sim.prove.solver.claims import Plan
from sim.prove.solver.kept import Kept
from sim.prove.steps import prove_steps
from sim.requirements import BY_ID, REGISTER
from supervisor.config import load_config
from supervisor.controller import freeze
from supervisor.modes import BOAT_TABLE, SHAFT_TABLE, BoatCondition, PermitCondition, ShaftCondition

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture(scope="module")
def proof() -> Proof:
    """Tables, product and reachability whole; of the claims on steps, those on how bits are formed."""
    config = load_config("marsh_tern")
    boat = freeze(config)
    tables = prove_tables(BOAT_TABLE, SHAFT_TABLE, boat.shafts[0], boat.limits.neutral_s, len(boat.shafts))
    formed = [claim for claim in step_claims(config) if claim.forms]
    steps = prove_steps(config, formed, Plan(20.0, None, 1), Kept(config.boat.name, read=False))
    return tables._replace(shown=(*tables.shown, *steps.shown))


def test_marsh_tern_is_not_refuted(proof: Proof) -> None:
    assert [(one.requirement, one.claim, one.counterexample) for one in proof.failed()] == []


def test_the_forming_of_every_bit_is_claimed_and_most_of_it_decided_in_time(proof: Proof) -> None:
    """All of it by `thwart prove`, which takes the time that it needs."""
    words = (("boat", BoatCondition), ("shaft", ShaftCondition), ("permit", PermitCondition))
    every = {f"{word}.{bit.name}" for word, kind in words for bit in kind}
    claims = step_claims(load_config("marsh_tern"))
    assert every <= {claim.forms for claim in claims}
    forming = {claim.name for claim in claims if claim.forms}
    decided = {one.claim for one in proof.shown if one.claim in forming and one.proven}
    assert len(decided) >= 0.9 * len(forming), sorted(forming - decided)


def test_every_requirement_is_claimed_or_says_why_not() -> None:
    claims = [*BOAT_CLAIMS, *SHAFT_CLAIMS, *step_claims(load_config("marsh_tern"))]
    claimed = {claim.requirement for claim in claims}
    assert claimed <= {*BY_ID, ""}
    for requirement in REGISTER:
        assert requirement.id in claimed or requirement.instead, requirement.id


def test_the_report_names_every_requirement(proof: Proof) -> None:
    text = "\n".join(report_lines(proof, every_claim=True))
    for requirement in REGISTER:
        assert f"{requirement.id} {requirement.title}" in text
    assert "REFUTED" not in text
    assert "words or cases" in text


@pytest.mark.campaign
@pytest.mark.parametrize("boat", ["marsh_tern", "reed_warbler"])
def test_nothing_of_a_shipped_boat_is_refuted(boat: str) -> None:
    failed = prove_boat(load_config(boat)).failed()
    assert [(one.requirement, one.claim, one.counterexample) for one in failed] == []


def test_a_boat_without_shafts_proves_nothing_and_says_so() -> None:
    proof = prove_boat(load_config("house_bank_24v"))
    assert proof.shown == ()
    assert "no shaft" in proof.notes[0]


def test_other_verbs_do_not_wait_for_the_prover() -> None:
    """The command line loads every verb's parser: that must not load numba."""
    code = "import sys, sim.prove.cli; sys.exit('numba' in sys.modules or 'numpy' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], cwd=ROOT, check=False, timeout=60).returncode == 0


def thwart(*args: str) -> subprocess.CompletedProcess[str]:
    code = (
        "import argparse, sys; from sim.prove import cli; p = argparse.ArgumentParser();"
        "s = p.add_subparsers(); cli.add_parser(s); a = p.parse_args(sys.argv[1:]); sys.exit(a.run(a))"
    )
    return subprocess.run(
        [sys.executable, "-c", code, *args], cwd=ROOT, capture_output=True, text=True, check=False, timeout=240
    )


def test_the_matrix_is_written_where_asked(tmp_path: Path) -> None:
    done = thwart("prove", "marsh_tern", "--matrix", str(tmp_path / "m"))
    assert done.returncode == 0, done.stderr
    assert sorted(path.name for path in (tmp_path / "m").iterdir()) == [
        "boat.md", "boat.svg", "conditions.md", "permits.md", "shaft.md", "shaft.svg",
    ]  # fmt: skip
    assert len(done.stdout.splitlines()) == 6


def test_a_refuted_proof_has_status_1(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    import argparse

    from sim.prove import cli, prover
    from sim.prove.result import Count, Shown

    broken = Proof(
        "marsh_tern",
        (Shown("SR-10", "a claim", "table", "no torque with a diver", 8, "", "PROPEL stays PROPEL, while: ..."),),
        (Count("shaft table", 6, 8, 0.1),), (), "numpy",
    )  # fmt: skip
    monkeypatch.setattr(prover, "prove_boat", lambda _config, **_: broken)
    args = argparse.Namespace(config="marsh_tern", matrix=None, every_claim=False, quick=True, anew=False, workers=1)
    assert cli.run(args) == 1
    said = capsys.readouterr().out
    assert "SR-10 Diver in the water: REFUTED" in said
    assert "PROPEL stays PROPEL" in said
    assert "REFUTED: 1 of 1 claims fail" in said
