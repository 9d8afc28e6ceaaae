"""What of our supervisor explains that another one orders something else: the interlock that is missing, or the limit
that binds, in the words of the trade."""

from sim.replay.bounds import charge_bounds, derate_bounds
from sim.replay.replayed import Change
from sim.replay.told import told_in
from supervisor.bus import PERMIT_OUTPUTS
from supervisor.config import BoatConfig
from supervisor.controller import explain_boat, explain_permit, explain_shaft, freeze
from supervisor.modes import BoatMode, ShaftMode
from supervisor.signals import ALARM_TEXT, BOAT, Alarm, ShaftInput, ShaftPermit

_BANK_ALARMS = (
    Alarm.CHARGE_WITHDRAWN | Alarm.DISCHARGE_WITHDRAWN | Alarm.DERATE_ENDED | Alarm.DERATE_BAND | Alarm.SOC_UNKNOWN
    | Alarm.TEMPERATURE_DERATE | Alarm.ENGINE_SAG
)  # fmt: skip


def why(config: BoatConfig, change: Change, level: int, name: str, ours: float, theirs: float) -> str:
    """Why ours is not theirs at this tick, for output `name` of the boat (level -1) or a shaft."""
    if level == BOAT:
        return _boat(config, change, name, ours, theirs)
    if name in PERMIT_OUTPUTS:
        if ours > theirs:
            return "our conditions for this permit are all met"
        permit = ShaftPermit(PERMIT_OUTPUTS[name])
        ways = explain_permit(permit, change.outcome.permit_words[level], told_in(config, change, level))
        return "; ".join(ways[0].words)
    if name == "shaft.mode":
        return _mode(config, change, level, theirs)
    if name in ("drive.torque_nm", "drive.current_a", "torque_nm", "current_a"):
        current = name.endswith("_a")
        return _torque(config, change, level, ours, theirs, current, charging=theirs > 0.0 if current else None)
    return ""


def _boat(config: BoatConfig, change: Change, name: str, ours: float, theirs: float) -> str:
    outcome = change.outcome
    if name == "boat.mode" and theirs in tuple(BoatMode):
        goal = BoatMode(int(theirs))
        ways = explain_boat(outcome.boat_mode, outcome.boat_word, goal, told_in(config, change))
        return "; ".join(ways[0].words) if ways else f"{outcome.boat_mode.name} does not lead there"
    lim, command = freeze(config).limits, outcome.boat_command
    if name in ("boat.charge_limit_a", "charge_limit_a"):
        bounds = charge_bounds(lim, change.boat, command.charge_limit_a)
        return "; ".join(bounds) or "no limit of ours asks for less"
    if name in ("boat.derate_pct", "derate_pct"):
        bounds = derate_bounds(lim, change.boat, command) if command.derate_pct < 100.0 else []
        return "; ".join(bounds) or "nothing of ours asks for less"
    if name in ("sources.stop", "stop_sources"):
        return _bank(change) or "our own limits"
    return ""


def _bank(change: Change) -> str:
    alarms = change.outcome.boat_command.alarms & int(_BANK_ALARMS)
    return "; ".join(text for alarm, text in ALARM_TEXT.items() if alarms & int(alarm))


def _mode(config: BoatConfig, change: Change, level: int, theirs: float) -> str:
    outcome = change.outcome
    if theirs not in tuple(ShaftMode):
        return ""
    goal = ShaftMode(int(theirs))
    told = told_in(config, change, level)
    ways = explain_shaft(outcome.shaft_modes[level], outcome.shaft_words[level], goal, told)
    return (
        "; ".join(ways[0].words) if ways and ways[0].words else f"{outcome.shaft_modes[level].name} does not lead there"
    )


def _torque(
    config: BoatConfig, change: Change, level: int, ours: float, theirs: float, current: bool, charging: bool | None
) -> str:
    """`current`: amperes are compared, not N m. `charging`: whether theirs charges, as far as its sign alone tells; a
    torque charges when it opposes rotation."""
    outcome = change.outcome
    mode = outcome.shaft_modes[level]
    if outcome.boat_mode != BoatMode.READY:
        ways = explain_boat(outcome.boat_mode, outcome.boat_word, BoatMode.READY, told_in(config, change))
        missing = "; ".join(ways[0].words) if ways else ""
        return f"boat is {outcome.boat_mode.name}" + (f": {missing}" if missing else "")
    shaft = change.shafts[level]
    rpm = shaft.machine_speed_rpm if shaft.known & ShaftInput.MACHINE_SPEED else 0.0
    opposing = theirs * rpm < 0.0 if charging is None else charging
    if mode in (ShaftMode.REST, ShaftMode.ISOLATED, ShaftMode.UNLOAD) and abs(theirs) > abs(ours):
        told = told_in(config, change, level)
        goals = (ShaftMode.GENERATE, ShaftMode.HARVEST) if opposing else (ShaftMode.PROPEL,)
        found = [way for goal in goals for way in explain_shaft(mode, outcome.shaft_words[level], goal, told)]
        found.sort(key=lambda way: len(way.bits))
        return f"shaft is {mode.name}: " + ("; ".join(found[0].words) if found and found[0].words else "unloading")
    if abs(ours) > abs(theirs):
        return "no interlock or limit of ours asks for less"
    reasons = [_bank(change)]
    command = outcome.boat_command
    lim = freeze(config).limits
    if not opposing and command.derate_pct < 100.0:
        bounds = "; ".join(derate_bounds(lim, change.boat, command))
        reasons = [f"electric thrust derated to {command.derate_pct:.0f} %: {bounds}"]
    if opposing:
        if command.charge_limit_a < lim.full_charge_a:
            bounds = "; ".join(charge_bounds(lim, change.boat, command.charge_limit_a))
            reasons = [f"the bank takes {command.charge_limit_a:.0f} A: {bounds}"]
        aim_a = outcome.shaft_commands[level].current_a
        reasons.append(f"soft start, share or engine hold this shaft at {aim_a:.1f} A")
    drive = config.shaft[level].drive
    if current and abs(theirs) > drive.max_current_a:
        reasons.append(f"the drive's limit is {drive.max_current_a:g} A")
    if not current and abs(theirs) > drive.rated_torque_nm:
        reasons.append(f"rated torque is {drive.rated_torque_nm:g} N m")
    return "; ".join(reason for reason in reasons if reason) or "slew or soft start"
