"""How every bit is formed: the forming claims hold on concrete ticks, say "exactly when", and refute each defect.

Always set, never set, inverted: three defects for each bit of the three words, put into the rule's result.
"""

import random
from collections.abc import Callable
from functools import cache
from itertools import islice
from typing import Any

import pytest
from boatyard.boats import boat_data
from boatyard.own import own_config

from sim.prove.claims_own import effect_claims
from sim.prove.directed import Runs, disturbances, situations, with_own
from sim.prove.forming import FORMING, forming_claims
from sim.prove.plain import PLAIN_FACTS, shown
from sim.prove.rests_on import WORDS, every_bit
from sim.prove.result import PROVEN, REFUTED
from sim.prove.step import Step, StepClaim
from sim.prove.streams import anywhere, frozen, histories
from supervisor.config import BoatConfig, load_config, parse_config
from supervisor.rules import run_tick, tick

OF_BIT = {claim.forms: claim for claim in FORMING}
BOATS: dict[str, Callable[[], BoatConfig]] = {
    "marsh_tern": lambda: load_config("marsh_tern"),
    "reed_warbler": lambda: load_config("reed_warbler"),
    "own interlocks": own_config,
    "four shafts": lambda: parse_config(boat_data(4), "four"),
}


@cache
def steps_of(name: str) -> tuple[Step, ...]:
    """Steps from power-up, from anywhere, and on the way with something wrong."""
    config = BOATS[name]()
    boat = frozen(config)
    luck = random.Random(31)
    found = [*histories(config, boat, 5, 300), *anywhere(config, boat, 6, 500)]
    if config.interlock:
        found += [with_own(step, luck) for step in anywhere(config, boat, 7, 700)]
    runs, ways, wrongs = Runs(config, boat), situations(config), disturbances(config)
    memory = runs.approach(ways["ready"])[-1].now.memory
    found += [*runs.approach(ways["paused"])[-3:], *runs.approach(ways["third pause"])[-14:]]
    found += runs.approach(ways["held"])[-14:] if "held" in ways else ()
    scenes = [scene for way in ways.values() for _, scene in way]
    found += islice(runs.wander(memory, scenes, wrongs, luck), 300)
    return tuple(found)


def sides(claim: StepClaim, step: Step) -> range:
    return range(len(step.shaft_in) if claim.per_shaft else 1)


def breaks(claim: StepClaim, step: Step) -> bool:
    return any(claim.given(step, i) and not claim.then(step, i) for i in sides(claim, step))


def test_every_bit_has_one_claim_on_its_forming() -> None:
    assert sorted(claim.forms for claim in FORMING) == sorted(every_bit())
    assert len(FORMING) == 88


@pytest.mark.parametrize("name", BOATS)
def test_the_claims_hold_on_the_real_rules(name: str) -> None:
    config = BOATS[name]()
    for claim in (*forming_claims(config), *effect_claims(config)):
        for step in steps_of(name):
            assert not breaks(claim, step), claim.name


def test_each_claim_on_own_interlocks_speaks() -> None:
    """Each effect by its name is seen at work, on a shaft that it acts on."""
    silent = [
        claim.name for claim in effect_claims(own_config())
        if not any(claim.given(step, i) for step in steps_of("own interlocks") for i in sides(claim, step))
    ]  # fmt: skip
    assert silent == []


# --- exactly when


def word_of(step: Step, word: str, index: int) -> int:
    now = step.now
    return now.boat_word if word == "boat" else (now.shaft_words if word == "shaft" else now.permit_words)[index]


def with_word(step: Step, word: str, index: int, value: int) -> Step:
    """The step with another word formed, and nothing else different."""
    now = step.now
    if word == "boat":
        return step._replace(now=now._replace(boat_word=value))
    field = "shaft_words" if word == "shaft" else "permit_words"
    words = tuple(value if i == index else one for i, one in enumerate(getattr(now, field)))
    return step._replace(now=now._replace(**{field: words}))


def bit_of(name: str) -> tuple[str, int]:
    word, _, bit = name.partition(".")
    return word, int(WORDS[word][bit])


@pytest.mark.parametrize("name", every_bit())
def test_the_claim_says_exactly_when(name: str) -> None:
    """Wherever the bit is flipped, the claim turns false: it forbids one of the two, on every step."""
    word, bit = bit_of(name)
    claim = OF_BIT[name]
    for step in steps_of("own interlocks")[::9]:
        for i in sides(claim, step):
            flipped = with_word(step, word, i, word_of(step, word, i) ^ bit)
            assert claim.given(step, i)
            assert claim.then(step, i)
            assert not claim.then(flipped, i)


# --- always set, never set, inverted

DEFECTS: dict[str, Callable[[int, int], int]] = {
    "always set": lambda word, bit: word | bit,
    "never set": lambda word, bit: word & ~bit,
    "inverted": lambda word, bit: word ^ bit,
}
OF_PAUSES = ("shaft.PAUSED", "shaft.PAUSE_FAILED")
OF_THE_MODE = ("shaft.BOAT_READY", "shaft.BOAT_LIVE", "shaft.RESET_EDGE", "shaft.OFF_ORDER")
RULES = {"boat": "boat_word", "shaft": "shaft_word", "permit": "permit_word"}


def seed(patch: pytest.MonkeyPatch, name: str, defect: str) -> None:
    """Put the defect into the result of the rule that forms the bit."""
    word, bit = bit_of(name)
    rule = "with_boat" if name in OF_THE_MODE else "with_pause" if name in OF_PAUSES else RULES[word]
    sound: Callable[..., int] = getattr(tick, rule)
    change = DEFECTS[defect]

    def broken(*given: Any) -> int:
        return change(sound(*given), bit)

    patch.setattr(tick, rule, broken)


@cache
def telling(name: str) -> tuple[Step, ...]:
    """A few steps on which the bit is set on some side, and a few on which it is clear on some."""
    word, bit = bit_of(name)
    found: list[Step] = []
    for wanted in (0, bit):
        found += islice(
            (step for step in steps_of("own interlocks")
             if any(word_of(step, word, i) & bit == wanted for i in sides(OF_BIT[name], step))),
            3,
        )  # fmt: skip
    assert len(found) == 6, f"{name} is not seen both set and clear"
    return tuple(found)


def again(step: Step) -> Step:
    """The step by the rules as they are now."""
    return step._replace(now=run_tick(step.boat, step.was, step.boat_in, step.shaft_in, step.dt_s))


@pytest.mark.parametrize("defect", DEFECTS)
@pytest.mark.parametrize("name", every_bit())
def test_a_bit_that_is_formed_wrongly_is_refuted(name: str, defect: str, monkeypatch: pytest.MonkeyPatch) -> None:
    claim = OF_BIT[name]
    assert not any(breaks(claim, again(step)) for step in telling(name))
    seed(monkeypatch, name, defect)
    assert any(breaks(claim, again(step)) for step in telling(name))


@pytest.mark.campaign
@pytest.mark.parametrize("defect", DEFECTS)
@pytest.mark.parametrize("name", every_bit())
def test_the_solver_refutes_it(name: str, defect: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """On every input at once, and with a tick that the real rules repeat."""
    pytest.importorskip("z3")
    from sim.prove.invariants import INVARIANTS
    from sim.prove.solver.formula import Formula
    from sim.prove.solver.verdict import Judging

    seed(monkeypatch, name, defect)
    judging = Judging(Formula(own_config(), INVARIANTS))
    claim = OF_BIT[name]
    answers = [judging.verdict(claim, i, 20.0).answer for i in range(2 if claim.per_shaft else 1)]
    assert REFUTED in answers  # on one of two shafts that are not alike


def test_so_many_defects_were_tried() -> None:
    assert len(every_bit()) * len(DEFECTS) == 264


# --- plain facts


@pytest.mark.parametrize("name", BOATS)
def test_the_frozen_limits_are_those_of_the_boat_file(name: str) -> None:
    config = BOATS[name]()
    assert {one.answer for one in shown(config, frozen(config))} == {PROVEN}


def test_inputs_that_nobody_misses_are_seen() -> None:
    config = own_config()
    boat = frozen(config)
    shaft = boat.shafts[1]
    wrong = {
        0: boat._replace(limits=boat.limits._replace(react=boat.limits.react._replace(trip_boat=0))),
        1: boat._replace(shafts=(boat.shafts[0], shaft._replace(react=shaft.react._replace(derate=0)))),
        3: boat._replace(limits=boat.limits._replace(own_count=3)),
    }
    for place, one in wrong.items():
        answers = [one.answer for one in shown(config, one)]
        assert answers[place] == REFUTED, PLAIN_FACTS[place].name
