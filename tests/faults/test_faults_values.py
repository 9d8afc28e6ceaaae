"""Values that are wrong in good frames: followed while plausible, refused when impossible, never believed alone."""

import pytest
from fault_scenes import SCENES

from sim.rig.simulated import SimRig
from supervisor.bus import Bad
from supervisor.signals import BOAT, BoatInput, ShaftInput


def test_stuck_holds_the_value_of_its_beginning(rig: SimRig) -> None:
    SCENES["PROPEL"](rig)
    before = float(rig.signals()["port.seen_torque_nm"])
    rig.inject("value_stuck", "port.drive.torque_nm")
    rig.act("port.lever_pct", 80.0)
    rig.run(2.0)
    assert float(rig.signals()["port.torque_nm"]) > before + 20.0
    assert rig.signals()["port.seen_torque_nm"] == pytest.approx(before, abs=0.11)
    rig.clear("value_stuck", "port.drive.torque_nm")
    rig.run(0.1)
    assert rig.signals()["port.seen_torque_nm"] == pytest.approx(float(rig.signals()["port.torque_nm"]), abs=0.2)


def test_a_torque_stuck_at_some_value_is_disobedience_once_zero_is_ordered(rig: SimRig) -> None:
    SCENES["PROPEL"](rig)
    rig.inject("value_stuck", "port.drive.torque_nm")
    rig.act("port.lever_pct", 0.0)
    rig.run(2.0)
    assert rig.signals()["port.mode"] == "ISOLATED"
    assert rig.signals()["starboard.mode"] == "PROPEL"


def test_a_stuck_neutral_contact_does_not_hide_a_lever(rig: SimRig) -> None:
    """Contact and position contradict each other: the lever is lost, nothing moves."""
    SCENES["REST"](rig)
    rig.inject("value_stuck", "port.lever.neutral")
    rig.act("port.lever_pct", 60.0)
    rig.run(2.0)
    assert rig.signals()["port.mode"] == "REST"
    assert "lever signal lost" in str(rig.signals()["boat.alarms"])


def test_a_stuck_soc_does_not_overrule_the_monitor(rig: SimRig) -> None:
    """SOC stuck at 70 % while the bank is full: cell voltage and the monitor's own limit end the charging."""
    SCENES["GENERATE"](rig)
    rig.inject("value_stuck", "bank.soc_pct")
    rig.set_plant("bank.soc_pct", 99.9)
    rig.run(20.0)
    assert rig.signals()["bank.seen_soc_pct"] == pytest.approx(70.0, abs=1.0)
    assert float(rig.signals()["bank.cell_max_v"]) < 3.65
    assert float(rig.signals()["bank.current_a"]) < 12.0


def test_drift_is_followed_and_then_refused(rig: SimRig) -> None:
    """SOC runs up at 10 % a second: taper, then out of range, then stale: unknown, no charging."""
    SCENES["GENERATE"](rig)
    rig.inject("value_drift", "bank.soc_pct", rate_per_s=10.0)
    rig.run(1.5)
    assert rig.signals()["bank.seen_soc_pct"] == pytest.approx(84.0, abs=6.0)
    rig.run(6.0)
    assert rig.signals()["bank.seen_soc_pct"] != rig.signals()["bank.seen_soc_pct"], "still believed"
    assert "state of charge unknown" in str(rig.signals()["boat.alarms"])
    assert rig.supervisor.table.counts("private", "DC_SOURCE_STATUS_2")[Bad.OUT_OF_RANGE] >= 3
    assert rig.signals()["port.mode"] == "REST"
    assert float(rig.signals()["port.current_a"]) <= 1.0


# input, level, bit, its stale time in marsh_tern; numbers keep their value until then, contacts are unknown at once
IMPOSSIBLE = [
    ("bank.soc_pct", BOAT, BoatInput.SOC, 2.5),
    ("port.drive.torque_nm", 0, ShaftInput.TORQUE, 0.08),
    ("port.drive.current_a", 0, ShaftInput.CURRENT, 0.08),
    ("starboard.lever.lever_pct", 1, ShaftInput.LEVER, 0.16),
    ("bank.charge_permit", BOAT, BoatInput.CHARGE_PERMIT, 0.0),
    ("port.clutch.closed", 0, ShaftInput.CLUTCH_CLOSED, 0.0),
    ("helm.emergency_stop", BOAT, BoatInput.EMERGENCY_STOP, 0.0),
]


@pytest.mark.parametrize(("key", "level", "bit", "stale_s"), IMPOSSIBLE, ids=[row[0] for row in IMPOSSIBLE])
def test_impossible_values_are_never_used(rig: SimRig, key: str, level: int, bit: int, stale_s: float) -> None:
    SCENES["REST"](rig)
    rig.inject("value_out_of_range", key)
    table = rig.supervisor.table
    known = []
    for _ in range(200):
        rig.step()
        boat, shafts = table.snapshot(rig.now_s)
        inputs = boat if level == BOAT else shafts[level]
        known.append(bool(inputs.known & bit))
        if key == "bank.soc_pct" and known[-1]:
            assert boat.soc_pct == pytest.approx(70.0, abs=1.0)
        if key == "starboard.lever.lever_pct" and known[-1]:
            assert inputs.lever_pct == 0.0
    assert not any(known[known.index(False) :]), "known again while the fault lasts"
    # the last good frame is up to one period old when the fault begins: 0.5 s for the SOC, 0.04 s for the others
    lasted_s = known.index(False) * 0.02
    assert stale_s - 0.5 <= lasted_s <= stale_s + 0.06
    assert table.why_unknown(level, int(bit), rig.now_s) != ""
    rig.clear("value_out_of_range", key)
    rig.run(0.6)
    assert table.why_unknown(level, int(bit), rig.now_s) == ""


def test_an_emergency_stop_contact_in_error_trips(rig: SimRig) -> None:
    SCENES["PROPEL"](rig)
    rig.inject("value_out_of_range", "helm.emergency_stop")
    rig.run(0.06)
    assert rig.signals()["boat.mode"] == "TRIPPED"
    rig.run(0.06)
    assert abs(float(rig.signals()["port.torque_nm"])) < 0.5


def test_a_signal_without_an_impossible_code_is_refused(rig: SimRig) -> None:
    """Were every current plausible, no code could be impossible; and the refusal leaves nothing behind."""
    field = next(field for field in rig.nodes.all["drive.port"].fields() if field.key == "port.drive.current_a")
    assert field.row is not None
    field.row = field.row._replace(low=-1e9, high=1e9)
    with pytest.raises(ValueError, match="possible value"):
        rig.inject("value_out_of_range", "port.drive.current_a")
    assert (field.distort, field.forced_code) == (None, None)


def test_emergency_stop_itself(rig: SimRig) -> None:
    SCENES["PROPEL"](rig)
    rig.act("helm.emergency_stop", True)
    rig.run(0.06)
    assert rig.signals()["boat.mode"] == "TRIPPED"
    rig.run(0.06)
    assert abs(float(rig.signals()["port.torque_nm"])) < 0.5
    rig.act("helm.reset", "press")
    rig.run(1.0)
    assert rig.signals()["boat.mode"] == "TRIPPED"
