"""One supervisor under replay: its inputs, its controller, and everything it would have decided.

It is fed as a live one is: at each tick it takes the frames that came since the tick before, stamps them with the time
of the tick, and decides.
"""

import functools
import itertools
from collections.abc import Mapping, Sequence
from typing import NamedTuple

from sim.replay.assumed import Assumed
from sim.replay.coverage import Coverage
from sim.replay.resting import RestingController
from sim.replay.ticks import Moment, Ticks
from sim.replay.wires import Wire
from supervisor.bus import OWN, InputTable, compile_boat
from supervisor.bus.slots import TIE_S
from supervisor.config import BoatConfig
from supervisor.controller import Event, Outcome
from supervisor.controller.events import with_details
from supervisor.modes import ShaftCondition
from supervisor.signals import BOAT, BOAT_INPUTS, SHAFT_INPUTS, BoatInput, BoatInputs, ShaftInputs

Heard = tuple[Wire, bytes]
_DISOBEYED = int(ShaftCondition.DISOBEYED)
_LIMIT = "bank.discharge_limit_a"
"""Without it nothing may be discharged, whatever the load; it cannot be declared not fitted."""
_EARLY_S = 1e-6
"""Inputs are read again this long before they can go stale."""


class Change(NamedTuple):
    """Something that is different from the tick before: what was read, what was decided, or both. All times in it are
    log time."""

    tick: int
    time_s: float
    boat: BoatInputs
    shafts: tuple[ShaftInputs, ...]
    outcome: Outcome


class ReplayedSupervisor:
    """One configuration, from power-up to the end of the recording."""

    def __init__(
        self,
        config: BoatConfig,
        file: str,
        ticks: Ticks,
        *,
        rest: bool = True,
        assume: Mapping[str, float] | None = None,
        since_full_s: float = 0.0,
        leader: "ReplayedSupervisor | None" = None,
    ) -> None:
        """`rest` False does every tick whole; the decisions are the same. `assume` gives values to inputs that are not
        mapped, by name; `since_full_s` is the time since the last full charge at power-up (s). Raises ReplayError for
        a name or value that cannot be assumed.

        The drives in a recording obeyed whoever was in charge. `leader` is the subject under the settings of that time,
        which is advanced first: a drive that did not disobey the leader does not disobey this one, whatever is ordered.
        """
        self.config = config
        self.boat_map = compile_boat(config, file)
        self.table = InputTable(self.boat_map)
        self.coverage = Coverage(self.boat_map)
        self.ticks = ticks
        self.whole_ticks = 0
        self._rest = rest
        self._leader = leader
        self._assumed = Assumed(assume, self.boat_map) if assume else None
        limited = _LIMIT in (assume or {}) or any(row.spec.name == _LIMIT for row in self.boat_map.inputs)
        self.controller = RestingController(config, since_full_s, load_weighs=limited)
        self._last: Change | None = None
        self._moments = list(ticks.moments)
        self._moment_at = self._moments[0].first_tick if self._moments else -1
        self._safe_until_s = -1.0
        # to the last bit what the table of inputs goes by: at this age an input is still known, a tick later it is not
        self._stale_s = {
            row.spec.name if row.level < 0 else f"{self.boat_map.shaft_names[row.level]}.{row.spec.name}":
            row.stale_s + TIE_S
            for row in self.boat_map.inputs
        }  # fmt: skip
        self._least_stale_s = min(self._stale_s.values(), default=1e6) - _EARLY_S
        self.set_runtime(Moment(0))

    def excuse_drives(self) -> None:
        """For a recording under another controller's command: its drives cannot have disobeyed ours."""
        self.controller.excuse((True,) * len(self.boat_map.shaft_names))

    def set_runtime(self, moment: Moment) -> None:
        """What the runtime says of itself."""
        self.table.set_contact(BoatInput.RECEIVE_OK, moment.receive_ok)
        self.table.set_contact(BoatInput.DEADLINE_OK, moment.deadline_ok)
        for bus in moment.reopened:
            self.table.restart_bus(bus)

    @property
    def last(self) -> Change | None:
        """The state after the last tick."""
        return self._last

    def advance(self, first: int, stop: int, heard: Sequence[Heard]) -> list[Change]:
        """Do the ticks `first` to `stop` - 1, `heard` being what came since the tick before `first`. Returns those at
        which something changed."""
        changes: list[Change] = []
        number = first
        if self._leader is not None and self._leader.last is not None:
            words = self._leader.last.outcome.shaft_words
            self.controller.excuse(tuple(word & _DISOBEYED == 0 for word in words))
        own = self.ticks.own
        while number < stop:
            now_s = own(number)
            while self._moments and number >= self._moment_at:  # several of them may lie in a gap
                self.set_runtime(self._moments.pop(0))
                self._moment_at = self._moments[0].first_tick if self._moments else -1
                self._safe_until_s = -1.0
                self.controller.resting = False
            if heard:
                feed = self.table.feed
                for wire, data in heard:
                    feed(wire.bus, wire.arbitration_id, wire.is_extended, data, now_s)
                heard = ()
                # what has just been heard for the first time goes stale no sooner than this
                self._safe_until_s = min(self._safe_until_s, now_s + self._least_stale_s)
            elif self.controller.resting and self._rest:
                passed = self._pass_over(number, stop, now_s)
                if passed:
                    number += passed
                    continue
            boat, shafts = self._inputs(now_s)
            last = self._last
            same = last is not None and boat == last.boat and shafts == last.shafts
            if same and self._rest and self.controller.rest((now_s,)):
                self.coverage.more(1)
            else:
                self._whole(number, now_s, boat, shafts, same, changes)
            number += 1
        return changes

    def _whole(
        self,
        number: int,
        now_s: float,
        boat: BoatInputs,
        shafts: tuple[ShaftInputs, ...],
        same: bool,
        changes: list[Change],
    ) -> None:
        """One tick done whole. `same`: its inputs are those of the last Change."""
        outcome = self.controller.tick(now_s, boat, shafts)
        if outcome.events:
            why = functools.partial(self.table.why_missing, now_s=now_s)
            outcome = outcome._replace(events=with_details(outcome.events, why))
        outcome = self._in_log_time(outcome)
        self.whole_ticks += 1
        if same:
            self.coverage.more(1)
        else:
            self.coverage.take(boat, shafts)
        last = self._last
        if not same or outcome.events or last is None or outcome[1:7] != last.outcome[1:7]:
            last = Change(number, self.ticks.at(number), boat, shafts, outcome)
            changes.append(last)
            self._last = last

    def _in_log_time(self, outcome: Outcome) -> Outcome:
        """The same, no longer by the supervisor's own clock."""
        zero_s = self.ticks.zero_s
        if zero_s == 0.0:
            return outcome
        events = tuple(event._replace(time_s=event.time_s - zero_s) for event in outcome.events)
        return outcome._replace(time_s=outcome.time_s - zero_s, events=events)

    def _pass_over(self, number: int, stop: int, now_s: float) -> int:
        """Rest over as many ticks as nothing can happen in. Returns how many."""
        controller = self.controller
        if now_s >= self._safe_until_s:
            boat, shafts = self._inputs(now_s)
            if not controller.same(boat, shafts):
                controller.resting = False
                return 0
            self._safe_until_s = now_s + self._soonest_s(now_s) - _EARLY_S
            if now_s >= self._safe_until_s:
                return 0
        if self._moments:
            stop = min(stop, self._moment_at)
        safe_until_s = self._safe_until_s
        times = map(self.ticks.own, range(number, stop))
        passed = controller.rest(itertools.takewhile(lambda time_s: time_s < safe_until_s, times))
        if passed:
            self.coverage.more(passed)
        return passed

    def _inputs(self, now_s: float) -> tuple[BoatInputs, tuple[ShaftInputs, ...]]:
        """What was read, with what is assumed."""
        boat, shafts = self.table.snapshot(now_s)
        return (boat, shafts) if self._assumed is None else self._assumed.over(boat, shafts)

    def _soonest_s(self, now_s: float) -> float:
        """Time until the next input goes stale (s)."""
        soonest_s = 1e6
        stale_s = self._stale_s
        for name, age_s in self.table.ages(now_s).items():
            if age_s is not None:
                left_s = stale_s[name] - age_s
                if 0.0 <= left_s < soonest_s:
                    soonest_s = left_s
        return soonest_s

    def why_unknown(self, tick: int) -> dict[tuple[int, int], str]:
        """For every input that is unknown at this tick, the last one done: why, by (level, bit)."""
        now_s = self.ticks.own(tick)
        found: dict[tuple[int, int], str] = {}
        own = [row.spec for row in self.boat_map.inputs if row.level == OWN]
        for level in range(OWN, len(self.boat_map.shaft_names)):
            for spec in own if level == OWN else BOAT_INPUTS if level == BOAT else SHAFT_INPUTS:
                text = self.table.why_unknown(level, int(spec.bit), now_s)
                if text:
                    found[level, int(spec.bit)] = text
        return found


def events_of(changes: Sequence[Change]) -> list[Event]:
    """All events of some changes, in order."""
    return [event for change in changes for event in change.outcome.events]
