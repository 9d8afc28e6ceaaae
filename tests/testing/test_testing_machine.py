"""The state machine on a sound boat: nothing is violated, and it gets about."""

from pathlib import Path

import pytest

from sim.requirements import JUDGES
from sim.testing import machine_for, sail
from sim.testing.situations import fitted
from supervisor.config import load_config

# tests/traces keeps what these found
FAILURES = Path("failures")


class TestSoundBoat:
    def test_a_boat_without_buses_holds_every_requirement(self) -> None:
        """Every situation, every fault that needs no frames."""
        sail(machine_for("marsh_tern", failures=FAILURES), voyages=10, steps=20)

    def test_one_shaft_without_clutch_handset_or_harvest_holds_them_too(self) -> None:
        sail(machine_for("reed_warbler", failures=FAILURES), voyages=6, steps=20)

    def test_other_limits_hold_them_too(self) -> None:
        """A configuration is drawn for each voyage."""
        machine = machine_for("marsh_tern", vary_limits=True, situations=("ready", "propel"), failures=FAILURES)
        sail(machine, voyages=6, steps=12)

    def test_with_frames_and_faults_on_the_bus_they_hold_too(self) -> None:
        machine = machine_for("marsh_tern", buses=True, situations=("ready", "propel"), failures=FAILURES)
        sail(machine, voyages=6, steps=12)

    @pytest.mark.parametrize("situation", ["generate", "harvest"])
    def test_a_nearly_full_bank_holds_them(self, situation: str) -> None:
        """Where the seeded defects of taper and budget are searched: a sound boat passes there."""
        machine = machine_for("marsh_tern", situations=(situation,), soc_pct=93.4, faults=(), failures=FAILURES)
        sail(machine, voyages=4, steps=12)


@pytest.mark.campaign
class TestDeep:
    """`pytest -m campaign tests/testing`: hours of boat time."""

    @pytest.mark.parametrize("boat", ["marsh_tern", "reed_warbler"])
    @pytest.mark.parametrize("vary_limits", [False, True])
    def test_without_buses(self, boat: str, vary_limits: bool) -> None:
        sail(machine_for(boat, vary_limits=vary_limits, failures=FAILURES), voyages=400, steps=40)

    @pytest.mark.parametrize("boat", ["marsh_tern", "reed_warbler"])
    def test_with_buses(self, boat: str) -> None:
        sail(machine_for(boat, buses=True, failures=FAILURES), voyages=100, steps=30)


class TestShapeOfTheMachine:
    def test_every_requirement_with_an_evaluator_is_an_invariant_by_name(self) -> None:
        machine = machine_for("marsh_tern", failures=None)
        names = [name for name in vars(machine) if name.startswith("sr_")]
        assert len(names) == len(JUDGES)
        assert "sr_05_no_path_into_motion" in names

    def test_what_a_boat_does_not_have_is_no_situation(self) -> None:
        """reed_warbler has no shaft clutch, no handset, and a gearbox that may not trail."""
        assert set(fitted(load_config("reed_warbler"))).isdisjoint({"at_rest", "harvest"})
        assert "harvest" in fitted(load_config("marsh_tern"))
