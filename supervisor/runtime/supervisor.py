"""The supervisor whole: buses in, rules, buses out. One call a tick; the clock belongs to the loop around it."""

import functools
import math
from collections.abc import Callable
from pathlib import Path

import can

from supervisor.bus import BoatMap, BusPort, InputTable, OutputTable, compile_boat
from supervisor.bus.own_frames import OwnFrames
from supervisor.config import BoatConfig
from supervisor.controller import Controller, Outcome
from supervisor.controller.decided import Codes
from supervisor.controller.events import with_details
from supervisor.modes import BoatMode, ShaftMode
from supervisor.signals import BoatCommand, BoatInput, ShaftCommand

FrameSink = Callable[[float, str, can.Message, bool], None]
"""Called for each frame with (time_s, bus, message, sent): `sent` False for one that was received."""

TickSink = Callable[[float, bool, bool, frozenset[str], int | None], None]
"""Called for each tick with (time_s, receive_ok, deadline_ok, buses that came back, code of what was decided or None
where nothing was): what an exact replay needs, and what it is held against."""


ALONE_S = 2.0
"""After an own frame was heard that somebody else sent, this long without another one and the bus is ours again."""
STATUS_S = 0.1
"""What displays are told of limits and rules is made anew this often, and at once with each event (s)."""


class Supervisor:
    """One boat on its buses.

    `file` is the path or shipped name of the boat file, for the DBC files beside it, or the compiled map.
    `port` is closed by the caller.
    """

    def __init__(
        self,
        config: BoatConfig,
        file: str | Path | BoatMap,
        port: BusPort,
        on_frame: FrameSink | None = None,
        since_full_s: float = 0.0,
        on_tick: TickSink | None = None,
    ) -> None:
        self.config = config
        self.boat_map = file if isinstance(file, BoatMap) else compile_boat(config, file)
        self.table = InputTable(self.boat_map)
        self.outputs = OutputTable(self.boat_map)
        self.controller = Controller(config, since_full_s)
        self._status = self.controller.status()
        self._told_s = -math.inf
        self.port = port
        self._own = OwnFrames(self.boat_map, port.echoing)
        self._foreign_s = -math.inf
        self.other = ""
        """What was heard of another supervisor on these buses, in words; "" while this one is alone."""
        self.on_frame = on_frame
        self.on_tick = on_tick
        self._codes = Codes()
        self.deadline_ok = True
        """Set by the loop: False once its missed-deadline budget is spent, which trips the boat."""
        self.received = 0
        """Frames received in the last tick."""
        self.receive_ok = True
        """Set by the runtime: False while input piles up unread, which trips the boat."""

    def tick(self, now_s: float) -> Outcome:
        """Receive, decide, send. `now_s` is monotonic time in s."""
        table, port = self.table, self.port
        received = port.receive_all(now_s)
        self.received = len(received)
        for bus in port.reopened:
            table.restart_bus(bus)
        sink = self.on_frame
        for bus, message in received:
            if name := self._own.foreign(now_s, bus, message):
                self.other, self._foreign_s = f"{name} on bus {bus}, which this supervisor did not send", now_s
            table.take(bus, message, now_s)
            if sink is not None:
                sink(now_s, bus, message, False)
        if self.other and now_s - self._foreign_s >= ALONE_S:
            self.other = ""
        # Two that give orders give the drives either's: not even this one's zero is sure to be obeyed until both are.
        receive_ok = port.receive_ok and self.receive_ok and not self.other
        table.set_contact(BoatInput.RECEIVE_OK, receive_ok)
        table.set_contact(BoatInput.DEADLINE_OK, self.deadline_ok)
        outcome = None
        try:
            outcome = self.controller.tick(now_s, *table.snapshot(now_s))
        finally:
            if self.on_tick is not None:  # of a tick that ends the program too: the replay of it will do the same
                code = None if outcome is None else self._codes.of(outcome)
                self.on_tick(now_s, receive_ok, self.deadline_ok, port.reopened, code)
        if outcome.events:  # after the codes: ages are no part of what was decided
            why = functools.partial(table.why_missing, now_s=now_s)
            outcome = outcome._replace(events=with_details(outcome.events, why))
        if outcome.events or not 0.0 <= now_s - self._told_s < STATUS_S:
            self._status, self._told_s = self.controller.status(), now_s
        frames = self.outputs.frames(
            now_s, outcome.boat_command, outcome.shaft_commands, outcome.boat_mode, outcome.shaft_modes, *self._status
        )
        sent = port.send(frames, now_s)
        self._own.sent(now_s, sent)
        if sink is not None:
            for bus, message in sent:
                sink(now_s, bus, message, True)
        return outcome

    def stop(self, now_s: float) -> None:
        """Send zero commands with every enable off, as a last word before the port is closed."""
        count = len(self.controller.shaft_names)
        frames = self.outputs.frames(
            now_s, BoatCommand(), [ShaftCommand()] * count, BoatMode.STANDBY, [ShaftMode.REST] * count
        )
        self._own.sent(now_s, self.port.send(frames, now_s))
