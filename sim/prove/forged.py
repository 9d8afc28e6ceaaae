"""Forged ticks: a sound step with one thing decided wrongly, as if a rule were broken in this tick alone.

What came before is sound, so that evaluators and claims must see the harm in this very tick or not at all. Torque,
mode, permits, alarms, the position in control and the current aimed at are forged, each consistently in what is
remembered and what is sent.
"""

import random
from typing import NamedTuple

from sim.prove.step import Step
from sim.prove.streams import filled
from sim.prove.terms import KEPT
from supervisor.modes import NO_ROW, CompiledRow
from supervisor.rules import tick
from supervisor.rules.state import ShaftState
from supervisor.signals import Alarm, ShaftCommand, ShaftPermit


def _rows(name: str) -> tuple[CompiledRow, ...]:
    """A table as the tick has it now, broken or not."""
    rows: tuple[CompiledRow, ...] = vars(tick)[name]
    return rows


def _numbers(name: str, mode: int) -> list[int]:
    """The rows that lead out of a mode, by number, and NO_ROW."""
    rows: tuple[CompiledRow, ...] = vars(tick)[name][mode]
    return sorted({NO_ROW, *(row.number for row in rows)})


class Forged(NamedTuple):
    """The step as it would have been, and what was forged."""

    step: Step
    words: str


PERMITS = tuple(int(bit) for bit in ShaftPermit)
ALARMS = tuple(int(bit) for bit in Alarm)


def torque(step: Step, index: int, torque_nm: float) -> Step:
    """Another order to one shaft."""
    state = filled(step.now.memory.shafts[index], {"torque_nm": torque_nm})
    command = step.now.shaft_commands[index]._replace(torque_nm=torque_nm)
    return _with(step, index, state, command)


def current(step: Step, index: int, charge_a: float) -> Step:
    """Another current aimed at."""
    state = filled(step.now.memory.shafts[index], {"charge_a": charge_a})
    command = step.now.shaft_commands[index]._replace(current_a=charge_a)
    return _with(step, index, state, command)


def permit(step: Step, index: int, bit: int) -> Step:
    """A permit of one shaft flipped."""
    command = step.now.shaft_commands[index]
    return _with(step, index, step.now.memory.shafts[index], command._replace(permits=command.permits ^ bit))


def shaft_row(step: Step, index: int, row: int) -> Step:
    """Another row of the shaft's table taken, or none."""
    mode = step.was.shafts[index].mode if row == NO_ROW else _rows("SHAFT_ROWS")[row].dest
    state = step.now.memory.shafts[index]._replace(mode=mode)
    now = step.now._replace(shaft_rows=_at(step.now.shaft_rows, index, row))
    return _with(step._replace(now=now), index, state, step.now.shaft_commands[index])


def boat_row(step: Step, row: int) -> Step:
    """Another row of the boat's table taken, or none. What the shafts did stands."""
    mode = step.was.boat.mode if row == NO_ROW else _rows("BOAT_ROWS")[row].dest
    memory = step.now.memory._replace(boat=step.now.memory.boat._replace(mode=mode))
    return step._replace(now=step.now._replace(memory=memory, boat_row=row))


def alarm(step: Step, bit: int) -> Step:
    """An alarm flipped."""
    command = step.now.boat_command
    return step._replace(now=step.now._replace(boat_command=command._replace(alarms=command.alarms ^ bit)))


def handset(step: Step) -> Step:
    """The position in control flipped."""
    command, boat = step.now.boat_command, step.now.memory.boat
    memory = step.now.memory._replace(boat=boat._replace(latches=boat.latches ^ KEPT.HANDSET_IN_CONTROL))
    now = step.now._replace(
        memory=memory, boat_command=command._replace(handset_in_control=1 - command.handset_in_control)
    )
    return step._replace(now=now)


def forge(step: Step, luck: random.Random) -> Forged:
    """Forge one thing, or a mode together with the torque that it would give."""
    index = luck.randrange(len(step.shaft_in))
    own = step.config.shaft[index].drive
    was_nm, now_nm = step.was.shafts[index].effort.torque_nm, step.now.memory.shafts[index].effort.torque_nm
    slew_nm = own.torque_slew_nm_per_s * step.dt_s
    torque_nm = luck.choice(
        (0.0, 5.0, -5.0, 30.0, -30.0, own.rated_torque_nm, -own.rated_torque_nm, was_nm, -was_nm,
         now_nm + 0.5 * slew_nm, now_nm - 0.5 * slew_nm, was_nm + 1.1 * slew_nm, was_nm - 1.1 * slew_nm)
    )  # fmt: skip
    way = luck.random()
    if way < 0.35:
        return Forged(torque(step, index, torque_nm), f"shaft {index}: {torque_nm:g} N m instead of {now_nm:g}")
    if way < 0.6:
        row = luck.choice(_numbers("SHAFT_COMPILED", step.was.shafts[index].mode))
        words = f"shaft {index}: row {row} instead of {step.now.shaft_rows[index]}"
        made = shaft_row(step, index, row)
        if luck.random() < 0.5:
            return Forged(torque(made, index, torque_nm), f"{words}, {torque_nm:g} N m")
        return Forged(made, words)
    if way < 0.75:
        row = luck.choice(_numbers("BOAT_COMPILED", step.was.boat.mode))
        return Forged(boat_row(step, row), f"boat: row {row} instead of {step.now.boat_row}")
    if way < 0.85:
        bit = luck.choice(PERMITS)
        return Forged(permit(step, index, bit), f"shaft {index}: permit {ShaftPermit(bit).name} flipped")
    if way < 0.92:
        bit = luck.choice(ALARMS)
        return Forged(alarm(step, bit), f"alarm {Alarm(bit).name} flipped")
    if way < 0.96:
        return Forged(handset(step), "handset's control flipped")
    charge_a = luck.choice((0.0, 1.0, 20.0, step.was.shafts[index].effort.charge_a + 5.0))
    return Forged(current(step, index, charge_a), f"shaft {index}: {charge_a:g} A aimed at")


def _at(entries: tuple[int, ...], index: int, value: int) -> tuple[int, ...]:
    return tuple(value if i == index else one for i, one in enumerate(entries))


def _with(step: Step, index: int, state: ShaftState, command: ShaftCommand) -> Step:
    memory, now = step.now.memory, step.now
    shafts = tuple(state if i == index else one for i, one in enumerate(memory.shafts))
    commands = tuple(command if i == index else one for i, one in enumerate(now.shaft_commands))
    return step._replace(now=now._replace(memory=memory._replace(shafts=shafts), shaft_commands=commands))
