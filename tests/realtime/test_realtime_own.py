"""An own interlock on real buses: the written procedure against a supervisor in another process."""

import json
import re
from pathlib import Path

from hub.process import Hub
from processes import ROOT, Process, buses, supervisor

CONFIGS = ROOT / "configs"
DECK = """\
VERSION ""
BU_: DECK SUPERVISOR
BO_ 90 DECK: 2 DECK
 SG_ Crc : 0|8@1+ (1,0) [0|255] "" SUPERVISOR
 SG_ Counter : 8|4@1+ (1,0) [0|14] "" SUPERVISOR
 SG_ LadderUp : 12|2@1+ (1,0) [0|1] "" SUPERVISOR
BA_DEF_ BO_ "GuardDataId" INT 0 65535;
BA_DEF_ BO_ "GenMsgCycleTime" INT 0 3600000;
BA_DEF_DEF_ "GuardDataId" 0;
BA_DEF_DEF_ "GenMsgCycleTime" 0;
BA_ "GuardDataId" BO_ 90 46426;
BA_ "GenMsgCycleTime" BO_ 90 40;
VAL_ 90 LadderUp 0 "down" 1 "up" 2 "error" 3 "not_available" ;
"""
INTERLOCK = """
[[interlock]]
name = "swim_ladder"
good = "swim ladder is up"
bad = "swim ladder is down"
bus = "private"
message = "DECK"
signal = "LadderUp"
stale_s = 0.2
good_when = "on"
debounce_s = 0.4
effect = "stop_thrust"
"""


def boat(folder: Path) -> str:
    """reed_warbler with a swim ladder."""
    text = (CONFIGS / "reed_warbler.toml").read_text(encoding="utf-8")
    text = text.replace('"dbc/rvc_bank.dbc"]', '"dbc/rvc_bank.dbc", "deck.dbc"]', 1)
    text = re.sub(r'"(dbc|plants)/', rf'"{CONFIGS}/\1/', text)
    (folder / "deck.dbc").write_text(DECK, encoding="utf-8")
    file = folder / "boat.toml"
    file.write_text(text + INTERLOCK, encoding="utf-8")
    return str(file)


def test_the_written_procedure_on_a_supervisor_elsewhere(hub: Hub, tmp_path: Path) -> None:
    file = boat(tmp_path)
    wires = buses(hub, ("private1", "backbone1"))
    arguments = [file, "--interlock", "swim_ladder", "--live", "--no-plot", "--out", str(tmp_path / "bench"), *wires]
    ours = supervisor(hub, tmp_path / "run", boat=file, broken=None)
    with ours, Process(["-m", "sim.cli", "bench", *arguments], hub.folder) as benched:
        status = benched.process.wait(150)
    lines = "\n".join(benched.lines)
    assert status == 0, lines
    verdict = json.loads((tmp_path / "bench" / "verdict.json").read_text())
    checks = [check for step in verdict["steps"] for check in step["checks"]]
    shown = [check for check in checks if check["verdict"] == "pass"]
    hidden = {check["expected"].partition(" within")[0].partition(" ==")[0] for check in checks
              if check["verdict"] == "not shown"}  # fmt: skip
    assert len(shown) > 20
    assert hidden <= {
        "always interlock.swim_ladder", "interlock.swim_ladder", 'alarm saying "swim ladder is down"',
        'main PROPEL: says "swim ladder is down"',
    }  # fmt: skip
    assert any("own interlock" in check["seen"] for check in shown)
