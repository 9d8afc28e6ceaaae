"""A boat that is only heard: its buses, live in another process or played from a recording. No frame is sent.

There is no simulated boat here. A signal that only a simulated boat has is not known, unless the boat's own boxes say
the same thing on the bus: then that is shown in its place.
"""

import math
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import can

from sim.errors import BenchError
from sim.nodes.hear import Hearing
from sim.panel.command import understood
from sim.panel.describe import describe
from sim.panel.engine import FAST_S, SLOW_S, TRAFFIC_S, Send, nothing
from sim.panel.heard import heard_signals
from sim.panel.link import EVENTS, EVERYBODY, FAST, HELLO, REPLY, SLOW, TRAFFIC
from sim.panel.showing import alarm_states, open_answers
from sim.panel.traffic import Traffic
from sim.panel.view import crew, drawings, limits, plain, tightest
from sim.rig.live.reported import Reported
from sim.rig.reasons import RigEvent
from supervisor.bus import BoatMap, BusPort, InputTable, compile_boat
from supervisor.bus.port import BusSetting
from supervisor.config import BoatConfig
from supervisor.controller.status import Answer, BoatStatus, Rule, ShaftStatus
from supervisor.modes import SHAFT_TRIPS, SHAFT_WORDS, ShaftCondition
from supervisor.runtime import Loop
from supervisor.runtime.adapters import Adapters
from supervisor.runtime.collector import SlackCollector
from supervisor.runtime.loop import Clock
from supervisor.signals import BOAT

SENDS_NOTHING = (
    "It listens to the buses of a boat whose supervisor runs elsewhere, and shows what is heard. It sends no frame and "
    "works nothing. What nobody says there is unknown here"
)


class Ears:
    """What can be shown of one boat by its frames. Times in s since it began."""

    def __init__(self, config: BoatConfig, boat_map: BoatMap, send: Send) -> None:
        self._config, self._map, self._send = config, boat_map, send
        self._shafts = boat_map.shaft_names
        self._number = 0
        self._next_s = {FAST: 0.0, SLOW: 0.0, TRAFFIC: 0.0}
        self.begin()

    def begin(self) -> None:
        """Nothing has been heard."""
        self.table = InputTable(self._map)
        self.reported = Reported(self._map)
        self._hearing = Hearing(self._map.outputs, periods=3.0)
        self._traffic = Traffic(self._map)

    def take(self, bus: str, message: can.Message, time_s: float) -> None:
        """One frame."""
        self.table.take(bus, message, time_s)
        self.reported.take(bus, message, time_s)
        self._hearing.take(bus, message, time_s)
        self._traffic.take(time_s, message, bus)

    def changes(self, time_s: float) -> list[RigEvent]:
        """Modes, trips and alarms that have changed since the last call."""
        events = self.reported.events(self.reported.decided(time_s), time_s)
        if events:
            self._next_s[SLOW] = 0.0
        return events

    def tell(self, event: RigEvent) -> None:
        """One event, to all pages."""
        self._number += 1
        self._send(EVENTS, EVERYBODY, [{**event._asdict(), "n": self._number, "time_s": round(event.time_s, 3)}])

    def show(self, now_s: float, time_s: float, more: Mapping[str, Any]) -> None:
        """What is due of the views; `now_s` is the clock on the wall, `more` goes into the fast one."""
        if self._due(FAST, FAST_S, now_s):
            self._send(FAST, EVERYBODY, {**self._fast(time_s), **more})
        if self._due(SLOW, SLOW_S, now_s):
            self._send(SLOW, EVERYBODY, self._slow(time_s))
        if self._due(TRAFFIC, TRAFFIC_S, now_s):
            self._send(TRAFFIC, EVERYBODY, self._traffic.report(time_s))

    def _due(self, kind: str, period_s: float, now_s: float) -> bool:
        if now_s < self._next_s[kind]:
            return False
        self._next_s[kind] = max(self._next_s[kind] + period_s, now_s)
        return True

    def _fast(self, time_s: float) -> dict[str, Any]:
        signals = heard_signals(self._shafts, self.reported.decided(time_s), *self.table.snapshot(time_s))
        return {
            "time_s": round(time_s, 3), "signals": plain(signals), "hands": {},
            "drawings": drawings(self._shafts, signals),
            "speed": 1.0, "control": {"holder": "", "lost": ""}, "running": False, "recording": "",
        }  # fmt: skip

    def _slow(self, time_s: float) -> dict[str, Any]:
        said = self.reported.decided(time_s)
        boat, each = self._status(time_s)
        states = alarm_states(said.boat.alarms, None, boat.returned)
        unmapped = sorted(name for name in self.reported.unseen if "." in name)
        return {
            "alarms": states,
            "alarms_known": self._alarms_heard(time_s),
            "crew": crew(self._shafts, said.boat_mode, each, open_answers(states)),
            "limits": limits(self._shafts, said.boat.charge_limit_a, boat, each),
            "tightest": tightest(self._shafts, boat, each, self._config.limits.full_charge_a, said.boat.charge_limit_a),
            "words": None,
            "explain": None,
            "rows": [],
            "first_out": self._causes(each),
            "faults": [],
            "progress": None,
            "unmapped": unmapped,
        }

    def _alarms_heard(self, time_s: float) -> bool:
        """Whether the alarm word comes: without it, no alarm shown is not no alarm."""
        name, wired, silent = "boat.alarms", self._hearing.wired, self._hearing.silent
        return wired(BOAT, name) and not silent(BOAT, name, time_s)

    def _status(self, time_s: float) -> tuple[BoatStatus, list[ShaftStatus]]:
        """What it says of limits and rules; what the boat file does not map is NaN, or unknown."""

        def number(level: int, name: str) -> float:
            wired = self._hearing.wired(level, name) and not self._hearing.silent(level, name, time_s)
            return self._hearing.value(level, name, time_s) if wired else math.nan

        def code(level: int, name: str, unknown: int) -> int:
            value = number(level, name)
            return int(value) if math.isfinite(value) else unknown

        rule, nothing = int(Rule.UNKNOWN), int(Answer.NOTHING)
        boat = BoatStatus(
            code(BOAT, "boat.charge_rule", rule), number(BOAT, "boat.brake_a"), code(BOAT, "boat.brake_rule", rule),
            number(BOAT, "boat.discharge_a"), code(BOAT, "boat.discharge_rule", rule),
            code(BOAT, "boat.returned_alarms", 0),
        )  # fmt: skip
        each = [
            ShaftStatus(
                code(level, "shaft.cause", 0), code(level, "shaft.answer", nothing), number(level, "shaft.limit_pct"),
                code(level, "shaft.limit_rule", rule), number(level, "shaft.brake_nm"),
            )
            for level in range(len(self._shafts))
        ]  # fmt: skip
        return boat, each

    def _causes(self, each: list[ShaftStatus]) -> list[dict[str, Any]]:
        """The condition that stopped each shaft, which is all of a first-out that is on the bus."""
        found = []
        for shaft, one in zip(self._shafts, each, strict=True):
            if one.cause > 0:
                bit = ShaftCondition(1 << (one.cause - 1))
                # a trip is a bit that is set; of the others the bus does not say whether set or clear stopped it
                words = SHAFT_WORDS[bit][0] if bit in SHAFT_TRIPS else ", or: ".join(SHAFT_WORDS[bit])
                found.append({"time_s": None, "subject": shaft, "first_out": str(bit.name).lower().replace("_", " "),
                              "text": words})  # fmt: skip
        return found


class Listening:
    """One boat's buses, listened to, live. Raises ConfigError, BenchError."""

    def __init__(
        self, config: BoatConfig, file: Path, settings: Mapping[str, BusSetting], settle_s: float, clock: Clock,
        send: Send,
    ) -> None:  # fmt: skip
        self._config, self._clock, self._send = config, clock, send
        self._map = compile_boat(config, file)
        self._ears = Ears(config, self._map, send)
        self._port = BusPort(settings, essential=(), opener=Adapters(settle_s).open)
        self._loop = Loop(self._tick, config.boat.tick_s, clock)
        self.collector = SlackCollector()
        self._problems: dict[str, str] = {}
        self._was_heard: bool | None = None
        self.listen: Callable[[], None] = nothing
        """Called before each tick: hands over to `take` what pages have sent since."""
        self._began_s = clock.now_s()
        if problems := self._port.open(self._began_s):
            raise BenchError("\n".join(problems))

    def hello(self) -> None:
        """What pages must know before they can show anything."""
        told = describe(self._config, self._map, "watching")
        self._send(HELLO, EVERYBODY, {**told, "heading": "This page sends nothing", "says": SENDS_NOTHING})

    def take(self, data: Mapping[str, Any], heard_s: float) -> None:
        """Whatever a page asks for: there is nothing that it could do here."""
        command = understood({**data, "value": "", "params": None}, heard_s)
        if command.re:
            self._send(REPLY, command.client, {"re": command.re, "ok": False, "text": SENDS_NOTHING})

    def turn(self) -> None:
        """Wait for the next tick and listen."""
        began_s = self._loop.once()
        self.collector.collect(self._config.boat.tick_s - (self._clock.now_s() - began_s))

    def close(self) -> None:
        """Let go of the adapters."""
        self._port.close()

    def _tick(self, now_s: float) -> None:
        time_s = now_s - self._began_s
        self.listen()
        received = self._port.receive_all(now_s)
        for bus in self._port.reopened:
            self._ears.table.restart_bus(bus)
        for bus, message in received:
            self._ears.take(bus, message, time_s)
        for event in [*self._own_events(time_s), *self._ears.changes(time_s)]:
            self._ears.tell(event)
        self._ears.show(now_s, time_s, {})

    def _own_events(self, time_s: float) -> list[RigEvent]:
        """What happens to the listener itself."""
        found = []
        problems = self._port.problems()
        for bus in sorted(problems.keys() ^ self._problems.keys()):
            found.append(
                RigEvent(time_s, "fault", bus, f"the panel's own adapter: {problems.get(bus, 'in order again')}")
            )
        self._problems = problems
        heard = self._ears.reported.heard(time_s)
        if heard != self._was_heard and self._map.outputs:  # a boat that only listens has no supervisor to hear
            self._was_heard = heard
            words = "a supervisor is heard" if heard else "no supervisor is heard: no good orders come on its bus"
            found.append(RigEvent(time_s, "action" if heard else "fault", "boat", words))
        return found
