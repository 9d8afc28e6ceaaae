"""A fresh sample of mutants of the rules and the controller; long, so only with `-m campaign`."""

import pytest
from sample import run


@pytest.mark.campaign
def test_a_sample_of_mutants_is_killed() -> None:
    """At least nine in ten; what survives is read, and listed with its reason in tests/mutation/survivors.md."""
    found, total = run(count=60, seed=7, jobs=2)
    killed = sum(outcome.kind == "killed" for outcome in found)
    survived = [outcome for outcome in found if outcome.kind == "survived"]
    assert total > 1000
    assert killed >= 9 * len(survived), survived
