"""Procedures with live verdicts, and recordings: kept as the bench keeps them."""

import json
from pathlib import Path

import pytest
from panel_bench import Bench

from sim.panel.link import SLOW
from supervisor.config import shipped_path


def run_to_its_end(bench: Bench) -> dict[str, object]:
    for _ in range(5):
        bench.engine.turn()  # the job, whole
        bench.run(0.5)
    progress = bench.last(SLOW)["progress"]
    assert isinstance(progress, dict)
    return progress


def test_a_shipped_procedure_runs_with_live_verdicts(bench: Bench) -> None:
    bench.take_control()
    assert bench.ask("a", "speed", value=0)["ok"]
    bench.said.clear()
    assert bench.ask("a", "procedure", procedure="neutral_before_enable")["ok"]
    progress = run_to_its_end(bench)
    assert progress["passed"] is True
    assert str(progress["summary"]).startswith("PASS")
    folder = Path(str(progress["folder"]))
    assert json.loads((folder / "verdict.json").read_text())["verdict"] == "pass"
    assert (folder / "procedure.toml").read_text() == shipped_path("procedures/neutral_before_enable.toml").read_text()
    assert {"bus.log", "ticks.csv", "signals.csv", "events.csv", "config.toml"} <= {
        one.name for one in folder.iterdir()
    }


def test_verdicts_come_step_by_step(bench: Bench) -> None:
    bench.take_control()
    assert bench.ask("a", "procedure", procedure="neutral_before_enable")["ok"]
    run_to_its_end(bench)
    counts = [len(p["progress"]["done"]) for kind, _, p in bench.said if kind == SLOW and p["progress"]]
    assert len(set(counts)) > 3


def test_a_failed_step_says_what_was_expected_and_what_was_seen(bench: Bench) -> None:
    bench.take_control()
    text = (
        'title = "wrong"\n[[step]]\nname = "cold"\nwait_s = 1\nexpect = [{ signal = "boat.mode", value = "READY" }]\n'
    )
    assert bench.ask("a", "procedure", procedure="mine.toml", text=text)["ok"]
    progress = run_to_its_end(bench)
    assert progress["passed"] is False
    done = progress["done"]
    assert isinstance(done, list)
    assert done[0]["verdict"] == "fail"
    assert "STANDBY" in done[0]["checks"][0]["seen"]


def test_a_procedure_that_cannot_be_read_is_told_and_leaves_the_boat_alive(bench: Bench) -> None:
    bench.take_control()
    assert bench.ask("a", "procedure", procedure="mine.toml", text="title = [")["ok"]
    progress = run_to_its_end(bench)
    assert "not valid TOML" in str(progress["summary"])
    bench.act("port.lever_pct", 10)


def test_hands_do_not_meddle_with_a_procedure_and_an_emergency_stop_ends_it(bench: Bench) -> None:
    bench.take_control()
    asked = []

    def look() -> None:
        if bench.engine._running and len(asked) == 0:
            asked.append(1)
            bench._commands.append({"client": "a", "do": "act", "target": "port.lever_pct", "value": 50, "re": 901})
        elif bench.engine._running and len(asked) == 1 and bench.engine.rig.now_s > 1.0:
            asked.append(2)
            bench._commands.append({"client": "b", "name": "page b", "do": "act", "target": "helm.emergency_stop",
                                    "value": True, "re": 902})  # fmt: skip

    bench.on_tick = look
    assert bench.ask("a", "procedure", procedure="neutral_before_enable")["ok"]
    progress = run_to_its_end(bench)
    answers = {payload["re"]: payload for kind, _, payload in bench.said if kind == "R"}
    assert "a procedure is running" in answers[901]["text"]
    assert answers[902]["ok"]
    assert "STOPPED BY HAND" in str(progress["summary"])
    assert bench.signal("boat.mode") == "TRIPPED"


def test_a_lost_page_ends_its_procedure(bench: Bench) -> None:
    bench.take_control()

    def look() -> None:
        if bench.engine._running and bench.engine.rig.now_s > 1.0:
            bench.pages.clear()

    bench.on_tick = look
    assert bench.ask("a", "procedure", procedure="neutral_before_enable")["ok"]
    progress = run_to_its_end(bench)
    assert "STOPPED BY HAND" in str(progress["summary"])
    assert bench.engine.control.holder is None


def test_a_drive_by_hand_is_recorded_as_the_bench_records(bench: Bench) -> None:
    bench.take_control()
    assert bench.ask("a", "record")["ok"]
    bench.run(1.0)
    bench.act("helm.enable", "press")
    bench.run(1.5)
    bench.act("port.lever_pct", 50)
    bench.run(3.0)
    assert bench.ask("a", "record")["ok"]
    bench.run(0.5)
    text = next(event["text"] for event in reversed(bench.events()) if event["text"].startswith("run folder"))
    folder = Path(text.removeprefix("run folder: ").split(";")[0])
    verdict = json.loads((folder / "verdict.json").read_text())
    assert verdict["title"] == "Driven by hand on the panel"
    assert verdict["judged"]
    assert verdict["ticks"] > 250
    assert "PROPEL" in (folder / "signals.csv").read_text()
    assert '"port.lever_pct" = 50' in (folder / "procedure.toml").read_text()
    assert "-> PROPEL" in (folder / "events.csv").read_text()


def test_a_recording_can_be_replayed_and_decides_the_same(bench: Bench) -> None:
    from sim.cli.app import dispatch

    bench.take_control()
    assert bench.ask("a", "record")["ok"]
    bench.run(1.0)
    bench.act("helm.enable", "press")
    bench.run(1.5)
    bench.act("port.lever_pct", 50)
    bench.run(2.0)
    assert bench.ask("a", "record")["ok"]
    bench.run(0.2)
    text = next(event["text"] for event in reversed(bench.events()) if event["text"].startswith("run folder"))
    folder = Path(text.removeprefix("run folder: ").split(";")[0])
    assert dispatch(["replay", "marsh_tern", str(folder), "--out", str(folder.parent / "again")]) == 0


def test_a_page_that_lets_go_ends_its_procedure_too(bench: Bench) -> None:
    """With nobody in control nothing goes on driving; and no lever is moved under its verdict before it has ended."""
    bench.take_control()

    def look() -> None:
        if bench.engine._running and bench.engine.rig.now_s > 1.0 and bench.engine.control.holder is not None:
            bench.pages.clear()
            bench.engine.take({"client": "a", "name": "page a", "do": "let_go"}, bench.clock.now_s())

    bench.on_tick = look
    assert bench.ask("a", "procedure", procedure="neutral_before_enable")["ok"]
    progress = run_to_its_end(bench)
    assert "STOPPED BY HAND" in str(progress["summary"])
    assert bench.engine.control.holder is None
    assert bench.engine.rig.now_s < 4.0  # of it 2.5 s after its end


@pytest.mark.parametrize("asked", ["procedure", "record", "power_up"])
def test_an_emergency_stop_in_the_tick_that_asks_for_a_boat_anew_is_not_swallowed(bench: Bench, asked: str) -> None:
    """A boat that is powered up anew has its button out again."""
    bench.take_control()
    bench.run(1.0)
    stop = {"client": "b", "do": "act", "re": 902, "target": "helm.emergency_stop", "value": True}
    now_s = bench.clock.now_s()
    bench.engine.take({"client": "a", "do": asked, "re": 901, "procedure": "neutral_before_enable"}, now_s)
    bench.engine.take(stop, now_s)
    for _ in range(5):
        bench.engine.turn()
    assert bench.engine.rig.position("helm.emergency_stop") is True
    assert not bench.engine._running
    assert any("is not begun" in event["text"] for event in bench.events())
    answers = {payload["re"]: payload["ok"] for kind, _, payload in bench.said if kind == "R"}
    assert (answers[901], answers[902]) == (False, True)


def test_an_emergency_stop_waits_for_nothing_that_waits(bench: Bench) -> None:
    """Presses of one button take a tick each; two hundred of them, and a stop behind."""
    bench.take_control()
    bench.run(1.0)
    for number in range(200):
        bench.engine.take(
            {"client": "a", "do": "act", "re": 1000 + number, "target": "helm.acknowledge", "value": "press"},
            bench.clock.now_s(),
        )
    bench.engine.take({"client": "b", "do": "act", "re": 1, "target": "helm.emergency_stop", "value": True}, 0.0)
    bench.engine.turn()
    assert bench.engine.rig.position("helm.emergency_stop") is True
    bench.run(2.0)
    answers = [payload for kind, client, payload in bench.said if kind == "R" and client == "a"]
    refused = [one for one in answers if not one["ok"]]
    assert len(answers) == 201  # control was asked for, too
    assert len(refused) == 150
    assert "ask again later" in refused[0]["text"]


def test_a_recording_that_cannot_be_written_ends_nothing(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way", encoding="utf-8")
    bench = Bench(tmp_path / "file" / "runs")
    bench.take_control()
    assert bench.ask("a", "record")["ok"]
    bench.run(1.0)
    assert any("nothing is recorded" in event["text"] for event in bench.events())
    bench.engine.close()


def test_no_procedure_text_ends_the_boat(bench: Bench) -> None:
    bench.take_control()
    for text in ("x = " + "[" * 3000, "title = '\ud800'", "\x00", "x = 1"):
        answer = bench.ask("a", "procedure", procedure="mine", text=text)
        bench.run(0.5)
        assert not bench.engine._running
        assert answer["ok"] is False or bench.engine._progress is not None


def test_whoever_asks_for_the_timing_moves_no_tick(bench: Bench) -> None:
    bench.take_control()
    bench.run(1.0)
    wall_s, boat_s = bench.clock.now_s(), bench.engine.rig.now_s
    for _ in range(100):
        bench.ask("b", "timing")
    assert bench.engine.rig.now_s - boat_s <= (bench.clock.now_s() - wall_s) + 0.03
