"""A weak or cold bank on the simulated ketch: thrust is held back and told, and does not hunt (SR-18, SR-14, SR-33)."""

from pathlib import Path

import pytest

from sim.rig.simulated import SimRig
from supervisor.config import load_config

BOAT = Path(__file__).parents[2] / "configs" / "marsh_tern.toml"
PLANT = BOAT.parent / "plants" / "marsh_tern.toml"


OLD_MOHM = {"r0_mohm": 0.29, "r1_mohm": 0.14, "r2_mohm": 0.23}


def weak(tmp_path: Path, times: float, tapers: bool = True) -> Path:
    """The plant with an old bank: so many times 0.66 mohm a cell, which is itself three times what is fitted."""
    text = PLANT.read_text(encoding="utf-8")
    old = "".join(f"{key} = {times * mohm:.4f}\n" for key, mohm in OLD_MOHM.items())
    assert "capacity_ah = 520.0\n" in text
    text = text.replace("capacity_ah = 520.0\n", f"capacity_ah = 520.0\n{old}")
    if not tapers:
        assert "[monitor]\n" in text
        text = text.replace("[monitor]\n", "[monitor]\ndischarge_taper_v = 2.71\n")
    changed = tmp_path / "marsh_tern.toml"
    changed.write_text(text, encoding="utf-8")
    return changed


def turning_points(values: list[float], by: float) -> int:
    """How often a signal turns round by more than `by`."""
    count, way, low, high = 0, 0, values[0], values[0]
    for value in values:
        if value > low + by and way <= 0:
            count, way, high = count + 1, 1, value
        elif value < high - by and way >= 0:
            count, way, low = count + 1, -1, value
        low, high = min(low, value), max(high, value)
    return count


@pytest.mark.sr("SR-18", "SR-14", "SR-33")
@pytest.mark.parametrize(("times", "cells_c", "soc_pct"), [
    (4.0, 5.0, 60.0), (4.0, 20.0, 60.0), (2.0, 5.0, 60.0), (3.0, -5.0, 40.0), (4.0, 5.0, 30.0),
])  # fmt: skip
def test_full_lever_on_a_weak_bank(tmp_path: Path, times: float, cells_c: float, soc_pct: float) -> None:
    rig = SimRig(load_config("marsh_tern"), weak(tmp_path, times), soc_pct=soc_pct, file=BOAT)
    try:
        rig.set_plant("bank.temperature_c", cells_c)
        rig.run(2.0)
        rig.act("helm.enable", "press")
        rig.run(3.0)
        rig.set_plant("boat.speed_kn", 3.0)
        for name in rig.shafts:
            rig.act(f"{name}.lever_pct", 100.0)
        torque_nm = []
        for _ in range(round(40.0 / 0.02)):
            rig.step()
            torque_nm.append(float(rig.signals()["port.torque_nm"]))
        seen = rig.signals()
        assert [seen[f"{name}.mode"] for name in rig.shafts] == ["PROPEL", "PROPEL"]
        assert turning_points(torque_nm[250:], 3.0) <= 3
        assert torque_nm[-1] > 15.0
        assert float(seen["bank.cell_min_v"]) > 2.8
        assert "lowest cell sags" in str(seen["boat.alarms"])
        assert "stopped" not in str(seen["boat.alarms"])
    finally:
        rig.close()


@pytest.mark.sr("SR-18", "SR-53")
def test_a_monitor_that_gives_no_warning(tmp_path: Path) -> None:
    """Its limit does not fall before its permit goes: the first try ends thrust, and says so; the next one does not."""
    rig = SimRig(load_config("marsh_tern"), weak(tmp_path, 4.0, tapers=False), soc_pct=60.0, file=BOAT)
    try:
        rig.set_plant("bank.temperature_c", 5.0)
        rig.run(2.0)
        rig.act("helm.enable", "press")
        rig.run(3.0)
        rig.set_plant("boat.speed_kn", 3.0)
        for name in rig.shafts:
            rig.act(f"{name}.lever_pct", 100.0)
        rig.run(1.5)
        assert rig.signals()["port.mode"] == "REST"
        assert "port was stopped" in str(rig.signals()["boat.alarms"])
        for name in rig.shafts:
            rig.act(f"{name}.lever_pct", 0.0)
        rig.run(1.0)
        for name in rig.shafts:
            rig.act(f"{name}.lever_pct", 100.0)
        for _ in range(round(40.0 / 0.5)):
            rig.run(0.5)
            seen = rig.signals()
            assert [seen[f"{name}.mode"] for name in rig.shafts] == ["PROPEL", "PROPEL"], rig.now_s
        assert float(seen["port.torque_nm"]) > 15.0
        assert "lowest cell sags" in str(seen["boat.alarms"])
    finally:
        rig.close()
