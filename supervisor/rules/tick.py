"""One whole tick, sans-IO: inputs and state in, commands and state out, the mode decisions asked of an executor.

The order is fixed: what the bank allows, timers, the boat's word and mode, the shafts' words and modes (with the boat's
*new* mode, so that a trip stops torque in the tick of its frame), latches, shared budgets, torque, permits, alarms.
"""

from collections.abc import Callable, Sequence
from typing import NamedTuple

from supervisor.config.limits import BoatLimits, ShaftLimits
from supervisor.modes.boat_table import BOAT_COMPILED, BOAT_ROWS
from supervisor.modes.permit_table import given_permits
from supervisor.modes.shaft_table import SHAFT_COMPILED, SHAFT_ROWS
from supervisor.modes.table import NO_ROW, CompiledRow, first_row
from supervisor.rules import outputs
from supervisor.rules.bank import BankView, bank_view, nearly_full, proven, voltage_believed
from supervisor.rules.bits import (
    ALARM_CHARGE_DONE,
    ALARM_CONTACT_BOUNCED,
    ALARM_HARVEST_DONE,
    ALARM_OWN_INTERLOCK,
    ALARM_STOPPED,
    BOAT_CONTACTOR_CLOSED,
    BOAT_LATCH_ASTERN_SHORT,
    BOAT_LATCH_CHARGE_ENDED,
    BOAT_LATCH_HANDSET_IN_CONTROL,
    BOAT_LATCH_THRUST_SHORT,
    IS_AT_REST_ORDER,
    IS_BOAT_READY,
    IS_CHARGE_WANTED,
    IS_ENGINE_RUNNING,
    IS_ENGINE_STOPPED,
    IS_HARVEST_ORDER,
    IS_LOCK_RELEASED,
    IS_SHAFT_STILL,
    IS_THRUST_ORDER,
    LATCH_STOPPED,
    MODE_STANDBY,
    SHAFT_HARVEST,
    SHAFT_ISOLATED,
    SHAFT_PROPEL,
)
from supervisor.rules.boat_timers import boat_timers, enter_boat_mode, remember_shafts
from supervisor.rules.boat_word import boat_word, summary_of
from supervisor.rules.finite import finite_boat, finite_shaft
from supervisor.rules.orders import Orders, gather_levers, read_orders
from supervisor.rules.own import own_on_shaft, own_state
from supervisor.rules.pause import with_pause
from supervisor.rules.permits import permit_word
from supervisor.rules.readings import CURRENT, DIVER_LOCKOUT, read_lever
from supervisor.rules.shaft_latches import after_mode
from supervisor.rules.shaft_timers import shaft_timers
from supervisor.rules.shaft_word import shaft_word, with_boat
from supervisor.rules.sources import sources_state, with_sources
from supervisor.rules.state import BoatState, OwnState, ShaftState, tick_length
from supervisor.rules.stops import remember_stop, stopped_unasked
from supervisor.rules.torque import ask, astern_needed_a, astern_short, brakes, cut_short, order, shares_of
from supervisor.signals.alarm_list import SOUNDED
from supervisor.signals.commands import BoatCommand, ShaftCommand
from supervisor.signals.inputs import BoatInputs, ShaftInputs

CHARGE_DONE_VALUE = IS_BOAT_READY | IS_AT_REST_ORDER | IS_ENGINE_RUNNING
CHARGE_DONE_MASK = CHARGE_DONE_VALUE | IS_CHARGE_WANTED
"""Charging at rest is asked for, its engine runs, and the bank wants no more."""

HARVEST_DONE_VALUE = IS_BOAT_READY | IS_HARVEST_ORDER | IS_LOCK_RELEASED | IS_ENGINE_STOPPED
HARVEST_DONE_MASK = HARVEST_DONE_VALUE | IS_CHARGE_WANTED | IS_THRUST_ORDER | IS_SHAFT_STILL
"""Harvest is asked for, no thrust is, the shaft turns, and the bank wants no more: beside this it must be full."""

Decide = Callable[[int, int, int], int]
"""An executor: (which machine: -1 the boat, 0.. a shaft; mode; word) -> index of the table row taken, or NO_ROW."""


class Boat(NamedTuple):
    """The frozen limits of a boat and its shafts."""

    limits: BoatLimits
    shafts: tuple[ShaftLimits, ...]


class Memory(NamedTuple):
    """All that is remembered: the state of boat and shafts."""

    boat: BoatState
    shafts: tuple[ShaftState, ...]


class Tick(NamedTuple):
    """The result of one tick. `boat_row` and `shaft_rows` are table indices, NO_ROW where no mode row was taken."""

    memory: Memory
    boat_command: BoatCommand
    shaft_commands: tuple[ShaftCommand, ...]
    boat_word: int
    shaft_words: tuple[int, ...]
    boat_row: int
    shaft_rows: tuple[int, ...]
    view: BankView
    orders: Orders
    permit_words: tuple[int, ...]


def initial_memory(boat: Boat) -> Memory:
    """After any power-up or crash: STANDBY, SHAFT_REST, nothing remembered, whatever levers and switches say."""
    unseen = OwnState(bad=(1 << boat.limits.own_count) - 1)  # no own interlock is good before it was seen good
    return Memory(BoatState(own=unseen), tuple(ShaftState() for _ in boat.shafts))


def compiled_decide(which: int, mode: int, word: int) -> int:
    """The compiled executor: the tables as integers."""
    rows: tuple[CompiledRow, ...] = BOAT_COMPILED[mode] if which < 0 else SHAFT_COMPILED[mode]
    return first_row(rows, word)


def run_tick(
    boat: Boat,
    memory: Memory,
    boat_in: BoatInputs,
    shaft_in: Sequence[ShaftInputs],
    dt_s: float,
    decide: Decide = compiled_decide,
) -> Tick:
    """One tick of `dt_s` seconds. `shaft_in` has one entry a shaft, in the order of `boat.shafts`.

    `decide` is called once for the boat, then once for each shaft. Raises ValueError where boat, memory and inputs have
    different numbers of shafts.
    """
    if len(shaft_in) != len(boat.shafts) or len(memory.shafts) != len(boat.shafts):
        raise ValueError("the numbers of shafts in boat, memory and inputs differ")
    lim, was = boat.limits, memory.boat
    boat_in = finite_boat(boat_in)
    shaft_in = [finite_shaft(shaft) for shaft in shaft_in]
    dt_s = tick_length(dt_s)
    drives_known = True
    drives_a = 0.0
    for shaft in shaft_in:
        drives_a += shaft.current_a
        if shaft.known & CURRENT == 0:
            drives_known = False
    braking = False
    for before in memory.shafts:
        if brakes(before):
            braking = True
    view = bank_view(lim, was, boat_in, drives_a, drives_known, braking, dt_s)
    in_control = was.latches & BOAT_LATCH_HANDSET_IN_CONTROL != 0
    read = []
    for shaft_lim, before, shaft in zip(boat.shafts, memory.shafts, shaft_in):
        asking = not in_control and before.order_pct != 0.0
        read.append(read_lever(shaft_lim, shaft, asking, before.pause.contradicts_s))
    levers = gather_levers(lim, boat.shafts, memory.shafts, read, shaft_in)
    orders = read_orders(lim, was, boat_in, levers)
    reset_edge, off_order, lost = orders.reset_edge == 1, orders.off_order == 1, orders.handset_lost == 1

    believed = voltage_believed(lim, boat_in)
    own_now = own_state(lim, was.own, boat_in.own, dt_s)
    states = []
    words = []
    owns = []
    for i, (shaft_lim, before, shaft, lever) in enumerate(zip(boat.shafts, memory.shafts, shaft_in, read)):
        own = own_on_shaft(lim, own_now, i, before.latches)
        state = shaft_timers(
            lim, shaft_lim, before, boat_in, shaft, lever, own, was.mode, orders.latches, believed, dt_s
        )
        owns.append(own)
        states.append(state)
        words.append(
            shaft_word(lim, shaft_lim, view, state, boat_in, shaft, lever, own, orders.latches, lost, reset_edge)
        )
    shafts = summary_of(states, words)
    boat_state = boat_timers(lim, was, view, orders, shafts, own_now, dt_s)
    word = boat_word(lim, boat_state, boat_in, orders, levers, shafts)
    boat_row = decide(-1, was.mode, word)
    if boat_row != NO_ROW:
        boat_state = enter_boat_mode(boat_state, BOAT_ROWS[boat_row].dest)
    boat_mode = boat_state.mode
    sources = sources_state(lim, was.sources, view, word, boat_mode, reset_edge, dt_s)
    boat_state = with_sources(boat_state, sources)

    shaft_rows = []
    asks = []
    charge_a = brake_a = motor_a = needed_a = 0.0
    moves = thrusts = False
    handset = orders.latches & BOAT_LATCH_HANDSET_IN_CONTROL != 0
    for i, (shaft_lim, shaft) in enumerate(zip(boat.shafts, shaft_in)):
        state = states[i]
        shaft_w = with_boat(words[i], boat_mode, reset_edge, off_order)
        words[i] = shaft_w = with_pause(lim, state, shaft_w, handset)
        row = decide(i, state.mode, shaft_w)
        shaft_rows.append(row)
        mode, disarms, to_propel = state.mode, False, False
        if row != NO_ROW:
            taken = SHAFT_ROWS[row]
            mode, disarms, to_propel = taken.dest, taken.disarms == 1, taken.to_propel == 1
        stopped = stopped_unasked(state, mode, shaft_w, boat_mode)
        state = after_mode(shaft_lim, state, shaft_w, mode, disarms, to_propel, lim.neutral_s, boat_mode)
        state = remember_stop(state, stopped, orders.acknowledge == 1)
        states[i] = state
        if state.mode == SHAFT_PROPEL or state.mode == SHAFT_HARVEST:
            moves = True
        asked = ask(lim, shaft_lim, state, shaft, view, handset, dt_s)
        asks.append(asked)
        if asked.target_nm != 0.0:
            thrusts = True
        charge_a += asked.charge_a
        brake_a += asked.brake_a
        motor_a += asked.motor_a
        if state.mode != SHAFT_ISOLATED:
            needed_a += astern_needed_a(shaft_lim, shaft, view, shaft_w, asked.temp_factor)
    shares = shares_of(view, charge_a, brake_a, motor_a)
    was_short = was.latches & BOAT_LATCH_ASTERN_SHORT != 0
    short = astern_short(was_short, nearly_full(boat_in), view.brake_budget_a, needed_a)
    thrust_was_short = was.latches & BOAT_LATCH_THRUST_SHORT != 0
    thrust_short = cut_short(thrust_was_short, view.motor_budget_a, motor_a, thrusts) and view.discharge_permit == 1
    boat_state = remember_shafts(lim, boat_state, short, thrust_short, moves)

    alarms = outputs.boat_alarms(lim, boat_state, boat_in, view, orders, boat_mode)
    contactor = word & BOAT_CONTACTOR_CLOSED != 0
    diver = proven(boat_in.known, boat_in.on, DIVER_LOCKOUT)
    commands = []
    permit_words = []
    for i, (shaft_lim, shaft) in enumerate(zip(boat.shafts, shaft_in)):
        state = order(shaft_lim, states[i], shaft, view, asks[i], shares, dt_s)
        states[i] = state
        may = permit_word(shaft_lim, state, shaft, words[i], read[i], owns[i], contactor, diver)
        permits = given_permits(may)
        permit_words.append(may)
        alarms |= outputs.shaft_alarms(lim, shaft_lim, state, shaft, read[i])
        if words[i] & CHARGE_DONE_MASK == CHARGE_DONE_VALUE:
            alarms |= ALARM_CHARGE_DONE
        if words[i] & HARVEST_DONE_MASK == HARVEST_DONE_VALUE and boat_state.latches & BOAT_LATCH_CHARGE_ENDED:
            alarms |= ALARM_HARVEST_DONE
        if state.pause.last_s < lim.pause_window_s:
            alarms |= ALARM_CONTACT_BOUNCED
        if state.latches & LATCH_STOPPED:
            alarms |= ALARM_STOPPED << i
        commands.append(ShaftCommand(state.effort.torque_nm, state.effort.charge_a, permits))
    if boat_state.dwells.age_s < outputs.FIRST_FRAMES_S:
        alarms &= ~outputs.FIRST_FRAME_ALARMS
    anew = ALARM_OWN_INTERLOCK if own_now.bad & ~was.own.bad else 0
    boat_state = outputs.acknowledge(boat_state, orders, alarms, anew)
    audible = 0 if boat_mode == MODE_STANDBY else SOUNDED
    command = BoatCommand(
        sources.stop,
        1 if alarms & audible & ~boat_state.acknowledged else 0,
        alarms,
        view.charge_limit_a if view.charge_permit == 1 else 0.0,
        view.derate_pct if view.discharge_permit == 1 else 0.0,
        1 if handset else 0,
    )
    return Tick(
        Memory(boat_state, tuple(states)), command, tuple(commands), word, tuple(words), boat_row, tuple(shaft_rows),
        view, orders, tuple(permit_words),
    )  # fmt: skip
