"""Shadow comparison: what a real controller ordered, against what ours would have ordered at the same tick.

A command is compared when its frame comes: the frame in the recording between the tick before and this one is held
against the decision of this tick, which is exactly where our own supervisor puts it on the bus.
"""

from collections.abc import Sequence
from typing import NamedTuple

from sim.replay.commands import CommandDecoder, CommandRow
from sim.replay.disagreements import Disagreements
from sim.replay.replayed import Change, Heard, ReplayedSupervisor
from sim.replay.why import why
from supervisor.bus import PERMIT_OUTPUTS
from supervisor.bus.codec import pgn_of
from supervisor.bus.register import SHOWN
from supervisor.controller import Outcome

GRACE_S = 0.2
"""Disagreements no longer than this are counted as brief: two controllers do not sample at the same moment."""

_TOLERANCE_SHARE = 0.02


class ShadowReport(NamedTuple):
    """How a recorded controller and ours compare. `frames` of commands were in the recording; `rows` are what was
    compared."""

    frames: int
    bad: int
    rows: tuple[str, ...]
    disagreements: Disagreements


def ordered(outcome: Outcome, level: int, name: str) -> float:
    """What ours orders, as the number that goes on the bus."""
    command = outcome.boat_command
    if level >= 0:
        shaft = outcome.shaft_commands[level]
        if name in PERMIT_OUTPUTS:
            return 1.0 if shaft.permits & PERMIT_OUTPUTS[name] else 0.0
        if name == "drive.torque_nm":
            return shaft.torque_nm
        if name == "drive.current_a":
            return shaft.current_a
        return float(outcome.shaft_modes[level])
    return {
        "sources.stop": float(command.stop_sources),
        "sounder.on": float(command.sounder),
        "boat.mode": float(outcome.boat_mode),
        "boat.alarms": float(command.alarms & 0xFFFFFFFF),
        "boat.more_alarms": float(command.alarms >> 32),
        "boat.charge_limit_a": command.charge_limit_a,
        "boat.derate_pct": command.derate_pct,
        "handset.in_control": float(command.handset_in_control),
    }[name]


class Shadow:
    """Observes one subject against the command frames of the recording."""

    def __init__(
        self, subject: ReplayedSupervisor, which: int, rows: Sequence[CommandRow], grace_s: float = GRACE_S
    ) -> None:
        self.disagreements = Disagreements(grace_s)
        self.frames = 0
        self._subject = subject
        self._which = which
        self._rows = [row for row in rows if row.name not in SHOWN]  # what is shown orders nothing
        self._decoder = CommandDecoder(list(self._rows))
        self._tolerance = {row.label: self._tolerated(row) for row in self._rows}
        self._before: Change | None = None

    def _tolerated(self, row: CommandRow) -> float:
        """Half a step of the signal; and for numbers as much as two ramps sampled a tick apart may differ."""
        step = abs(row.signal.scale * row.factor) * 0.5 + 1e-9
        if row.name in PERMIT_OUTPUTS or row.signal.bits <= 4 or row.name in ("boat.alarms", "boat.more_alarms"):
            return 0.5
        drive = self._subject.config.shaft[row.level].drive if row.level >= 0 else None
        if drive is not None and row.name == "drive.torque_nm":
            return max(step, _TOLERANCE_SHARE * drive.rated_torque_nm)
        if drive is not None:
            return max(step, _TOLERANCE_SHARE * drive.max_current_a)
        return max(step, 1.0)

    def span(self, first: int, stop: int, changes: Sequence[Sequence[Change]], commands: Sequence[Heard]) -> None:
        """Compare the commands of tick `first`."""
        mine = changes[self._which]
        change = mine[0] if mine and mine[0].tick == first else self._before
        if mine:
            self._before = mine[-1]
        for wire, data in commands:
            self.frames += 1
            found = self._decoder.decode(
                wire.bus, wire.arbitration_id, wire.is_extended, pgn_of(wire.arbitration_id), data
            )
            for row, theirs in found:
                if change is not None:
                    self._compare(row, theirs, change, self._subject.ticks.at(first))

    def _compare(self, row: CommandRow, theirs: float, change: Change, now_s: float) -> None:
        ours = ordered(change.outcome, row.level, row.name)
        signal = row.signal
        if row.factor == 1.0 and row.offset == 0.0 and not row.invert:
            ours = signal.physical(signal.to_raw(ours))  # as it would have gone over the bus
        config = self._subject.config
        self.disagreements.compare(row.label, now_s, ours, theirs, self._tolerance[row.label],
                            lambda: why(config, change, row.level, row.name, ours, theirs))  # fmt: skip

    def report(self, end_s: float) -> ShadowReport:
        """What was found."""
        self.disagreements.finish(end_s)
        return ShadowReport(self.frames, self._decoder.bad, tuple(row.label for row in self._rows), self.disagreements)
