"""What a requirement rests on is derived, and a requirement is complete only if all of it is proven."""

import pytest
from boatyard.own import own_config

from sim.prove.claims_numbers import NUMBER_CLAIMS
from sim.prove.claims_own import effect_claims
from sim.prove.forming import forming_claims
from sim.prove.plain import PLAIN_FACTS
from sim.prove.rests_on import Claims, claims_with, every_bit, every_requirement, lacking, read_by
from sim.prove.result import CHECKED, PROVEN, REFUTED
from sim.requirements import BY_ID, REGISTER
from supervisor.config import BoatConfig, load_config

CONFIGS = {"marsh_tern": load_config("marsh_tern"), "own interlocks": own_config()}


def claims_of(config: BoatConfig) -> Claims:
    return claims_with((*forming_claims(config), *effect_claims(config), *NUMBER_CLAIMS))


CLAIMS = {name: claims_of(config) for name, config in CONFIGS.items()}
RESTS = {name: every_requirement(claims) for name, claims in CLAIMS.items()}


def proven(claims: Claims) -> dict[str, str]:
    """A verdict for everything: proven."""
    return dict.fromkeys((*claims.by_name, *(fact.name for fact in PLAIN_FACTS)), PROVEN)


@pytest.mark.parametrize("name", CONFIGS)
def test_every_lemma_is_a_claim(name: str) -> None:
    claims = CLAIMS[name]
    there = {*claims.by_name, *every_bit(), *(fact.name for fact in PLAIN_FACTS)}
    named = {(claim.name, lemma) for claim in claims.steps for lemma in claim.rests_on}
    assert {(claim, lemma) for claim, lemma in named if lemma not in there} == set()


@pytest.mark.parametrize("name", CONFIGS)
def test_names_are_unique(name: str) -> None:
    names = [claim.name for claim in CLAIMS[name].steps]
    assert len(names) == len(set(names))


@pytest.mark.parametrize("bit", every_bit())
def test_a_forming_claim_says_which_other_bits_it_reads(bit: str) -> None:
    claim = CLAIMS["own interlocks"].forming[bit]
    assert read_by(claim.then) - {bit} <= set(claim.rests_on)
    assert bit in read_by(claim.then)


@pytest.mark.parametrize(
    ("requirement", "bits"),
    [
        ("SR-01", {"boat.LEVERS_NEUTRAL"}),
        ("SR-03", {"boat.EMERGENCY_STOP", "boat.MONITOR_FAULT", "boat.RUNTIME_FAULT", "boat.INPUT_LOST"}),
        ("SR-07", {"shaft.LOCK_RELEASED", "shaft.LOCK_SETTLED"}),
        ("SR-10", {"shaft.NO_DIVER"}),
        ("SR-11", {"shaft.NO_SHORE"}),
        ("SR-14", {"shaft.DISCHARGE_PERMIT"}),
        ("SR-62", {"shaft.PAUSED", "shaft.PAUSE_FAILED"}),
        ("SR-35", {"boat.IDLE_EXPIRED", "shaft.HARVEST_ORDER", "shaft.SHAFT_STILL"}),
        ("SR-37", {"permit.TORQUE_ENDED", "permit.GEAR_NOT_ENGAGED", "permit.DIVER_NOT_SET", "permit.DRIVE_OFF"}),
        ("SR-38", {"permit.SPEEDS_MATCHED", "permit.LEVER_NEUTRAL"}),
        ("SR-39", {"permit.STILL_LONG", "permit.HOLDS"}),
        ("SR-50", {"shaft.OWN_THRUST", "shaft.OWN_CHARGE", "boat.OWN_BOAT", "shaft.OWN_SHAFT"}),
    ],
)
def test_the_bits_that_a_requirement_speaks_of_are_found(requirement: str, bits: set[str]) -> None:
    assert bits <= set(RESTS["own interlocks"][requirement].bits)


def test_every_bit_is_rested_on() -> None:
    assert {bit for rests in RESTS["own interlocks"].values() for bit in rests.bits} == set(every_bit())


@pytest.mark.parametrize("name", CONFIGS)
def test_nothing_is_lacking_when_all_is_proven(name: str) -> None:
    claims = CLAIMS[name]
    for one in REGISTER:
        assert lacking(RESTS[name][one.id], claims, proven(claims)) == [], one.id


@pytest.mark.parametrize("answer", [REFUTED, CHECKED])
@pytest.mark.parametrize("bit", every_bit())
def test_a_bit_that_is_not_proven_to_be_formed_completes_nothing(bit: str, answer: str) -> None:
    """Each requirement that rests on it says so, and no other loses anything."""
    claims, every = CLAIMS["own interlocks"], RESTS["own interlocks"]
    verdicts = proven(claims) | {claims.forming[bit].name: answer}
    short = {one.id: lacking(every[one.id], claims, verdicts) for one in REGISTER}
    assert {one for one, missing in short.items() if missing} == {one for one in BY_ID if bit in every[one].bits}
    assert all(missing == [f"{bit}: its forming is {answer}"] for missing in short.values() if missing)


def test_a_bit_without_a_claim_is_missed() -> None:
    claims = CLAIMS["own interlocks"]
    without = claims._replace(steps=[claim for claim in claims.steps if claim.forms != "permit.TORQUE_ENDED"])
    rests = RESTS["own interlocks"]["SR-37"]
    assert lacking(rests, without, proven(claims)) == ["permit.TORQUE_ENDED: no claim says how it is formed"]


def test_a_lemma_that_is_gone_or_not_proven_is_missed() -> None:
    claims = CLAIMS["own interlocks"]
    rests = RESTS["own interlocks"]["SR-39"]
    assert "still counts" in rests.lemmas
    without = claims._replace(steps=[claim for claim in claims.steps if claim.name != "still counts"])
    assert "still counts: no such claim" in lacking(rests, without, proven(claims))
    verdicts = {name: answer for name, answer in proven(claims).items() if name != "still counts"}
    assert lacking(rests, claims, verdicts) == ["still counts: not shown"]
