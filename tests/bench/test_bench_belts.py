"""Belts and propellers on the simulated boats: found in time in every mode, and no false alarm (SR-54, SR-55)."""

import pytest

from sim.nodes.rig import SimRig

FALSE = ("slips", "does not turn", "isolated")


def ready(boat: str, soc_pct: float = 60.0) -> SimRig:
    rig = SimRig(boat, soc_pct=soc_pct)
    rig.run(2.0)
    rig.act("helm.enable", "press")
    rig.run(4.0)
    assert rig.signals()["boat.mode"] == "READY"
    return rig


def found_after_s(rig: SimRig, fault: str, most_s: float, **params: float) -> float:
    """Inject on the first shaft; the time until it is ISOLATED."""
    name = rig.shafts[0]
    began_s = rig.now_s
    rig.inject(fault, name, **params)
    while rig.now_s - began_s < most_s:
        rig.run(0.02)
        if rig.signals()[f"{name}.mode"] == "ISOLATED":
            return rig.now_s - began_s
    raise AssertionError(f"{fault}: {name} is {rig.signals()[f'{name}.mode']} after {most_s} s")


@pytest.mark.sr("SR-54")
@pytest.mark.parametrize("boat", ["marsh_tern", "reed_warbler"])
@pytest.mark.parametrize("lever_pct", [20.0, 60.0, 100.0, -60.0])
def test_a_broken_belt_under_thrust(boat: str, lever_pct: float) -> None:
    rig = ready(boat)
    try:
        rig.set_plant("boat.speed_kn", 3.0)
        for name in rig.shafts:
            rig.act(f"{name}.lever_pct", lever_pct)
        rig.run(6.0)
        assert found_after_s(rig, "belt_broken", 3.0) < 1.5
        assert all(rig.signals()[f"{name}.mode"] == "PROPEL" for name in rig.shafts[1:])
    finally:
        rig.close()


@pytest.mark.sr("SR-54")
@pytest.mark.parametrize("boat", ["marsh_tern", "reed_warbler"])
def test_a_broken_belt_while_charging_under_way(boat: str) -> None:
    rig = ready(boat)
    try:
        name = rig.shafts[0]
        rig.act(f"{name}.engine", "start")
        rig.run(70.0)  # a cold engine warms up first
        rig.act(f"{name}.gear", "ahead")
        rig.act(f"{name}.throttle_pct", 50.0)
        rig.run(8.0)
        rig.act(f"{name}.charge", "under_way")
        rig.run(12.0)
        assert rig.signals()[f"{name}.mode"] == "GENERATE", rig.explain(f"{name} GENERATE")
        assert found_after_s(rig, "belt_broken", 2.0) < 1.0
    finally:
        rig.close()


@pytest.mark.sr("SR-55")
@pytest.mark.parametrize("boat", ["marsh_tern", "reed_warbler"])
@pytest.mark.parametrize("lever_pct", [60.0, 100.0, -80.0])
def test_a_jam_from_rest(boat: str, lever_pct: float) -> None:
    rig = ready(boat)
    try:
        rig.inject("propeller_jammed", rig.shafts[0])
        for name in rig.shafts:
            rig.act(f"{name}.lever_pct", lever_pct)
        began_s = rig.now_s
        while rig.signals()[f"{rig.shafts[0]}.mode"] != "ISOLATED" and rig.now_s - began_s < 5.0:
            rig.run(0.02)
        assert rig.now_s - began_s < 3.2
    finally:
        rig.close()


@pytest.mark.sr("SR-54", "SR-55")
@pytest.mark.parametrize("boat", ["marsh_tern", "reed_warbler"])
@pytest.mark.parametrize(("speed_kn", "first_pct", "then_pct"), [
    (7.0, 100.0, -100.0), (5.0, 60.0, -20.0), (5.0, 60.0, -30.0), (5.0, 60.0, -40.0),
    (6.0, 0.0, -45.0), (3.0, -60.0, 80.0), (0.0, 0.0, 8.0),
])  # fmt: skip
def test_no_false_alarm_in_a_crash_stop_or_a_shaft_that_the_flow_holds(
    boat: str, speed_kn: float, first_pct: float, then_pct: float
) -> None:
    rig = ready(boat)
    try:
        rig.set_plant("boat.speed_kn", speed_kn)
        for pct in (first_pct, 0.0, then_pct):
            for name in rig.shafts:
                rig.act(f"{name}.lever_pct", pct)
            for _ in range(3 if pct == 0.0 else 60):
                rig.run(0.1)
                alarms = str(rig.signals()["boat.alarms"])
                assert not any(word in alarms for word in FALSE), f"{rig.now_s:.1f} s: {alarms}"
    finally:
        rig.close()
