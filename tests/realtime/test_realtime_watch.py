"""What adapters hide, in logical time: a silent bus is opened anew, less and less often; a backlog is told once."""

from collections.abc import Callable
from pathlib import Path

import can
import pytest

from sim.nodes.rig import SimRig
from supervisor.bus import BusPort
from supervisor.bus.port import BusSetting
from supervisor.config import load_config
from supervisor.config.load import resolve_boat
from supervisor.runtime.adapters import Adapters
from supervisor.runtime.recorder import Recorder
from supervisor.runtime.watch import BusWatch


class Quiet(can.BusABC):
    """A driver with nothing to say. Counts how often it was opened."""

    opened = 0

    def __init__(self, channel: str, **_more: object) -> None:
        super().__init__(channel)
        Quiet.opened += 1

    def _recv_internal(self, timeout: float | None) -> tuple[can.Message | None, bool]:
        return None, True

    def send(self, msg: can.Message, timeout: float | None = None) -> None:
        pass


@pytest.fixture
def watched(monkeypatch: pytest.MonkeyPatch) -> Callable[[float], tuple[list[str], list[bool]]]:
    """Runs a watch over a boat's tables and a quiet adapter for so many seconds; returns what was told."""
    rig = SimRig("marsh_tern")
    rig.run(1.0)
    monkeypatch.setattr(can, "Bus", lambda **more: Quiet(str(more["channel"])))
    Quiet.opened = 0
    adapters = Adapters(0.0)
    settings = {"private": BusSetting("quiet", "x", 250_000)}
    port = BusPort(settings, opener=adapters.open, background=False)
    told: list[str] = []
    watch = BusWatch(rig.boat_map, settings, adapters, lambda subject, text: told.append(f"{subject}: {text}"))
    port.open(1.0)

    def run(seconds: float) -> tuple[list[str], list[bool]]:
        ok = []
        for tick in range(round(seconds / 0.02)):
            now_s = 1.0 + tick * 0.02
            port.receive_all(now_s)
            ok.append(watch.after_tick(now_s, rig.supervisor.table, port))
        rig.close()
        return told, ok

    return run


def test_silence_is_inferred_told_once_and_tried_less_and_less(
    watched: Callable[[float], tuple[list[str], list[bool]]],
) -> None:
    told, ok = watched(120.0)
    assert all(ok)  # silence is the inputs' affair: they are stale
    assert [text for text in told if "no guarded frame at all" in text] == told
    assert len(told) == 1
    # anew after 2, 4, 8, 16, 30, 30 s and what opening takes each time
    assert 5 <= Quiet.opened - 1 <= 7


def test_what_is_kept_grows_while_the_boat_is_switched_off(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = resolve_boat("marsh_tern")
    config = load_config(path)

    def recorder(lines: list[str]) -> Recorder:
        return Recorder(tmp_path, config, path, ["private", "backbone"], 0.0, lines.append, 1_000_000)

    one = recorder([])
    one.keep(1000.0)
    one.close("stopped")
    two = recorder([])
    assert two.journal is not None
    assert two.since_full_s() == pytest.approx(1000.0, abs=30.0)
    two.journal.kept_utc = {"since_full_s": "2020-01-01T00:00:00+00:00"}  # years ago: the clock cannot be right
    assert two.since_full_s() == 1000.0
    two.journal.kept_utc = {"since_full_s": "2999-01-01T00:00:00+00:00"}  # from the future
    assert two.since_full_s() == 1000.0
    two.journal.kept_utc = {"since_full_s": "yesterday"}
    assert two.since_full_s() == 1000.0
    two.close("stopped")
