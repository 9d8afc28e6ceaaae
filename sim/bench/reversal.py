"""How soon a boat has thrust astern: the crash stop on the simulated boat, case by case, and its page docs/astern.md.

    python -m sim.bench.reversal docs/astern.md

Full ahead at the speed that electric thrust holds, then the levers full astern. Nothing but frames passes between the
simulated boat and its supervisor.
"""

import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import NamedTuple

from sim.bench.written import write_page
from sim.plant import PlantParams
from sim.plant.boat import KNOTS_PER_MS
from sim.plant.steady import bisect, running_at_speed
from sim.rig.simulated import SimRig
from supervisor.config import BoatConfig, load_config
from supervisor.config.schema import Shaft
from supervisor.signals import ALARM_TEXT, Alarm

WATCHED_S = 60.0
"""So long the boat is watched after the levers went astern (s)."""

TOLD = ALARM_TEXT[Alarm.ASTERN_SHORT]


class Case(NamedTuple):
    """One bank to stop on: SOC (%), cells (degC), hotel load (W); an input whose value is lost; permit withdrawn."""

    words: str
    soc_pct: float = 60.0
    cells_c: float | None = None
    hotel_w: float = 0.0
    lost: str = ""
    withdrawn: bool = False


SOUND = Case("SOC 60 %")
"""A bank that takes what it is given."""

CASES: tuple[Case, ...] = (
    Case("SOC 20 %", soc_pct=20.0),
    SOUND,
    Case("SOC 95 %", soc_pct=95.0),
    Case("SOC 95 %, hotel load 3 kW", soc_pct=95.0, hotel_w=3000.0),
    Case("SOC 99 %", soc_pct=99.0),
    Case("SOC 100 %", soc_pct=100.0),
    Case("SOC unknown", lost="bank.soc_pct"),
    Case("cells at 5 degC", cells_c=5.0),
    Case("cells at -2 degC", cells_c=-2.0),
    Case("coldest cell unknown", lost="bank.cell_cold_c"),
    Case("charge permit withdrawn", withdrawn=True),
    Case("charge permit withdrawn, hotel load 3 kW", withdrawn=True, hotel_w=3000.0),
)


class Reversal(NamedTuple):
    """What came of one crash stop. Times in s after the levers moved, None where it did not come about while watched:
    half of rated torque astern at each drive; the boat stopped. `told` says that the alarm stood before."""

    half_s: float | None
    stopped_s: float | None
    most_nm: float
    bank_a: float
    cell_v: float
    told: bool


def soonest_s(shaft: Shaft) -> float:
    """The least time (s) from full ahead to half of rated torque astern that slew and dwell of the boat file allow."""
    drive = shaft.drive
    return 1.5 * drive.rated_torque_nm / drive.torque_slew_nm_per_s + drive.reversal_dwell_s


def full_speed_kn(params: PlantParams, config: BoatConfig) -> float:
    """The speed (kn) that all drives at rated power hold in still water."""
    rated_w = min(shaft.drive.rated_power_kw for shaft in config.shaft) * 1000.0
    return bisect(lambda kn: running_at_speed(params, kn / KNOTS_PER_MS).shaft_power_w - rated_w, 1.0, 12.0)


def reversal(boat: str | Path, case: Case, plant: str | Path | None = None) -> Reversal:
    """One crash stop of the boat file `boat`. Raises ConfigError where it cannot be simulated."""
    rig = SimRig(boat, plant, soc_pct=case.soc_pct)
    try:
        return _stopped(rig, case)
    finally:
        rig.close()


def _stopped(rig: SimRig, case: Case) -> Reversal:
    if case.cells_c is not None:
        rig.set_plant("bank.temperature_c", case.cells_c)
    rig.run(2.0)
    rig.act("helm.enable", "press")
    rig.run(2.5)
    if case.hotel_w:
        rig.act("hotel.load_w", case.hotel_w)
    _levers(rig, 100.0)
    rig.run(2.0)
    rig.set_plant("boat.speed_kn", full_speed_kn(rig.params, rig.config))
    rig.run(4.0)
    if case.lost:
        rig.inject("value_out_of_range", case.lost)
    if case.withdrawn:
        rig.inject("permit_withdrawn", "monitor", permit="charge")
    rig.run(3.0)
    told = TOLD in str(rig.signals()["boat.alarms"])
    _levers(rig, -100.0)
    began_s = rig.now_s
    half = 0.5 * min(shaft.drive.rated_torque_nm for shaft in rig.config.shaft)
    half_s = stopped_s = None
    most_nm = cell_v = 0.0
    bank_a = -1e9
    while rig.now_s - began_s < WATCHED_S and (half_s is None or stopped_s is None):
        rig.step()
        seen, since_s = rig.signals(), rig.now_s - began_s
        astern_nm = min(-float(seen[f"{name}.torque_nm"]) for name in rig.shafts)
        turning = min(float(seen[f"{name}.speed_rpm"]) for name in rig.shafts) > 0.0
        most_nm = max(most_nm, astern_nm) if turning else most_nm
        bank_a = max(bank_a, float(seen["bank.current_a"]))
        cell_v = max(cell_v, float(seen["bank.cell_max_v"]))
        if half_s is None and astern_nm >= half:
            half_s = since_s
        if stopped_s is None and float(seen["boat.speed_kn"]) <= 0.2:
            stopped_s = since_s
    return Reversal(half_s, stopped_s, most_nm, bank_a, cell_v, told)


def _levers(rig: SimRig, pct: float) -> None:
    for name in rig.shafts:
        rig.act(f"{name}.lever_pct", pct)


# --- the page

BOATS = ("marsh_tern", "reed_warbler")
HEAD = """# Astern

Torque against a turning propeller is current into the bank, and a bank that is full, cold or without charge permit
accepts none. How soon this gives thrust astern, on the simulated boats, from full ahead at the speed that their
electric thrust holds to full astern. Written by `python -m sim.bench.reversal docs/astern.md`; what your boat does, a
trial in open water shows.

*half* is the time until each drive gives half of its rated torque astern; *most against* the largest torque against a
shaft that still turned ahead; *stopped* the time until the boat is below 0.2 kn (none: not within {watched:g} s);
*bank* and *cell* the largest charging current and cell voltage meanwhile; *alarm before* whether the alarm that
electric astern is short was active before the levers were moved. In confined water with that alarm, have an engine
running.
"""


def _seconds(value_s: float | None) -> str:
    return "none" if value_s is None else f"{value_s:.1f} s"


def page(reverse: Callable[[str, Case], Reversal] = reversal) -> str:
    """The page, freshly measured."""
    lines = [HEAD.format(watched=WATCHED_S)]
    for boat in BOATS:
        config = load_config(boat)
        rig = SimRig(boat)
        speed_kn = full_speed_kn(rig.params, config)
        rig.close()
        lines += [f"## {boat}", "", f"{speed_kn:.1f} kn; slew and dwell allow {soonest_s(config.shaft[0]):.2f} s.", "",
                  "| bank | half | most against | stopped | bank | cell | alarm before |",
                  "| --- | --- | --- | --- | --- | --- | --- |"]  # fmt: skip
        for case in CASES:
            seen = reverse(boat, case)
            lines.append(
                f"| {case.words} | {_seconds(seen.half_s)} | {seen.most_nm:.0f} N m | {_seconds(seen.stopped_s)} "
                f"| {max(0.0, seen.bank_a):.0f} A | {seen.cell_v:.2f} V | {'yes' if seen.told else 'no'} |"
            )
        lines.append("")
    return "\n".join(lines)


def main(arguments: Sequence[str]) -> int:
    """The command."""
    return write_page(arguments, "sim.bench.reversal", page)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
