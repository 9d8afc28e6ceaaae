"""Boxes that are there twice, as processes of their own on the hub: a forgotten helm box, a second supervisor."""

from pathlib import Path

import pytest
from hub.process import Hub
from processes import stand_in, supervisor, under_way

from sim.replay.session import Session


def identical(folder: Path) -> None:
    """Its log, with the second box's frames in it, replays to what was decided live."""
    session = Session("marsh_tern", str(folder))
    session.run()
    same = session.result().same
    assert same is not None
    assert same.first_tick is None, same.words()
    assert same.compared == same.ticks > 200


@pytest.mark.sr("SR-47")
def test_a_forgotten_helm_box_trips_the_boat_and_is_named(hub: Hub, tmp_path: Path) -> None:
    """Whichever of the counters' phases it comes in with: said at once, and stopped at once or, where it says the same
    in step, when the real one's emergency stop is pressed."""
    with supervisor(hub, tmp_path / "run", broken=None) as supervised, stand_in(hub) as standing:
        under_way(supervised, standing)
        with stand_in(hub, "helm", adapters=("private2", "backbone2")) as forgotten:
            forgotten.wait_for("ready")
            supervised.wait_for("bus private: HELM_CONTACTS 0x014 comes ")
            standing.say("helm.emergency_stop true")
            supervised.wait_for("HELM_CONTACTS 0x014 comes from two senders that contradict each other", 3.0)
            supervised.wait_for("-> TRIPPED", 3.0)
        supervised.wait_for("comes from one sender again", 10.0)
        assert supervised.end() == 0
    identical(tmp_path / "run")


@pytest.mark.sr("SR-03")
def test_a_second_supervisor_trips_both_and_the_drive_does_not_jump(hub: Hub, tmp_path: Path) -> None:
    with supervisor(hub, tmp_path / "run", broken=None) as supervised, stand_in(hub) as standing:
        under_way(supervised, standing)
        with supervisor(hub, tmp_path / "other", adapters=("private2", "backbone2"), broken=None) as other:
            supervised.wait_for("NOT ALONE")
            supervised.wait_for("-> TRIPPED", 3.0)
            other.wait_for("NOT ALONE")
            standing.say("helm.reset press")
            standing.say("helm.enable press")
        supervised.wait_for("the other sender is silent", 10.0)
        standing.say("port.lever_pct 0")
        under_way(supervised, standing)
        assert supervised.end() == 0
    identical(tmp_path / "run")
