"""The picture: bands, and colours that a colour-blind reader can tell apart."""

import itertools
import math
from pathlib import Path

import numpy as np
import pytest
from tiny_rig import TinyRig

from sim.bench import Recorder, parse_procedure, run_procedure
from sim.bench.bands import draw_events, spans
from sim.bench.plot import draw_run
from sim.bench.recorder import Mark
from sim.palette import BOAT_MODE_COLOURS, SHAFT_MODE_COLOURS, band_patch

# Matrices on linear RGB, from memory, after Vienot, Brettel and Mollon 1999, "Digital video colourmaps for checking the
# legibility of displays by dichromats" (protan, deutan); tritan after Brettel 1997 as a single plane.
SIGHT = {
    "normal": np.eye(3),
    "protan": np.array([[0.11238, 0.88762, 0.0], [0.11238, 0.88762, 0.0], [0.00401, -0.00401, 1.0]]),
    "deutan": np.array([[0.29275, 0.70725, 0.0], [0.29275, 0.70725, 0.0], [-0.02234, 0.02234, 1.0]]),
    "tritan": np.array([[1.0, 0.1446, -0.1446], [0.0, 0.8592, 0.1408], [0.0, 0.8592, 0.1408]]),
    "grey": np.array([[0.2126, 0.7152, 0.0722]] * 3),
}


def lab(colour: str, sight: str) -> tuple[float, float, float]:
    """CIE L*a*b* (D65) of an sRGB colour as one kind of eye sees it."""
    srgb = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = np.array([c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in srgb])
    seen = np.clip(SIGHT[sight] @ linear, 0, 1)
    to_xyz = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
    xyz = to_xyz @ seen / np.array([0.95047, 1.0, 1.08883])
    f = [math.cbrt(v) if v > 0.008856 else 7.787 * v + 16 / 116 for v in xyz]
    return 116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])


@pytest.mark.parametrize("sight", ["normal", "protan", "deutan", "tritan"])
@pytest.mark.parametrize("colours", [BOAT_MODE_COLOURS, SHAFT_MODE_COLOURS])
def test_modes_can_be_told_apart(sight: str, colours: dict[str, str]) -> None:
    """About 2.3 is just noticeable side by side; 15 is plain at a glance."""
    for one, other in itertools.combinations(colours, 2):
        distance = math.dist(lab(colours[one], sight), lab(colours[other], sight))
        assert distance > 15, f"{one} and {other} look alike to {sight} eyes: {distance:.1f}"


@pytest.mark.parametrize("stop", ["TRIPPED", "ISOLATED"])
def test_a_stop_is_the_darkest_of_all_even_in_grey(stop: str) -> None:
    every = BOAT_MODE_COLOURS | SHAFT_MODE_COLOURS
    others = [lab(c, "grey")[0] for mode, c in every.items() if mode not in ("TRIPPED", "ISOLATED")]
    assert lab(every[stop], "grey")[0] < min(others) - 10


@pytest.mark.parametrize("alike", [("STANDBY", "REST"), ("NEUTRAL_WAIT", "UNLOAD")], ids=["greys", "yellows"])
def test_two_of_one_hue_differ_by_pattern_too(alike: tuple[str, str]) -> None:
    first, second = (band_patch(mode, {**BOAT_MODE_COLOURS, **SHAFT_MODE_COLOURS}[mode]) for mode in alike)
    assert first.get_hatch() != second.get_hatch()


def test_spans() -> None:
    assert list(spans([0.0, 1.0, 2.0, 3.0], ["A", "A", "B", "A"])) == [
        (0.0, 2.0, "A"),
        (2.0, 3.0, "B"),
        (3.0, 3.0, "A"),
    ]
    assert list(spans([5.0], ["A"])) == [(5.0, 5.0, "A")]


@pytest.mark.parametrize("shafts", [("only",), ("a", "b", "c", "d")])
def test_any_number_of_shafts_even_one_tick(tmp_path: Path, shafts: tuple[str, ...]) -> None:
    rig, recorder = TinyRig(shafts), Recorder()
    run_procedure(rig, parse_procedure('title = "t"\n[[step]]\nname = "x"\n', "p"), recorder)
    draw_run(recorder, shafts, "t", "b", [tmp_path / "x.svg"], failed=[1])
    assert "</svg>" in (tmp_path / "x.svg").read_text()


def test_the_same_run_draws_the_same_file(tmp_path: Path) -> None:
    for name in ("a.svg", "b.svg"):
        rig, recorder = TinyRig(), Recorder()
        run_procedure(rig, parse_procedure('title = "t"\n[[step]]\nname = "x"\nwait_s = 1\n', "p"), recorder)
        draw_run(recorder, rig.shafts, "t", "b", [tmp_path / name])
    assert (tmp_path / "a.svg").read_text() == (tmp_path / "b.svg").read_text()


def test_the_end_of_a_fault_does_not_look_like_a_fault() -> None:
    from matplotlib.figure import Figure

    recorder = Recorder()
    recorder.events += [
        Mark(1.0, "fault", "port", "engine_stall: loses its fuel"),
        Mark(2.0, "fault", "port", "x ended"),
    ]
    axis = Figure().add_subplot()
    draw_events(axis, recorder, 1.0)
    drawn = {line.get_xdata()[0]: line.get_markerfacecolor() for line in axis.lines if len(line.get_xdata())}
    assert drawn[1.0] != "#ffffff"
    assert drawn[2.0] == "#ffffff"
    assert any("its end" in label.get_text() for label in axis.get_yticklabels())
