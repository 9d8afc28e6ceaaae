"""The live controller: state, executors and events around the pure tick. Sans-IO: inputs in, commands out."""

from collections.abc import Callable, Sequence
from typing import NamedTuple

from supervisor.config import BoatConfig, boat_limits, shaft_limits
from supervisor.controller.causes import Causes, Moment, missing_for_alarm, missing_for_trip
from supervisor.controller.events import Event, EventKind
from supervisor.controller.explain import Refusal, explain_boat, explain_permit, explain_shaft
from supervisor.controller.machine import ExecutorsDisagreeError, TableMachine
from supervisor.controller.requests import Pending, answered, asked_of
from supervisor.controller.status import BoatStatus, ShaftStatus, boat_status, shaft_status, still_returned
from supervisor.modes import (
    BOAT_TABLE,
    BOAT_TRIPS,
    BOAT_WORDS,
    NO_ROW,
    SHAFT_TABLE,
    SHAFT_TRIPS,
    SHAFT_WORDS,
    BoatCondition,
    BoatMode,
    ShaftCondition,
    ShaftMode,
)
from supervisor.modes.boat_table import BoatRow
from supervisor.modes.shaft_table import ShaftRow
from supervisor.rules import Boat, Memory, ShaftLatch, Tick, initial_memory, run_tick
from supervisor.rules.bits import BOAT_LATCH_HANDSET_IN_CONTROL
from supervisor.rules.finite import finite_boat, finite_shaft
from supervisor.rules.readings import out_of_service, read_lever
from supervisor.rules.state import ShaftState
from supervisor.signals import (
    ALARM_TEXT,
    STOPPED_ALARMS,
    Alarm,
    BoatCommand,
    BoatInputs,
    ShaftCommand,
    ShaftInputs,
    ShaftPermit,
)

_THRUST_ORDER = int(ShaftCondition.THRUST_ORDER)
_LOCK_RELEASED = int(ShaftCondition.LOCK_RELEASED)

HANDSET_RELEASED = "handset let go, or its thrust at zero"
"""The end of thrust by handset where a lever's would be "lever back in neutral"."""


class Outcome(NamedTuple):
    """What one tick decided. Words are BoatCondition, ShaftCondition and PermitCondition bits; bit k of
    `own_bad` says that the k-th own interlock is bad."""

    time_s: float
    boat_mode: BoatMode
    shaft_modes: tuple[ShaftMode, ...]
    boat_command: BoatCommand
    shaft_commands: tuple[ShaftCommand, ...]
    boat_word: int
    shaft_words: tuple[int, ...]
    events: tuple[Event, ...]
    permit_words: tuple[int, ...] = ()
    own_bad: int = 0


class Saved(NamedTuple):
    """All that a controller remembers, to be restored in one made from the same boat file."""

    memory: Memory
    modes: tuple[int, tuple[int, ...]]
    last_s: float | None
    alarms: int
    own_bad: int
    result: Tick | None
    inputs: tuple[BoatInputs, tuple[ShaftInputs, ...]]
    failed: str
    pending: Pending = Pending()
    causes: tuple[int, ...] = ()
    returned: int = 0


def freeze(config: BoatConfig) -> Boat:
    """The limits of a boat file, frozen for the rules."""
    return Boat(boat_limits(config), tuple(shaft_limits(config, shaft) for shaft in config.shaft))


class Controller:
    """One boat under supervision. Made anew after any power-up or crash, it starts in STANDBY with zero commands."""

    def __init__(self, config: BoatConfig, since_full_s: float = 0.0) -> None:
        """`since_full_s` is the time since the last completed full charge (s, at least 0), kept over a power-down."""
        self.config = config
        self.boat = freeze(config)
        self.shaft_names = tuple(shaft.name for shaft in config.shaft)
        memory = initial_memory(self.boat)
        dwells = memory.boat.dwells._replace(since_full_s=since_full_s)
        self._memory = memory._replace(boat=memory.boat._replace(dwells=dwells))
        self._boat_machine = TableMachine(BOAT_TABLE, BoatMode, BoatMode.STANDBY)
        self._shaft_machines = [TableMachine(SHAFT_TABLE, ShaftMode, ShaftMode.REST) for _ in self.shaft_names]
        self._last_s: float | None = None
        self._alarms = 0
        self._own_bad = self._memory.boat.own.bad
        self._causes = Causes(config)
        self._result: Tick | None = None
        self._inputs = (BoatInputs(), (ShaftInputs(),) * len(self.shaft_names))
        self._pending = Pending()
        self._stopped_by = [0] * len(self.shaft_names)
        self._returned = 0
        self.failed = ""
        """Why the controller has stopped all torque for good, "" while it is sound."""

    @property
    def memory(self) -> Memory:
        """State between ticks, for inspection."""
        return self._memory

    @property
    def boat_mode(self) -> BoatMode:
        """Present mode of the boat; TRIPPED once the controller has failed."""
        return BoatMode.TRIPPED if self.failed else self._boat_machine.mode

    @property
    def shaft_modes(self) -> tuple[ShaftMode, ...]:
        """Present mode of each shaft; ISOLATED once the controller has failed."""
        if self.failed:
            return (ShaftMode.ISOLATED,) * len(self.shaft_names)
        return tuple(machine.mode for machine in self._shaft_machines)

    def save(self) -> Saved:
        """The present moment, for `restore`."""
        modes = (int(self._boat_machine.mode), tuple(int(machine.mode) for machine in self._shaft_machines))
        return Saved(
            self._memory, modes, self._last_s, self._alarms, self._own_bad, self._result, self._inputs, self.failed,
            self._pending, tuple(self._stopped_by), self._returned,
        )  # fmt: skip

    def restore(self, saved: Saved) -> None:
        """Back to a moment saved from a controller of the same boat file."""
        self._memory, self._last_s, self._alarms = saved.memory, saved.last_s, saved.alarms
        self._own_bad, self._result, self._inputs, self.failed, self._pending = (
            saved.own_bad, saved.result, saved.inputs, saved.failed, saved.pending
        )  # fmt: skip
        self._stopped_by, self._returned = list(saved.causes), saved.returned
        self._boat_machine.put(BoatMode(saved.modes[0]))
        for machine, mode in zip(self._shaft_machines, saved.modes[1], strict=True):
            machine.put(ShaftMode(mode))

    @property
    def returned(self) -> int:
        """The Alarm bits that sounded, went, and were not acknowledged."""
        return self._returned

    def rearmed(self, index: int) -> bool:
        """Whether shaft `index` has seen fresh neutral."""
        return bool(self._memory.shafts[index].latches & ShaftLatch.REARMED)

    def tick(self, now_s: float, boat_in: BoatInputs, shaft_in: Sequence[ShaftInputs]) -> Outcome:
        """Decide. `now_s` is monotonic time (s); `shaft_in` has one entry a shaft, in the order of the boat file.

        A disagreement of the executors stops all torque until the supervisor is started again.
        """
        dt_s = 0.0 if self._last_s is None else now_s - self._last_s
        self._last_s = now_s
        if self.failed:
            return self._stopped(now_s, ())
        before = (self.boat_mode, self.shaft_modes)
        by_handset = self._memory.boat.latches & BOAT_LATCH_HANDSET_IN_CONTROL != 0
        self._inputs = (boat_in, tuple(shaft_in))
        try:
            result = run_tick(self.boat, self._memory, boat_in, shaft_in, dt_s, self._decide)
        except ExecutorsDisagreeError as exc:
            self.failed = str(exc)
            event = Event(
                now_s,
                EventKind.TRIP,
                "boat",
                f"internal fault: the two calculations differ; all torque is zero. Restart, and report it: {exc}",
                first_out="EXECUTORS",
            )
            return self._stopped(now_s, (event,))
        self._returned = still_returned(
            self._returned, self._alarms, self._memory.boat.acknowledged, result.boat_command.alarms,
            result.orders.acknowledge == 1,
        )  # fmt: skip
        self._memory = result.memory
        self._result = result
        self._remember_causes(result)
        events = self._events(now_s, before, result, by_handset)
        asked = asked_of(self.boat, self._memory, shaft_in)
        if asked != self._pending.asked or self._pending.waiting:
            events += self._answers(now_s, asked)
        return Outcome(
            now_s, self.boat_mode, self.shaft_modes, result.boat_command, result.shaft_commands, result.boat_word,
            result.shaft_words, events, result.permit_words, result.memory.boat.own.bad,
        )  # fmt: skip

    def _decide(self, which: int, mode: int, word: int) -> int:
        machine = self._boat_machine if which < 0 else self._shaft_machines[which]
        return machine.consider(word)

    def _stopped(self, now_s: float, events: tuple[Event, ...]) -> Outcome:
        alarms = int(Alarm.BOAT_TRIPPED)
        command = BoatCommand(stop_sources=1, sounder=1, alarms=alarms)
        idle = tuple(ShaftCommand() for _ in self.shaft_names)
        none = (0,) * len(self.shaft_names)
        boat_word, shaft_words = (0, none) if self._result is None else self._result[3:5]
        return Outcome(
            now_s, BoatMode.TRIPPED, (ShaftMode.ISOLATED,) * len(self.shaft_names), command, idle, boat_word,
            shaft_words, events, none,
        )  # fmt: skip

    def _moment(self) -> Moment:
        boat_in, shaft_in = self._inputs
        view = None if self._result is None else self._result.view
        return Moment(self.boat, self._memory, boat_in, shaft_in, view)

    @property
    def _boat_word(self) -> int:
        return 0 if self._result is None else self._result.boat_word

    def _tell_boat(self, bit: BoatCondition, is_set: bool) -> str:
        return self._causes.boat(self._moment(), bit, is_set)

    def _tell_shaft(self, index: int) -> Callable[[ShaftCondition, bool], str]:
        return lambda bit, is_set: self._causes.shaft(self._moment(), bit, is_set, index)

    def status(self) -> tuple[BoatStatus, tuple[ShaftStatus, ...]]:
        """The limits of the last tick with the rules that hold them, and the state of each shaft, for displays."""
        if self._result is None or self.failed:
            return BoatStatus(), (ShaftStatus(),) * len(self.shaft_names)
        memory, view, boat_mode = self._memory, self._result.view, int(self.boat_mode)
        boat_in, shaft_in = finite_boat(self._inputs[0]), [finite_shaft(shaft) for shaft in self._inputs[1]]
        handset = memory.boat.latches & BOAT_LATCH_HANDSET_IN_CONTROL != 0
        bank = boat_status(self.boat.limits, boat_in, view, memory.boat, self._returned)
        sides = zip(self.boat.shafts, memory.shafts, shaft_in, self._stopped_by, strict=True)
        return bank, tuple(
            shaft_status(self.boat.limits, lim, boat_in, view, state, shaft, boat_mode, handset, cause)
            for lim, state, shaft, cause in sides
        )

    def _remember_causes(self, result: Tick) -> None:
        """By which bit each shaft was stopped that is isolated, or whose stop is not acknowledged."""
        for index, (row, state) in enumerate(zip(result.shaft_rows, result.memory.shafts, strict=True)):
            isolated = state.mode == ShaftMode.ISOLATED
            if not isolated and not state.latches & ShaftLatch.STOPPED:
                self._stopped_by[index] = 0
            elif row != NO_ROW and (isolated or not self._stopped_by[index]):
                self._stopped_by[index] = cause_number(SHAFT_TABLE[row])
            elif not self._stopped_by[index]:
                self._stopped_by[index] = int(ShaftCondition.PAUSE_FAILED).bit_length()

    def _answers(self, now_s: float, asked: tuple[int, ...]) -> tuple[Event, ...]:
        """Lever and selectors that were asked in vain."""

        def missing(index: int, goal: ShaftMode) -> list[str]:
            refusals = self.explain(self.shaft_names[index], goal.name)
            return list(refusals[0].words) if refusals else []

        self._pending, answers = answered(
            self._pending, asked, now_s, self.boat_mode, self.shaft_modes, missing
        )  # fmt: skip
        return tuple(Event(now_s, EventKind.REFUSAL, self.shaft_names[shaft], text) for shaft, text in answers)

    def _events(
        self, now_s: float, before: tuple[BoatMode, tuple[ShaftMode, ...]], result: Tick, by_handset: bool
    ) -> tuple[Event, ...]:
        alarms = result.boat_command.alarms
        own_bad = result.memory.boat.own.bad
        pressed = result.orders.enable_edge or result.orders.reset_edge
        changed = result.boat_row != NO_ROW or any(row != NO_ROW for row in result.shaft_rows)
        if not changed and alarms == self._alarms and own_bad == self._own_bad and not pressed:
            return ()
        events: list[Event] = []
        if result.boat_row != NO_ROW:
            row = BOAT_TABLE[result.boat_row]
            kind = EventKind.TRIP if row.dest == BoatMode.TRIPPED else EventKind.MODE
            first = _first_out(row, (*BOAT_TRIPS, BoatCondition.OWN_BOAT, BoatCondition.CONTACTOR_CLOSED))
            text = self._boat_words(row, before[0])
            first = first if kind == EventKind.TRIP else ""
            lost = missing_for_trip(self._moment(), first)
            events.append(Event(now_s, kind, "boat", text, row.source.name, row.dest.name, first, lost))
        for index, taken in enumerate(result.shaft_rows):
            if taken == NO_ROW:
                continue
            shaft_row = SHAFT_TABLE[taken]
            kind = EventKind.TRIP if shaft_row.dest == ShaftMode.ISOLATED else EventKind.MODE
            first = _first_out(shaft_row, (*SHAFT_TRIPS, ShaftCondition.OWN_SHAFT)) if kind == EventKind.TRIP else ""
            name = self.shaft_names[index]
            text = self._shaft_words(index, shaft_row)
            if by_handset and shaft_row.source == ShaftMode.PROPEL and not result.shaft_words[index] & _THRUST_ORDER:
                text = HANDSET_RELEASED
            else:
                text = held_words(shaft_row, result.memory.shafts[index], result.shaft_words[index], text)
            lost = missing_for_trip(self._moment(), first, index)
            events.append(Event(now_s, kind, name, text, shaft_row.source.name, shaft_row.dest.name, first, lost))
        gone = alarms ^ self._alarms
        if gone:
            for alarm, text in ALARM_TEXT.items():
                if alarm in STOPPED_ALARMS or not gone & alarm or alarm == Alarm.OWN_INTERLOCK:
                    continue  # a stop is told by its shaft, each own interlock by its own name
                comes = bool(alarms & alarm)
                kind = EventKind.ALARM if comes else EventKind.ALARM_GONE
                told = self._causes.alarm(self._moment(), alarm, text) if comes else f"ended: {text}"
                if self._returned & alarm:
                    told += " (ended before it was acknowledged)"
                lost = missing_for_alarm(self._moment(), alarm) if comes else ()
                events.append(Event(now_s, kind, "boat", told, first_out=str(alarm.name), inputs=lost))
            events += self._stops(now_s, before[1], alarms, gone, result)
        if alarms & Alarm.OWN_INTERLOCK or self._alarms & Alarm.OWN_INTERLOCK:
            events += self._own_events(now_s, own_bad, bool(alarms & Alarm.OWN_INTERLOCK))
        self._alarms = alarms
        if pressed:
            events += self._refusals(now_s, before, result)
        return tuple(events)

    def _stops(self, now_s: float, before: tuple[ShaftMode, ...], alarms: int, gone: int, result: Tick) -> list[Event]:
        """Shafts that were stopped although thrust or charging was asked for, with the cause, and what it takes to go
        on; and stops that the crew has acknowledged."""
        found = []
        for index, (name, alarm) in enumerate(zip(self.shaft_names, STOPPED_ALARMS, strict=False)):
            if not gone & alarm:
                continue
            kind, text = EventKind.ALARM_GONE, "the stop is acknowledged"
            if alarms & alarm:
                kind, row = EventKind.ALARM, result.shaft_rows[index]
                what = "charging" if before[index] in (ShaftMode.GENERATE, ShaftMode.HARVEST) else "thrust"
                if row != NO_ROW:
                    cause = self._shaft_words(index, SHAFT_TABLE[row])
                elif result.shaft_words[index] & ShaftCondition.PAUSE_FAILED:
                    cause = self._tell_shaft(index)(ShaftCondition.PAUSE_FAILED, True)
                else:  # something else went in a pause
                    refusals = self.explain(name, "PROPEL")
                    cause = "; ".join(refusals[0].words) if refusals else "cause unknown"
                text = f"{what} was stopped: {cause}"
                if what == "thrust":
                    text += "; for thrust again, lever to neutral first"
            found.append(Event(now_s, kind, name, text, first_out=str(alarm.name)))
        return found

    def _own_events(self, now_s: float, own_bad: int, told: bool) -> list[Event]:
        """Own interlocks that have gone bad or good. In the first second after power-up, while first frames are waited
        for, nothing is told; what is bad then is told after it."""
        found = []
        was_bad = self._own_bad if self._alarms & Alarm.OWN_INTERLOCK else 0
        now_bad = own_bad if told else 0
        for k, entry in enumerate(self.config.interlock):
            if (was_bad ^ now_bad) >> k & 1:
                bad = now_bad >> k & 1
                text = self._causes.interlock_words(k, self._inputs[0]) if bad else entry.good
                kind = EventKind.ALARM if bad else EventKind.ALARM_GONE
                found.append(Event(now_s, kind, "boat", text, first_out=f"interlock {entry.name}"))
        self._own_bad = own_bad
        return found

    def _boat_words(self, row: BoatRow, before: BoatMode) -> str:
        if row.must & BoatCondition.INPUT_LOST:
            return self._tell_boat(BoatCondition.INPUT_LOST, True)
        if row.must_not == BoatCondition.OWN_BOAT:
            return self._tell_boat(BoatCondition.OWN_BOAT, False)
        if before == BoatMode.NEUTRAL_WAIT and row.must & BoatCondition.WAIT_EXPIRED:
            missing = self._missing_in(BoatMode.NEUTRAL_WAIT, BoatMode.READY)
            return f"{row.words}. Missing: {'; '.join(missing)}" if missing else row.words
        return row.words

    def _shaft_words(self, index: int, row: ShaftRow) -> str:
        """The reason of a row, by the one cause that holds where the row names one bit only."""
        tell = self._tell_shaft(index)
        for bit in ShaftCondition:
            alone = row.words in SHAFT_WORDS[bit]
            if alone and row.must & bit and row.words == SHAFT_WORDS[bit][0]:
                return tell(bit, True)
            if alone and row.must_not & bit and row.words == SHAFT_WORDS[bit][1]:
                return tell(bit, False)
        return row.words

    def _refusals(
        self, now_s: float, before: tuple[BoatMode, tuple[ShaftMode, ...]], result: Tick
    ) -> list[Event]:  # fmt: skip
        """A press of enable or reset that did not get what it asked for is answered, always. What only takes its time
        (precharge, the neutral dwell) is waiting, not refusing."""
        refusals: list[Event] = []
        if result.orders.enable_edge and self.boat_mode not in (BoatMode.READY, BoatMode.NEUTRAL_WAIT):
            for text in self.missing_for(BoatMode.READY):
                refusals.append(Event(now_s, EventKind.REFUSAL, "boat", f"not READY: {text}"))
        elif result.orders.enable_edge and self.boat_mode == BoatMode.NEUTRAL_WAIT:
            for text in self._missing_in(BoatMode.NEUTRAL_WAIT, BoatMode.READY, waiting=False):
                refusals.append(Event(now_s, EventKind.REFUSAL, "boat", f"not READY: {text}"))
        if result.orders.reset_edge:
            if before[0] == self.boat_mode == BoatMode.TRIPPED:
                for text in self._missing_in(BoatMode.TRIPPED, BoatMode.STANDBY):
                    refusals.append(Event(now_s, EventKind.REFUSAL, "boat", f"no reset: {text}"))
            for index, mode in enumerate(self.shaft_modes):
                if mode == before[1][index] == ShaftMode.ISOLATED:
                    word = result.shaft_words[index]
                    for refusal in explain_shaft(mode, word, ShaftMode.REST, self._tell_shaft(index))[:1]:
                        for text in refusal.words:
                            name = self.shaft_names[index]
                            refusals.append(Event(now_s, EventKind.REFUSAL, name, f"no reset: {text}"))
        return refusals

    def explain(self, subject: str, goal: str) -> list[Refusal]:
        """What is missing for `subject` ("boat" or a shaft's name) to reach mode `goal`, or for a shaft to be given
        permit `goal` ("ENGINE_START", "CLUTCH_CLOSE", ...), nearest way first.

        Raises ValueError for an unknown subject, mode or permit, naming what is allowed.
        """
        if subject == "boat":
            if goal not in BoatMode.__members__:
                raise ValueError(f"{goal!r} is no boat mode. Allowed: {', '.join(BoatMode.__members__)}")
            return explain_boat(self.boat_mode, self._boat_word, BoatMode[goal], self._tell_boat)
        if subject not in self.shaft_names:
            raise ValueError(f"{subject!r} is no shaft. Allowed: boat, {', '.join(self.shaft_names)}")
        index = self.shaft_names.index(subject)
        if goal in ShaftPermit.__members__:
            return self.explain_permit(index, ShaftPermit[goal])
        if goal not in ShaftMode.__members__:
            allowed = ", ".join((*ShaftMode.__members__, *ShaftPermit.__members__))
            raise ValueError(f"{goal!r} is no shaft mode and no permit. Allowed: {allowed}")
        word = 0 if self._result is None else self._result.shaft_words[index]
        return explain_shaft(self.shaft_modes[index], word, ShaftMode[goal], self._tell_shaft(index))

    def explain_permit(self, index: int, permit: ShaftPermit) -> list[Refusal]:
        """What is missing for `permit` of shaft `index`, nearest way first; a way that misses nothing: it is given."""
        word = 0 if self._result is None else self._result.permit_words[index]
        return explain_permit(permit, word, lambda bit, is_set: self._causes.permit(self._moment(), bit, is_set, index))

    def missing_for(self, goal: BoatMode) -> list[str]:
        """What is missing for the boat to reach `goal`, by name of lever, shaft or input where one can be named."""
        return self._missing_in(self.boat_mode, goal)

    def _missing_in(self, mode: BoatMode, goal: BoatMode, waiting: bool = True) -> list[str]:
        texts: list[str] = []
        for refusal in explain_boat(mode, self._boat_word, goal, self._tell_boat)[:1]:
            for bit, words in zip(refusal.bits, refusal.words, strict=True):
                if bit == "LEVERS_NEUTRAL":
                    texts += self._levers_missing(waiting)
                elif bit == "LINKS_CHARGED":
                    texts += self._links_missing() if waiting else []
                else:
                    texts.append(words)
        return texts

    def _levers_missing(self, waiting: bool) -> list[str]:
        texts = []
        shafts = zip(self.shaft_names, self.boat.shafts, self._memory.shafts, self._inputs[1], strict=True)
        for name, limits, state, shaft in shafts:
            if out_of_service(shaft, state.latches):
                continue
            lever = read_lever(limits, shaft)
            if lever.lost:
                texts.append(f"{name} lever signal is lost or contradicts itself")
            elif not lever.neutral:
                texts.append(f"{name} lever is not in neutral")
            elif waiting and not state.dwells.neutral_s >= self.boat.limits.neutral_s:
                texts.append(f"{name} lever has not been in neutral for long enough")
        return texts

    def _links_missing(self) -> list[str]:
        texts = []
        shaft_words = (0,) * len(self.shaft_names) if self._result is None else self._result.shaft_words
        for name, mode, word in zip(self.shaft_names, self.shaft_modes, shaft_words, strict=True):
            serving = word & ShaftCondition.IN_SERVICE and mode != ShaftMode.ISOLATED
            if serving and not word & ShaftCondition.LINK_CHARGED:
                texts.append(f"{name} {SHAFT_WORDS[ShaftCondition.LINK_CHARGED][1]}")
        return texts or [BOAT_WORDS[BoatCondition.LINKS_CHARGED][1]]


def held_words(row: ShaftRow, state: ShaftState, word: int, text: str) -> str:
    """`text`, or what a shaft that is stopped and locked does, where that is why this row was taken."""
    if row.dest == ShaftMode.PROPEL and state.hold.held_s >= 0.0:
        return "the shaft is to be stopped and locked"
    # a lever that came back in this tick has not been in neutral for any time yet
    if row.source != ShaftMode.PROPEL or word & _THRUST_ORDER or not state.dwells.neutral_s > 0.0:
        return text
    if row.dest == ShaftMode.REST and not word & _LOCK_RELEASED:
        return "the shaft lock moves: the drive lets go of the shaft"
    return "the shaft is held no longer" if row.dest == ShaftMode.UNLOAD else text


def cause_number(row: ShaftRow) -> int:
    """1 + the number of the bit that a row which stops a shaft goes by: the one whose words are the row's own, else
    what must not be missing, or must not be."""
    for bit in ShaftCondition:
        if (row.must & bit and row.words == SHAFT_WORDS[bit][0]) or (
            row.must_not & bit and row.words == SHAFT_WORDS[bit][1]
        ):
            return int(bit).bit_length()
    needs = int(row.must_not) if row.must_not and not int(row.must) & ~int(ShaftCondition.BOAT_LIVE) else int(row.must)
    for trip in SHAFT_TRIPS:
        if int(row.must) & int(trip):
            needs = int(trip)
    return (needs & -needs).bit_length()


def _first_out(row: BoatRow | ShaftRow, causes: Sequence[BoatCondition | ShaftCondition]) -> str:
    """The name of the condition that a row trips on: set for what stops, clear for what permits."""
    bits = int(row.must) | int(row.must_not)
    return next((str(bit.name) for bit in causes if bits & int(bit)), "")
