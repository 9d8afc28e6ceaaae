"""The live controller, able to pass over ticks in which nothing can happen, exactly.

Most of a long recording is a boat at rest: STANDBY or TRIPPED, shafts at REST or ISOLATED, inputs that say the same
again. There a tick changes nothing but a few timers and the estimates of currents. `rest` advances those by the rules'
own functions, tick by tick, and leaves out the rest of the tick. Anything else that changes from one tick to the next
ends the rest, and so does an estimate that comes to weigh on what the bank allows. A test holds the two ways equal,
decision by decision.
"""

import math
from collections.abc import Iterable, Sequence
from operator import itemgetter

from supervisor.config import BoatConfig
from supervisor.controller import Controller, Outcome
from supervisor.modes import BoatMode, ShaftMode
from supervisor.rules import Memory
from supervisor.rules.bank import BankView, bank_view
from supervisor.rules.permits import SILENT_S
from supervisor.rules.sources import up_to
from supervisor.rules.state import LONGEST_S, OBEY_S, RELAPSE_S, BoatState, ShaftDwells, count, ramp_length, tick_length
from supervisor.rules.torque import STEADY_S
from supervisor.signals import BoatInputs, ShaftInput, ShaftInputs

_SHAFT_TIMERS = ("neutral_s", "lever_lost_s", "still_s", "zero_s", "steady_s", "obeyed_s", "pardon_s", "silent_s")
"""Timers of a shaft that may run while it rests."""
_RAMPED = ("neutral_s", "still_s", "zero_s", "steady_s")
"""Those of them that count no more than a ramp's tick at a time."""
_PLACES = tuple(ShaftDwells._fields.index(name) for name in _SHAFT_TIMERS)
_other_dwells = itemgetter(*(place for place, name in enumerate(ShaftDwells._fields) if name not in _SHAFT_TIMERS))
_MARGIN_S = 1.0
"""A timer this near to its threshold, on either side, is left to whole ticks: some rules look at it one tick late."""
_AWAKE_S = 60.0
"""No rest in the first minute after power-up, where some rules wait for first frames."""
_LONGEST_REST_S = 3600.0
"""At least this often a tick is done whole."""
_DECIDED = BankView._fields.index("hotel_a")
"""Fields of a BankView before this one are what the bank allows; the estimates come after them."""


class RestingController(Controller):
    """A controller that knows whether its last tick, done again with the same inputs, would decide the same."""

    def __init__(self, config: BoatConfig, since_full_s: float = 0.0, *, load_weighs: bool = True) -> None:
        """`load_weighs` False: on this boat no estimate of a current can ever weigh on a decision, for it has no shafts
        and hears of no limit on discharging; they are left as they stand, which is quicker."""
        super().__init__(config, since_full_s)
        self.resting = False
        self._load_weighs = load_weighs or bool(self.boat.shafts)
        self._rest_until_s = -math.inf
        self._allowed: tuple[float, ...] = ()
        self._began_s: float | None = None
        self._seen: tuple[BoatInputs, tuple[ShaftInputs, ...]] | None = None
        self._strict = self.boat
        self._excused: tuple[bool, ...] = (False,) * len(self.boat.shafts)
        lim = self.boat.limits
        self._thresholds = [
            (
                lim.neutral_s,
                shaft.lever_hold_s,
                shaft.lock_still_s,
                shaft.reversal_dwell_s,
                STEADY_S,
                OBEY_S,
                RELAPSE_S,
                SILENT_S,
            )
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
            and not self._pending.waiting
            and self._at_rest(before, self._memory)
        )
        if self.resting:
            self._rest_until_s = now_s + self._room_s()
            if self._load_weighs:
                self._allowed = self._decided(self._view(self._memory.boat, 0.0))
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

    def _room_s(self) -> float:
        """Time (s) that may pass until a timer comes near its threshold; not above 0: none. No timer gains more than
        the time that passes, however long its ticks are."""
        memory = self._memory
        room_s = _LONGEST_REST_S
        left_s = self.boat.limits.reminder_s - memory.boat.dwells.since_full_s
        if left_s >= -_MARGIN_S:
            room_s = min(room_s, left_s)
        view = self._result.view if self._result is not None else None
        if memory.boat.sources.stop == 1 and view is not None and view.charge_permit == 1 == view.charge_wanted:
            room_s = min(room_s, self.boat.limits.source_return_s - memory.boat.sources.held_s)
        for state, thresholds in zip(memory.shafts, self._thresholds, strict=True):
            for place, threshold_s in zip(_PLACES, thresholds, strict=True):
                value_s = state.dwells[place]
                if 0.0 <= value_s <= threshold_s + _MARGIN_S:
                    room_s = min(room_s, threshold_s - value_s)
        return room_s - _MARGIN_S

    def rest(self, times_s: Iterable[float]) -> int:
        """Advance over the ticks at `times_s` (s, rising), with the inputs of the last whole tick, up to the first one
        that must be done whole. Returns how many were passed over."""
        if not self.resting or self._last_s is None:
            return 0
        if not self._load_weighs:
            return self._rest_alone(times_s, self._last_s)
        memory = self._memory
        last_s, until_s = self._last_s, self._rest_until_s
        boat = memory.boat
        since_full_s, age_s, held_s = boat.dwells.since_full_s, boat.dwells.age_s, boat.sources.held_s
        running = [
            (which, place, name in _RAMPED)
            for which, state in enumerate(memory.shafts)
            for place, name in zip(_PLACES, _SHAFT_TIMERS, strict=True)
            if 0.0 <= state.dwells[place] < LONGEST_S
        ]
        values = [memory.shafts[which].dwells[place] for which, place, _ in running]
        passed = 0
        for now_s in times_s:
            if now_s > until_s:
                break
            dt_s = tick_length(now_s - last_s)
            view = self._view(boat, dt_s)
            if (
                self._decided(view) != self._allowed
            ):  # the load that is estimated now leaves less, or more, to the drives
                self.resting = False
                break
            last_s = now_s
            passed += 1
            since_full_s, age_s = count(since_full_s, True, dt_s), count(age_s, True, dt_s)
            held_s = up_to(held_s + ramp_length(dt_s), self.boat.limits.source_return_s)
            for i, (_, _, ramped) in enumerate(running):
                values[i] = count(values[i], True, ramp_length(dt_s) if ramped else dt_s)
            bank = boat.bank._replace(
                hotel_a=view.hotel_a, load_a=view.load_a, drives_a=view.drives_a,
                brake_a=view.brake_budget_a, brake_spent_s=view.brake_spent_s,
            )  # fmt: skip
            boat = boat._replace(bank=bank)
        dwells = [list(state.dwells) for state in memory.shafts]
        for (which, place, _), value in zip(running, values, strict=True):
            dwells[which][place] = value
        shafts = zip(memory.shafts, dwells, strict=True)
        self._memory = Memory(
            _aged(boat, since_full_s, age_s, held_s),
            tuple(state._replace(dwells=ShaftDwells._make(times)) for state, times in shafts),
        )
        self._last_s = last_s
        return passed

    def _rest_alone(self, times_s: Iterable[float], last_s: float) -> int:
        """The same where no estimate weighs, in short: such boats have the longest recordings."""
        boat, until_s = self._memory.boat, self._rest_until_s
        since_full_s, age_s, held_s = boat.dwells.since_full_s, boat.dwells.age_s, boat.sources.held_s
        passed = 0
        for now_s in times_s:
            if now_s > until_s:
                break
            dt_s = tick_length(now_s - last_s)
            last_s = now_s
            passed += 1
            since_full_s = count(since_full_s, True, dt_s)
            age_s = count(age_s, True, dt_s)
            held_s = up_to(held_s + ramp_length(dt_s), self.boat.limits.source_return_s)
        self._memory = Memory(_aged(boat, since_full_s, age_s, held_s), ())
        self._last_s = last_s
        return passed

    def _decided(self, view: BankView) -> tuple[float, ...]:
        """What of `view` this boat decides on while it rests: the budget of braking only while a shaft turns."""
        turns = self._seen is not None and any(shaft.machine_speed_rpm != 0.0 for shaft in self._seen[1])
        return (*view[:_DECIDED], view.brake_budget_a if turns else 0.0, view.others)

    def _view(self, boat: BoatState, dt_s: float) -> BankView:
        """What the bank allows on the inputs of the last whole tick, `dt_s` after `boat`."""
        boat_in, shaft_in = self._seen if self._seen is not None else (BoatInputs(), ())
        drives_a = 0.0
        known = True
        for shaft in shaft_in:
            drives_a += shaft.current_a
            if shaft.known & ShaftInput.CURRENT == 0:
                known = False
        return bank_view(self.boat.limits, boat, boat_in, drives_a, known, False, dt_s)


def _aged(boat: BoatState, since_full_s: float, age_s: float, held_s: float) -> BoatState:
    dwells = boat.dwells._replace(since_full_s=since_full_s, age_s=age_s)
    return boat._replace(dwells=dwells, sources=boat.sources._replace(held_s=held_s))


def _without_timers(boat: BoatState) -> BoatState:
    """The boat's state less what may run or be estimated anew while it rests."""
    bank = boat.bank._replace(hotel_a=0.0, load_a=0.0, drives_a=0.0, brake_a=0.0, brake_spent_s=0.0)
    return _aged(boat, 0.0, 0.0, 0.0)._replace(bank=bank)
