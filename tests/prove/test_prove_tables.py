"""Parts (a) to (c) on the shipped tables, and what the history proof rests on."""

import random

import pytest

from sim.prove import prove_tables
from sim.prove.consistency import IMPOSSIBLE_SHAFT
from sim.prove.flat import shaft_state
from sim.prove.prover import Proof
from sim.prove.reach import livelocks
from sim.prove.streams import anywhere
from sim.prove.word_classes import PERMISSIVES
from supervisor.config import load_config
from supervisor.controller.controller import freeze
from supervisor.modes import BOAT_TABLE, SHAFT_TABLE, BoatCondition, BoatMode, Row, ShaftCondition, ShaftMode
from supervisor.rules.shaft_latches import after_mode
from supervisor.rules.state import ShaftLatch

BOAT = freeze(load_config("marsh_tern"))


@pytest.fixture(scope="module")
def proof() -> Proof:
    return prove_tables(BOAT_TABLE, SHAFT_TABLE, BOAT.shafts[0], BOAT.limits.neutral_s, 2)


def test_everything_holds(proof: Proof) -> None:
    assert [(one.requirement, one.claim, one.counterexample) for one in proof.failed()] == []


def test_nothing_is_left_out_of_the_tables(proof: Proof) -> None:
    assert [one.claim for one in proof.shown if one.how == "table" and one.left_out] == []


def test_claims_have_one_name_each(proof: Proof) -> None:
    names = [(one.how, one.claim) for one in proof.shown]
    assert len(names) == len(set(names))


def test_every_combination_is_counted(proof: Proof) -> None:
    """The words of a mode are 2 to the number of bits that its rows and claims refer to: by hand for two of them."""
    words = {one.claim: one.over for one in proof.shown if one.how == "table"}
    assert words["TRIPPED needs reset"] == 2**6  # four trips, that of an own interlock and the reset edge
    assert words["READY never back to NEUTRAL_WAIT"] == 2**10  # trips, off, contactor, at rest, overdue, idle
    assert proof.counts[1].words > 2**37


def test_the_whole_product_is_larger_than_one_shaft(proof: Proof) -> None:
    one, whole = proof.counts[2], proof.counts[3]
    assert whole.states > one.states > 15


def test_only_the_second_line_rows_are_never_taken(proof: Proof) -> None:
    assert len(proof.notes) == 2
    assert all("lock is in transit" in note for note in proof.notes)


def test_a_livelock_is_found() -> None:
    """Two modes that one constant word drives round and round."""
    c, m = ShaftCondition, ShaftMode
    rows = (
        Row(m.REST, c.HARVEST_ORDER, c(0), m.HARVEST, "harvest is selected"),
        Row(m.HARVEST, c(0), c.CHARGE_WANTED, m.UNLOAD, "bank accepts no charging current"),
        Row(m.UNLOAD, c.TORQUE_ZERO, c(0), m.REST, "torque is zero"),
    )
    found = list(livelocks(rows, ShaftMode))
    assert len(found) == 1
    assert found[0].startswith("REST -> HARVEST -> UNLOAD -> REST, for ever, while: harvest is selected")


def test_edges_drive_nothing_round() -> None:
    c, m = BoatCondition, BoatMode
    rows = (
        Row(m.STANDBY, c.ENABLE_EDGE, c(0), m.NEUTRAL_WAIT, "ENABLE was pressed"),
        Row(m.NEUTRAL_WAIT, c.WAIT_EXPIRED, c(0), m.STANDBY, "gave up"),
    )
    assert list(livelocks(rows, BoatMode)) == []


def test_words_called_impossible_are_never_formed() -> None:
    """Steps of the real tick from anywhere: it forms none of the words that the reachability part leaves out."""
    seen = 0
    for step in anywhere(load_config("marsh_tern"), BOAT, 7, 3_000):
        for word in step.now.shaft_words:
            seen += 1
            for one in IMPOSSIBLE_SHAFT:
                assert not one.cube.holds(word), one.reason
    assert seen == 6_000


def test_the_latch_rule_reads_only_what_a_letter_holds() -> None:
    """The history proof classes words by a few bits; the latch rule must not tell words of one class apart."""
    c = ShaftCondition
    c = ShaftCondition
    read = int(
        c.THRUST_ORDER | c.CONTROL_LOST | c.HANDSET_LOST | c.OFF_ORDER | c.REARMED | c.UNLOAD_TO_PROPEL | c.BOAT_READY
        | c.BOAT_LIVE | c.RESET_EDGE
    )  # fmt: skip
    permissives = int(PERMISSIVES)
    rng = random.Random(11)
    for _ in range(20_000):
        word = rng.getrandbits(39)
        if rng.random() < 0.5:
            word |= permissives
        other = (word & read) | (rng.getrandbits(39) & ~read)
        if word & permissives == permissives:
            other |= permissives
        elif other & permissives == permissives:
            other &= ~int(ShaftCondition.NO_DIVER)
        latches = rng.choice((0, int(ShaftLatch.REARMED), int(ShaftLatch.REARMED | ShaftLatch.UNLOAD_TO_PROPEL)))
        state = shaft_state(mode=rng.randrange(6), latches=latches, neutral_s=rng.choice((-1.0, 0.5)))
        rest = (rng.randrange(6), rng.random() < 0.5, rng.random() < 0.3, 0.5, rng.choice((0, 2)))
        first = after_mode(BOAT.shafts[0], state, word, *rest)
        second = after_mode(BOAT.shafts[0], state, other, *rest)
        keep = ShaftLatch.REARMED | ShaftLatch.UNLOAD_TO_PROPEL
        assert first.mode == second.mode
        assert first.latches & keep == second.latches & keep
