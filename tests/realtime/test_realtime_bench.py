"""`thwart bench --live`: the device under test is another process on the bus, ours or somebody else's."""

import json
import re
from pathlib import Path

import pytest
from hub.process import Hub
from processes import ROOT, Process, buses, supervisor

CONFIGS = ROOT / "configs"
NEUTRAL = """
title = "Neutral before enable, briefly"
[[step]]
name = "Enable with the lever ahead"
do = { "first.lever_pct" = 50, "helm.enable" = "press" }
wait_s = 4.0
expect = [
    { signal = "boat.mode", value = "NEUTRAL_WAIT", within_s = 0.2 },
    { signal = "first.torque_nm", of = "magnitude", op = ">", value = 0.5, never = true },
    { explain = "enable", says = "lever is not in neutral" },
]
[[step]]
name = "Neutral, then ahead"
do = { "first.lever_pct" = 0 }
wait_s = 2.0
expect = [{ signal = "boat.mode", value = "READY", within_s = 4.0 }]
[[step]]
name = "Thrust"
do = { "first.lever_pct" = 50 }
expect = [
    { signal = "first.mode", value = "PROPEL", within_s = 0.1 },
    { signal = "first.torque_nm", op = ">", value = 10, within_s = 1.0 },
    { event = "mode", subject = "boat", never = true },
]
[[step]]
name = "Monitor fault"
inject = [{ fault = "monitor_fault", target = "monitor" }]
expect = [
    { event = "trip", subject = "boat", says = "fault", within_s = 0.2 },
    { signal = "first.torque_nm", of = "magnitude", op = "<", value = 0.5, within_s = 0.3 },
    { event = "alarm", says = "boat is tripped", within_s = 0.3 },
]
"""


@pytest.fixture
def procedure(tmp_path: Path) -> Path:
    path = tmp_path / "neutral.toml"
    path.write_text(NEUTRAL)
    return path


def bench(hub: Hub, procedure: Path, out: Path, boat: str, *more: str) -> Process:
    wires = buses(hub, ("private1", "backbone1"))
    arguments = [boat, str(procedure), "--live", "--no-plot", "--out", str(out), *wires, *more]
    return Process(["-m", "sim.cli", "bench", *arguments], hub.folder)


def without_status(tmp_path: Path) -> str:
    """reed_warbler for a controller that says nothing of its modes and alarms."""
    text = (CONFIGS / "reed_warbler.toml").read_text()
    lines = [
        line
        for line in text.splitlines()
        if not any(f'"{name}"' in line for name in ("STATUS", "ALARMS", "MORE_ALARMS"))
    ]
    text = re.sub(r'"(dbc|plants)/', rf'"{CONFIGS}/\1/', "\n".join(lines))
    path = tmp_path / "boat.toml"
    path.write_text(text.replace("STATUS = 0.2\n", "").replace("MORE_ALARMS = 0.2\n", "").replace("ALARMS = 0.2\n", ""))
    return str(path)


def test_our_supervisor_in_another_process(hub: Hub, tmp_path: Path, procedure: Path) -> None:
    # thrust for a second, so that what judges it has an occasion
    procedure.write_text(NEUTRAL.replace('name = "Thrust"', 'name = "Thrust"\nwait_s = 1.0'))
    ours = supervisor(hub, tmp_path / "run", boat="reed_warbler", broken=None)
    with ours, bench(hub, procedure, tmp_path / "bench", "reed_warbler") as benched:
        status = benched.process.wait(60)
    lines = "\n".join(benched.lines)
    assert status == 0, lines
    assert "PASS: 4 steps, 9 expectations met, 1 cannot be seen on the bus" in lines
    verdict = json.loads((tmp_path / "bench" / "verdict.json").read_text())
    assert [step["verdict"] for step in verdict["steps"]] == ["pass"] * 4
    assert any("supervisor elsewhere" in remark for remark in verdict["remarks"])
    # the log holds both sides: the bench's own frames and what it heard
    log = (tmp_path / "bench" / "bus.log").read_text()
    assert " can0 012#" in log  # the simulated monitor
    assert " can0 031#" in log  # the supervisor's order
    signals = (tmp_path / "bench" / "signals.csv").read_text().splitlines()
    assert len(signals) > 20
    # requirements: judged where the bus shows what they need, and named where it does not
    held = {one["id"]: one["held"] for one in verdict["judged"]}
    assert not [identifier for identifier, good in held.items() if good is False]
    assert {"SR-01", "SR-02", "SR-05", "SR-07", "SR-08", "SR-18", "SR-24"} <= {
        one for one, good in held.items() if good
    }
    assert "single moment" in verdict["unjudged"]["SR-04"]
    assert verdict["unjudged"]["SR-39"] == "not on the bus: lock.engage"
    assert not held.keys() & verdict["unjudged"].keys()
    assert re.search(r"\d+ of \d+ safety requirements held, 0 violated, \d+ not exercised, \d+ not judged here", lines)


def test_a_device_with_another_slew_than_the_boat_s_is_found_by_its_requirement(
    hub: Hub, tmp_path: Path, procedure: Path
) -> None:
    text = (CONFIGS / "reed_warbler.toml").read_text()
    text = re.sub(r'"(dbc|plants)/', rf'"{CONFIGS}/\1/', text)
    assert "torque_slew_nm_per_s = 160" in text
    quicker = tmp_path / "quicker.toml"
    quicker.write_text(text.replace("torque_slew_nm_per_s = 160", "torque_slew_nm_per_s = 240"))
    procedure.write_text(NEUTRAL.replace('name = "Thrust"', 'name = "Thrust"\nwait_s = 1.0'))
    ours = supervisor(hub, tmp_path / "run", boat=str(quicker), broken=None)
    with ours, bench(hub, procedure, tmp_path / "bench", "reed_warbler") as benched:
        status = benched.process.wait(60)
    lines = "\n".join(benched.lines)
    assert status == 1, lines
    verdict = json.loads((tmp_path / "bench" / "verdict.json").read_text())
    assert [one["id"] for one in verdict["judged"] if one["held"] is False] == ["SR-24"]
    assert "SR-24" in lines


def test_somebody_elses_careless_controller_fails(hub: Hub, tmp_path: Path, procedure: Path) -> None:
    """Thrust with the lever ahead at enabling, and thrust on after a monitor fault: both are found; what it does not
    say is not held against it."""
    naive = Process([str(ROOT / "tests" / "realtime" / "naive_controller.py"), hub.channel("private0"),
                     str(CONFIGS / "dbc" / "guarded.dbc")], tmp_path)  # fmt: skip
    with naive, bench(hub, procedure, tmp_path / "bench", without_status(tmp_path)) as benched:
        status = benched.process.wait(60)
    lines = "\n".join(benched.lines)
    assert status == 1, lines
    verdict = json.loads((tmp_path / "bench" / "verdict.json").read_text())
    found = {check["expected"]: check["verdict"] for step in verdict["steps"] for check in step["checks"]}
    assert found["never size of main.torque_nm > 0.5 N m"] == "fail"
    assert found["main.torque_nm > 10 N m within 1 s"] == "pass"
    assert found["size of main.torque_nm < 0.5 N m within 0.3 s"] == "fail"
    assert found["boat.mode == READY within 4 s"] == "not shown"
    assert found['trip boat saying "fault" within 0.2 s'] == "not shown"
    assert "FAIL: 2 of 10 expectations not met, 7 cannot be seen on the bus" in lines
    # torque after a withdrawn permit is against a requirement whatever else it says, and is found by that as well
    assert "SR-14" in [one["id"] for one in verdict["judged"] if one["held"] is False]
    assert verdict["unjudged"]["SR-01"] == "not on the bus: boat.mode"


def test_nobody_there(hub: Hub, tmp_path: Path, procedure: Path) -> None:
    with bench(hub, procedure, tmp_path / "bench", "marsh_tern", "--wait", "1") as benched:
        assert benched.process.wait(30) == 2
    lines = "\n".join(benched.lines)
    assert "no supervisor is heard: no good SHAFT_ORDER_1, SHAFT_ORDER_2 on bus private within 1 s" in lines
    assert "Traceback" not in lines
    assert not (tmp_path / "bench").exists()
