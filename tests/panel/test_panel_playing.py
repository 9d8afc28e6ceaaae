"""A recording looked through: what was said on the buses then, from any moment of it."""

from pathlib import Path
from typing import Any

import pytest
from panel_bench import Bench

from sim.errors import BenchError
from sim.panel.link import EVENTS, FAST, HELLO, REPLY, SLOW
from sim.panel.playing import Playing
from supervisor.config import load_config
from supervisor.config.load import resolve_boat
from supervisor.runtime.loop import VirtualClock


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A drive by hand of some seven seconds: READY at 2 s or so, PROPEL from 2.5 to 5.5 s."""
    bench = Bench(tmp_path)
    bench.take_control()
    assert bench.ask("a", "record")["ok"]
    bench.run(1.0)
    bench.act("helm.enable", "press")
    bench.run(1.5)
    bench.act("port.lever_pct", 50)
    bench.run(3.0)
    bench.act("port.lever_pct", 0)
    bench.run(2.0)
    by_hand = bench.engine._by_hand
    assert by_hand is not None
    path = by_hand.folder.path
    assert bench.ask("a", "record")["ok"]
    bench.run(0.1)
    bench.engine.close()
    return path


class Player:
    """A recording on a clock that costs nothing, and what it said."""

    def __init__(self, log: Path) -> None:
        file = resolve_boat("marsh_tern")
        self.clock = VirtualClock(50.0)
        self.said: list[tuple[str, Any]] = []
        self.playing = Playing(load_config(file), file, str(log), self.clock, lambda k, _, p: self.said.append((k, p)))
        self.playing.hello()

    def run(self, seconds: float) -> None:
        """So long on the wall."""
        until_s = self.clock.now_s() + seconds
        while self.clock.now_s() < until_s - 1e-6:
            self.playing.turn()

    def ask(self, do: str, value: object) -> dict[str, Any]:
        self.playing.take({"client": "a", "do": do, "value": value, "re": 7}, self.clock.now_s())
        answer: dict[str, Any] = self.last(REPLY)
        return answer

    def last(self, kind: str) -> Any:
        return next(payload for one, payload in reversed(self.said) if one == kind)


def test_it_plays_at_its_own_pace_and_stops_at_its_end(folder: Path) -> None:
    player = Player(folder)
    assert player.last(HELLO)["mode"] == "playing"
    assert "targets" not in player.last(HELLO)
    player.run(4.0)
    view = player.last(FAST)
    assert view["time_s"] == pytest.approx(4.0, abs=0.1)
    assert view["signals"]["port.mode"] == "PROPEL"
    assert view["signals"]["port.torque_nm"] == pytest.approx(52.0, abs=3.0)
    assert view["drawings"][0]["parts"]["clutch"]["words"] == "closed"
    player.run(6.0)
    end_s = player.last(HELLO)["length_s"]
    assert player.last(FAST)["time_s"] == pytest.approx(end_s, abs=1e-3)
    assert player.last(FAST)["playing"] is False


def test_to_any_moment_forward_and_back(folder: Path) -> None:
    player = Player(folder)
    assert player.ask("seek", 5.0)["ok"]
    player.run(0.1)
    assert player.last(FAST)["signals"]["port.mode"] == "PROPEL"
    assert player.ask("seek", 0.5)["ok"]
    player.run(0.1)
    assert player.last(FAST)["time_s"] == pytest.approx(0.6, abs=0.1)
    assert player.last(FAST)["signals"]["boat.mode"] == "STANDBY"
    assert player.ask("play", False)["ok"]
    player.run(1.0)
    assert player.last(FAST)["time_s"] == pytest.approx(0.6, abs=0.1)


def test_ten_times_faster(folder: Path) -> None:
    player = Player(folder)
    assert player.ask("speed", 10)["ok"]
    player.run(0.5)
    assert player.last(FAST)["time_s"] == pytest.approx(5.0, abs=0.4)


def test_the_events_of_the_folder_come_at_their_times(folder: Path) -> None:
    player = Player(folder)
    player.run(4.0)
    told = [event for kind, payload in player.said if kind == EVENTS for event in payload]
    assert any(event["text"].startswith("REST -> PROPEL: thrust is asked") for event in told)
    assert max(event["time_s"] for event in told) <= 4.1


def test_nothing_can_be_worked(folder: Path) -> None:
    player = Player(folder)
    answer = player.ask("act", "press")
    assert not answer["ok"]
    assert "only be looked at" in answer["text"]
    assert player.ask("speed", 3)["ok"] is False
    player.playing.take({"do": "seek", "value": [1], "re": 8}, 0.0)
    player.playing.take({"do": "beat"}, 0.0)
    player.run(0.3)
    assert player.last(SLOW)["explain"] is None


def test_a_bus_log_alone_tells_what_changed_on_the_bus(folder: Path, tmp_path: Path) -> None:
    log = tmp_path / "alone.log"
    log.write_bytes((folder / "bus.log").read_bytes())
    player = Player(log)
    player.run(5.0)
    told = [event["text"] for kind, payload in player.said if kind == EVENTS for event in payload]
    assert "REST -> PROPEL" in told


def test_a_recording_of_nothing_is_told(tmp_path: Path) -> None:
    empty = tmp_path / "empty.log"
    empty.write_text("")
    with pytest.raises(BenchError, match="empty"):
        Player(empty)
    foreign = tmp_path / "foreign.log"
    foreign.write_text("this is no bus log\nnor is this\n")
    with pytest.raises(BenchError, match="no frame of it"):
        Player(foreign)
