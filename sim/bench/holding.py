"""At which speeds a boat stops and locks its shaft under sail: case by case, and its page docs/stop-and-lock.md.

    python -m sim.bench.holding docs/stop-and-lock.md

The simulated boat is kept at a speed, as by its sails; then the crew asks to stop and lock the first shaft.
"""

import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import NamedTuple

from sim.bench.written import write_page
from sim.rig.simulated import SimRig
from supervisor.config import BoatConfig

SAIL_S, KEPT_S = 8.0, 0.1
"""So long the boat sails before the crew asks (s); so often its speed is set anew (s)."""

SPEEDS_KN = (5.0, 7.0, 9.0, 11.0)


class Case(NamedTuple):
    """One bank to brake into: SOC (%), the charge permit withdrawn."""

    words: str
    soc_pct: float
    withdrawn: bool = False


CASES = (
    Case("SOC 60 %", 60.0), Case("SOC 95 %", 95.0), Case("SOC 100 %", 100.0),
    Case("charge permit withdrawn", 60.0, withdrawn=True),
)  # fmt: skip


class Held(NamedTuple):
    """What came of it: the speed (rpm) at which the shaft had freewheeled; the time (s) until the lock was permitted,
    None where it was not; the torque (N m) that held the shaft then; the fastest that it turned while the lock went in
    (rpm); the largest current into the bank (A); whether the failure was told, and short braking beforehand."""

    free_rpm: float
    permitted_s: float | None
    holding_nm: float
    fastest_rpm: float
    bank_a: float
    told: bool
    told_before: bool


def can_lock(config: BoatConfig) -> bool:
    """The first shaft has a lock, and a selector for stop and lock."""
    return bool(config.shaft) and config.shaft[0].lock.fitted and "shaft.stop_and_lock" in config.shaft[0].inputs


def holding(boat: str | Path, speed_kn: float, case: Case) -> Held:
    """Stop and lock the first shaft of the boat file `boat` at `speed_kn`. Raises ConfigError where it cannot be
    simulated."""
    rig = SimRig(boat, soc_pct=case.soc_pct)
    try:
        return _held(rig, speed_kn, case)
    finally:
        rig.close()


def _held(rig: SimRig, speed_kn: float, case: Case) -> Held:
    name = rig.shafts[0]
    rig.run(2.0)
    rig.act("helm.enable", "press")
    rig.run(2.5)
    if case.withdrawn:
        rig.inject("permit_withdrawn", "monitor", permit="charge")
    _sail(rig, speed_kn, SAIL_S)
    before = str(rig.signals()["boat.alarms"])
    free_rpm = float(rig.signals()[f"{name}.propeller_rpm"])
    rig.act(f"{name}.stop_and_lock", True)
    began_s, bank_a = rig.now_s, 0.0
    while rig.now_s - began_s < rig.config.limits.hold_s + 3.0:
        _sail(rig, speed_kn, KEPT_S)
        seen = rig.signals()
        bank_a = max(bank_a, float(seen["bank.current_a"]))
        if seen[f"{name}.lock_engage"] == 1 and seen[f"{name}.mode"] == "PROPEL":
            took_s, holding_nm, fastest_rpm = rig.now_s - began_s, abs(float(seen[f"{name}.torque_nm"])), 0.0
            rig.act(f"{name}.lock", "engage")
            for _ in range(30):
                _sail(rig, speed_kn, KEPT_S)
                fastest_rpm = max(fastest_rpm, abs(float(rig.signals()[f"{name}.propeller_rpm"])))
            return Held(free_rpm, took_s, holding_nm, fastest_rpm, bank_a, False, "astern" in before)
    told = "not stopped and locked" in str(rig.signals()["boat.alarms"])
    return Held(free_rpm, None, 0.0, 0.0, bank_a, told, "astern" in before)


def _sail(rig: SimRig, speed_kn: float, seconds: float) -> None:
    for _ in range(round(seconds / KEPT_S)):
        rig.set_plant("boat.speed_kn", speed_kn)
        rig.run(KEPT_S)


# --- the page

BOAT = "marsh_tern"
HEAD = """# Stop and lock under sail

A shaft that the flow turns never stops by itself, and its lock engages only on one that is still. On request its
drive brakes it to still and holds it (SR-60); the lock is permitted once it has been still for its time, and as soon as
the lock moves the drive lets go. Written by `python -m sim.bench.holding docs/stop-and-lock.md` on the simulated
marsh_tern, kept at its speed as by sails; what your boat does, a trial shows, slowly first and with nobody near the
shaft.

*permitted* is the time from the request to the lock's permit (none: not within the time of the boat file, and whether
there was an alarm); *holds* the torque that held the shaft then, of {rated:g} N m; *while locking* the fastest that it
turned while the lock went in: the simulated lock is a brake that grips as it travels, a bolt must catch its hole;
*alarm before* whether the alarm that electric astern is short was active before it was tried.

| speed | freewheels at | bank | permitted | holds | while locking | bank current | alarm before |
| --- | --- | --- | --- | --- | --- | --- | --- |
"""


def row(speed_kn: float, case: Case, seen: Held) -> str:
    """One line of the table."""
    if seen.permitted_s is None:
        permitted = "none (alarm given)" if seen.told else "none, NO ALARM"
        rest = "| | |"
    else:
        permitted = f"{seen.permitted_s:.1f} s"
        rest = f"| {seen.holding_nm:.0f} N m | {seen.fastest_rpm:.0f} rpm |"
    return (
        f"| {speed_kn:g} kn | {seen.free_rpm:.0f} rpm | {case.words} | {permitted} {rest} {seen.bank_a:.0f} A "
        f"| {'yes' if seen.told_before else 'no'} |"
    )


def page(hold: Callable[[str, float, Case], Held] = holding) -> str:
    """The page, freshly measured."""
    rig = SimRig(BOAT)
    rated = rig.config.shaft[0].drive.rated_torque_nm
    rig.close()
    lines = [row(speed_kn, case, hold(BOAT, speed_kn, case)) for speed_kn in SPEEDS_KN for case in CASES]
    return HEAD.format(rated=rated) + "\n".join(lines) + "\n"


def main(arguments: Sequence[str]) -> int:
    """The command."""
    return write_page(arguments, "sim.bench.holding", page)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
