"""The boat whose calm stretches run compiled is the same boat in every bit, whatever the crew does.

Compared at the end of each stretch: the plant's whole state, all that the supervisor remembers, its inputs, commands
and words, and every signal that a procedure can look at.
"""

from collections.abc import Callable, Sequence
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

pytest.importorskip("numba")

from boatyard.bits import same_bits

from sim.fast.rig import FastRig
from sim.rig.direct import DirectRig

Act = tuple[str, str, Any]
"""("act", target, value), ("set", target, value), ("inject", fault, target) or ("clear", fault, target)"""

levers = st.sampled_from([0.0, 0.0, 4.0, 30.0, 60.0, 100.0, -45.0, -100.0])


def acts(shafts: Sequence[str]) -> st.SearchStrategy[Act]:
    """Anything that a crew does, a jump, or a fault."""
    shaft = st.sampled_from(list(shafts))

    def on_shaft(name: str, values: st.SearchStrategy[Any]) -> st.SearchStrategy[Act]:
        return st.tuples(st.just("act"), shaft.map(lambda one: f"{one}.{name}"), values)

    def around(name: str, values: st.SearchStrategy[Any]) -> st.SearchStrategy[Act]:
        return st.tuples(st.just("act"), st.just(name), values)

    def jump(name: str, values: st.SearchStrategy[Any]) -> st.SearchStrategy[Act]:
        return st.tuples(st.just("set"), st.just(name), values)

    def fault(name: str, part: str) -> st.SearchStrategy[Act]:
        return st.tuples(st.sampled_from(["inject", "clear"]), st.just(name), shaft.map(lambda one: f"{part}{one}"))

    press = st.just("press")
    return st.one_of(
        on_shaft("lever_pct", levers),
        on_shaft("lever_pct", levers),
        on_shaft("engine", st.sampled_from(["start", "start", "stop"])),
        on_shaft("gear", st.sampled_from(["ahead", "neutral", "astern"])),
        on_shaft("throttle_pct", st.floats(0.0, 100.0)),
        on_shaft("charge", st.sampled_from(["off", "under_way"])),
        around("helm.enable", press),
        around("helm.reset", press),
        around("helm.acknowledge", press),
        around("helm.disable", press),
        around("helm.emergency_stop", st.booleans()),
        around("hotel.load_w", st.floats(0.0, 3000.0)),
        around("sun.irradiance_w_m2", st.floats(0.0, 1000.0)),
        around("shore.charge_a", st.floats(0.0, 60.0)),
        around("bank.isolator", st.sampled_from([True, True, True, False])),
        jump("bank.soc_pct", st.floats(10.0, 99.0)),
        jump("boat.speed_kn", st.floats(0.0, 8.0)),
        fault("engine_stall", "engine."),
        fault("drive_disobeys", "drive."),
        fault("node_silent", "lever."),
    )


def courses(shafts: Sequence[str]) -> st.SearchStrategy[list[tuple[Act, float]]]:
    """What is done, and for how long nothing is done after it (s)."""
    return st.lists(st.tuples(acts(shafts), st.floats(0.02, 20.0)), min_size=3, max_size=14)


def differences(one: DirectRig, other: DirectRig) -> list[str]:
    """What differs between two rigs, by name."""
    pairs = {
        "ticks": (one._ticks, other._ticks),
        "plant": (one.plant, other.plant),
        "memory": (one.controller.memory, other.controller.memory),
        "inputs": (one.inputs, other.inputs),
        "outcome": (
            one.outcome and one.outcome._replace(events=()),
            other.outcome and other.outcome._replace(events=()),
        ),
        "signals": (tuple(sorted(one.signals().items())), tuple(sorted(other.signals().items()))),
    }
    return [name for name, (a, b) in pairs.items() if not same_bits(a, b)]


def sail(rigs: tuple[FastRig, DirectRig], course: list[tuple[Act, float]]) -> None:
    """Both rigs through the same course, from the same moment, compared after each stretch."""
    starts = [rig.save() for rig in rigs]
    try:
        for (kind, first, second), seconds in course:
            said = [_do(rig, kind, first, second) for rig in rigs]
            assert said[0] == said[1]
            for rig in rigs:
                rig.run(seconds)
            assert not differences(*rigs), ((kind, first, second), rigs[0].now_s)
    finally:
        for rig, start in zip(rigs, starts, strict=True):
            rig.restore(start)


def _do(rig: DirectRig, kind: str, first: str, second: Any) -> str:
    """What the rig says of it: a refusal, an error, or nothing."""
    deeds: dict[str, Callable[..., Any]] = {
        "act": rig.act, "set": rig.set_plant, "inject": rig.inject, "clear": rig.clear,
    }  # fmt: skip
    try:
        return str(deeds[kind](first, second))
    except ValueError as error:
        return str(error)


# compiling takes one and a half minutes and two
@pytest.fixture(scope="module", params=["reed_warbler", pytest.param("marsh_tern", marks=pytest.mark.campaign)])
def rigs(request: pytest.FixtureRequest) -> tuple[FastRig, DirectRig]:
    """Two boats that are READY."""
    made = FastRig(request.param), DirectRig(request.param)
    for rig in made:
        rig.run(1.0)
        rig.act("helm.enable", "press")
        rig.run(8.0)
        assert rig.signals()["boat.mode"] == "READY"
    return made


def course_of(draw: st.DataObject, rigs: tuple[FastRig, DirectRig]) -> list[tuple[Act, float]]:
    drawn: list[tuple[Act, float]] = draw.draw(courses(rigs[0].shafts))
    return drawn


@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(draw=st.data())
def test_it_is_the_same_boat(rigs: tuple[FastRig, DirectRig], draw: st.DataObject) -> None:
    sail(rigs, course_of(draw, rigs))


@pytest.mark.campaign
@settings(max_examples=400, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(draw=st.data())
def test_it_is_the_same_boat_over_many_courses(rigs: tuple[FastRig, DirectRig], draw: st.DataObject) -> None:
    sail(rigs, course_of(draw, rigs))


def test_a_day_of_everything(rigs: tuple[FastRig, DirectRig]) -> None:
    """Thrust ahead and astern, charging from the engine, a trip and its reset; and most of it ran compiled."""
    fast = rigs[0]
    before = fast.compiled_ticks, fast._ticks
    first = fast.shafts[0]
    course: list[tuple[Act, float]] = [
        (("act", f"{first}.lever_pct", 70.0), 12.0),
        (("act", f"{first}.lever_pct", -50.0), 6.0),
        (("act", f"{first}.lever_pct", 0.0), 20.0),
        (("act", f"{first}.engine", "start"), 6.0),
        (("act", f"{first}.gear", "ahead"), 1.0),
        (("act", f"{first}.throttle_pct", 50.0), 5.0),
        (("act", f"{first}.charge", "under_way"), 40.0),
        (("act", "helm.emergency_stop", True), 2.0),
        (("act", "helm.emergency_stop", False), 1.0),
        (("act", "helm.reset", "press"), 2.0),
    ]
    modes = set()
    starts = [rig.save() for rig in rigs]
    for step in course:
        for rig in rigs:
            assert _do(rig, *step[0]) == ""
            rig.run(step[1])
        assert not differences(*rigs), step
        modes |= {str(fast.signals()[f"{first}.mode"]), str(fast.signals()["boat.mode"])}
    assert modes >= {"PROPEL", "REST", "GENERATE", "READY", "TRIPPED", "STANDBY"}, modes
    assert (fast.compiled_ticks - before[0]) / (fast._ticks - before[1]) > 0.9
    for rig, start in zip(rigs, starts, strict=True):
        rig.restore(start)
