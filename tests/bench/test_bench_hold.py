"""Stop and lock on the simulated ketch under sail (SR-60, SR-61, SR-39)."""

import random
from pathlib import Path
from typing import Any

import pytest

from sim.bench.holding import CASES, SPEEDS_KN, Case, Held, holding, main, page, row
from sim.faults.base import distort, fields_of
from sim.rig.simulated import SimRig
from supervisor.config import load_config

BOAT = Path(__file__).parents[2] / "configs" / "marsh_tern.toml"
PLANT = BOAT.parent / "plants" / "marsh_tern.toml"
FORCE_N = {5.0: 2200.0, 7.0: 5200.0, 9.0: 9500.0}


def sailing(
    speed_kn: float, soc_pct: float = 60.0, settings: dict[str, Any] | None = None, plant: Path = PLANT
) -> SimRig:
    config = load_config("marsh_tern", settings)
    rig = SimRig(config, plant, soc_pct=soc_pct, file=BOAT)
    rig.run(2.0)
    rig.act("helm.enable", "press")
    rig.run(3.0)
    rig.act("sail.force_n", FORCE_N[speed_kn])
    for _ in range(10):
        steady(rig, speed_kn, 1.0)
    assert abs(rpm(rig)) > 200.0
    return rig


def steady(rig: SimRig, speed_kn: float, seconds: float) -> None:
    """The sea is flat and the wind steady: the boat's speed is kept, whatever the propellers do."""
    for _ in range(round(seconds / 0.1)):
        rig.set_plant("boat.speed_kn", speed_kn)
        rig.run(0.1)


def rpm(rig: SimRig) -> float:
    return float(rig.signals()["port.propeller_rpm"])


def alarms(rig: SimRig) -> str:
    return str(rig.signals()["boat.alarms"])


def stop_and_lock(rig: SimRig, speed_kn: float, within_s: float) -> float:
    """The crew asks, and tries the lock twice a second; the time until it engages."""
    rig.act("port.stop_and_lock", True)
    start_s = rig.now_s
    while rig.signals()["port.lock"] == "released":
        assert rig.now_s - start_s < within_s, f"{rpm(rig):.1f} rpm, {alarms(rig)}"
        steady(rig, speed_kn, 0.5)
        rig.act("port.lock", "engage")
        rig.run(0.04)
    return rig.now_s - start_s


@pytest.mark.sr("SR-60", "SR-39")
@pytest.mark.parametrize("soc_pct", [60.0, 95.0])
@pytest.mark.parametrize("speed_kn", [5.0, 7.0, 9.0])
def test_stopped_and_locked_under_sail(speed_kn: float, soc_pct: float) -> None:
    rig = sailing(speed_kn, soc_pct)
    try:
        stop_and_lock(rig, speed_kn, 6.0)
        fastest = 0.0
        for _ in range(40):
            steady(rig, speed_kn, 0.1)
            fastest = max(fastest, abs(rpm(rig)))
        assert fastest < 5.0, "it does not turn while the lock goes in"
        assert rig.signals()["port.lock"] == "engaged"
        assert rig.signals()["port.order_nm"] == 0.0
        assert "stopped" not in alarms(rig)
        assert "bounced" not in alarms(rig)
    finally:
        rig.close()


@pytest.mark.sr("SR-60")
def test_unlocked_under_sail() -> None:
    rig = sailing(7.0)
    try:
        stop_and_lock(rig, 7.0, 6.0)
        steady(rig, 7.0, 2.0)
        rig.act("port.lock", "release")
        fastest = 0.0
        for _ in range(30):
            steady(rig, 7.0, 0.1)
            fastest = max(fastest, abs(rpm(rig)))
        assert fastest < 100.0, "held as soon as the lock has let go"
        assert abs(rpm(rig)) < 5.0
        rig.act("port.stop_and_lock", False)
        steady(rig, 7.0, 4.0)
        assert rpm(rig) > 300.0
        assert rig.signals()["port.mode"] == "REST"
    finally:
        rig.close()


@pytest.mark.sr("SR-61")
@pytest.mark.parametrize("why", ["no permit", "weak drive"])
def test_where_the_flow_wins_it_is_said(why: str) -> None:
    weak = {"shaft.0.drive.rated_torque_nm": 30.0} if why == "weak drive" else None
    rig = sailing(9.0, 60.0, weak)
    try:
        if why == "no permit":
            rig.inject("permit_withdrawn", "monitor", permit="charge")
            rig.run(0.5)
            assert "astern" in alarms(rig), "said before it is tried"
        rig.act("port.stop_and_lock", True)
        steady(rig, 9.0, 19.0)
        assert abs(rpm(rig)) > 5.0
        assert "not stopped and locked" not in alarms(rig)
        steady(rig, 9.0, 4.0)
        assert "not stopped and locked in its time" in alarms(rig)
        assert rig.signals()["port.mode"] == "REST"
        assert rig.signals()["port.order_nm"] == 0.0
        rig.act("port.stop_and_lock", False)
        rig.run(0.5)
        assert "not stopped and locked" not in alarms(rig)
    finally:
        rig.close()


@pytest.mark.sr("SR-60")
@pytest.mark.parametrize("noise_frac", [0.01, 0.03])
@pytest.mark.parametrize("inertia", [0.6, 1.0, 2.5])
def test_a_light_shaft_a_heavy_one_and_a_noisy_speed(tmp_path: Path, noise_frac: float, inertia: float) -> None:
    text = PLANT.read_text(encoding="utf-8")
    for key, kgm2 in (("machine_inertia_kgm2", 0.10), ("propeller_inertia_kgm2", 0.45)):
        assert f"{key} = {kgm2:.2f}" in text
        text = text.replace(f"{key} = {kgm2:.2f}", f"{key} = {inertia * kgm2:.3f}")
    changed = tmp_path / "marsh_tern.toml"
    changed.write_text(text, encoding="utf-8")
    rig = sailing(7.0, plant=changed)
    try:
        luck = random.Random(5)

        def noisy(value: float | None, time_s: float) -> float | None:
            return (
                None if value is None else value * (1.0 + noise_frac * luck.uniform(-1.0, 1.0)) + luck.choice((0, 0.5))
            )

        distort(fields_of(rig, "port.drive.machine_speed_rpm"), noisy)
        stop_and_lock(rig, 7.0, 10.0)
    finally:
        rig.close()


def test_the_page_shows_each_case(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    def measured(_boat: str | Path, speed_kn: float, case: Case) -> Held:
        permitted_s = None if case.withdrawn else 3.0
        return Held(400.0, permitted_s, 20.0, 1.0, 30.0, permitted_s is None, case.withdrawn)

    text = page(measured)
    assert text.count("| charge permit withdrawn | none (alarm given) | | | 30 A | yes |") == len(SPEEDS_KN)
    shipped = (BOAT.parents[1] / "docs" / "stop-and-lock.md").read_text(encoding="utf-8")
    head = text[: text.index("| 5 kn")]
    assert shipped.startswith(head), "renew: python -m sim.bench.holding docs/stop-and-lock.md"
    assert "NOT told" not in shipped
    assert main([]) == 2
    assert main([str(tmp_path / "no such folder" / "page.md")]) == 2
    assert "cannot be written" in capsys.readouterr().err


def test_a_line_of_the_page_is_what_is_measured() -> None:
    shipped = (BOAT.parents[1] / "docs" / "stop-and-lock.md").read_text(encoding="utf-8")
    assert row(7.0, CASES[0], holding("marsh_tern", 7.0, CASES[0])) in shipped
