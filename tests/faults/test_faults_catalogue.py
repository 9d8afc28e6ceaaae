"""The catalogue is complete, says what it does, refuses what it cannot do, and leaves no trace."""

from collections.abc import Callable
from typing import Any

import pytest
from fault_scenes import ready

from sim.faults import CATALOGUE
from sim.rig.simulated import SimRig

# the faults that the specification asks for
ASKED = {
    "node_silent", "frozen_counter", "bad_crc", "delayed", "duplicated", "reordered", "babbling", "value_stuck",
    "value_drift", "value_out_of_range", "wrong_source", "bus_off", "adapter_unplugged", "receive_overflow",
    "permit_withdrawn", "monitor_fault", "contactor_warning", "drive_fault", "drive_disobeys", "precharge_failure",
    "engine_stall", "engine_weak", "lever_lost", "handset_lost", "clutch_stuck_in_transit", "lock_unproven",
    "contact_bounces",
    "belt_broken",
    "belt_slipping",
    "propeller_jammed",
    "packs_out",
}  # fmt: skip

OTHER_TARGETS = {"contact_bounces": "port.clutch.closed"}
"""Where the target of its kind is none of its own."""

TARGETS = {
    "node": "drive.port", "bus": "private", "input": "port.drive.torque_nm", "shaft": "port", "monitor": "monitor",
    "handset": "handset",
}  # fmt: skip


def test_every_fault_asked_for_is_there() -> None:
    assert set(CATALOGUE) == ASKED


def test_the_rig_offers_the_catalogue(rig: SimRig) -> None:
    assert rig.faults() == {name: entry.words for name, entry in CATALOGUE.items()}


@pytest.mark.parametrize("name", sorted(ASKED))
def test_every_fault_is_documented(name: str) -> None:
    entry = CATALOGUE[name]
    assert entry.name == name
    assert len(entry.words.split()) >= 4
    assert entry.targets in TARGETS
    assert entry.required
    assert all(words for words in entry.required.values())
    assert entry.kind.__doc__
    for param in entry.params.values():
        assert param.accepts(param.default)
        assert param.allowed()


def _frames(rig: SimRig, seconds: float) -> list[tuple[float, int, str]]:
    found: list[tuple[float, int, str]] = []
    rig.on_frame = lambda time_s, message, bus: found.append((time_s, message.arbitration_id, message.data.hex()))
    rig.run(seconds)
    rig.on_frame = None
    return found


@pytest.mark.parametrize("name", sorted(ASKED))
def test_injected_and_cleared_at_once_it_leaves_no_trace(name: str, make_rig: Callable[..., SimRig]) -> None:
    touched, untouched = make_rig(), make_rig()
    for rig in (touched, untouched):
        ready(rig)
    target = OTHER_TARGETS.get(name, TARGETS[CATALOGUE[name].targets])
    touched.inject(name, target)
    touched.clear(name, target)
    assert _frames(touched, 1.0) == _frames(untouched, 1.0)
    assert [event.text for event in touched.events if event.kind == "fault"][-1] == f"{name} ended"


@pytest.mark.parametrize(
    ("fault", "target", "params", "says"),
    [
        ("no_such_fault", "port", {}, "there is no fault"),
        ("node_silent", "galley", {}, "allowed: monitor, helm"),
        ("babbling", "port", {}, "allowed: private, backbone"),
        ("drive_fault", "middle", {}, "allowed: port, starboard"),
        ("drive_fault", "port.mast", {}, "allowed: port, starboard"),
        ("value_stuck", "bank.colour", {}, "bank.soc_pct"),
        ("value_drift", "port.gearbox.neutral", {}, "is a contact and cannot drift"),
        ("contact_bounces", "port.drive.torque_nm", {}, "is a number and cannot bounce"),
        ("permit_withdrawn", "port", {}, "allowed target: monitor"),
        ("permit_withdrawn", "monitor", {"permit": "all"}, "charge, discharge, both"),
        ("permit_withdrawn", "monitor", {"colour": 1.0}, "allowed: permit"),
        ("delayed", "monitor", {"delay_s": -1.0}, "0.02 to 10 s"),
        ("delayed", "monitor", {"delay_s": True}, "0.02 to 10 s"),
        ("node_silent", "monitor", {"delay_s": 1.0}, "allowed: none"),
    ],
)
def test_what_cannot_be_is_refused(rig: SimRig, fault: str, target: str, params: dict[str, Any], says: str) -> None:
    with pytest.raises(ValueError, match=says):
        rig.inject(fault, target, **params)
    with pytest.raises(ValueError, match="to clear"):
        rig.clear(fault, target)


def test_twice_the_same_or_two_on_one_value_is_refused(rig: SimRig) -> None:
    rig.inject("value_stuck", "bank.soc_pct")
    with pytest.raises(ValueError, match="there already"):
        rig.inject("value_stuck", "bank.soc_pct")
    with pytest.raises(ValueError, match="has a fault already"):
        rig.inject("value_drift", "bank.soc_pct")
    rig.clear("value_stuck", "bank.soc_pct")
    rig.inject("value_drift", "bank.soc_pct")


def test_a_node_may_be_named_either_way_round(rig: SimRig) -> None:
    rig.inject("node_silent", "port.drive")
    rig.run(0.5)
    assert rig.events[-1].time_s <= 0.5
    assert rig.supervisor.table.report()["private"]["messages"]["DRIVE_A_1"]["good"] == 0  # type: ignore[index]
    assert rig.supervisor.table.report()["private"]["messages"]["DRIVE_A_2"]["good"] > 20  # type: ignore[index]


def test_parts_not_fitted_are_refused(make_rig: Callable[..., SimRig]) -> None:
    rig = make_rig("reed_warbler")
    for fault, target in (("clutch_stuck_in_transit", "main"), ("lock_unproven", "main"), ("handset_lost", "handset")):
        with pytest.raises(ValueError, match="no node"):
            rig.inject(fault, target)
