"""One tick laid out for judging: facts, modes and orders side by side, with the tick before."""

from typing import NamedTuple

from sim.requirements.facts import BoatFacts, ShaftFacts, boat_facts, shaft_facts
from sim.requirements.record import LONGEST_GAP_S, Record
from supervisor.config.limits import BoatLimits, ShaftLimits
from supervisor.modes import BoatMode, ShaftMode
from supervisor.rules import Boat
from supervisor.signals import BoatCommand, BoatInputs, ShaftCommand, ShaftInputs

FIRST_FRAMES_S = 1.0
"""Nothing is called lost in the first second after power-up (s): parts come on one after the other. What is unknown
still permits nothing."""


class ShaftTick(NamedTuple):
    """One shaft at one tick, complete. `was` is the same shaft one tick before, None at the start of a history;
    `unloads` is the mode that an UNLOAD came from; `handset` whether the handset is the control position; `word` its
    condition word, None where it is not known."""

    number: int
    name: str
    lim: ShaftLimits
    mode: ShaftMode
    inputs: ShaftInputs
    facts: ShaftFacts
    command: ShaftCommand
    unloads: ShaftMode
    handset: bool
    was: "ShaftTick | None"
    word: int | None = None

    @property
    def torque_nm(self) -> float:
        """Torque ordered (N m)."""
        return self.command.torque_nm

    @property
    def source(self) -> bool:
        """Working as a source of current, or unloading from it."""
        return self.unloads in (ShaftMode.GENERATE, ShaftMode.HARVEST)

    @property
    def propels(self) -> bool:
        """Working on thrust, or unloading from it."""
        return self.unloads == ShaftMode.PROPEL

    @property
    def unsaid(self) -> bool:
        """Unloading, and from what is not known: the records begin in UNLOAD."""
        return self.unloads == ShaftMode.UNLOAD

    @property
    def lessens(self) -> bool:
        """The order is on its way down, or what it was is not known."""
        return self.was is None or abs(self.torque_nm) < abs(self.was.torque_nm)

    @property
    def opposing(self) -> bool:
        """The order opposes measured rotation beyond standstill: it charges."""
        if abs(self.facts.rpm) <= self.lim.still_rpm:
            return False
        return self.torque_nm * self.facts.rpm < 0.0

    @property
    def driving(self) -> bool:
        """The order is not zero and does not oppose rotation: it discharges."""
        return self.torque_nm != 0.0 and not self.opposing

    @property
    def asks(self) -> bool:
        """The control position of this shaft asks for thrust."""
        return self.facts.handset_asks if self.handset else self.facts.lever_asks

    @property
    def neutral(self) -> bool:
        """The control position of this shaft is in neutral."""
        return self.facts.lever_neutral and not (self.handset and self.facts.handset_asks)


class BoatTick(NamedTuple):
    """One tick. `age_s` is the time since the history began; `dt_s` is 0.0 and `was_mode`
    None at the start of a history. `sides` holds the complete shafts only;
    `whole` says that every shaft of the boat is among them; `word` is the boat's condition word, None where it is not
    known. `power_up` marks the first tick after power-up, where that is known: before it there was nothing. Any other
    start of a history is blind: what was before it is not known, and no verdict may rest on a guess at it. `blind` is
    True throughout a history that began so."""

    time_s: float
    age_s: float
    dt_s: float
    tick_s: float
    lim: BoatLimits
    mode: BoatMode
    was_mode: BoatMode | None
    bank: BoatInputs
    was_bank: BoatInputs | None
    facts: BoatFacts
    command: BoatCommand
    shafts: tuple[ShaftTick, ...]
    whole: bool
    power_up: bool
    blind: bool
    word: int | None = None


class TickReader:
    """Lays records out, tick by tick. A record without the boat's mode, inputs or commands gives None."""

    def __init__(self, boat: Boat, names: tuple[str, ...], from_power_up: bool) -> None:
        self._powering_up = from_power_up
        self._boat = boat
        self._names = names
        self._last: BoatTick | None = None
        self._unloads: list[ShaftMode] = [ShaftMode.REST] * len(boat.shafts)

    def set(self, record: Record) -> BoatTick | None:
        """`record` laid out; None where it is too incomplete to judge anything."""
        if record.boat_mode is None or record.boat_in is None or record.boat_command is None:
            self._last = None
            self._powering_up = False
            return None
        last = self._last
        dt_s = 0.0 if last is None else record.time_s - last.time_s
        if last is not None and not 0.0 < dt_s <= LONGEST_GAP_S:
            last, dt_s = None, 0.0
        before = {} if last is None else {shaft.number: shaft for shaft in last.shafts}
        age_s = 0.0 if last is None else last.age_s + dt_s
        shafts = []
        handset = record.boat_command.handset_in_control == 1
        for index, shaft_lim in enumerate(self._boat.shafts):
            shaft = self._shaft(record, index, shaft_lim, handset, before.get(index))
            if shaft is not None:
                shafts.append(shaft)
        lim = self._boat.limits
        power_up = self._powering_up
        self._powering_up = False
        blind = not power_up if last is None else last.blind
        tick = BoatTick(
            record.time_s, age_s, dt_s, lim.tick_s, lim, BoatMode(record.boat_mode),
            None if last is None else last.mode,
            record.boat_in, None if last is None else last.bank, boat_facts(lim, record.boat_in), record.boat_command,
            tuple(shafts), len(shafts) == len(self._boat.shafts), power_up, blind, record.boat_word,
        )  # fmt: skip
        self._last = tick._replace(shafts=tuple(shaft._replace(was=None) for shaft in shafts))
        return tick

    def _shaft(
        self, record: Record, index: int, lim: ShaftLimits, handset: bool, was: ShaftTick | None
    ) -> ShaftTick | None:
        if index >= len(record.shaft_modes) or index >= len(record.shaft_in) or index >= len(record.shaft_commands):
            return None
        mode, inputs, command = record.shaft_modes[index], record.shaft_in[index], record.shaft_commands[index]
        if mode is None or inputs is None or command is None:
            return None
        now = ShaftMode(mode)
        if now != ShaftMode.UNLOAD:
            self._unloads[index] = now
        elif was is None:
            self._unloads[index] = ShaftMode.UNLOAD  # came from we know not where
        return ShaftTick(
            index, self._names[index], lim, now, inputs, shaft_facts(lim, inputs), command, self._unloads[index],
            handset, was, record.shaft_words[index] if index < len(record.shaft_words) else None,
        )  # fmt: skip
