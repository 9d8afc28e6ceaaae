"""A recording played for the page to look through: what its frames say, at its own pace or another, from any moment.

What was decided on board is shown as it was said on the bus; nothing is decided anew (`thwart replay` does that).
"""

import csv
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import Any

import can

from sim.errors import BenchError
from sim.panel.command import Command, understood
from sim.panel.describe import describe
from sim.panel.engine import Send, nothing
from sim.panel.link import EVERYBODY, HELLO, REPLY
from sim.panel.listening import Ears
from sim.panel.pace import SPEEDS, Pace
from sim.replay.commands import own_commands
from sim.replay.opening import open_recording
from sim.replay.runfolder import run_facts
from sim.replay.session import GAP_S
from sim.replay.wires import Listening as Identifiers
from sim.replay.wires import look_ahead, wire_up
from sim.rig.reasons import RigEvent
from supervisor.bus import BoatMap, compile_boat
from supervisor.config import BoatConfig
from supervisor.runtime.collector import SlackCollector
from supervisor.runtime.loop import Clock

PLAYS = (
    "It plays a recording: what the boat and its supervisor said on the buses then. Nothing can be worked, and nothing "
    "is decided anew; thwart replay says what the supervisor would have decided, and why"
)
_MOST_FRAMES = 2_000_000
"""Frames that are kept in memory: some four hours of two busy buses."""

Frame = tuple[float, str, can.Message]


def frames_of(config: BoatConfig, boat_map: BoatMap, log: str) -> list[Frame]:
    """Every frame of a recording on the buses of this boat, by log time (s). Raises BenchError where there is none, or
    more than can be kept."""
    facts = run_facts(log, config.boat.tick_s, None)
    identifiers = Identifiers(boat_map, own_commands(boat_map))
    known = {channel: bus for channel, bus in facts.buses.items() if bus in identifiers.buses}
    wiring = wire_up(identifiers, known, look_ahead(log, None, GAP_S))

    def select(channel: str, identifier: int, is_extended: bool) -> tuple[str, int, bool] | None:
        bus = wiring.bus_of.get(channel)
        return None if bus is None else (bus, identifier, is_extended)

    source = open_recording(log, select, gap_s=GAP_S, origin=facts.origin)
    found: list[Frame] = []
    try:
        for batch in source.batches():
            for time_s, handle, data in batch.items:
                if isinstance(handle, tuple):
                    bus, identifier, is_extended = handle
                    message = can.Message(arbitration_id=identifier, is_extended_id=is_extended, data=data)
                    found.append((time_s, bus, message))
            if len(found) > _MOST_FRAMES:
                raise BenchError(f"{log}: more than {_MOST_FRAMES} frames: cut the recording, and play a part of it")
    finally:
        source.close()
    if not found:
        raise BenchError(f"{log}: no frame of it is on a bus of this boat; thwart replay says what is in it")
    return found


def told_then(log: str) -> list[RigEvent]:
    """The events that a run folder of bench or panel keeps beside its bus log; none where there is no such file."""
    file = Path(log) / "events.csv"
    if not file.is_file():
        return []
    with file.open(encoding="utf-8", newline="") as lines:
        return [
            RigEvent(float(row["time_s"]), row["kind"], row["subject"], row["text"]) for row in csv.DictReader(lines)
        ]


class Playing:
    """One recording. Raises ConfigError, BenchError, ReplayError."""

    def __init__(self, config: BoatConfig, file: Path, log: str, clock: Clock, send: Send) -> None:
        self._config, self._clock, self._send, self._log = config, clock, send, log
        self._map = compile_boat(config, file)
        self._ears = Ears(config, self._map, send)
        self._frames = frames_of(config, self._map, log)
        self._events = told_then(log)
        self._end_s = self._frames[-1][0]
        self.pace = Pace(config.boat.tick_s, clock)
        self.collector = SlackCollector()
        self.listen: Callable[[], None] = nothing
        """Called before each tick: hands over to `take` what pages have sent since."""
        self._commands: list[Command] = []
        self._playing = True
        self._begin()

    def hello(self) -> None:
        """What pages must know before they can show anything."""
        told = describe(self._config, self._map, "playing")
        more = {"heading": "A recording", "says": PLAYS, "length_s": self._end_s, "speeds": list(SPEEDS)}
        self._send(HELLO, EVERYBODY, {**told, **more})

    def take(self, data: Mapping[str, Any], heard_s: float) -> None:
        """One command of a page: `speed`, `seek` (s), `play` (true or false). Any page may: nothing real moves."""
        try:
            command = understood(data, heard_s)
        except ValueError:
            return
        if command.do in ("beat", "hidden"):
            return
        try:
            self._do(command)
        except ValueError as error:
            self._reply(command, False, str(error))
        else:
            self._reply(command, True, "")

    def turn(self) -> None:
        """One tick of the recording, or of standing still."""
        now_s = self.pace.wait()
        self.listen()
        if self._playing:
            self._move(min(self._time_s + self._config.boat.tick_s, self._end_s))
            self._playing = self._time_s < self._end_s
        elif self.pace.speed == 0.0:  # nothing to be fast with: do not spin
            self._clock.wait_until(now_s + self._config.boat.tick_s)
        self._ears.show(now_s, self._time_s, {"speed": self.pace.speed, "playing": self._playing})
        self.pace.rest(self.collector)

    def close(self) -> None:
        """Nothing is held open."""

    def _begin(self) -> None:
        self._time_s = 0.0
        self._next_frame = self._next_event = 0
        self._ears.begin()

    def _move(self, time_s: float) -> None:
        """On to a time that is not before this one."""
        frames, events, ears = self._frames, self._events, self._ears
        while self._next_frame < len(frames) and frames[self._next_frame][0] <= time_s:
            heard_s, bus, message = frames[self._next_frame]
            ears.take(bus, message, heard_s)
            self._next_frame += 1
        changes = ears.changes(time_s)
        while self._next_event < len(events) and events[self._next_event].time_s <= time_s:
            ears.tell(events[self._next_event])
            self._next_event += 1
        if not events:
            for event in changes:
                ears.tell(event)
        self._time_s = time_s

    def _do(self, command: Command) -> None:
        if command.do == "speed":
            self.pace.set_speed(command.number())
        elif command.do == "play":
            self._playing = command.value is True and self._time_s < self._end_s
            self.pace.begin_anew()
        elif command.do == "seek":
            self._seek(min(max(command.number(), 0.0), self._end_s))
        else:
            raise ValueError("a recording can only be looked at")

    def _seek(self, time_s: float) -> None:
        """To any moment: from the beginning, for what is shown is what was heard until then."""
        self._begin()
        for one_s in self._steps(time_s):
            self._move(one_s)
        self._ears.tell(RigEvent(time_s, "action", "boat", f"the page goes to {time_s:.1f} s of the recording"))
        self.pace.begin_anew()

    def _steps(self, time_s: float) -> Iterator[float]:
        """Tick by tick, so that each change is seen at its time."""
        tick_s = self._config.boat.tick_s
        for number in range(1, int(time_s / tick_s) + 1):
            yield number * tick_s

    def _reply(self, command: Command, done: bool, text: str) -> None:
        if command.re:
            self._send(REPLY, command.client, {"re": command.re, "ok": done, "text": text})
