"""A whole boat without buses whose calm stretches run compiled.

Plant, the rules' memory, inputs, commands and signals are those of `DirectRig` in every bit. Between two moments at
which the crew does something, no fault is at work and no button is let go, ticks run in one compiled loop; all others
as they do there. What a controller keeps beside that memory is not kept over such a stretch: events in it are not told,
or at its end, refusals come late, and the cause of a stop and the alarms that have returned can be wrong in `status`. A
boat with own interlocks runs plainly throughout.
"""

from pathlib import Path

from sim.fast.built import built
from sim.fast.hands import hands_of
from sim.fast.loops import Keys, Moment, Sight
from sim.fast.packed import packed
from sim.fast.senses import seen_of
from sim.rig.direct import DirectRig
from supervisor.config import BoatConfig
from supervisor.rules import Boat
from supervisor.signals import BOAT, ShaftCommand

LEAST_TICKS = 4
"""Fewer than so many ticks are not worth a compiled loop."""


class FastRig(DirectRig):
    """A boat on the bench, without buses, compiled. Raises ConfigError for a boat file that cannot be simulated,
    CompilerMissingError without numba."""

    def __init__(self, config: str | Path | BoatConfig, file: str | Path | None = None) -> None:
        """`config` is a path, a shipped name, or a validated BoatConfig together with the `file` it came from."""
        super().__init__(config, file)
        boat = self.controller.boat
        self._sail = built(len(self.shafts)).loops["sail"]
        self._limits = Boat(packed(boat.limits), tuple(packed(one) for one in boat.shafts))
        self._record = packed(self.params)
        self._sight = Sight(
            packed(seen_of(self.table, BOAT)),
            tuple(packed(seen_of(self.table, level)) for level in range(len(self.shafts))),
        )
        self.compiled_ticks = 0
        """So many ticks ran compiled."""

    def run(self, seconds: float) -> None:
        """Advance by so many seconds."""
        left = round(seconds / self.tick_s)
        while left > 0:
            calm = min(left, self._calm_ticks()) - 1  # the last one is done plainly, for what it decided to be told
            if calm >= LEAST_TICKS:
                self._run_compiled(calm)
                left -= calm
            self.step()
            left -= 1

    def _calm_ticks(self) -> int:
        """So many ticks from now on nothing happens but what the boat and its supervisor do. 0: not even one."""
        panel = self.panel
        if self._faults or self._audit is not None or self.outcome is None or panel.own or panel.silent:
            return 0
        if self.interlocks or self.controller.failed:
            return 0
        ends = [until_s for until_s in panel.pressed_until_s.values() if until_s >= 0.0]
        ends += [shaft.key_until_s for shaft in panel.shafts if shaft.start_key or shaft.stop_key]
        if not ends:
            return 10**9
        return max(0, int((min(ends) - self.now_s) / self.tick_s) - 1)

    def _run_compiled(self, ticks: int) -> None:
        outcome, saved = self.outcome, self.controller.save()
        if outcome is None:
            raise ValueError("a boat that has not had its first tick has nothing to go on from")
        sides = self.panel.shafts
        moment = Moment(
            self._ticks,
            self.plant,
            saved.memory,
            outcome.boat_command.stop_sources,
            tuple(ShaftCommand(float(one[0]), float(one[1]), int(one[2])) for one in outcome.shaft_commands),
            tuple(Keys(side.start_key, side.stop_key) for side in sides),
        )
        after: Moment = self._sail(
            self._limits, self._record, self._sight, hands_of(self.panel), moment, self.tick_s, ticks
        )
        self._ticks, self.plant = after.ticks, after.plant
        self.compiled_ticks += ticks
        for side, keys in zip(sides, after.keys, strict=True):
            side.start_key, side.stop_key = keys.start, keys.stop
        modes = after.memory.boat.mode, tuple(shaft.mode for shaft in after.memory.shafts)
        self.controller.restore(saved._replace(memory=after.memory, modes=modes, last_s=self.now_s))
        command = outcome.boat_command._replace(stop_sources=after.stop)
        heard = outcome._replace(boat_command=command, shaft_commands=after.commands)
        self.outcome = self._heard.outcome = heard
