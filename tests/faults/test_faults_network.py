"""Packs that drop out, and a starter battery that is flat, under the real supervisor."""

from collections.abc import Callable

import pytest
from fault_scenes import generate, propel, ready, until

from sim.rig.simulated import SimRig

MakeRig = Callable[..., SimRig]


def drawn_a(rig: SimRig) -> float:
    return -float(rig.signals()["bank.current_a"])


def test_thrust_follows_the_limit_of_what_is_left(make_rig: MakeRig) -> None:
    """520 A of the whole bank, 260 of half: with 6 kW of loads and full levers more would be drawn."""
    rig = make_rig(soc_pct=80.0)
    propel(rig)
    rig.act("hotel.load_w", 6000.0)
    for shaft in rig.shafts:
        rig.act(f"{shaft}.lever_pct", 100.0)
    rig.run(25.0)
    assert drawn_a(rig) > 290.0, "else the limit of half the bank bounds nothing"
    rig.inject("packs_out", "monitor")
    assert until(rig, lambda: rig.signals()["bank.connected_pct"] == 50.0, 1.0) < 0.1
    until(rig, lambda: drawn_a(rig) <= 260.0, 1.0)
    rig.run(20.0)
    assert rig.signals()["bank.seen_discharge_limit_a"] == pytest.approx(260.0)
    assert drawn_a(rig) <= 260.0 * 1.02
    assert rig.signals()["boat.mode"] == "READY"
    assert rig.signals()["port.torque_nm"] > 10.0, "thrust goes on"
    assert "thrust is reduced" in str(rig.signals()["boat.alarms"]), "and the crew is told"
    assert rig.plant.monitor.flags == 0
    rig.clear("packs_out", "monitor")
    rig.run(15.0)
    assert rig.signals()["bank.connected_pct"] == 100.0
    assert abs(rig.signals()["bank.equalising_a"]) > 1.0
    assert drawn_a(rig) > 290.0


def test_charging_follows_the_lowered_limit(make_rig: MakeRig) -> None:
    rig = make_rig(soc_pct=50.0)
    generate(rig)
    rig.run(15.0)
    rig.inject("packs_out", "monitor")
    rig.run(5.0)
    assert rig.signals()["bank.seen_charge_limit_a"] == pytest.approx(130.0)
    assert rig.signals()["bank.current_a"] <= 130.0
    assert rig.signals()["boat.mode"] == "READY"


def test_one_pack_cannot_drop_out_of_one(make_rig: MakeRig) -> None:
    with pytest.raises(ValueError, match=r"one pack; give its plant file bank\.packs"):
        make_rig("reed_warbler").inject("packs_out", "monitor")


def test_a_flat_starter_battery(make_rig: MakeRig) -> None:
    rig = make_rig()
    ready(rig)
    rig.set_plant("port.starter_soc_pct", 2.0)
    for shaft in rig.shafts:
        rig.act(f"{shaft}.engine", "start")
    rig.run(1.0)
    assert rig.signals()["port.starter_v"] < 6.0
    rig.run(7.0)
    said = rig.signals()
    assert said["port.engine_running"] == 0.0
    assert said["starboard.engine_running"] == 1.0, "each engine has its own"
