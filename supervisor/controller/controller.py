"""The live controller: state, executors and events around the pure tick. Sans-IO: inputs in, commands out."""

from collections.abc import Sequence
from typing import NamedTuple

from supervisor.config import BoatConfig, boat_limits, shaft_limits
from supervisor.controller.events import Event, EventKind
from supervisor.controller.explain import Refusal, explain_boat, explain_shaft
from supervisor.controller.machine import ExecutorsDisagreeError, TableMachine
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
from supervisor.rules import Boat, Memory, ShaftLatch, Tick, initial_memory, run_tick
from supervisor.rules.readings import out_of_service, read_lever
from supervisor.signals import (
    ALARM_TEXT,
    BOAT_INPUTS,
    SHAFT_INPUTS,
    Alarm,
    BoatCommand,
    BoatInputs,
    ShaftCommand,
    ShaftInputs,
)


class Outcome(NamedTuple):
    """What one tick decided. Words are BoatCondition and ShaftCondition bits."""

    time_s: float
    boat_mode: BoatMode
    shaft_modes: tuple[ShaftMode, ...]
    boat_command: BoatCommand
    shaft_commands: tuple[ShaftCommand, ...]
    boat_word: int
    shaft_words: tuple[int, ...]
    events: tuple[Event, ...]


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
        self._words: tuple[int, tuple[int, ...]] = (0, (0,) * len(self.shaft_names))
        self._inputs = (BoatInputs(), (ShaftInputs(),) * len(self.shaft_names))
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

    def rearmed(self, index: int) -> bool:
        """Whether shaft `index` has seen fresh neutral."""
        return bool(self._memory.shafts[index].latches & ShaftLatch.REARMED)

    def tick(self, now_s: float, boat_in: BoatInputs, shaft_in: Sequence[ShaftInputs]) -> Outcome:
        """Decide. `now_s` is monotonic time (s); `shaft_in` has one entry a shaft, in the order of the boat file.

        A disagreement of the executors stops all torque until the supervisor is started anew.
        """
        dt_s = 0.0 if self._last_s is None else now_s - self._last_s
        self._last_s = now_s
        if self.failed:
            return self._stopped(now_s, ())
        before = (self.boat_mode, self.shaft_modes)
        self._inputs = (boat_in, tuple(shaft_in))
        try:
            result = run_tick(self.boat, self._memory, boat_in, shaft_in, dt_s, self._decide)
        except ExecutorsDisagreeError as exc:
            self.failed = str(exc)
            event = Event(now_s, EventKind.TRIP, "boat", f"executors disagree: {exc}", first_out="EXECUTORS")
            return self._stopped(now_s, (event,))
        self._memory = result.memory
        self._words = (result.boat_word, result.shaft_words)
        events = self._events(now_s, before, result)
        return Outcome(
            now_s, self.boat_mode, self.shaft_modes, result.boat_command, result.shaft_commands, result.boat_word,
            result.shaft_words, events,
        )  # fmt: skip

    def _decide(self, which: int, mode: int, word: int) -> int:
        machine = self._boat_machine if which < 0 else self._shaft_machines[which]
        return machine.consider(word)

    def _stopped(self, now_s: float, events: tuple[Event, ...]) -> Outcome:
        alarms = int(Alarm.BOAT_TRIPPED)
        command = BoatCommand(stop_sources=1, sounder=1, alarms=alarms)
        idle = tuple(ShaftCommand() for _ in self.shaft_names)
        return Outcome(
            now_s, BoatMode.TRIPPED, (ShaftMode.ISOLATED,) * len(self.shaft_names), command, idle, self._words[0],
            self._words[1], events,
        )  # fmt: skip

    def _events(self, now_s: float, before: tuple[BoatMode, tuple[ShaftMode, ...]], result: Tick) -> tuple[Event, ...]:
        alarms = result.boat_command.alarms
        pressed = result.orders.enable_edge or result.orders.reset_edge
        changed = result.boat_row != NO_ROW or any(row != NO_ROW for row in result.shaft_rows)
        if not changed and alarms == self._alarms and not pressed:
            return ()
        events: list[Event] = []
        if result.boat_row != NO_ROW:
            row = BOAT_TABLE[result.boat_row]
            first = _first_out(int(row.must), BOAT_TRIPS, "CONTACTOR_CLOSED")
            kind = EventKind.TRIP if row.dest == BoatMode.TRIPPED else EventKind.MODE
            text = self._boat_words(row.words, row.must, before[0])
            first = first if kind == EventKind.TRIP else ""
            events.append(Event(now_s, kind, "boat", text, row.source.name, row.dest.name, first))
        for index, taken in enumerate(result.shaft_rows):
            if taken == NO_ROW:
                continue
            shaft_row = SHAFT_TABLE[taken]
            kind = EventKind.TRIP if shaft_row.dest == ShaftMode.ISOLATED else EventKind.MODE
            first = _first_out(int(shaft_row.must), SHAFT_TRIPS, "") if kind == EventKind.TRIP else ""
            text = shaft_row.words
            if shaft_row.must & ShaftCondition.INPUT_LOST:
                text += ": " + ", ".join(self._lost_shaft_inputs(index))
            name = self.shaft_names[index]
            events.append(Event(now_s, kind, name, text, shaft_row.source.name, shaft_row.dest.name, first))
        gone = alarms ^ self._alarms
        if gone:
            for alarm, text in ALARM_TEXT.items():
                if gone & alarm:
                    kind = EventKind.ALARM if alarms & alarm else EventKind.ALARM_GONE
                    events.append(Event(now_s, kind, "boat", text, first_out=str(alarm.name)))
            self._alarms = alarms
        if pressed:
            events += self._refusals(now_s, before, result)
        return tuple(events)

    def _boat_words(self, words: str, must: BoatCondition, before: BoatMode) -> str:
        if must & BoatCondition.INPUT_LOST:
            return f"{words}: {', '.join(self._lost_boat_inputs())}"
        if before == BoatMode.NEUTRAL_WAIT and must & BoatCondition.WAIT_EXPIRED:
            missing = self._missing_in(BoatMode.NEUTRAL_WAIT, BoatMode.READY)
            return f"{words}: {'; '.join(missing)}" if missing else words
        return words

    def _lost_boat_inputs(self) -> list[str]:
        boat_in, shaft_in = self._inputs
        lost = self.boat.limits.react.trip_boat & ~boat_in.known
        names = [spec.text for spec in BOAT_INPUTS if lost & spec.bit]
        for name, limits, shaft in zip(self.shaft_names, self.boat.shafts, shaft_in, strict=True):
            lost = limits.react.trip_boat & ~shaft.known
            names += [f"{name} {spec.text}" for spec in SHAFT_INPUTS if lost & spec.bit]
        return names

    def _lost_shaft_inputs(self, index: int) -> list[str]:
        boat_in, shaft_in = self._inputs
        lost = self.boat.shafts[index].react.trip_shaft & ~shaft_in[index].known
        names = [spec.text for spec in SHAFT_INPUTS if lost & spec.bit]
        lost = self.boat.limits.react.trip_shaft & ~boat_in.known
        return names + [spec.text for spec in BOAT_INPUTS if lost & spec.bit]

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
                    for refusal in explain_shaft(mode, result.shaft_words[index], ShaftMode.REST)[:1]:
                        for text in refusal.words:
                            name = self.shaft_names[index]
                            refusals.append(Event(now_s, EventKind.REFUSAL, name, f"no reset: {text}"))
        return refusals

    def explain(self, subject: str, goal: str) -> list[Refusal]:
        """What is missing for `subject` ("boat" or a shaft's name) to reach mode `goal`, nearest way first.

        Raises ValueError for an unknown subject or mode, naming what is allowed.
        """
        if subject == "boat":
            if goal not in BoatMode.__members__:
                raise ValueError(f"{goal!r} is no boat mode. Allowed: {', '.join(BoatMode.__members__)}")
            return explain_boat(self.boat_mode, self._words[0], BoatMode[goal])
        if subject not in self.shaft_names:
            raise ValueError(f"{subject!r} is no shaft. Allowed: boat, {', '.join(self.shaft_names)}")
        if goal not in ShaftMode.__members__:
            raise ValueError(f"{goal!r} is no shaft mode. Allowed: {', '.join(ShaftMode.__members__)}")
        index = self.shaft_names.index(subject)
        return explain_shaft(self.shaft_modes[index], self._words[1][index], ShaftMode[goal])

    def missing_for(self, goal: BoatMode) -> list[str]:
        """What is missing for the boat to reach `goal`, by name of lever, shaft or input where one can be named."""
        return self._missing_in(self.boat_mode, goal)

    def _missing_in(self, mode: BoatMode, goal: BoatMode, waiting: bool = True) -> list[str]:
        texts: list[str] = []
        for refusal in explain_boat(mode, self._words[0], goal)[:1]:
            for bit, words in zip(refusal.bits, refusal.words, strict=True):
                if bit == "LEVERS_NEUTRAL":
                    texts += self._levers_missing(waiting)
                elif bit == "LINKS_CHARGED":
                    texts += self._links_missing() if waiting else []
                elif bit == "not INPUT_LOST":
                    texts.append(f"{words}: {', '.join(self._lost_boat_inputs())}")
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
        for name, mode, word in zip(self.shaft_names, self.shaft_modes, self._words[1], strict=True):
            serving = word & ShaftCondition.IN_SERVICE and mode != ShaftMode.ISOLATED
            if serving and not word & ShaftCondition.LINK_CHARGED:
                texts.append(f"{name} {SHAFT_WORDS[ShaftCondition.LINK_CHARGED][1]}")
        return texts or [BOAT_WORDS[BoatCondition.LINKS_CHARGED][1]]


def _first_out(must: int, trips: Sequence[BoatCondition | ShaftCondition], otherwise: str) -> str:
    return next((str(bit.name) for bit in trips if must & int(bit)), otherwise)
