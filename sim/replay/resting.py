"""The live controller, able to pass over ticks in which nothing can happen, exactly.

Most of a long recording is a boat at rest: STANDBY or TRIPPED, shafts at REST or ISOLATED, inputs that say the same
again. There a tick changes nothing but a few timers and the estimates of currents. `rest` advances those by the rules'
own functions, tick by tick, and leaves out the rest of the tick. Anything else that changes from one tick to the next
ends the rest. A test holds the two ways equal, decision by decision.
"""

import math
from collections.abc import Sequence
from operator import itemgetter

from supervisor.config import BoatConfig
from supervisor.controller import Controller, Outcome
from supervisor.modes import BoatMode, ShaftMode
from supervisor.rules import Memory
from supervisor.rules.bank import bank_view
from supervisor.rules.state import LONGEST_S, BoatState, ShaftDwells, count, ramp_length, tick_length
from supervisor.signals import BoatInputs, ShaftInput, ShaftInputs

_SHAFT_TIMERS = ("neutral_s", "lever_lost_s", "still_s", "zero_s")
"""Timers of a shaft that may run while it rests."""
_RAMPED = ("neutral_s", "still_s", "zero_s")
"""Those of them that count no more than a ramp's tick at a time."""
_PLACES = tuple(ShaftDwells._fields.index(name) for name in _SHAFT_TIMERS)
_other_dwells = itemgetter(*(place for place, name in enumerate(ShaftDwells._fields) if name not in _SHAFT_TIMERS))
_MARGIN_S = 1.0
"""A timer this near to its threshold, on either side, is left to whole ticks: some rules look at it one tick late."""
_AWAKE_S = 60.0
"""No rest in the first minute after power-up, where some rules wait for first frames."""


class RestingController(Controller):
    """A controller that knows whether its last tick, done again with the same inputs, would decide the same."""

    def __init__(self, config: BoatConfig, since_full_s: float = 0.0) -> None:
        super().__init__(config, since_full_s)
        self.resting = False
        self._began_s: float | None = None
        self._seen: tuple[BoatInputs, tuple[ShaftInputs, ...]] | None = None
        self._strict = self.boat
        self._excused: tuple[bool, ...] = (False,) * len(self.boat.shafts)
        lim = self.boat.limits
        self._thresholds = [
            (lim.neutral_s, shaft.lever_hold_s, shaft.lock_still_s, shaft.reversal_dwell_s)
            for shaft in self.boat.shafts
        ]

    def excuse(self, excused: tuple[bool, ...]) -> None:
        """Shafts, in order, whose drive is known to have followed other orders than ours: that its torque is not what
        we order does not isolate it from here on."""
        if excused == self._excused:
            return
        self._excused = excused
        self.boat = self._strict._replace(shafts=tuple(
            lim._replace(disobey_s=math.inf) if excuse else lim
            for lim, excuse in zip(self._strict.shafts, excused, strict=True)
        ))  # fmt: skip

    def tick(self, now_s: float, boat_in: BoatInputs, shaft_in: Sequence[ShaftInputs]) -> Outcome:
        """As Controller.tick."""
        before, last_s = self._memory, self._last_s
        if self._began_s is None:
            self._began_s = now_s
        outcome = super().tick(now_s, boat_in, shaft_in)
        self._seen = (boat_in, tuple(shaft_in))
        self.resting = (
            not outcome.events
            and last_s is not None
            and now_s > last_s
            and now_s > self._began_s + _AWAKE_S
            and not self.failed
            and self._at_rest(before, self._memory)
        )
        return outcome

    @staticmethod
    def _at_rest(before: Memory, after: Memory) -> bool:
        if after.boat.mode not in (BoatMode.STANDBY, BoatMode.TRIPPED):
            return False
        if _without_timers(before.boat) != _without_timers(after.boat):
            return False
        for was, now in zip(before.shafts, after.shafts, strict=True):
            if now.mode not in (ShaftMode.REST, ShaftMode.ISOLATED):
                return False
            if was._replace(dwells=now.dwells) != now or _other_dwells(was.dwells) != _other_dwells(now.dwells):
                return False
        return True

    def same(self, boat_in: BoatInputs, shaft_in: tuple[ShaftInputs, ...]) -> bool:
        """Whether these are the inputs of the last whole tick."""
        return self._seen == (boat_in, shaft_in)

    def restful_ticks(self, tick_s: float) -> int:
        """How many ticks of `tick_s` (s) may be passed over before a timer comes near its threshold; 0: none."""
        if not self.resting:
            return 0
        memory = self._memory
        left_s = self.boat.limits.reminder_s - memory.boat.dwells.since_full_s
        if not memory.shafts and left_s > 2e4:
            return 100_000
        room_s = left_s if left_s > -_MARGIN_S else 1e6
        for state, thresholds in zip(memory.shafts, self._thresholds, strict=True):
            for place, threshold_s in zip(_PLACES, thresholds, strict=True):
                value_s = state.dwells[place]
                if 0.0 <= value_s <= threshold_s + _MARGIN_S:
                    room_s = min(room_s, threshold_s - value_s)
        return max(0, int((room_s - _MARGIN_S) / tick_s))

    def rest(self, times_s: Sequence[float]) -> None:
        """Advance over the ticks at `times_s`, with the inputs of the last whole tick; ask `restful_ticks` first."""
        if self._seen is None or self._last_s is None:
            return
        memory = self._memory
        last_s = self._last_s
        boat = memory.boat
        if not memory.shafts:
            self._rest_alone(times_s, last_s, boat)
            return
        since_full_s, age_s = boat.dwells.since_full_s, boat.dwells.age_s
        running = [
            (which, place, name in _RAMPED)
            for which, state in enumerate(memory.shafts)
            for place, name in zip(_PLACES, _SHAFT_TIMERS, strict=True)
            if 0.0 <= state.dwells[place] < LONGEST_S
        ]
        values = [memory.shafts[which].dwells[place] for which, place, _ in running]
        for now_s in times_s:
            dt_s = tick_length(now_s - last_s)
            last_s = now_s
            since_full_s, age_s = count(since_full_s, True, dt_s), count(age_s, True, dt_s)
            for i, (_, _, ramped) in enumerate(running):
                values[i] = count(values[i], True, ramp_length(dt_s) if ramped else dt_s)
            boat = self._estimated(boat, dt_s)
        dwells = [list(state.dwells) for state in memory.shafts]
        for (which, place, _), value in zip(running, values, strict=True):
            dwells[which][place] = value
        shafts = zip(memory.shafts, dwells, strict=True)
        self._memory = Memory(
            _aged(boat, since_full_s, age_s),
            tuple(state._replace(dwells=ShaftDwells._make(times)) for state, times in shafts),
        )
        self._last_s = last_s

    def _rest_alone(self, times_s: Sequence[float], last_s: float, boat: BoatState) -> None:
        """The same for a boat without shafts, in short: such boats have the longest recordings. Its estimates, which
        weigh only on torque, are left as they stand."""
        since_full_s, age_s = boat.dwells.since_full_s, boat.dwells.age_s
        for now_s in times_s:
            dt_s = tick_length(now_s - last_s)
            last_s = now_s
            since_full_s = count(since_full_s, True, dt_s)
            age_s = count(age_s, True, dt_s)
        self._memory = Memory(_aged(boat, since_full_s, age_s), ())
        self._last_s = last_s

    def _estimated(self, boat: BoatState, dt_s: float) -> BoatState:
        """The boat's estimates one tick on."""
        if self._seen is None:
            return boat
        boat_in, shaft_in = self._seen
        drives_a = 0.0
        known = True
        for shaft in shaft_in:
            drives_a += shaft.current_a
            if shaft.known & ShaftInput.CURRENT == 0:
                known = False
        view = bank_view(self.boat.limits, boat, boat_in, drives_a, known, dt_s)
        bank = boat.bank._replace(hotel_a=view.hotel_a, load_a=view.load_a, drives_a=view.drives_a)
        return boat._replace(bank=bank)


def _aged(boat: BoatState, since_full_s: float, age_s: float) -> BoatState:
    return boat._replace(dwells=boat.dwells._replace(since_full_s=since_full_s, age_s=age_s))


def _without_timers(boat: BoatState) -> BoatState:
    """The boat's state less what may run or be estimated anew while it rests."""
    bank = boat.bank._replace(hotel_a=0.0, load_a=0.0, drives_a=0.0)
    return _aged(boat, 0.0, 0.0)._replace(bank=bank)
