"""A shipped boat with own interlocks, written as a stranger would write it: a boat file and a DBC file of one's own."""

import tomllib
from pathlib import Path
from typing import Any

from supervisor.config.like import expand_shafts

ROOT = Path(__file__).resolve().parents[2]
CONFIGS = ROOT / "configs"

DECK_DBC = """\
VERSION ""

BU_: DECK SUPERVISOR

BO_ 160 DECK: 6 DECK
 SG_ Crc : 0|8@1+ (1,0) [0|255] "" SUPERVISOR
 SG_ Counter : 8|4@1+ (1,0) [0|14] "" SUPERVISOR
 SG_ Ladder : 12|2@1+ (1,0) [0|1] "" SUPERVISOR
 SG_ Bilge : 14|2@1+ (1,0) [0|1] "" SUPERVISOR
 SG_ SealTemp : 16|16@1+ (0.1,-40) [-40|200] "degC" SUPERVISOR
 SG_ Tank : 32|8@1+ (0.5,0) [0|100] "%" SUPERVISOR
 SG_ Hatch : 40|2@1+ (1,0) [0|1] "" SUPERVISOR

BO_ 1280 PLAIN: 4 DECK
 SG_ Ladder : 0|2@1+ (1,0) [0|1] "" SUPERVISOR
 SG_ Bilge : 2|2@1+ (1,0) [0|1] "" SUPERVISOR
 SG_ Single : 4|1@1+ (1,0) [0|1] "" SUPERVISOR
 SG_ SealTemp : 16|16@1+ (0.1,-40) [-40|200] "degC" SUPERVISOR

BO_ 2583691518 SEAL: 8 DECK
 SG_ Instance : 0|8@1+ (1,0) [0|252] "" SUPERVISOR
 SG_ Temp : 8|16@1+ (0.03125,-273) [-273|1735] "degC" SUPERVISOR

BA_DEF_ BO_ "GuardDataId" INT 0 65535;
BA_DEF_ BO_ "GenMsgCycleTime" INT 0 3600000;
BA_DEF_ BO_ "VFrameFormat" ENUM "StandardCAN","ExtendedCAN","reserved","J1939PG";
BA_DEF_DEF_ "GuardDataId" 0;
BA_DEF_DEF_ "GenMsgCycleTime" 0;
BA_DEF_DEF_ "VFrameFormat" "StandardCAN";
BA_ "GuardDataId" BO_ 160 46496;
BA_ "GenMsgCycleTime" BO_ 160 40;
BA_ "GenMsgCycleTime" BO_ 1280 100;
BA_ "GenMsgCycleTime" BO_ 2583691518 100;
BA_ "VFrameFormat" BO_ 2583691518 3;
VAL_ 160 Ladder 0 "down" 1 "up" 2 "error" 3 "not_available" ;
VAL_ 160 Bilge 0 "water" 1 "dry" 2 "error" 3 "not_available" ;
VAL_ 160 Hatch 0 "shut" 1 "open" 2 "error" 3 "not_available" ;
VAL_ 160 SealTemp 65535 "not_available" ;
VAL_ 160 Tank 255 "not_available" ;
VAL_ 1280 Ladder 0 "down" 1 "up" 2 "error" 3 "not_available" ;
VAL_ 1280 Bilge 0 "water" 1 "dry" 2 "error" 3 "not_available" ;
VAL_ 1280 SealTemp 65535 "not_available" ;
"""

LADDER: dict[str, Any] = {
    "name": "swim_ladder", "good": "swim ladder is up", "bad": "swim ladder is down",
    "bus": "private", "message": "DECK", "signal": "Ladder", "stale_s": 0.16, "good_when": "on",
    "effect": "stop_thrust",
}  # fmt: skip
BILGE: dict[str, Any] = {
    "name": "bilge", "good": "bilge is dry", "bad": "water in the bilge",
    "bus": "private", "message": "DECK", "signal": "Bilge", "stale_s": 0.16, "good_when": "on",
    "effect": "unload_charge",
}  # fmt: skip
SEAL: dict[str, Any] = {
    "name": "shaft_seal", "good": "shaft seals are cool", "bad": "a shaft seal is hot",
    "bus": "private", "message": "DECK", "signal": "SealTemp", "stale_s": 0.16, "bad_above": 80.0, "hysteresis": 10.0,
    "debounce_s": 1.0, "effect": "limit_thrust", "limit_pct": 40.0,
}  # fmt: skip


def toml(value: object) -> str:
    """A value as TOML on one line."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return f'"{value}"'
    if isinstance(value, dict):
        return "{ " + ", ".join(f'"{key}" = {toml(item)}' for key, item in value.items()) + " }"
    if isinstance(value, list):
        return f"[{', '.join(toml(item) for item in value)}]"
    return repr(value)


def table(entry: dict[str, Any]) -> str:
    """One `[[interlock]]` as it stands in a boat file."""
    return "\n".join(["", "[[interlock]]", *(f"{key} = {toml(value)}" for key, value in entry.items()), ""])


def boat_text(*entries: dict[str, Any], boat: str = "marsh_tern") -> str:
    """The boat file's text."""
    text = (CONFIGS / f"{boat}.toml").read_text(encoding="utf-8")
    old = '"dbc/rvc_bank.dbc"]'
    if text.count(old) != 1:
        raise ValueError(f"{boat}: no place for another DBC file")
    return text.replace(old, '"dbc/rvc_bank.dbc", "deck.dbc"]') + "".join(table(entry) for entry in entries)


def boat_data(*entries: dict[str, Any], boat: str = "marsh_tern") -> dict[str, Any]:
    """The same as nested dicts."""
    return expand_shafts(tomllib.loads(boat_text(*entries, boat=boat)), boat)


def write_boat(folder: Path, *entries: dict[str, Any], boat: str = "marsh_tern") -> Path:
    """The boat file in `folder`, with all that it names beside it."""
    folder.mkdir(parents=True, exist_ok=True)
    file = folder / "boat.toml"
    file.write_text(boat_text(*entries, boat=boat), encoding="utf-8")
    (folder / "deck.dbc").write_text(DECK_DBC, encoding="utf-8")
    for name in ("dbc", "plants"):
        if not (folder / name).exists():
            (folder / name).symlink_to(CONFIGS / name)
    return file
