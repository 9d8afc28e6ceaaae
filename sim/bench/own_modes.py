"""Working modes of a boat as steps of a procedure: into each of them, out again, and into the unloading after it."""

from collections.abc import Sequence
from typing import Any, NamedTuple

from supervisor.config import BoatConfig

Step = dict[str, Any]
Expect = dict[str, Any]


class Mode(NamedTuple):
    """One working mode. `shows` is what the bench reads as its mode; `enter` leads there from READY with every shaft at
    rest, `leave` back. `unload` begins an unloading that lasts some seconds, `mend` takes its cause away; both empty
    where there is none."""

    title: str
    shows: str
    enter: tuple[Step, ...] = ()
    leave: tuple[Step, ...] = ()
    unload: tuple[Step, ...] = ()
    mend: tuple[Step, ...] = ()


def step(name: str, expect: Sequence[Expect] = (), wait_s: float = 0.0, **does: Any) -> Step:
    """One step as a procedure file has it; `does` are its `do`, `set`, `inject` and `clear`."""
    found: Step = {"name": name, **{kind: value for kind, value in does.items() if value}}
    if wait_s:
        found["wait_s"] = round(wait_s, 6)
    if expect:
        found["expect"] = [dict(one) for one in expect]
    return found


def power_up() -> list[Step]:
    """From cold, with a bank that takes and gives."""
    return [step("Power up", wait_s=1.0, set={"bank.soc_pct": 60.0})]


def enable(config: BoatConfig) -> list[Step]:
    """Every lever in neutral, enable, READY."""
    slowest_s = max(shaft.drive.precharge_s for shaft in config.shaft) + config.limits.neutral_s + 1.0
    ready = {"signal": "boat.mode", "value": "READY", "within_s": slowest_s}
    return [step("Enable with every lever in neutral", [ready], do={"helm.enable": "press"})]


def ahead(config: BoatConfig, percent: float = 60.0, wait_s: float = 4.0) -> list[Step]:
    """Levers ahead."""
    del config
    propel = {"signal": "each.mode", "value": "PROPEL", "within_s": 1.0}
    return [step(f"Levers {percent:g} % ahead", [propel], wait_s, do={"each.lever_pct": percent})]


def neutral(config: BoatConfig) -> list[Step]:
    """Levers in neutral, for long enough that it counts as fresh."""
    rest = {"signal": "each.mode", "op": "!=", "value": "PROPEL", "within_s": 3.0}
    return [step("Levers in neutral", [rest], config.limits.neutral_s + 1.0, do={"each.lever_pct": 0.0})]


def stop_boat() -> list[Step]:
    """The simulated boat is laid still."""
    still = {"signal": "each.speed_rpm", "of": "magnitude", "op": "<", "value": 4.0, "within_s": 60.0}
    return [step("The boat lies still", [still], 2.0, set={"boat.speed_kn": 0.0})]


def working_modes(config: BoatConfig) -> dict[str, Mode]:
    """The working modes that this boat has, by name: "thrust", "generate", "at_rest", "harvest"."""
    slow_s = 14.0
    charging = {"signal": "each.mode", "value": "GENERATE", "within_s": 1.0}
    flows = {"signal": "each.current_a", "op": ">", "value": 3.0}
    off = step("Charging off", wait_s=0.2, do={"each.charge": "off"})
    rest = {"signal": "each.mode", "value": "REST", "within_s": 10.0}
    shut_down = (
        step(
            "Charging off, gear neutral, throttles down",
            [rest],
            4.0,
            do={"each.charge": "off", "each.gear": "neutral", "each.throttle_pct": 0.0},
        ),
        step("Engines off", wait_s=6.0, do={"each.engine": "stop"}),
        *stop_boat(),
    )
    started = step("Start every engine", wait_s=4.0, do={"each.throttle_pct": 0.0, "each.engine": "start"})
    first = config.shaft[0].name
    lost = [{"fault": "lever_lost", "target": shaft.name} for shaft in config.shaft]
    found = {
        "thrust": Mode(
            "thrust",
            "PROPEL",
            tuple(ahead(config)),
            tuple(neutral(config)),
            (step("Every lever's wire breaks: thrust is being ramped down", wait_s=0.2, inject=lost),),
            (step("The wires are repaired", wait_s=0.5, clear=lost),),
        ),
        "generate": Mode(
            "charging under way",
            "GENERATE",
            (
                started,
                step("Gear ahead, throttles half up", wait_s=6.0, do={"each.gear": "ahead", "each.throttle_pct": 50.0}),
                step("Charge under way", [charging, flows], slow_s, do={"each.charge": "under_way"}),
            ),
            shut_down,
            (off,),
        ),
    }
    if all(shaft.clutch.fitted and "shaft.charge_at_rest" not in shaft.not_fitted for shaft in config.shaft):
        closed = {"signal": f"{first}.clutch", "value": "closed", "within_s": 6.0}
        found["at_rest"] = Mode(
            "charging at rest",
            "GENERATE",
            (
                step("Open the clutches", wait_s=3.0, do={"each.clutch": "open"}),
                started,
                step("Gear ahead, throttles up", wait_s=5.0, do={"each.gear": "ahead", "each.throttle_pct": 40.0}),
                step("Charge at rest", [charging, flows], slow_s, do={"each.charge": "at_rest"}),
            ),
            (*shut_down, step("Close the clutches", [closed], 1.0, do={"each.clutch": "close"})),
            (off,),
        )
    if all(shaft.gearbox.trailing_allowed and "shaft.harvest" not in shaft.not_fitted for shaft in config.shaft):
        found["harvest"] = Mode(
            "harvest under sail",
            "HARVEST",
            (
                step("Under sail", wait_s=2.0, set={"boat.speed_kn": 7.0}, do={"sail.force_n": 3000.0}),
                step(
                    "Harvest",
                    [{**charging, "value": "HARVEST"}, {**flows, "value": 1.0}],
                    6.0,
                    do={"each.harvest": True},
                ),
            ),
            (
                step("Harvest off, sails down", [rest], 3.0, do={"each.harvest": False, "sail.force_n": 0.0}),
                *stop_boat(),
            ),
        )
    return found
