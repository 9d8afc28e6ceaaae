"""A run on a real bus, replayed from its folder: the decisions that were made live, from the recording alone.

The supervisor is a process of its own, on adapters, in real time, on whatever ticks the machine granted it; what it
decided is known from its journal and from the orders that went over the wire, none of which the replay is told.
"""

import signal
import time
from collections.abc import Sequence
from pathlib import Path

import pytest
from hub.process import Hub
from processes import Process, stand_in, supervisor, under_way

from sim.replay.commands import CommandDecoder
from sim.replay.replayed import Change, Heard, ReplayedSupervisor
from sim.replay.session import Session
from sim.replay.shadow import ordered
from supervisor.bus.codec import pgn_of
from supervisor.bus.register import SHOWN
from supervisor.journal import read_events, read_runs

Told = tuple[float, str, str, str, str, str, str]


class Orders:
    """Observes a session: every order in the recording against what the replay orders at that very tick, to the last
    step of its signal."""

    def __init__(self, session: Session) -> None:
        self.compared = 0
        self.different: list[str] = []
        self._subject: ReplayedSupervisor = session.subject
        self._decoder = CommandDecoder(session.commands)
        self._now: Change | None = None

    def span(self, first: int, stop: int, changes: Sequence[Sequence[Change]], commands: Sequence[Heard]) -> None:
        mine = changes[0]
        now = mine[0] if mine and mine[0].tick == first else self._now
        for wire, data in commands:
            for row, theirs in self._decoder.decode(
                wire.bus, wire.arbitration_id, wire.is_extended, pgn_of(wire.arbitration_id), data
            ):
                assert now is not None
                if row.name in SHOWN:
                    continue  # made outside the tick, for displays: it orders nothing
                ours = row.signal.physical(row.signal.to_raw(ordered(now.outcome, row.level, row.name)))
                self.compared += 1
                if ours != theirs:
                    self.different.append(f"{self._subject.ticks.at(first):.3f} s: {row.label} {ours} for {theirs}")
        if mine:
            self._now = mine[-1]


def told_live(folder: Path, run: int) -> list[Told]:
    """What the journal says was decided, from the first event on."""
    entries = [one for _, _, one in read_events(folder, run) if one.kind != "runtime"]
    begin_s = entries[0].time_s
    return [(round(one.time_s - begin_s, 6), one.kind, one.subject, one.text, one.source, one.dest, one.first_out)
            for one in entries]  # fmt: skip


def told_again(session: Session) -> list[Told]:
    """The same of the replay."""
    events = session.history.events
    begin_s = events[0].time_s
    return [(round(one.time_s - begin_s, 6), one.kind.value, one.subject, one.text, one.source, one.dest, one.first_out)
            for one in events]  # fmt: skip


def trial(supervised: Process, standing: Process) -> None:
    """Ahead, astern with the drive braking the shaft, an emergency stop under way, and a reset that is taken or not."""
    under_way(supervised, standing)
    time.sleep(1.0)
    standing.say("port.lever_pct -40")
    time.sleep(1.5)
    standing.say("port.lever_pct 60")
    time.sleep(1.0)
    standing.say("helm.emergency_stop on")
    supervised.wait_for("-> TRIPPED")
    time.sleep(0.5)
    standing.say("helm.emergency_stop off")
    standing.say("port.lever_pct 0")
    time.sleep(0.5)
    standing.say("helm.reset press")
    time.sleep(1.0)


def replayed(folder: Path) -> tuple[Session, Orders]:
    session = Session("marsh_tern", str(folder))
    orders = Orders(session)
    session.run(observers=[orders])
    return session, orders


def test_a_run_on_a_bus_replays_to_the_decisions_made_live(hub: Hub, tmp_path: Path) -> None:
    folder = tmp_path / "run"
    with stand_in(hub) as standing:
        with supervisor(hub, folder, broken=None) as supervised:
            trial(supervised, standing)
            assert supervised.end() == 0
        first, orders = replayed(folder)
        live = told_live(folder, 1)
        assert {"mode", "trip", "alarm"} <= {one[1] for one in live}
        assert told_again(first) == live
        assert orders.different == []
        assert orders.compared > 2000

        # what a person reads: seconds since the run began, not since the machine was switched on, and the wall clock
        result = first.result()
        assert 5.0 < result.end_s < 120.0
        assert 0.0 <= result.run.events[0].time_s < result.end_s
        assert result.begin is not None
        assert abs(result.begin + result.end_s - time.time()) < 60.0
        assert sum(seconds for (name, _), seconds in result.run.mode_s.items() if name == "boat") == pytest.approx(
            result.end_s, abs=0.2
        )

        # a second run in the same folder, which ends under thrust and without notice
        with supervisor(hub, folder, broken=None) as again:
            under_way(again, standing)
            time.sleep(1.0)
            again.end(signal.SIGKILL)
    assert [one.ended_why for one in read_runs(folder)] == ["stopped by SIGTERM", ""]
    second, orders = replayed(folder)
    assert orders.different == []
    assert orders.compared > 500
    found, live = told_again(second), told_live(folder, 2)
    assert any(one[5] == "PROPEL" for one in found)
    assert found == live[: len(found)]  # the bus log reaches the disk up to a quarter of a second after the journal
    assert len(live) - len(found) <= 2
