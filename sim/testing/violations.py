"""Every safety requirement on every tick of a rig, and the fault report when one is violated."""

import copy
from collections import deque
from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

from sim.requirements import BY_ID, Evaluator, Judgement, called, of_tick, own_identifier, own_sentence
from sim.testing.script import ScriptStep, tidy
from supervisor.controller import Controller, Outcome, freeze, name_bits
from supervisor.modes import BoatCondition, ShaftCondition
from supervisor.signals import BoatInputs, ShaftInputs, ShaftPermit

LAST_MODES = 8
LAST_STEPS = 12


class ModeChange(NamedTuple):
    """One change of mode. `subject` is "boat" or a shaft."""

    time_s: float
    subject: str
    was: str
    now: str


class Seen(NamedTuple):
    """What one tick shows: inputs decided on, and the outcome."""

    boat_in: BoatInputs
    shaft_in: tuple[ShaftInputs, ...]
    outcome: Outcome


class Violation(NamedTuple):
    """A requirement that does not hold any more: its judgement, what the tick showed, and all that led to it.

    `before` is the outcome one tick earlier, None on the first tick.
    """

    boat: str
    boat_file: str
    shafts: tuple[str, ...]
    tick_s: float
    judgement: Judgement
    seen: Seen
    before: Outcome | None
    modes: tuple[ModeChange, ...]
    steps: tuple[ScriptStep, ...]
    sentence: str

    @property
    def shaft(self) -> int:
        """Number of the shaft that the judgement speaks of; -1 if it speaks of the boat."""
        for number, name in enumerate(self.shafts):
            if f"{name}:" in self.judgement.words or f"{name} " in self.judgement.words:
                return number
        return -1


class Watch:
    """Judges every tick. `only` restricts it to some requirements, `without` leaves some out; `from_power_up` says that
    the controller has not ticked yet."""

    def __init__(
        self, controller: Controller, only: Iterable[str] | None = None, without: Iterable[str] = (), *,
        from_power_up: bool = False,
    ) -> None:  # fmt: skip
        boat = freeze(controller.config)
        names = controller.shaft_names
        self._boat, self._names, self._controller = boat, names, controller
        interlocks = controller.config.interlock
        self._own = {own_identifier(entry.name): own_sentence(entry) for entry in interlocks}
        wanted = {*BY_ID, *self._own} if only is None else set(only)
        wanted -= set(without)
        self._evaluator = Evaluator(boat, names, only=wanted, interlocks=interlocks, from_power_up=from_power_up)
        self.modes: deque[ModeChange] = deque(maxlen=LAST_MODES)
        self.seen: Seen | None = None
        self.before: Outcome | None = None

    @property
    def broken(self) -> bool:
        """Some requirement has been violated."""
        return self._evaluator.broken

    def tick(self, boat_in: BoatInputs, shaft_in: tuple[ShaftInputs, ...], outcome: Outcome) -> None:
        """Look at one tick."""
        before = self.before = None if self.seen is None else self.seen.outcome
        if before is None:
            before = outcome
        if before.boat_mode != outcome.boat_mode:
            self.modes.append(ModeChange(outcome.time_s, "boat", before.boat_mode.name, outcome.boat_mode.name))
        if before.shaft_modes != outcome.shaft_modes:
            for name, was, now in zip(self._names, before.shaft_modes, outcome.shaft_modes, strict=True):
                if was != now:
                    self.modes.append(ModeChange(outcome.time_s, name, was.name, now.name))
        self.seen = Seen(boat_in, shaft_in, outcome)
        self._evaluator.feed(of_tick(boat_in, shaft_in, outcome))

    def judgements(self) -> Mapping[str, Judgement]:
        """The verdicts so far, by requirement."""
        return {judgement.id: judgement for judgement in self._evaluator.finish()}

    def violation(self, boat: str, boat_file: str, tick_s: float, steps: Sequence[ScriptStep]) -> Violation | None:
        """The first requirement that is violated, None while all hold."""
        if not self.broken or self.seen is None:
            return None
        found = next(judgement for judgement in self.judgements().values() if judgement.held is False)
        requirement = BY_ID.get(found.id)
        return Violation(
            boat, boat_file, self._names, tick_s, found, self.seen, self.before, tuple(self.modes), tuple(tidy(steps)),
            requirement.sentence(self._boat) if requirement else self._own.get(found.id, ""),
        )  # fmt: skip

    def save(self) -> "Watch":
        """A copy that goes on from here."""
        kept = copy.copy(self)
        kept.modes = self.modes.copy()
        kept._evaluator = copy.deepcopy(self._evaluator, {id(self._boat): self._boat})
        return kept


def report(violation: Violation, command: str) -> str:
    """The fault report: rule, signal at its limit, expected and got, last modes with times, what held, what was done,
    and the command that does it again."""
    judged, outcome = violation.judgement, violation.seen.outcome
    requirement = BY_ID.get(judged.id)
    margin = requirement.margin if requirement else "margin"
    lines = [
        "",
        f"RULE      {called(judged.id)}",
    ]
    if violation.sentence:
        lines.append(f"          {violation.sentence}")
    lines += [
        f"SIGNAL    {judged.words}",
        f"EXPECTED  {margin} of at least 0 {judged.unit}",
        f"GOT       {judged.closest:.4g} {judged.unit} at {judged.time_s:.2f} s (tick at {outcome.time_s:.2f} s)",
        "MODES     " + ("; ".join(f"{t:.2f} s {who} {was}->{now}" for t, who, was, now in violation.modes) or "none"),
        f"NOW       boat {outcome.boat_mode.name}; "
        + "; ".join(f"{name} {mode.name}" for name, mode in zip(violation.shafts, outcome.shaft_modes, strict=True)),
        f"HELD      boat: {', '.join(name_bits(outcome.boat_word, BoatCondition)) or 'nothing'}",
    ]
    for name, word in zip(violation.shafts, outcome.shaft_words, strict=True):
        lines.append(f"          {name}: {', '.join(name_bits(word, ShaftCondition)) or 'nothing'}")
    for name, command_now in zip(violation.shafts, outcome.shaft_commands, strict=True):
        permits = ", ".join(str(bit.name) for bit in ShaftPermit if command_now.permits & bit) or "no permit"
        lines.append(f"ORDERS    {name}: {command_now.torque_nm:.2f} N m, {command_now.current_a:.2f} A, {permits}")
    at_s = 0.0
    did = []
    for step in violation.steps:
        did.append(f"{at_s:8.2f} s  {step.words()}")
        at_s += step.ticks * violation.tick_s
    lines.append("DONE")
    if len(did) > LAST_STEPS:
        lines.append(f"          ({len(did) - LAST_STEPS} steps before these)")
    lines += did[-LAST_STEPS:]
    lines += ["", f"REPEAT    {command}"]
    return "\n".join(lines)
