"""What adapters hide, in logical time: a silent bus is opened anew, less and less often; a backlog is told once."""

from collections.abc import Callable
from pathlib import Path

import can
import pytest

from sim.rig.simulated import SimRig
from supervisor.bus import BusPort
from supervisor.bus.port import BusSetting
from supervisor.config import load_config
from supervisor.config.load import resolve_boat
from supervisor.runtime.adapters import Adapters
from supervisor.runtime.bus_state import BusState
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


def test_a_dead_bus_is_never_in_order_again_and_one_that_comes_and_goes_is_no_stream() -> None:
    told: list[tuple[float, str]] = []
    hears = False
    now_s = 0.0
    state = BusState(lambda subject, text: told.append((now_s, f"{subject}: {text}")), lambda _bus: hears)

    def run(until_s: float, broken: bool) -> None:
        nonlocal now_s
        while now_s < until_s:
            now_s += 0.02
            state.after_tick(now_s, {"private": "silent; the adapter is opened again"} if broken else {})

    run(1.0, True)
    run(10.0, False)
    assert [text for _, text in told] == [
        "bus private: fault: silent; the adapter is opened again",
        "bus private: its adapter is open again; no valid frame has come yet",
    ]
    hears = True
    run(11.0, False)
    assert told[-1][1] == "bus private: works again"
    told.clear()
    for number in range(100):  # five times a second for 20 s
        run(11.0 + number * 0.2, True)
        run(11.1 + number * 0.2, False)
    assert len(told) <= 10
    assert any("times since the last message" in text for _, text in told)
    run(40.0, False)
    assert told[-1][1].startswith("bus private: works again")


def test_an_adapter_at_another_bit_rate_is_named(watched: Callable[[float], tuple[list[str], list[bool]]],
                                                 monkeypatch: pytest.MonkeyPatch) -> None:  # fmt: skip
    ticks = iter(range(1_000_000))
    monkeypatch.setattr(Adapters, "counts", lambda *_: {"garbled": 3 * next(ticks), "refused": 0})
    told, _ = watched(12.0)
    garbled = [line for line in told if "were no frames" in line]
    assert 2 <= len(garbled) <= 3
    assert "250000 bit/s" in garbled[0]


def test_traffic_that_takes_the_whole_tick_trips_before_it_lies_unread() -> None:
    rig = SimRig("marsh_tern")
    told: list[str] = []
    watch = BusWatch(rig.boat_map, {}, Adapters(0.0), lambda subject, text: told.append(f"{subject}: {text}"), 0.02)
    rig.close()
    assert all(watch.affordable(number * 0.02, 12, 0.019) for number in range(50)), "a slow tick alone is no flood"
    assert all(watch.affordable(1.0 + number * 0.02, 170, 0.009) for number in range(50)), "a full bus that is read"
    assert [watch.affordable(2.0 + number * 0.02, 170, 0.018) for number in range(4)] == [True, False, False, False]
    assert watch.affordable(2.1, 12, 0.018)
    assert len(told) == 1
    assert "170 frames in a tick" in told[0]


def test_a_loss_soon_after_another_is_told_when_it_lasts() -> None:
    """Lost, back, and lost again three seconds later for good: the second one must not stay unsaid."""
    told: list[tuple[float, str]] = []
    now_s = 0.0
    state = BusState(lambda _subject, text: told.append((now_s, text)), lambda _bus: True)
    for number in range(1, 1001):
        now_s = number * 0.02
        state.after_tick(now_s, {"private": "unplugged"} if now_s < 1.0 or now_s > 3.0 else {})
    assert [text for _, text in told] == ["fault: unplugged", "works again", "fault: unplugged"]
    assert told[-1][0] == pytest.approx(5.0, abs=0.1)
