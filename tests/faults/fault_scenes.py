"""A boat brought into a mode, as quickly as the real thing allows."""

from collections.abc import Callable

from sim.rig.simulated import SimRig


def ready(rig: SimRig) -> None:
    """READY, both shafts at REST."""
    rig.run(1.0)
    rig.act("helm.enable", "press")
    until(rig, lambda: rig.signals()["boat.mode"] == "READY", 5.0)


def propel(rig: SimRig) -> None:
    """Both levers 40 % ahead, torque settled."""
    ready(rig)
    for shaft in rig.shafts:
        rig.act(f"{shaft}.lever_pct", 40.0)
    rig.run(2.5)
    expect_modes(rig, "PROPEL")


def generate(rig: SimRig) -> None:
    """Both engines ahead at half throttle, charging under way for some seconds."""
    ready(rig)
    for shaft in rig.shafts:
        rig.act(f"{shaft}.engine", "start")
    until(rig, lambda: all(rig.signals()[f"{shaft}.engine_rpm"] > 700 for shaft in rig.shafts), 5.0)
    for shaft in rig.shafts:
        rig.act(f"{shaft}.gear", "ahead")
        rig.act(f"{shaft}.throttle_pct", 50.0)
    rig.run(2.5)
    for shaft in rig.shafts:
        rig.act(f"{shaft}.charge", "under_way")
    rig.run(5.0)
    expect_modes(rig, "GENERATE")


def harvest(rig: SimRig) -> None:
    """Under sail at 7 knots, harvesting for some seconds."""
    ready(rig)
    rig.act("sail.force_n", 5000.0)
    rig.set_plant("boat.speed_kn", 7.0)
    rig.run(2.0)
    for shaft in rig.shafts:
        rig.act(f"{shaft}.harvest", True)
    rig.run(3.0)
    expect_modes(rig, "HARVEST")


def at_rest(rig: SimRig) -> None:
    """Port clutch open, port engine charging at rest."""
    ready(rig)
    rig.act("port.clutch", "open")
    rig.act("port.engine", "start")
    until(rig, lambda: rig.signals()["port.engine_rpm"] > 700, 5.0)
    rig.act("port.gear", "ahead")
    rig.act("port.throttle_pct", 45.0)
    rig.run(2.0)
    rig.act("port.charge", "at_rest")
    rig.run(3.0)
    assert rig.signals()["port.mode"] == "GENERATE", rig.explain("port GENERATE")


def handset(rig: SimRig) -> None:
    """The handset in control, half thrust asked."""
    ready(rig)
    rig.act("handset.held", True)
    rig.run(0.5)
    rig.act("handset.thrust_pct", 60.0)
    rig.run(2.0)
    expect_modes(rig, "PROPEL")


SCENES: dict[str, Callable[[SimRig], None]] = {
    "REST": ready,
    "PROPEL": propel,
    "GENERATE": generate,
    "HARVEST": harvest,
    "AT_REST": at_rest,
    "HANDSET": handset,
}


def until(rig: SimRig, done: Callable[[], bool], within_s: float) -> float:
    """Run until `done()`; returns how long it took, s. Fails after `within_s`."""
    start_s = rig.now_s
    while not done():
        assert rig.now_s - start_s < within_s, f"not within {within_s} s: {rig.signals()}"
        rig.step()
    return rig.now_s - start_s


def expect_modes(rig: SimRig, mode: str) -> None:
    for shaft in rig.shafts:
        assert rig.signals()[f"{shaft}.mode"] == mode, rig.explain(f"{shaft} {mode}")
