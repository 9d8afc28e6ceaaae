"""Claims held against evaluators: on the real rules and on broken ones, the two never disagree on a tick."""

import sys
from pathlib import Path
from typing import Any

import pytest
from boatyard.own import own_config

from sim.cli import main
from sim.prove import parity, prover
from sim.prove.claims_boat import BOAT_CLAIMS
from sim.prove.claims_numbers import NUMBER_CLAIMS
from sim.prove.claims_own import effect_claims
from sim.prove.claims_source import SHAFT_CLAIMS
from sim.prove.forming import forming_claims
from sim.prove.parity import Parity, compare, idle_tables
from sim.prove.rests_on import Claims, claims_with
from sim.prove.result import Proof
from sim.prove.streams import frozen
from sim.requirements import JUDGES
from supervisor.config import BoatConfig, load_config

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "testing"))
from defects import DEFECTS, Defect

CONFIGS = {
    "marsh_tern": load_config("marsh_tern"),
    "reed_warbler": load_config("reed_warbler"),
    "own interlocks": own_config(),
}


def claims_of(config: BoatConfig) -> Claims:
    return claims_with((*forming_claims(config), *effect_claims(config), *NUMBER_CLAIMS))


def compared(name: str, seed: int, ticks: int, judges: Any = JUDGES) -> Parity:
    config = CONFIGS[name]
    return compare(config, frozen(config), claims_of(config), seed, ticks, judges)


# --- the real rules

TICKS = {"marsh_tern": 5_000, "reed_warbler": 5_000, "own interlocks": 5_000}


@pytest.mark.parametrize("name", TICKS)
def test_they_agree(name: str) -> None:
    """Fifteen thousand ticks together: wandering, with one thing wrong, one not heard, one forged."""
    found = compared(name, 19, TICKS[name])
    assert found.disagreements == ()
    assert found.ticks >= TICKS[name]
    assert len(found.violations) >= 10  # there was something to agree on
    assert len(found.broken) >= 4
    BROKEN[name] = set(found.broken)


BROKEN: dict[str, set[str]] = {}
"""The claims that forged decisions broke, by boat."""


def test_forged_decisions_break_claims_of_many_kinds() -> None:
    for name, ticks in TICKS.items():
        BROKEN.setdefault(name, set(compared(name, 19, ticks).broken))
    assert len(set.union(*BROKEN.values())) >= 8


def test_that_were_ten_thousand_and_more() -> None:
    assert sum(TICKS.values()) >= 10_000


@pytest.mark.campaign
@pytest.mark.parametrize("seed", range(10))
def test_they_agree_on_a_million(seed: int) -> None:
    for name, share in TICKS.items():
        found = compared(name, 1000 + seed, 7 * share)
        assert found.disagreements == (), name


# --- broken rules

LOUD = {
    "reset into READY": "SR-04", "neutral bit dropped": "SR-01", "emergency stop forgotten": "SR-03",
    "lock interlock missing": "SR-07", "stale lever is neutral": "SR-38", "soft start ten times too fast": "SR-20",
    "generating torque sign flipped": "SR-23", "REARMED never cleared": "SR-05", "torque slew too steep": "SR-24",
    "disobey timeout ten times too long": "SR-32", "reversal without dwell": "SR-25",
    "diver lockout forgotten": "SR-10",
}  # fmt: skip


@pytest.mark.parametrize("defect", [one for one in DEFECTS if one.name in LOUD], ids=lambda one: one.name)
def test_they_agree_on_broken_rules(defect: Defect, monkeypatch: pytest.MonkeyPatch) -> None:
    defect.seed(monkeypatch)
    assert compared("marsh_tern", 5, 1_200).disagreements == ()


@pytest.mark.campaign
@pytest.mark.parametrize("defect", DEFECTS, ids=lambda one: one.name)
def test_they_agree_on_every_broken_rule(defect: Defect, monkeypatch: pytest.MonkeyPatch) -> None:
    defect.seed(monkeypatch)
    found = compared("marsh_tern", 5, 20_000)
    assert found.disagreements == ()
    if defect.name in LOUD:
        assert LOUD[defect.name] in found.violations


# --- who is silent is noticed


def test_a_judge_that_forgets_a_cause_is_noticed() -> None:
    """A claim is broken, and its evaluator sees nothing."""
    deaf = [type(kind.__name__, (kind,), {"judge": lambda self, scene: None}) if kind.identifier == "SR-02" else kind
            for kind in JUDGES]  # fmt: skip
    found = compared("marsh_tern", 17, 800, deaf)
    assert {one.requirement for one in found.disagreements} == {"SR-02"}
    assert all(one.claim for one in found.disagreements)


def test_prove_says_no_more_than_that_when_they_disagree(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """`thwart prove` asks both at its end: a judge that forgets a cause is printed, and its status is not 0."""
    sound = compare
    deaf = [type(kind.__name__, (kind,), {"judge": lambda self, scene: None}) if kind.identifier == "SR-02" else kind
            for kind in JUDGES]  # fmt: skip
    monkeypatch.setattr(prover, "prove_boat", lambda config, **_: Proof(config.boat.name, (), (), (), "here"))
    assert main(["prove", "marsh_tern", "--quick"]) == 0
    assert "claims and evaluators: no disagreement on 1,00" in capsys.readouterr().out
    monkeypatch.setattr(parity, "compare", lambda *given: sound(*given, deaf))
    assert main(["prove", "marsh_tern", "--quick"]) == 3
    said = capsys.readouterr().out
    assert "claims and evaluators DISAGREE" in said
    assert "SR-02, tick " in said
    assert "; claims and evaluators disagree (0 claims" in said


def test_claims_that_forbid_nothing_are_noticed() -> None:
    """An evaluator sees a violation, and no claim forbids the tick."""
    config = CONFIGS["marsh_tern"]
    sound = claims_of(config)
    vacuous = sound._replace(
        steps=[claim._replace(then=lambda step, i: True) if claim.requirement == "SR-02" or claim.forms else claim
               for claim in sound.steps]
    )  # fmt: skip
    found = compare(config, frozen(config), vacuous, 17, 800)
    assert ("SR-02", "") in {(one.requirement, one.claim) for one in found.disagreements}


def test_every_table_claim_forbids_something() -> None:
    assert idle_tables(claims_of(CONFIGS["marsh_tern"])) == []


@pytest.mark.parametrize("word", ["boat", "shaft"])
def test_a_table_claim_made_vacuous_is_noticed(word: str) -> None:
    """ "TRIPPED needs reset" that forbids nothing: found for each of them, one at a time."""
    claims = claims_of(CONFIGS["marsh_tern"])
    table = BOAT_CLAIMS if word == "boat" else SHAFT_CLAIMS
    for place, claim in enumerate(table):
        idle = claim._replace(forbids=lambda dest, disarms, to_propel: False)
        changed = [*table[:place], idle, *table[place + 1 :]]
        found = idle_tables(claims._replace(tables={**claims.tables, word: changed}))
        assert found == [claim.name]
