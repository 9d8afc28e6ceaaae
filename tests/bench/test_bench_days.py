"""A day at anchor and eight hours under way, simulated whole on both boats: no dead end, no alarm flood, no chatter.

ISA-18.2's idea of rates, from memory: about one alarm in ten minutes is no burden, more than ten in ten minutes are a
flood. Without buses, in ticks of 0.04 s. Run with -m campaign.
"""

from collections import Counter
from collections.abc import Callable, Sequence

import pytest

from sim.rig.direct import DirectRig
from sim.rig.reasons import RigEvent
from supervisor.config import load_config
from supervisor.config.load import resolve_boat

HOUR_S = 3600.0
BOATS = ("marsh_tern", "reed_warbler")


def boat(name: str, soc_pct: float) -> DirectRig:
    rig = DirectRig(load_config(name, {"boat.tick_s": 0.04}), resolve_boat(name))
    rig.set_plant("bank.soc_pct", soc_pct)
    rig.run(2.0)
    return rig


def each(rig: DirectRig, target: str, value: float | bool | str) -> None:
    for name in rig.shafts:
        rig.act(f"{name}.{target}", value)


def mode(rig: DirectRig) -> str:
    return str(rig.signals()["boat.mode"])


def enable(rig: DirectRig) -> None:
    each(rig, "lever_pct", 0.0)
    rig.run(1.0)
    rig.act("helm.enable", "press")
    rig.run(5.0)
    assert mode(rig) == "READY", rig.explain("READY")


def thrust(rig: DirectRig) -> None:
    """Whatever has been: neutral, and thrust is there within five seconds, on each shaft."""
    rig.act("helm.acknowledge", "press")
    rig.run(0.5)
    each(rig, "lever_pct", 0.0)
    rig.run(3.0)
    each(rig, "lever_pct", 20.0)
    rig.run(5.0)
    for name in rig.shafts:
        assert rig.signals()[f"{name}.mode"] == "PROPEL", rig.explain(f"{name} PROPEL")
    each(rig, "lever_pct", 0.0)
    rig.run(2.0)


def warm_engines(rig: DirectRig, names: Sequence[str]) -> None:
    for name in names:
        rig.act(f"{name}.engine", "start")
    rig.run(90.0)
    for name in names:
        assert rig.signals()[f"{name}.engine_running"] == 1


def calm(events: Sequence[RigEvent], hours: float) -> None:
    """Alarms by their rate, and nothing that chatters."""
    raised = [event for event in events if event.kind == "alarm"]
    times = [event.time_s for event in raised]
    worst = max((sum(1 for t in times if start <= t < start + 600.0) for start in times), default=0)
    assert worst <= 10, f"{worst} alarms in ten minutes"
    assert len(raised) <= 6.0 * hours, Counter(event.text for event in raised).most_common(8)
    for name in {event.text for event in raised}:
        own = [event.time_s for event in raised if event.text == name]
        assert max(sum(1 for t in own if start <= t < start + 60.0) for start in own) <= 3, name
    modes = [(event.time_s, event.subject) for event in events if event.kind in ("mode", "trip")]
    for time_s, subject in modes:
        near = sum(1 for t, who in modes if who == subject and time_s <= t < time_s + 10.0)
        assert near <= 6, f"{subject} changes its mode {near} times in 10 s at {time_s:.0f} s"


def day_at_anchor(rig: DirectRig) -> float:
    """Hotel loads and sun by the hour, one charging run by engine where the boat can, one READY left alone."""
    moored = len(rig.shafts) > 1
    sun = (0, 0, 0, 0, 0, 60, 200, 380, 540, 660, 730, 760, 740, 680, 580, 430, 260, 90, 0, 0, 0, 0, 0, 0)
    load = (
        120,
        120,
        120,
        120,
        120,
        150,
        400,
        300,
        200,
        200,
        250,
        500,
        300,
        200,
        200,
        250,
        300,
        700,
        900,
        700,
        500,
        300,
    )
    for hour in range(24):
        rig.act("sun.irradiance_w_m2", float(sun[hour]))
        rig.act("hotel.load_w", float(load[hour] if hour < len(load) else 150))
        left_s = HOUR_S
        if hour == 8 and moored:
            enable(rig)
            name = rig.shafts[0]
            each(rig, "clutch", "open")
            warm_engines(rig, [name])
            rig.act(f"{name}.gear", "ahead")
            rig.act(f"{name}.throttle_pct", 40.0)
            rig.run(10.0)
            rig.act(f"{name}.charge", "at_rest")
            rig.run(2.0 * HOUR_S - 200.0)
            assert rig.signals()[f"{name}.mode"] in ("GENERATE", "REST")
            rig.act(f"{name}.charge", "off")
            rig.act(f"{name}.throttle_pct", 0.0)
            rig.act(f"{name}.gear", "neutral")
            rig.act(f"{name}.engine", "stop")
            rig.run(20.0)
            each(rig, "clutch", "close")
            rig.run(5.0)
            rig.act("helm.disable", "press")
            rig.run(5.0)
        if hour == 9 and moored:
            continue
        if hour == 14:
            enable(rig)
            rig.run(1000.0)
            assert mode(rig) == "STANDBY", "idle, reminded, and switched off"
            left_s -= 1006.0
        rig.run(left_s)
    enable(rig)
    thrust(rig)
    return 24.0


def motoring(rig: DirectRig) -> float:
    """Out of harbour by electric thrust, on by engines that charge, sails where they harvest, and in again."""
    enable(rig)
    for pct in (20.0, 0.0, -20.0, 0.0, 30.0, 0.0, -30.0, 15.0, 40.0):
        each(rig, "lever_pct", pct)
        rig.run(20.0)
    each(rig, "lever_pct", 35.0)
    rig.run(1.0 * HOUR_S)
    each(rig, "lever_pct", 0.0)
    rig.run(10.0)
    warm_engines(rig, rig.shafts)
    each(rig, "gear", "ahead")
    each(rig, "throttle_pct", 45.0)
    rig.run(20.0)
    each(rig, "charge", "under_way")
    rig.run(20.0)
    assert rig.signals()[f"{rig.shafts[0]}.mode"] == "GENERATE", rig.explain(f"{rig.shafts[0]} GENERATE")
    for step in range(16 if len(rig.shafts) > 1 else 30):  # the tender has no sails to spend the rest of the day under
        each(rig, "throttle_pct", 45.0 + (10.0 if step % 2 else -5.0))
        rig.run(0.2 * HOUR_S)
    each(rig, "charge", "off")
    each(rig, "throttle_pct", 0.0)
    rig.run(10.0)
    each(rig, "gear", "neutral")
    each(rig, "engine", "stop")
    rig.run(20.0)
    if len(rig.shafts) > 1:
        rig.act("sail.force_n", 5000.0)
        rig.run(120.0)
        each(rig, "harvest", True)
        rig.run(1.5 * HOUR_S)
        each(rig, "harvest", False)
        rig.run(5.0)
        name = rig.shafts[0]
        rig.act(f"{name}.stop_and_lock", True)
        rig.run(6.0)
        rig.act(f"{name}.lock", "engage")
        rig.run(0.5 * HOUR_S)
        assert rig.signals()[f"{name}.lock"] == "engaged"
        rig.act(f"{name}.stop_and_lock", False)
        rig.act(f"{name}.lock", "release")
        rig.act("sail.force_n", 0.0)
        rig.run(60.0)
        enable(rig)  # nobody asked for anything under sail: reminded, and switched off
    for pct in (60.0, 30.0, 60.0, 20.0):
        each(rig, "lever_pct", pct)
        rig.run(0.2 * HOUR_S)
    for pct in (20.0, 0.0, -30.0, 0.0, 15.0, -15.0, 0.0) * 3:
        each(rig, "lever_pct", pct)
        rig.run(8.0)
    thrust(rig)
    return 8.0


@pytest.mark.campaign
@pytest.mark.parametrize("name", BOATS)
@pytest.mark.parametrize(("day", "soc_pct"), [(day_at_anchor, 55.0), (motoring, 80.0)])
def test_a_whole_day(name: str, day: Callable[[DirectRig], float], soc_pct: float) -> None:
    rig = boat(name, soc_pct)
    hours = day(rig)
    calm(rig.events, hours)
