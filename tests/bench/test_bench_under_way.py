"""Under way at 7 kn: a gap of one drive or of all, and a hotel load that goes while braking feeds it."""

import pytest

from sim.rig.simulated import SimRig

GAP_S = 0.14
BACK_S = 5.0


def sailing(boat: str, soc_pct: float = 70.0, lever_pct: float = 60.0) -> SimRig:
    rig = SimRig(boat, soc_pct=soc_pct)
    rig.run(2.0)
    rig.act("helm.enable", "press")
    rig.run(2.5)
    for name in rig.shafts:
        rig.act(f"{name}.lever_pct", lever_pct)
    rig.run(1.0)
    rig.set_plant("boat.speed_kn", 7.0)
    rig.run(3.0)
    return rig


@pytest.mark.sr("SR-06", "SR-53")
@pytest.mark.parametrize(("boat", "drives"), [("marsh_tern", 1), ("marsh_tern", 2), ("reed_warbler", 1)])
def test_after_a_gap_of_the_drives_thrust_is_back_within_five_seconds(boat: str, drives: int) -> None:
    rig = sailing(boat)
    try:
        hit = rig.shafts[:drives]
        for name in hit:
            rig.inject("node_silent", f"drive.{name}")
        rig.run(GAP_S)
        for name in hit:
            rig.clear("node_silent", f"drive.{name}")
        rig.run(1.0)
        for name in hit:
            assert rig.signals()[f"{name}.mode"] == "ISOLATED"
            assert f"{name} was stopped" in str(rig.signals()["boat.alarms"])
            rig.act(f"{name}.lever_pct", 0.0)
        began_s = rig.now_s
        rig.run(0.5)
        rig.act("helm.reset", "press")
        rig.run(0.7)
        for name in hit:
            rig.act(f"{name}.lever_pct", 60.0)
        while rig.now_s - began_s < BACK_S:
            rig.step()
            if all(float(rig.signals()[f"{name}.torque_nm"]) > 10.0 for name in hit):
                return
        pytest.fail(f"no thrust {BACK_S} s after neutral: {[rig.explain(f'{name} PROPEL') for name in hit]}")
    finally:
        rig.close()


@pytest.mark.sr("SR-51")
@pytest.mark.parametrize("boat", ["marsh_tern", "reed_warbler"])
def test_a_hotel_load_that_goes_while_braking_feeds_it(boat: str) -> None:
    """3 kW go a second after the levers went astern: the bank stays within the monitor's limit, cells below 3.55 V."""
    rig = sailing(boat, 95.0, 100.0)
    try:
        rig.act("hotel.load_w", 3000.0)
        rig.run(2.0)
        for name in rig.shafts:
            rig.act(f"{name}.lever_pct", -100.0)
        for tick in range(400):
            if tick == 50:
                rig.act("hotel.load_w", 0.0)
            rig.step()
            seen = rig.signals()
            assert float(seen["bank.current_a"]) <= float(seen["bank.seen_charge_limit_a"]) + 2.0
            assert float(seen["bank.cell_max_v"]) < 3.55
    finally:
        rig.close()
