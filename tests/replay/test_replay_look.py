"""The page to look into: no spike is lost by thinning, nothing is fetched, and in a real browser it zooms, reads and
jumps. Where no browser is installed the last of these say so and are skipped."""

import html
import json
import math
import random
import re
import shutil
import subprocess
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from replay_recorded import record, voyage

from sim.cli.app import dispatch
from sim.palette import MEASURED
from sim.replay import look
from sim.replay.traces import Trace

pytest.importorskip("plotly", reason="the page to look into needs plotly (extra replay)")

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
browser = pytest.mark.skipif(CHROMIUM is None, reason="no Chromium on this machine: the page is not tried in a browser")
NAN = math.nan

steps = st.lists(
    st.tuples(st.floats(0.001, 3.0), st.one_of(st.just(NAN), st.floats(-1e3, 1e3, width=32))), min_size=1, max_size=400
)


def fed(changes: list[tuple[float, float]], points_max: int) -> tuple[Trace, list[tuple[float, float]]]:
    """A trace, and all that it was told."""
    trace, told, time_s = Trace(points_max), [], 0.0
    for after_s, value in changes:
        time_s += after_s
        trace.take(time_s, value)
        told.append((time_s, value))
    return trace, told


def wandering(seed: int, count: int) -> list[tuple[float, float]]:
    """A signal that changes often, with peaks, troughs and gaps at odd moments: what short lists do not reach."""
    luck = random.Random(seed)
    kinds = (NAN, 900.0, -900.0)
    return [
        (luck.expovariate(20.0) + 0.001, luck.choice(kinds) if luck.random() < 0.002 else luck.gauss(0.0, 10.0))
        for _ in range(count)
    ]


@pytest.mark.parametrize("seed", range(8))
def test_no_spike_of_a_long_recording_is_lost(seed: int) -> None:
    """Thinned again and again; peaks, troughs and gaps among ten thousand values."""
    check_no_spike_is_lost(wandering(seed, 10_000), 200)


@given(steps, st.integers(8, 60))
def test_no_spike_is_lost(changes: list[tuple[float, float]], points_max: int) -> None:
    """Whatever is left out: in each slice the least and the most of what was told are there, at their own times."""
    check_no_spike_is_lost(changes, points_max)


def check_no_spike_is_lost(changes: list[tuple[float, float]], points_max: int) -> None:
    trace, told = fed(changes, points_max)
    kept = trace.points()
    assert len(kept) <= points_max
    assert set(map(repr, kept)) <= set(map(repr, told))
    assert list(kept) == sorted(kept, key=lambda point: point[0])
    slice_s = trace.slice_s or 1e9
    slots: dict[int, list[float]] = {}
    for time_s, value in told:
        slots.setdefault(int(time_s / slice_s), []).append(value)
    shown: dict[int, list[float]] = {}
    for time_s, value in kept:
        shown.setdefault(int(time_s / slice_s), []).append(value)
    before: list[float] = []
    for slot, values in sorted(slots.items()):
        here = before + shown.get(slot, [])  # what stands from the slice before is shown here as well
        known = [value for value in values if not math.isnan(value)]
        if known:
            assert min(known) >= min(value for value in here if not math.isnan(value))
            assert min(known) in here
            assert max(known) in here
        if len(known) < len(values):
            assert any(math.isnan(value) for value in here)
        before = [shown[slot][-1]] if slot in shown else before


def test_a_single_peak_among_a_million() -> None:
    trace = Trace()
    for k in range(1_000_000):
        trace.take(0.02 * k, 777.0 if k == 654_321 else -777.0 if k == 123_456 else float(k % 2))
    points = trace.points()
    assert len(points) <= 4000
    assert (pytest.approx(0.02 * 654_321), 777.0) in points
    assert (pytest.approx(0.02 * 123_456), -777.0) in points
    assert {value for _, value in points} == {0.0, 1.0, 777.0, -777.0}


def test_slices_stay_as_short_as_there_is_room_for() -> None:
    """An hour that changes in each tick: four points a slice, and never less than a quarter of the room used."""
    trace = Trace()
    for k in range(180_000):
        trace.take(0.02 * k, float(k % 7))
    assert len(trace.points()) > 1000
    assert trace.slice_s < 16.0


def test_a_loss_that_lasts_one_tick_is_seen() -> None:
    trace = Trace(100)
    for k in range(10_000):
        trace.take(0.02 * k, NAN if k == 5_000 else float(k % 3))
    assert [time_s for time_s, value in trace.points() if math.isnan(value)] == [pytest.approx(100.0)]


def described(text: str) -> dict[str, object]:
    """What the page holds for its script."""
    found = re.search(r"const LOOK = (\{.*?\});\nconst look", text, re.DOTALL)
    assert found is not None
    read: dict[str, object] = json.loads(found[1])
    return read


def test_the_page_forbids_itself_to_fetch_anything(out: Path) -> None:
    text = (out / "report.html").read_text(encoding="utf-8")
    policy = re.search(r'Content-Security-Policy" content="([^"]*)"', text)
    assert policy is not None
    assert policy[1].startswith("default-src 'none';")
    assert "http" not in policy[1]
    assert not re.search(r'<(script|link|img|iframe)[^>]+(src|href)="(?!data:)', text)


def test_the_recorded_orders_are_drawn_beside_ours(out: Path) -> None:
    found = described((out / "report.html").read_text(encoding="utf-8"))
    names = [one["trace"]["name"] for one in found["curves"]]  # type: ignore[index]
    assert names.count("ordered, recorded") == names.count("ordered") == 1  # only port's torque ever moves
    curves = {
        (one["trace"]["yaxis"], one["trace"]["name"]): one["points"]  # type: ignore[index]
        for one in found["curves"]
    }
    axis = next(axis for axis, name in curves if name == "ordered, recorded")
    ours = {value for _, value in curves[axis, "ordered"] if value is not None}
    theirs = {value for _, value in curves[axis, "ordered, recorded"] if value is not None}
    assert max(ours) == pytest.approx(max(theirs), abs=0.1)  # a code of 0.1 N m: it was our own run


def test_every_table_leads_to_its_moments(out: Path) -> None:
    text = (out / "report.html").read_text(encoding="utf-8")
    for title in ("Trips", "What held it back", "Modes", "Requirements"):
        part = text[text.index(f"<h2>{title}") :]
        assert 'data-moment="' in part[: part.index("</table>")], title


def test_without_plotly_the_fixed_picture_stands_in_its_place(
    out: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    run = tmp_path / "run"
    run.mkdir()
    record(run, "marsh_tern", voyage)
    monkeypatch.setattr(look, "find_spec", lambda _name: None)
    assert dispatch(["replay", "marsh_tern", str(run), "--out", str(tmp_path / "out")]) == 0
    text = (tmp_path / "out" / "report.html").read_text(encoding="utf-8")
    assert "<script" not in text
    assert "data-moment" not in text
    assert text.count("<svg") == 2
    assert 'class="fixed"' not in text


# ---- in a browser


def tried(page: Path, tmp_path: Path, script: str) -> dict[str, object]:
    """What a script in the page finds, run by a real browser without a network."""
    text = page.read_text(encoding="utf-8")
    probe = (
        "<script>const found = {}; window.addEventListener('error', e => { found.error = String(e.message); });"
        f"setTimeout(() => {{ {script}; document.body.setAttribute('data-found', JSON.stringify(found)); }}, 500);"
        "</script></body>"
    )
    copy = tmp_path / "tried.html"
    copy.write_text(text.replace("</body>", probe), encoding="utf-8")
    command = [str(CHROMIUM), "--headless", "--no-sandbox", "--disable-gpu", "--window-size=1280,900",
               "--virtual-time-budget=8000", "--dump-dom", copy.as_uri()]  # fmt: skip
    dom = subprocess.run(command, capture_output=True, text=True, timeout=120, check=True).stdout
    said = re.search(r'data-found="([^"]*)"', dom)
    assert said is not None, dom[-2000:]
    read: dict[str, object] = json.loads(html.unescape(said[1]))
    assert "error" not in read, read
    return read


@browser
@pytest.mark.parametrize("scheme", [0, 1], ids=["dark", "light"])
def test_the_drawing_is_seen_in_both_themes(out: Path, tmp_path: Path, scheme: int) -> None:
    """Looked at, not only laid out: layers that hide each other leave the same page behind."""
    from matplotlib.image import imread

    tried(out / "report.html", tmp_path, "")  # the drawing is there; is it seen?
    place, shot = tmp_path / "at_the_drawing.html", tmp_path / "shot.png"
    text = (out / "report.html").read_text(encoding="utf-8")
    shown = "<style>body > *:not(.look) { display: none; }</style></body>"
    place.write_text(text.replace("</body>", shown), encoding="utf-8")
    command = [str(CHROMIUM), "--headless", "--no-sandbox", "--disable-gpu", "--window-size=1280,900",
               f"--blink-settings=preferredColorScheme={scheme}", "--virtual-time-budget=8000",
               f"--screenshot={shot}", place.as_uri()]  # fmt: skip
    subprocess.run(command, capture_output=True, timeout=120, check=True)
    pixels = (imread(shot)[:, :, :3] * 255).round().astype(int)
    measured = tuple(int(MEASURED[k : k + 2], 16) for k in (1, 3, 5))
    assert (abs(pixels - measured).max(axis=2) <= 8).sum() > 300, "no curve"
    outside = int(pixels[-1, -1].sum())
    assert outside < 150 if scheme == 0 else outside > 600


@browser
def test_a_row_of_a_table_leads_to_its_moment(out: Path, tmp_path: Path) -> None:
    found = tried(
        out / "report.html", tmp_path,
        """const at = document.querySelector("table [data-moment]");
           at.click(); found.at = Number(at.dataset.moment); found.range = look.layout.xaxis.range;
           found.marks = look.layout.shapes.filter(one => one.x0 === found.at).length;
           document.querySelector("[data-move=whole]").click(); found.whole = look.layout.xaxis.range;
           document.querySelector("[data-move=nearer]").click(); found.nearer = look.layout.xaxis.range""",
    )  # fmt: skip
    at, (low, high) = found["at"], found["range"]  # type: ignore[misc]
    assert low <= at <= high
    assert high - low == pytest.approx(20.0)
    assert found["marks"] >= 1  # type: ignore[operator]
    end_s = found["whole"][1]  # type: ignore[index]
    assert found["whole"] == [0, end_s]
    assert found["nearer"] == [pytest.approx(end_s / 4), pytest.approx(3 * end_s / 4)]


@browser
def test_the_value_under_the_pointer_is_the_one_that_stands(out: Path, tmp_path: Path) -> None:
    """Between two changes, close to the later one as well, the earlier value stands."""
    found = tried(
        out / "report.html", tmp_path,
        """const one = LOOK.curves.find(one => one.trace.name === "lever" && one.points.length > 2);
           const [a, b] = one.points.slice(1, 3); const at = b[0] - 0.02 * (b[0] - a[0]);
           const number = look.data.findIndex(trace => trace.name === "lever" && trace.yaxis === one.trace.yaxis);
           show(a[0] - 1, b[0] + 1);
           Plotly.Fx.hover(look, {xval: at}, ["xy"]);
           const near = look.data[number].x.map((x, k) => [Math.abs(x - at), look.data[number].y[k]]);
           near.sort((p, q) => p[0] - q[0]); found.nearest = near[0][1]; found.stands = a[1];
           found.hover = (look._hoverdata || []).length""",
    )  # fmt: skip
    assert found["nearest"] == found["stands"]
    assert found["hover"] > 5  # type: ignore[operator]  # all panels are read at once
