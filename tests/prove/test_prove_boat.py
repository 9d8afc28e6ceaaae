"""The whole proof of the shipped boats, and its command."""

import subprocess
import sys
from pathlib import Path

import pytest

from sim.prove import Proof, prove_boat
from sim.prove.numeric_index import NUMERIC_CLAIMS
from sim.prove.report import report_lines
from sim.requirements import BY_ID, REGISTER
from supervisor.config import load_config

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture(scope="module")
def proof() -> Proof:
    return prove_boat(load_config("marsh_tern"))


def test_marsh_tern_is_proven(proof: Proof) -> None:
    assert [(one.requirement, one.claim, one.counterexample) for one in proof.failed()] == []


def test_every_requirement_is_proven_or_says_why_not(proof: Proof) -> None:
    claimed = {one.requirement for one in proof.shown}
    assert claimed <= set(BY_ID)
    for requirement in REGISTER:
        assert (requirement.id in claimed) != bool(requirement.instead), requirement.id


def test_the_index_of_numeric_claims_is_current(proof: Proof) -> None:
    found = {(one.requirement, one.claim) for one in proof.shown if one.how in ("numeric", "reach")}
    assert set(NUMERIC_CLAIMS) == found


def test_numbers_are_looked_at_in_bulk(proof: Proof) -> None:
    """No grid has shrunk to nothing."""
    cases = {one.claim: one.cases for one in proof.shown if one.how == "numeric"}
    assert all(cases.values())
    assert cases["charge limit over charge_limit_a"] > 50_000
    assert cases["engine headroom"] > 100_000
    assert cases["thrust grows by the slew"] > 20_000


def test_the_report_names_every_requirement(proof: Proof) -> None:
    text = "\n".join(report_lines(proof, every_claim=True))
    for requirement in REGISTER:
        assert f"{requirement.id} {requirement.title}" in text
    assert "REFUTED" not in text
    assert "words or cases" in text


@pytest.mark.campaign
@pytest.mark.parametrize("boat", ["reed_warbler"])
def test_other_boats_are_proven(boat: str) -> None:
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
    assert sorted(path.name for path in (tmp_path / "m").iterdir()) == ["boat.md", "boat.svg", "shaft.md", "shaft.svg"]
    assert len(done.stdout.splitlines()) == 4


def test_a_refuted_proof_has_status_1(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    import argparse

    from sim.prove import cli, prover
    from sim.prove.result import Count, Shown

    broken = Proof(
        "marsh_tern",
        (Shown("SR-10", "a claim", "table", "no torque with a diver", 8, "", "PROPEL stays PROPEL, while: ..."),),
        (Count("shaft table", 6, 8, 0.1),), (), "numpy",
    )  # fmt: skip
    monkeypatch.setattr(prover, "prove_boat", lambda _config: broken)
    args = argparse.Namespace(config="marsh_tern", matrix=None, every_claim=False)
    assert cli.run(args) == 1
    said = capsys.readouterr().out
    assert "SR-10 Diver in the water: REFUTED" in said
    assert "PROPEL stays PROPEL" in said
    assert "REFUTED: 1 of 1 claims fail" in said
