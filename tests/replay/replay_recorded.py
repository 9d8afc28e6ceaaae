"""A run of the simulated boat, recorded from the supervisor's side as a run folder."""

from collections.abc import Callable
from pathlib import Path

import can

from sim.bench.candump import CandumpLog
from sim.replay.decisions import Decisions
from sim.rig.simulated import SimRig
from supervisor.controller import Controller
from supervisor.journal.buslog import frame_name
from supervisor.journal.ticks import TickLog

Act = Callable[[SimRig], None]


def record(folder: Path, boat: str, play: Act) -> Decisions:
    """Run a rig and record, as a run folder: bus.log, ticks.csv; returns the decisions made live."""
    rig = SimRig(boat)
    log = CandumpLog(folder / "bus.log", rig.buses)
    ticks = TickLog(folder / "ticks.csv")
    live = Decisions(0)
    rig.supervisor.on_frame = lambda time_s, bus, message, sent: log.write(time_s, message, bus)
    tick = rig.supervisor.tick
    number = 0

    def noted(now_s: float) -> object:
        nonlocal number
        outcome = tick(now_s)
        live.take(number, outcome)
        number += 1
        ticks.write(now_s, rig.supervisor.port.receive_ok, rig.supervisor.deadline_ok, rig.supervisor.port.reopened)
        return outcome

    rig.supervisor.tick = noted  # type: ignore[assignment, method-assign]
    try:
        play(rig)
    finally:
        rig.close()
        log.close()
        ticks.close()
    return live


def record_as_run(folder: Path, boat: str, play: Act, since_full_s: float, first: int, parts: int) -> Decisions:
    """The same as rotating logs and side files of a run on the boat: stamps are dates, every frame has its direction.

    The first file gets number `first`; there are `parts` of them, cut anywhere.
    """
    offset_s = 1_780_000_000.123456
    rig = SimRig(boat)
    rig.supervisor.controller = Controller(rig.config, since_full_s)
    live = Decisions(0)
    lines: list[tuple[float, str]] = []
    ticks: list[tuple[float, bool, bool, frozenset[str]]] = []
    channel = {bus: f"can{number}" for number, bus in enumerate(rig.buses)}

    def framed(time_s: float, bus: str, message: can.Message, sent: bool) -> None:
        way = "T" if sent else "R"
        lines.append((time_s, f"({time_s + offset_s:.6f}) {channel[bus]} {frame_name(message)} {way}\n"))

    rig.supervisor.on_frame = framed
    tick = rig.supervisor.tick

    def noted(now_s: float) -> object:
        outcome = tick(now_s)
        live.take(len(ticks), outcome)
        port = rig.supervisor.port
        ticks.append((now_s, port.receive_ok, rig.supervisor.deadline_ok, frozenset(port.reopened)))
        return outcome

    rig.supervisor.tick = noted  # type: ignore[assignment, method-assign]
    try:
        play(rig)
    finally:
        rig.close()
    for part in range(parts):
        low, high = len(ticks) * part // parts, len(ticks) * (part + 1) // parts
        stem = f"bus-{first + part:06d}"
        times = {one[0] for one in ticks[low:high]}
        text = "".join(line for time_s, line in lines if time_s in times)
        (folder / f"{stem}.log").write_text(text, encoding="ascii")
        side = TickLog(folder / f"{stem}.ticks", offset_s, since_full_s, continued=part > 0)
        for one in ticks[low:high]:
            side.write(*one)
        side.close()
    return live


def voyage(rig: SimRig) -> None:
    """Enable, propel, reverse, engine, charge, a withdrawn permit, an adapter that goes and comes back, a trip."""
    first = rig.shafts[0]
    rig.run(1.0)
    rig.act("helm.enable", "press")
    rig.run(3.0)
    rig.act(f"{first}.lever_pct", 60.0)
    rig.run(4.0)
    rig.act(f"{first}.lever_pct", -40.0)
    rig.run(4.0)
    rig.act(f"{first}.lever_pct", 0.0)
    rig.run(4.0)
    rig.act(f"{first}.engine", "start")
    rig.run(3.0)
    rig.act(f"{first}.gear", "ahead")
    rig.act(f"{first}.throttle_pct", 40.0)
    rig.run(4.0)
    rig.act(f"{first}.charge", "under_way")
    rig.run(4.0)
    rig.inject("permit_withdrawn", "monitor", permit="charge")
    rig.run(1.0)
    rig.clear("permit_withdrawn", "monitor")
    rig.run(1.0)
    rig.inject("adapter_unplugged", rig.buses[0])
    rig.run(1.0)
    rig.clear("adapter_unplugged", rig.buses[0])
    rig.run(2.0)
    rig.act("helm.reset", "press")
    rig.run(1.0)
